import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import type { Pose, Vec3 } from '../../src/geometry/vec.ts';
import { pt } from '../../src/geometry/vec.ts';
import type { Primitive } from '../../src/model/parts.ts';
import { pairGap, posedSolids } from '../../src/room/index.ts';
import { axis } from '../../src/room/pair.ts';
import { solid } from '../support/rooms.ts';
import { gapAlong, gapBySearch, randomPose } from './reference.ts';

const SHAPES: Record<string, Primitive> = {
  box: solid('box', [5, 2.7, 1.9]),
  cylinder: solid('cylinder', [6, 6, 3.8]),
  capsule: solid('capsule', [1.4, 1.4, 4]),
};
const gap = (p: Primitive, a: Pose<'ear'>, q: Primitive, b: Pose<'ear'>): number => pairGap(posedSolids([p], a), 0, posedSolids([q], b), 0);

describe('gap of two solids', () => {
  // Reference: the greatest gap over spread and refined directions (separating axis theorem for convex bodies).
  for (const [m, p] of Object.entries(SHAPES)) {
    for (const [n, q] of Object.entries(SHAPES)) {
      test(`${m} and ${n}: as by searching all directions, apart and overlapping, seed 7`, () => {
        const random = seeded(7, m.length * 31 + n.length);
        let apart = 0;
        let over = 0;
        for (let k = 0; k < 36; k++) {
          const reach = k % 2 === 0 ? 1.2 : 4;
          const a = randomPose(random, reach);
          const b = randomPose(random, reach);
          const g = gap(p, a, q, b);
          const reference = gapBySearch(p, a, q, b, 800);
          if (g > 0) apart++;
          else over++;
          // The true gap is the greatest over all directions: no less than any search finds,
          expect(g).toBeGreaterThan(reference - 1e-6);
          // and never overstated: the direction given with it attains it.
          expect(g).toBeLessThan(gapAlong(p, a, q, b, [...axis] as unknown as Vec3) + 1e-7);
        }
        expect(Math.min(apart, over)).toBeGreaterThan(3);
      });
    }
  }

  test('moving one of two overlapping solids by the depth along the axis parts them, and by less does not', () => {
    const random = seeded(11);
    for (const p of Object.values(SHAPES)) {
      for (const q of Object.values(SHAPES)) {
        for (let k = 0; k < 10; k++) {
          const a = randomPose(random, 0.8);
          const b = randomPose(random, 0.8);
          const g = gap(p, a, q, b);
          if (g >= -1e-3) continue;
          const u = [...axis] as [number, number, number];
          const moved = (d: number): Pose<'ear'> => ({
            ...a,
            position: pt(a.position[0] + d * u[0], a.position[1] + d * u[1], a.position[2] + d * u[2]),
          });
          expect(gap(p, moved(-g + 1e-6), q, b)).toBeGreaterThanOrEqual(0);
          expect(gap(p, moved(-g - 1e-4), q, b)).toBeLessThan(0);
        }
      }
    }
  });

  // Exact geometry: two boxes corner to corner, along the diagonal; coaxial cylinders; parallel capsules.
  test('exact cases', () => {
    const still = { quaternion: [0, 0, 0, 1] as const };
    const cube = solid('box', [2, 2, 2]);
    const at = (x: number, y: number, z: number): Pose<'ear'> => ({ position: pt(x, y, z), ...still });
    expect(gap(cube, at(0, 0, 0), cube, at(3, 3, 3))).toBeCloseTo(Math.sqrt(3), 7);
    expect(gap(cube, at(0, 0, 0), cube, at(3, 0.5, -0.2))).toBeCloseTo(1, 7);
    expect(gap(cube, at(0, 0, 0), cube, at(1.7, 0.5, -0.2))).toBeCloseTo(-0.3, 7);
    const can = solid('cylinder', [4, 4, 2]);
    expect(gap(can, at(0, 0, 0), can, at(0, 0, 2.5))).toBeCloseTo(0.5, 7);
    expect(gap(can, at(0, 0, 0), can, at(4.25, 0, 0.3))).toBeCloseTo(0.25, 7);
    expect(gap(can, at(0, 0, 0), can, at(0, 0, 1.5))).toBeCloseTo(-0.5, 7);
    const pill = solid('capsule', [1, 1, 5]);
    expect(gap(pill, at(0, 0, 0), pill, at(1.5, 0, 1))).toBeCloseTo(0.5, 7);
    expect(gap(pill, at(0, 0, 0), pill, at(0.8, 0, 1))).toBeCloseTo(-0.2, 7);
    // One on the other: the least way out is sideways, by the full diameter.
    expect(gap(pill, at(0, 0, 0), pill, at(0, 0, 0))).toBeCloseTo(-1, 6);
    expect(gap(can, at(0, 0, 0), can, at(0, 0, 0))).toBeCloseTo(-2, 6);
  });
});
