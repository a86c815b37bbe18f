/** Casts that can be told by hand, for the tests of the referee. */
import type { Vec3 } from '../../src/geometry/vec.ts';
import type { Triangle } from './referee-scan.ts';

/** A cuboid's twelve triangles, seen from outside counter-clockwise. */
export function cuboid(lo: Vec3, hi: Vec3): Triangle[] {
  const corner = (k: number): Vec3 => [k & 1 ? hi[0] : lo[0], k & 2 ? hi[1] : lo[1], k & 4 ? hi[2] : lo[2]];
  const quads = [
    [0, 2, 3, 1],
    [4, 5, 7, 6],
    [0, 1, 5, 4],
    [2, 6, 7, 3],
    [0, 4, 6, 2],
    [1, 3, 7, 5],
  ] as const;
  return quads.flatMap(([a, b, c, d]): Triangle[] => [
    [corner(a), corner(b), corner(c)],
    [corner(a), corner(c), corner(d)],
  ]);
}
