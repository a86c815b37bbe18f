/**
 * The survey against the truth of synthetic ears in random poses, with noise, bubbles, folds, holes and open bases: how far each mark is off,
 * whether the confidences mean what they say, which side the shape tells, and how long a survey takes beside building the cast's triangle tree and plain cuts.
 * EARS=200 SEED=2000 npm run bench -- survey. Printed, never asserted.
 */
import { expect, test } from 'vitest';
import { surveyWithSide } from '../../src/ear/index.ts';
import { TriangleTree } from '../../src/geometry/bvh.ts';
import { type Mesh, triangleCount } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { sectionOf } from '../../src/geometry/section.ts';
import { degrees } from '../../src/geometry/trig.ts';
import { addScaled } from '../../src/geometry/vec.ts';
import type { Ear } from '../../src/model/ear.ts';
import { Fault } from '../../src/model/fault.ts';
import { readScan } from '../../src/scan/index.ts';
import { drawEar, type EarTruth, encodeStl, makeEar } from '../../src/synth/index.ts';
import { confidenceOf, MARKS, type MarkName, type Off, offOf, quantile, within } from '../synth/against.ts';

const EARS = Number(process.env['EARS'] ?? 60);
const FIRST = Number(process.env['SEED'] ?? 1);

interface Row {
  readonly seed: number;
  readonly ear: Ear;
  readonly off: Off;
  readonly angles: readonly [number, number];
  readonly guess: { readonly right: boolean; readonly confidence: number };
}

/** Scanned as casts are: from fine to coarse, with up to three holes. */
function scanned(seed: number): { readonly bytes: Uint8Array; readonly truth: EarTruth } {
  const random = seeded(seed, 71);
  const { mesh, truth } = makeEar(drawEar(seed, { resolution: random.between(0.4, 0.6), holes: random.below(4) }), seed);
  return { bytes: encodeStl(mesh), truth };
}

function surveyed(seed: number): Row | string {
  const { bytes, truth } = scanned(seed);
  try {
    const { ear, guess } = surveyWithSide(readScan(bytes, 'synthetic.stl'), truth.side);
    const turn = (found: number | undefined, told: number | undefined): number =>
      found === undefined || told === undefined ? Infinity : degrees(Math.abs(found - told));
    return {
      seed,
      ear,
      off: offOf(ear, truth),
      angles: [turn(ear.firstBend?.angle, truth.firstBend?.angle), turn(ear.secondBend?.angle, truth.secondBend?.angle)],
      guess: { right: guess.side === truth.side, confidence: guess.confidence },
    };
  } catch (error) {
    if (error instanceof Fault) return `seed ${seed}: ${error.code}, ${error.message}`;
    throw error;
  }
}

const FIGURES: readonly (readonly [string, (r: Row) => number])[] = [
  ['aperture, mm', (r) => r.off.aperture],
  ['first bend, mm', (r) => r.off.firstBend],
  ['  its angle, degrees', (r) => r.angles[0]],
  ['second bend, mm', (r) => r.off.secondBend],
  ['  its angle, degrees', (r) => r.angles[1]],
  ['end, mm', (r) => r.off.end],
  ['lateral axis, degrees', (r) => r.off.axis],
  ['superior, degrees', (r) => r.off.superior],
  ['rim plane, mm', (r) => r.off.rim],
  ['  its normal, degrees', (r) => r.off.rimTurn],
  ['crus, up and down, mm', (r) => r.off.crus],
];

/** A mark that is missed, or found where there is none, is off by infinitely much. */
const figure = (x: number): string => (Number.isFinite(x) ? x.toFixed(2) : 'missed');

function errorLine([name, of]: (typeof FIGURES)[number], rows: readonly Row[]): string {
  const v = rows.map(of);
  const [worst] = [...rows].sort((a, b) => of(b) - of(a));
  const figures = [0.5, 0.95, 1].map((q) => figure(quantile(v, q)).padStart(8)).join('');
  return `${name.padEnd(24)}${figures}   seed ${worst?.seed}`;
}

/** Of those said to be at least 90 % sure: how many, and the share that is within tolerance; and of all. */
function calibrationLine(mark: MarkName, rows: readonly Row[]): string {
  const said = rows.filter((r) => (confidenceOf(r.ear, mark) ?? 0) >= 0.9);
  const share = (of: readonly Row[]): string =>
    of.length === 0 ? '-' : `${((100 * of.filter((r) => within(r.off, mark)).length) / of.length).toFixed(1)} %`;
  return `${mark.padEnd(24)}${String(said.length).padStart(6)}${share(said).padStart(10)}${share(rows).padStart(10)}`;
}

