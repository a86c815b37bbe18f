/**
 * How steady a verdict is, where it can be reckoned on paper: one ball in a straight round canal (only the width decides), two
 * plates one behind the other (only the length does), and the same canal really made wider.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { cos, PI } from '../../src/geometry/trig.ts';
import { pt } from '../../src/geometry/vec.ts';
import { type Bench, judgeStyle } from '../../src/ladder/index.ts';
import type { Ear } from '../../src/model/ear.ts';
import { type Body, ENOUGH, type Rung } from '../../src/model/fit.ts';
import type { Style } from '../../src/model/parts.ts';
import { GENERIC } from '../../src/parts/index.ts';
import { type Figure, howSteady, type Nudge, otherSeeds, type Steadiness, type SteadyOptions } from '../../src/steady/index.ts';
import { nudgeOf, type Patient } from '../../src/steady/nudge.ts';
import { steadyWords } from '../../src/steady/words.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { type BenchOptions, benchOf, benchOfScan, flat, listed, roundEar, styleOf } from '../remedy/benches.ts';

/** What the check loses on an exact figure, mm: an evidence's spare is at most 0.002 below the true one. */
const EXACT = 0.003;

describe('how steady a verdict is', () => {
  let kernel: Kernel;
  const arena = new Arena();
  /** One ball and two plates, looked at once for several tests. */
  let lone: Seen;
  let row: Seen;
  beforeAll(async () => {
    kernel = await loadKernel();
    lone = await steadinessOf(roundEar(4), ballWith(0.123), { seeds: 2 });
    row = await steadinessOf(roundEar(4), platesWith(0.2), { seeds: 1 });
  });
  afterAll(() => arena.free());

  interface Seen {
    readonly bench: Bench;
    readonly style: Style;
    readonly rung: Rung;
    readonly steady: Steadiness;
  }

  async function steadinessOf(
    ear: Ear,
    style: Style,
    options: SteadyOptions & BenchOptions & { order?: Partial<Bench['order']> } = {},
  ): Promise<Seen> {
    const plain = benchOf(kernel, arena, ear, options);
    const bench = { ...plain, order: { ...plain.order, ...options.order } };
    const rung = await judgeStyle(bench, style);
    const steady = await howSteady(bench, style, rung, options);
    if (!steady) throw new Error(`not judged: ${rung.verdict}`);
    return { bench, style, rung, steady };
  }
  const of = ({ nudges }: Steadiness, figure: Figure): Nudge => nudges.find((n) => n.figure === figure) as Nudge;

  /** Alone between faceplate and tip with millimetres to spare: its spare is flat(4) - radius - wall - gap. */
  const ball = (radius: number): Style => styleOf([listed('ball', { shape: 'capsule', size: [2 * radius, 2 * radius, 2 * radius] })], 4);
  const ballWith = (spare: number): Style => ball(flat(4) - 0.7 - spare);

  /**
   * Two plates between faceplate and tip ask 0.8 + 0.1 + l + 0.1 + l + 0.1 + 0.6 mm of the 7 mm between the cuts; what is left
   * over is shared by three clearances.
   */
  const platesWith = (spare: number): Style => {
    const long = (7 - 1.7 - 3 * spare) / 2;
    return styleOf(['one', 'two'].map((id) => listed(id, { shape: 'cylinder', size: [5.4, 5.4, long] })));
  };

  test('a ball: wall, gap and scan cost just what they take, a gap between parts nothing', () => {
    const { steady, rung } = lone;
    expect(Math.abs((rung.found ?? 0) - 0.123)).toBeLessThan(EXACT);
    for (const [figure, slope] of [
      ['wall', -1],
      ['gap', -1],
      ['partGap', 0],
      ['scan', -1],
    ] as const) {
      const nudge = of(steady, figure);
      expect(nudge.slope, figure).toBeCloseTo(slope, 1);
      expect(Math.abs((nudge.more?.found ?? 0) - (0.123 + slope * 0.05)), figure).toBeLessThan(EXACT);
      expect(Math.abs((nudge.less?.found ?? 0) - (0.123 - slope * 0.05)), figure).toBeLessThan(EXACT);
    }
    expect(steady.runs).toBe(2 + 8);
    expect(steady.stopped).toBe(false);
  });

  test('two plates in a row: the wall counts at the tip alone, and a larger scan costs nothing where the cuts stay', () => {
    const { steady } = row;
    for (const [figure, slope] of [
      ['wall', -1 / 3],
      ['gap', -2 / 3],
      ['partGap', -1 / 3],
      ['scan', 0],
    ] as const) {
      const { more, less } = of(steady, figure);
      expect(Math.abs((more?.found ?? 0) - (0.2 + slope * 0.05)), figure).toBeLessThan(2 * EXACT);
      expect(Math.abs((less?.found ?? 0) - (0.2 - slope * 0.05)), figure).toBeLessThan(2 * EXACT);
    }
  });

  test('a scan that is off all round gives what the ear itself gives, made and judged', async () => {
    for (const { steady, style } of [lone, row]) {
      for (const [by, outcome] of [
        [0.05, of(steady, 'scan').more],
        [-0.05, of(steady, 'scan').less],
      ] as const) {
        const ear = roundEar((flat(4) - by) / cos(PI / 48)); // its flats so much nearer to the axis
        const made = await judgeStyle(benchOf(kernel, arena, ear), style);
        expect(outcome?.verdict).toBe(made.verdict);
        expect(Math.abs((outcome?.found ?? 0) - (made.found ?? 1))).toBeLessThan(2 * EXACT);
      }
    }
  });

  test('one place is best: whatever the seed, the same spare; the seeds are others, the same each time', async () => {
    for (const { steady, rung, bench, style } of [lone, row]) {
      const { runs, same, proved, spares } = steady.seeds;
      expect(runs.map((r) => r.seed)).toEqual(otherSeeds(bench.seed, runs.length));
      expect([same, proved]).toEqual([true, false]);
      expect((spares?.most ?? 1) - (spares?.least ?? 0)).toBeLessThan(0.01);
      for (const run of [rung, ...runs]) {
        expect(run.verdict).toBe('fits');
        expect(run.found).toBeGreaterThanOrEqual(spares?.least ?? Infinity);
        expect(run.found).toBeLessThanOrEqual(spares?.most ?? -Infinity);
      }
      // Each is what anyone gets who types that seed in.
      const typed = await judgeStyle({ ...bench, seed: runs[0]?.seed ?? 0 }, style);
      expect([typed.verdict, typed.found]).toEqual([runs[0]?.verdict, runs[0]?.found]);
    }
  });

  test('other seeds are all different, and none is the own one', () => {
    for (let seed = 0; seed < 200; seed++) {
      const seeds = otherSeeds(seed, 9);
      expect(new Set([seed, ...seeds]).size).toBe(10);
      expect(seeds.every((s) => Number.isInteger(s) && s >= 1 && s <= 999_999)).toBe(true);
      expect(otherSeeds(seed, 3)).toEqual(seeds.slice(0, 3));
    }
  });

  test('near a border: which nudges bring another verdict, and the sentences', () => {
    const verdicts = lone.steady.nudges.map(({ figure, more, less }) => [figure, more?.verdict, less?.verdict]);
    expect(verdicts).toEqual([
      ['wall', 'tight', 'fits'],
      ['gap', 'tight', 'fits'],
      ['partGap', 'fits', 'fits'],
      ['scan', 'tight', 'fits'],
    ]);
    expect(lone.steady.text).toBe(
      'With two other seeds the verdict stays: fits, 0.12 mm to spare. A gap between parts 0.05 mm larger leaves 0.12 mm; ' +
        'a wall 0.05 mm thicker, a gap between parts and wall 0.05 mm larger or a scan 0.05 mm larger all round than the ear makes it tight.',
    );
  });

  test('well clear of everything: at least ENOUGH throughout, and no slope is made of that', async () => {
    const { steady } = await steadinessOf(roundEar(4), ball(1.5), { seeds: 1 });
    for (const { more, less, slope } of steady.nudges) {
      expect([more, less]).toEqual([
        { verdict: 'fits', found: ENOUGH },
        { verdict: 'fits', found: ENOUGH },
      ]);
      expect(slope).toBeUndefined();
    }
    expect(steady.text).toBe(
      'With one other seed the verdict stays: fits, at least 0.50 mm to spare. ' +
        'None of the figures tried changes it, 0.05 mm more or less; a wall 0.05 mm thicker leaves at least 0.50 mm.',
    );
  });

  test('a proved no takes no run: no seed is in a proof, and 0.05 mm less asked lifts no ceiling by more', async () => {
    const bench = benchOf(kernel, arena, roundEar(4));
    const judged = await judgeStyle({ ...bench, brief: true }, ballWith(-0.6));
    const rung: Rung = { ...judged, verdict: 'does-not-fit', ceiling: -0.55, proved: ['ball'] };
    const steady = await howSteady(bench, ballWith(-0.6), rung);
    expect(steady).toMatchObject({ runs: 0, seeds: { proved: true, same: true, runs: [] } });
    expect(steady?.nudges.every((n) => n.more?.verdict === 'does-not-fit' && n.less?.verdict === 'does-not-fit')).toBe(true);
    expect(steady?.text).toBe(
      'That it cannot fit is proved, whatever the seed. None of the figures tried changes it, 0.05 mm more or less.',
    );
  });

  test('a proof that 0.05 mm less may undo is not leant on: that is run', async () => {
    const bench = benchOf(kernel, arena, roundEar(4), { rules: { gap: 0.2 } });
    const style = ball(flat(4) - 0.8 + 0.13);
    const judged = await judgeStyle({ ...bench, brief: true }, style);
    const rung: Rung = { ...judged, verdict: 'does-not-fit', ceiling: -0.129, proved: ['ball'] };
    const steady = (await howSteady(bench, style, rung)) as Steadiness;
    for (const figure of ['wall', 'gap', 'scan'] as const) {
      expect(of(steady, figure).more, figure).toEqual({ verdict: 'does-not-fit' });
      expect(of(steady, figure).less?.verdict, figure).toBe('tight');
    }
    expect(steady.runs).toBe(4);
  });

  test('a search that comes out worse than the known arrangement is not believed, unless its way in may be lost', async () => {
    // The rung's ball is the smaller one: as if each run's search missed the best by 0.1 mm.
    const { bench, rung, style } = lone;
    const larger = ballWith(0.023);
    const assembly = { ...(rung.assembly as Extract<Rung['assembly'], { kind: 'way-in' }>), least: 0.04 };
    const patient: Patient = { bench, style: larger, rung: { ...rung, assembly }, body: rung.body as Body, runs: 0 };
    const [wall, gap] = [await nudgeOf(patient, 'wall', 0.05), await nudgeOf(patient, 'gap', 0.05)];
    expect(style).not.toEqual(larger);
    expect(wall).toMatchObject({
      more: { verdict: 'tight', found: expect.closeTo(-0.027, 2) },
      less: { verdict: 'fits', found: expect.closeTo(0.173, 2) },
    });
    expect(gap).toMatchObject({
      more: { verdict: 'tight', found: expect.closeTo(0.073, 2) },
      less: { verdict: 'fits', found: expect.closeTo(0.173, 2) },
    });
    const stuck: Rung = { ...rung, assembly: { kind: 'stuck', parts: [], at: pt(0, 0, 0), depth: 0, lacks: 0 } };
    expect((await nudgeOf({ ...patient, rung: stuck }, 'gap', 0.05)).less).toMatchObject({
      verdict: 'tight',
      found: expect.closeTo(0.073, 2),
    });
  });

  test('what a rule may not be set to is left out; a scan is told down to no wall at all', async () => {
    const { steady } = await steadinessOf(roundEar(4), ball(2), { seeds: 0, rules: { wall: 0.32, gap: 0, partGap: 1 } });
    expect(of(steady, 'wall').less).toBeUndefined();
    expect(of(steady, 'gap').less).toBeUndefined();
    expect(of(steady, 'partGap').more).toBeUndefined();
    expect(of(steady, 'scan').less?.verdict).toBe('fits');
    const thin = await steadinessOf(roundEar(4), ball(2), { seeds: 0, rules: { wall: 0.03 } });
    expect(of(thin.steady, 'scan').less).toBeUndefined();
    expect(of(thin.steady, 'scan').more?.verdict).toBe('fits');
  });

  test('with a vent nothing is said of the scan: the wall round the bore would be nudged as well', async () => {
    const { steady } = await steadinessOf(roundEar(4), ball(1.2), { seeds: 0, order: { vent: 0.6 } });
    expect(of(steady, 'scan')).toEqual({ figure: 'scan', by: 0.05 });
    expect(of(steady, 'wall').more).toBeDefined();
  });

  test('one that was not judged has nothing to be steady', async () => {
    const { firstBend: _none, ...shallow } = roundEar(4);
    const bench = benchOf(kernel, arena, shallow);
    const rung = await judgeStyle(bench, ball(2));
    expect(rung.verdict).toBe('not-judged');
    expect(await howSteady(bench, ball(2), rung)).toBeUndefined();
  });

  test('options that mean nothing are refused', async () => {
    const { bench, style, rung } = lone;
    for (const odd of [{ by: 0 }, { by: -0.05 }, { by: Number.NaN }, { by: 1 }, { seeds: -1 }, { seeds: 1.5 }, { seeds: 1e6 }]) {
      await expect(howSteady(bench, style, rung, odd)).rejects.toMatchObject({ code: 'steady/options' });
    }
  });

  test('told to stop it claims only what it saw', async () => {
    const { bench, style, rung } = lone;
    const never = await howSteady({ ...bench, shouldStop: () => true }, style, rung);
    expect(never).toMatchObject({ runs: 0, stopped: true, text: '', seeds: { runs: [] } });
    expect(never?.nudges.every((n) => !n.more && !n.less)).toBe(true);
    // After the second seed's run.
    let runs = 0;
    const counting: Bench = {
      ...bench,
      before: async (_style, step) => {
        if (step === 'prove') runs++;
      },
      shouldStop: () => runs >= 3,
    };
    const some = await howSteady(counting, style, rung);
    expect(some).toMatchObject({ runs: 3, stopped: true });
    expect(some?.seeds.runs.length).toBe(2);
    expect(some?.text).toBe('With two other seeds the verdict stays: fits, 0.12 mm to spare.');
  });

  test('a drawn ear: more asked never leaves more, less never less, and no slope is steeper than can be', async () => {
    const made = makeEar(drawEar(5, { resolution: 0.6 }), 5);
    const bench = benchOfScan(kernel, arena, encodeStl(made.mesh), made.truth.side);
    const style = GENERIC.styles.find((s) => s.name === 'CIC') as Style;
    const rung = await judgeStyle(bench, style);
    const own = rung.found ?? Number.NaN;
    expect(own).toBeLessThan(ENOUGH);
    const patient: Patient = { bench, style, rung, body: rung.body as Body, runs: 0 };
    for (const figure of ['wall', 'partGap'] as const) {
      const { more, less } = await nudgeOf(patient, figure, 0.05);
      // Two searches of one room come out within 0.03 mm of each other (DEVELOPERS.md).
      expect(more?.found ?? -Infinity, figure).toBeLessThanOrEqual(own + 0.03);
      expect(less?.found ?? -Infinity, figure).toBeGreaterThanOrEqual(own);
      expect(less?.found, figure).toBeLessThanOrEqual(own + 0.05 + 0.03);
    }
  });
});

