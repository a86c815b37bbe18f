/**
 * How much is missing, where it can be reckoned on paper: one ball in a straight round canal (the width decides), two plates
 * one behind the other (the length decides), and the same ear really made larger.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { judgeStyle } from '../../src/ladder/index.ts';
import { type Body, type Change, ENOUGH, type Missing, type Rung, type Shift } from '../../src/model/fit.ts';
import type { Rules, Style } from '../../src/model/parts.ts';
import { GENERIC } from '../../src/parts/index.ts';
import { howMuchIsMissing } from '../../src/remedy/index.ts';
import { leastLarger, shrunk } from '../../src/remedy/larger.ts';
import { limitsOf } from '../../src/remedy/limits.ts';
import { leastAllRound, leastShifts } from '../../src/remedy/shifts.ts';
import { Trials } from '../../src/remedy/trials.ts';
import { USUAL } from '../support/rooms.ts';
import { benchOf, flat, listed, roundEar, styleOf } from './benches.ts';

describe('how much is missing', () => {
  let kernel: Kernel;
  const arena = new Arena();
  beforeAll(async () => {
    kernel = await loadKernel();
  });
  afterAll(() => arena.free());

  interface Exactly {
    readonly rung: Rung;
    readonly shifts: readonly Shift[];
    readonly larger: Missing['larger'];
    readonly allRound: Missing['allRound'];
  }

  /** Some limits, as many runs as it takes. */
  async function exactly(style: Style, radius: number, rules: Partial<Rules>, limits: readonly Shift['limit'][]): Promise<Exactly> {
    const bench = benchOf(kernel, arena, roundEar(radius), { rules });
    const rung = await judgeStyle(bench, style);
    const now = { style, order: bench.order, rules: bench.rules };
    const judged = { rung, lack: 0.1 - (rung.found ?? 0) };
    const trials = new Trials(bench);
    const wanted = limitsOf(style, bench.rules, bench.ear).filter(({ limit }) => limits.includes(limit));
    const shifts = await leastShifts(trials, now, judged, wanted);
    const larger = await leastLarger(trials, now, rung.body as Body, bench.ear, judged.lack);
    return { rung, shifts, larger, allRound: limits.includes('wall') ? await leastAllRound(trials, now, judged, shifts) : undefined };
  }
  const of = ({ shifts }: Pick<Missing, 'shifts'>, limit: Shift['limit']): Shift => shifts.find((s) => s.limit === limit) as Shift;

  const ball = (radius: number): Style => styleOf([listed('ball', { shape: 'capsule', size: [2 * radius, 2 * radius, 2 * radius] })], 4);
  /** The least whole number of steps of 0.05 mm that makes up for `lack`. */
  const stepsUp = (lack: number): number => Math.ceil(lack / 0.05 - 1e-9) * 0.05;

  async function ballOf(r: number): Promise<Exactly> {
    const rules = { wall: 0.6, gap: 0.3 };
    const lack = r + 0.6 + 0.3 + 0.1 - flat(4);
    const seen = await exactly(ball(r), 4, rules, ['wall', 'gap', 'partGap', 'suspension']);
    expect(seen.rung.verdict).not.toBe('fits');
    expect(seen.rung.found).toBeCloseTo(0.1 - lack, 2);
    for (const [limit, least] of [
      ['wall', 0.3],
      ['gap', 0],
    ] as const) {
      const shift = of(seen, limit);
      const enough = rules[limit] - least >= lack;
      expect(shift.enough?.by, limit).toEqual(enough ? expect.closeTo(stepsUp(lack), 9) : undefined);
      expect(shift.short).toBeCloseTo(enough ? stepsUp(lack) - 0.05 : shift.most, 9);
      if (enough) expect(shift.enough?.found).toBeCloseTo(stepsUp(lack) - lack + 0.1, 2);
    }
    // No second part and no suspension: told without a run.
    for (const limit of ['partGap', 'suspension'] as const) expect(of(seen, limit).text).toMatch(/cannot be enough alone/);
    expect(seen.allRound?.by).toEqual(lack <= 0.6 ? expect.closeTo(stepsUp(lack), 9) : undefined);
    const percent = Math.ceil((100 * lack) / flat(4) - 1e-9);
    expect(seen.larger?.percent).toBe(percent);
    expect(seen.larger?.found).toBeCloseTo(Math.min(ENOUGH, flat(4) * (percent / 100) + 0.1 - lack), 2);
    return seen;
  }

  test('a ball in a canal of radius 4: wall, gap, all round and the larger ear to the step; the larger the ball, the more is missing', async () => {
    const all = [await ballOf(3.13), await ballOf(3.36), await ballOf(3.93)];
    for (const of of [(m: Exactly) => m.larger?.percent, (m: Exactly) => m.allRound?.by ?? Infinity]) {
      const figures = all.map((m) => of(m) ?? Number.NaN);
      expect(figures).toEqual([...new Set(figures)].sort((a, b) => a - b));
    }
  });

  /**
   * Two plates one behind the other between faceplate and tip ask 0.8 + 0.1 + l + 0.1 + l + 0.1 + 0.6 mm of the 7 mm between the cuts.
   * What is left over is shared by three clearances, so that a fit needs 0.3 mm of it.
   */
  const plates = (long: number): Style =>
    styleOf([listed('one', { shape: 'cylinder', size: [5.6, 5.6, long] }), listed('two', { shape: 'cylinder', size: [5.6, 5.6, long] })]);

  test('two plates in a row: cuts and faceplate to the step, and the larger ear to the per cent', async () => {
    const lack = 1.7 + 2 * 2.69 + 0.3 - 7;
    const { outer, ...rest } = plates(2.69);
    // A short way to go, 0.6 mm outwards: fewer runs.
    const style: Style = { ...rest, outer: { ...outer, from: 'aperture', lateral: -2, range: [-4, -1.4], facing: 'axis' } };
    const seen = await exactly(style, 4, {}, ['outer', 'faceplate', 'partGap']);
    expect(seen.rung.found).toBeCloseTo((0.3 - lack) / 3, 2);
    const changes: Partial<Record<Shift['limit'], Change>> = {
      outer: { cuts: { CIC: { outer: -1.6 } } },
      faceplate: { rules: { faceplate: 0.4 } },
    };
    for (const limit of ['outer', 'faceplate'] as const) {
      expect(of(seen, limit).enough?.by, limit).toBeCloseTo(stepsUp(lack), 9);
      expect(of(seen, limit).enough?.change).toEqual(changes[limit]);
    }
    expect(of(seen, 'partGap')).toMatchObject({ most: 0.1, short: 0.1 });
    expect(seen.larger?.percent).toBe(Math.ceil((100 * lack) / 7));
  });

  test('a tight one: what a tenth of the tightest rule gives, and within its runs nothing is told that is too little', async () => {
    const bench = benchOf(kernel, arena, roundEar(4));
    const rung = await judgeStyle(bench, ball(3.23));
    const lack = 3.23 + 0.8 - flat(4);
    expect(rung.verdict).toBe('tight');
    const missing = (await howMuchIsMissing(bench, ball(3.23), rung)) as Missing;
    expect(missing.tenth).toEqual({ limit: 'wall', verdict: 'fits', found: expect.closeTo(0.2 - lack, 2) });
    expect(missing.lines[0]).toMatch(/with the wall 0.10 mm thinner it would have 0.1\d mm to spare and fit/);
    expect(missing.shifts.map((s) => s.limit)).toEqual(['outer', 'tip', 'wall', 'faceplate', 'gap', 'partGap', 'suspension']);
    for (const { limit, enough, short } of missing.shifts) {
      expect(enough !== undefined, limit).toBe(limit === 'wall' || limit === 'gap');
      if (enough) expect(enough.by).toBeGreaterThanOrEqual(lack);
      if (enough) expect(short).toBeLessThan(lack);
    }
    expect(missing.allRound?.by).toBeCloseTo(0.05, 9);
    expect(missing.larger?.percent).toBe(1);
    expect(missing.runs).toBeLessThanOrEqual(18);
  });

  test('one that fits or was not judged lacks nothing that could be told', async () => {
    const bench = benchOf(kernel, arena, roundEar(4));
    const fits = await judgeStyle(bench, ball(2));
    expect(fits.verdict).toBe('fits');
    expect(await howMuchIsMissing(bench, ball(2), fits)).toBeUndefined();
    const { firstBend: _none, ...shallow } = roundEar(4);
    const short = await judgeStyle({ ...bench, ear: shallow }, ball(2));
    expect(short.verdict).toBe('not-judged');
    expect(await howMuchIsMissing({ ...bench, ear: shallow }, ball(2), short)).toBeUndefined();
  });

  test('with a vent nothing is said of a cast further out all round: a thinner wall would thin the wall of the vent', async () => {
    const bench = benchOf(kernel, arena, roundEar(4));
    const rung = await judgeStyle(bench, ball(3.36));
    const trials = new Trials(bench);
    const now = { style: ball(3.36), order: { ...bench.order, vent: 1 }, rules: bench.rules };
    expect(await leastAllRound(trials, now, { rung, lack: 0.3 }, [])).toBeUndefined();
    expect(trials.runs).toBe(0);
  });

  test('told to stop it comes back at once and claims nothing that it did not see', async () => {
    const bench = benchOf(kernel, arena, roundEar(4));
    const rung = await judgeStyle(bench, ball(3.36));
    const missing = await howMuchIsMissing({ ...bench, shouldStop: () => true }, ball(3.36), rung);
    expect(missing?.runs).toBe(0);
    expect(missing?.larger).toBeUndefined();
    expect(missing?.shifts.every((s) => s.enough === undefined)).toBe(true);
  });

  test('smaller parts under smaller rules stand for a larger ear: one that is really made so gives the same spare', async () => {
    const row = { ...ball(3), slots: [...ball(3).slots, ...plates(1.1).slots] };
    for (const [style, by] of [
      [ball(3.36), 1.05],
      [row, 1.04],
    ] as const) {
      const small = benchOf(kernel, arena, roundEar(4));
      const trial = shrunk({ style, order: small.order, rules: small.rules }, by);
      const seen = await judgeStyle({ ...small, order: trial.order, rules: trial.rules }, trial.style);
      const made = await judgeStyle(benchOf(kernel, arena, roundEar(4, by)), { ...style, ...cutsOf(by) });
      expect(made.verdict).toBe(seen.verdict);
      // Two searches of one room come out within 0.03 mm of each other (DEVELOPERS.md).
      expect(Math.abs((made.found ?? Number.NaN) - by * (seen.found ?? Number.NaN))).toBeLessThan(0.03);
      expect(made.found).toBeLessThan(ENOUGH);
    }
  });

  const cutsOf = (k: number): Pick<Style, 'outer' | 'tip'> => {
    const { outer, tip } = styleOf([], 4, k);
    return { outer, tip };
  };

  test('whatever of a style and its rules is a length is shrunk, and nothing else; the cuts are of the ear', () => {
    const { order, rules } = benchOf(kernel, arena, roundEar(4));
    const lengths = /\/(size|position|spout)\/\d$|\/(margin|reach)$|^\/(ports\/(least|most)|apart\/\d+\/least)$/;
    for (const style of GENERIC.styles) {
      const small = shrunk({ style, order: { ...order, vent: 2 }, rules }, 1.25);
      const [was, is] = [numbersIn(style), numbersIn(small.style)];
      expect([...is.keys()]).toEqual([...was.keys()]);
      for (const [path, x] of was) expect(is.get(path), path).toBeCloseTo(lengths.test(path) ? x / 1.25 : x, 12);
      for (const [path, x] of numbersIn(rules)) expect(numbersIn(small.rules).get(path), path).toBeCloseTo(x / 1.25, 12);
      expect(small.order.vent).toBeCloseTo(1.6, 12);
    }
  });

  test('shrinking by nothing changes nothing', () => {
    const trial = { style: plates(2), order: benchOf(kernel, arena, roundEar(4)).order, rules: USUAL };
    expect(shrunk(trial, 1)).toEqual(trial);
  });
});

/** Every number in plain data, by its path. */
function numbersIn(x: unknown, path = '', into = new Map<string, number>()): Map<string, number> {
  if (typeof x === 'number') into.set(path, x);
  else if (typeof x === 'object' && x !== null) for (const [key, y] of Object.entries(x)) numbersIn(y, `${path}/${key}`, into);
  return into;
}