function sideLine(rows: readonly Row[]): string {
  const wrong = rows.filter((r) => !r.guess.right);
  const worst = wrong.reduce((m, r) => Math.max(m, r.guess.confidence), 0);
  const sure = rows.filter((r) => r.guess.confidence >= 0.9).length;
  return `side right in ${((100 * (rows.length - wrong.length)) / Math.max(1, rows.length)).toFixed(1)} %; wrong ones at most ${worst.toFixed(2)} sure (${wrong.map((r) => r.seed).join(' ') || 'none'}); ${sure} of ${rows.length} are told at 0.9 or more`;
}

const rounded = (x: number): number => (Number.isFinite(x) ? Math.round(1000 * x) : -1);

test(`survey of ${EARS} ears from seed ${FIRST}`, () => {
  const all = Array.from({ length: EARS }, (_, k) => surveyed(FIRST + k));
  const rows = all.filter((r): r is Row => typeof r !== 'string');
  const refused = all.filter((r): r is string => typeof r === 'string');
  let checksum = 7;
  for (const row of rows) for (const [, of] of FIGURES) checksum = (Math.imul(checksum, 31) + rounded(of(row))) >>> 0;
  process.stdout.write(
    `${[
      `${EARS} ears from seed ${FIRST}, ${refused.length} refused, checksum ${checksum}`,
      ...refused,
      `${'off by'.padEnd(24)}${['p50', 'p95', 'most'].map((q) => q.padStart(8)).join('')}`,
      ...FIGURES.map((f) => errorLine(f, rows)),
      `${'said 90 % sure'.padEnd(24)}${'ears'.padStart(6)}${'within'.padStart(10)}${'of all'.padStart(10)}`,
      ...MARKS.map((m) => calibrationLine(m, rows)),
      sideLine(rows),
    ].join('\n')}\n`,
  );
  expect(rows.length + refused.length).toBe(EARS);
});

const MANY = 150_000;
/** Grid step at which a cast has somewhat more or fewer, mm. */
const FINE = 0.217;
const TIMES = 7;
/** A survey cuts the canal some hundred times over in a single round. */
const CUTS = 100;

const median = (v: readonly number[]): number => quantile(v, 0.5);

/** A cast of about MANY triangles: their number goes with the square of the grid's step. */
function fineCast(seed: number): { readonly scan: ReturnType<typeof readScan>; readonly truth: EarTruth } {
  const made = (resolution: number): ReturnType<typeof makeEar> => makeEar(drawEar(seed, { resolution }), seed);
  const first = made(FINE);
  const { mesh, truth } = made(FINE * Math.sqrt(triangleCount(first.mesh) / MANY));
  return { scan: readScan(encodeStl(mesh), 'fine.stl'), truth };
}

/** Plain cuts that measure every vertex, evenly spaced along the axis of the canal; their outlines, so that nothing is left out. */
function plainCuts(mesh: Mesh<'scan'>, { frame }: Ear): number {
  let outlines = 0;
  for (let k = 0; k < CUTS; k++) {
    const point = addScaled(frame.origin, frame.lateral, (k / CUTS - 0.7) * 20);
    outlines += sectionOf(mesh, { point, normal: frame.lateral }).outlines.length;
  }
  return outlines;
}

test('time of a survey', () => {
  const { scan, truth } = fineCast(FIRST);
  const [survey, tree, cuts]: [number[], number[], number[]] = [[], [], []];
  const timed = <T>(into: number[], run: () => T): T => {
    const from = performance.now();
    const got = run();
    into.push(performance.now() - from);
    return got;
  };
  for (let turn = 0; turn < TIMES; turn++) {
    const built = timed(tree, () => new TriangleTree(scan.mesh));
    const { ear } = timed(survey, () => surveyWithSide(scan, truth.side));
    expect(ear.sections.length).toBeGreaterThan(0);
    expect(built.order).toHaveLength(triangleCount(scan.mesh));
    expect(timed(cuts, () => plainCuts(scan.mesh, ear))).toBeGreaterThan(CUTS / 2);
  }
  const beside = (what: string, v: readonly number[]): string =>
    `${(median(survey) / median(v)).toFixed(2)} times ${what} (${median(v).toFixed(0)} ms)`;
  process.stdout.write(
    `${triangleCount(scan.mesh)} triangles, seed ${FIRST}: a survey with its side takes ${median(survey).toFixed(0)} ms (median of ${TIMES}), ${beside('building the triangle tree', tree)}, ${beside(`${CUTS} plain cuts`, cuts)}\n`,
  );
});