describe('in words', () => {
  const rung = (verdict: Rung['verdict'], found?: number): Rung => ({
    style: 'CIC',
    verdict,
    ceiling: Infinity,
    reasons: [],
    cautions: [],
    ...(found === undefined ? {} : { found }),
  });

  test('a verdict that changes with the seed says how often', () => {
    const text = steadyWords(rung('fits', 0.115), {
      seeds: {
        runs: [
          { seed: 5, verdict: 'tight', found: 0.09 },
          { seed: 6, verdict: 'fits', found: 0.118 },
          { seed: 7, verdict: 'unsettled', found: 0.11, stuck: true },
        ],
        proved: false,
        same: false,
        spares: { least: 0.09, most: 0.118 },
      },
      nudges: [],
    });
    expect(text).toBe(
      'The verdict changes with the seed: fits here; of three others one: tight; one: fits; one: arranged, but no way in found, 0.09 to 0.11 mm to spare.',
    );
  });

  test('what makes it fit, and what costs most where it stays tight', () => {
    const by = 0.05;
    const outcome = (verdict: Rung['verdict'], found: number) => ({ verdict, found });
    const text = steadyWords(rung('tight', 0.067), {
      seeds: { runs: [], proved: false, same: true },
      nudges: [
        { figure: 'wall', by, more: outcome('tight', 0.018), less: outcome('fits', 0.117) },
        { figure: 'partGap', by, more: outcome('tight', 0.067), less: outcome('tight', 0.067) },
        { figure: 'scan', by, more: outcome('tight', 0.0171), less: outcome('fits', 0.117) },
      ],
    });
    expect(text).toBe(
      'A wall 0.05 mm thicker leaves 0.01 mm; a wall 0.05 mm thinner or a scan 0.05 mm smaller all round than the ear makes it fit.',
    );
    const lost = steadyWords(rung('tight', -0.08), {
      seeds: { runs: [], proved: false, same: true },
      nudges: [
        { figure: 'wall', by, more: { verdict: 'does-not-fit' } },
        { figure: 'gap', by, more: outcome('unsettled', -0.12) },
        { figure: 'partGap', by, more: outcome('tight', -0.091) },
        { figure: 'scan', by, more: { ...outcome('unsettled', -0.06), stuck: true } },
      ],
    });
    expect(lost).toBe(
      'A gap between parts 0.05 mm larger leaves it 0.10 mm short; a wall 0.05 mm thicker makes it impossible; a gap between parts and wall ' +
        '0.05 mm larger leaves no arrangement that was found; a scan 0.05 mm larger all round than the ear leaves no way in that was found.',
    );
  });

  test('spares are rounded down, never up, and what is short is told as short', () => {
    const seeds = (least: number, most: number) => ({
      seeds: { runs: [{ seed: 5, verdict: 'unsettled' as const, found: least }], proved: false, same: true, spares: { least, most } },
      nudges: [],
    });
    expect(steadyWords(rung('unsettled', -0.211), seeds(-0.234, -0.211))).toBe(
      'With one other seed the verdict stays: no arrangement found, 0.22 to 0.24 mm short.',
    );
    expect(steadyWords(rung('tight', 0.019), seeds(-0.021, 0.019))).toMatch(/: tight, −0.03 to 0.01 mm to spare\.$/);
    expect(steadyWords(rung('fits', 0.5), seeds(0.489, 0.5))).toMatch(/: fits, 0.48 to at least 0.50 mm to spare\.$/);
  });
});
