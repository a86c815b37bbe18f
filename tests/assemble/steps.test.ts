import { describe, expect, test } from 'vitest';
import { Rows } from '../../src/arrange/rows.ts';
import { thinned } from '../../src/assemble/path.ts';
import { smallestStep } from '../../src/assemble/push.ts';
import { seeded } from '../../src/geometry/random.ts';
import { place, unitQuat } from '../../src/geometry/rotation.ts';
import { distance, type Pose, type Vec3 } from '../../src/geometry/vec.ts';
import { poseBetween } from '../../src/verify/between.ts';
import { at } from './shells.ts';

const rowsOf = (list: readonly { readonly value: number; readonly slope: readonly number[] }[]): Rows => {
  const rows = new Rows();
  for (const { value, slope } of list) rows.jacobian.set(slope, 12 * rows.add(value, 0, -1));
  return rows;
};
const still = new Float64Array(6);

describe('the smallest step', () => {
  test('one wall too near: straight off it by what lacks', () => {
    const out = new Float64Array(6);
    smallestStep(rowsOf([{ value: -0.1, slope: [0, 0, 1, 0, 0, 0] }]), 0.1, still, 0, 1, out);
    expect(out[2]).toBeCloseTo(0.2, 3);
    expect(out[0]).toBe(0);
  });

  test('driven into a wall aslant it slides along it', () => {
    const out = new Float64Array(6);
    const drive = Float64Array.of(Math.SQRT1_2, 0, -Math.SQRT1_2, 0, 0, 0);
    smallestStep(rowsOf([{ value: 0, slope: [0, 0, 1, 0, 0, 0] }]), 0, drive, 0.2, 1, out);
    expect(out[0]).toBeGreaterThan(0.2);
    expect(out[2]).toBeGreaterThan(-2e-3);
  });

  test('what is not supple does not turn', () => {
    const out = new Float64Array(6);
    smallestStep(rowsOf([{ value: -0.1, slope: [1, 0, 0, 0, 1, 0] }]), 0, still, 0, 0, out);
    expect([...out.subarray(3)]).toEqual([0, 0, 0]);
    expect(out[0]).toBeCloseTo(0.1, 3);
  });

  test('random walls: every wish met, and no random step that meets them is smaller', () => {
    const random = seeded(8);
    for (let k = 0; k < 40; k++) {
      // All slopes lie on one side, so that there is a step that meets all.
      const slopes = Array.from({ length: 4 }, () => Array.from({ length: 6 }, (_, i) => (i === 0 ? 1 : random.between(-0.6, 0.6))));
      const lacks = slopes.map(() => random.between(0.02, 0.2));
      const out = new Float64Array(6);
      smallestStep(rowsOf(slopes.map((slope, i) => ({ value: -(lacks[i] as number), slope }))), 0, still, 0, 1, out);
      const met = (x: ArrayLike<number>): number =>
        Math.min(...slopes.map((s, i) => s.reduce((sum, a, c) => sum + a * (x[c] as number), 0) - (lacks[i] as number)));
      const size = (x: ArrayLike<number>): number => Math.sqrt(Array.from(x).reduce((s, v) => s + v * v, 0));
      expect(met(out)).toBeGreaterThan(-0.002);
      for (let n = 0; n < 2000; n++) {
        const x = Array.from(out, (v) => v + 0.03 * random.normal());
        if (met(x) >= 0) expect(size(x)).toBeGreaterThan(size(out) - 0.002);
      }
    }
  });
});

test('a thinned way goes by every place that it leaves out, within 0.03 mm and a share of the clearance there', () => {
  const random = seeded(4);
  const bar: Vec3[] = [
    [0, 0, 3],
    [0, 0, -3],
    [1, 0, 0],
  ];
  for (let k = 0; k < 20; k++) {
    const stops = Array.from({ length: 60 }, (_, i) => ({
      poses: [at(Math.sin(i / 15), random.between(-0.01, 0.01), -i / 4, unitQuat([0, Math.sin(i / 40), 0, 1]))],
      clear: random.between(0.02, 0.3),
    }));
    const kept = thinned(stops, [3]);
    expect(kept.length).toBeLessThan(stops.length);
    expect([kept[0], kept.at(-1)]).toEqual([stops[0], stops.at(-1)]);
    for (const stop of stops) {
      const p = stop.poses[0] as Pose<'ear'>;
      const beside = Math.min(
        ...kept.slice(1).flatMap((b, i) =>
          Array.from({ length: 201 }, (_, s) => {
            const q = poseBetween((kept[i] as typeof b).poses[0] as Pose<'ear'>, b.poses[0] as Pose<'ear'>, s / 200);
            return Math.max(...bar.map((m) => distance(place(p, m), place(q, m))));
          }),
        ),
      );
      // Half of the scan's own step along the way is added.
      expect(beside).toBeLessThan(Math.min(0.03, 0.35 * stop.clear) + 0.02);
    }
  }
});
