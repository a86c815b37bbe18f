/**
 * The survey against the truth of synthetic ears in random poses, with noise, bubbles, folds and ragged bases. The synthetic ears' sizes
 * follow published means and spreads (src/synth/parameters.ts names each source); where a landmark is, is known by construction.
 */
import { describe, expect, test } from 'vitest';
import { pointToScan } from '../../src/ear/frame.ts';
import { surveyEar } from '../../src/ear/index.ts';
import { acos, degrees } from '../../src/geometry/trig.ts';
import { distance, dot, type Vec3 } from '../../src/geometry/vec.ts';
import { readScan } from '../../src/scan/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';

const EARS = 50;
const FIRST = Number(process.env['SEED'] ?? 1);

interface Errors {
  readonly seed: number;
  readonly aperture: number;
  readonly firstBend: number;
  readonly secondBend: number;
  readonly axis: number;
  readonly superior: number;
}

function errorsOf(seed: number): Errors {
  const { mesh, truth } = makeEar(drawEar(seed, { resolution: 0.6 }), seed);
  const ear = surveyEar(readScan(encodeStl(mesh), 'synthetic.stl'), truth.side);
  const off = (found: { readonly at: Parameters<typeof pointToScan>[1] } | undefined, true_: { readonly at: Vec3 } | undefined): number => {
    if (!true_ && !found) return 0;
    return found && true_ ? distance(pointToScan(ear.frame, found.at), true_.at) : Number.POSITIVE_INFINITY;
  };
  return {
    seed,
    aperture: off(ear.aperture, { at: truth.aperture }),
    firstBend: off(ear.firstBend, truth.firstBend),
    secondBend: off(ear.secondBend, truth.secondBend),
    axis: degrees(acos(dot(ear.frame.lateral, truth.lateral as Vec3))),
    superior: degrees(acos(dot(ear.frame.superior, truth.superior as Vec3))),
  };
}

describe(`${EARS} synthetic ears in random poses, SEED=${FIRST}`, () => {
  const all = Array.from({ length: EARS }, (_, i) => errorsOf(FIRST + i));
  const p95 = (of: (e: Errors) => number): number => all.map(of).sort((a, b) => a - b)[Math.ceil(0.95 * EARS) - 1] as number;
  const worst = (of: (e: Errors) => number): string =>
    [...all]
      .sort((a, b) => of(b) - of(a))
      .slice(0, 4)
      .map((e) => `seed ${e.seed}: ${of(e).toFixed(2)}`)
      .join(', ');

  test.each([
    ['aperture, mm', (e: Errors) => e.aperture, 1.5],
    ['first bend, mm', (e: Errors) => e.firstBend, 2.0],
    ['second bend, mm', (e: Errors) => e.secondBend, 2.0],
    ['lateral axis, degrees', (e: Errors) => e.axis, 8],
    ['superior, degrees', (e: Errors) => e.superior, 12],
  ] as const)('%s: 95th percentile within %3$f', (_name, of, limit) => {
    expect(p95(of), worst(of)).toBeLessThanOrEqual(limit);
  });
});
