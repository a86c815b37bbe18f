/** Casts that can be told by hand, for the tests of the referee. */
import type { Vec3 } from '../../src/geometry/vec.ts';
import type { Triangle } from './referee-scan.ts';
import { box } from './solids.ts';

/** A cuboid's twelve triangles, seen from outside counter-clockwise. */
export function cuboid(lo: Vec3, hi: Vec3): Triangle[] {
  const { points, triangles } = box(lo, hi);
  return triangles.map((t) => t.map((v) => points[v]) as unknown as Triangle);
}
