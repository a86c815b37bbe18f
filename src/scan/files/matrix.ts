/** Placing a mesh where a file says: affine maps in doubles, and what they do to triangles. */
import type { Finding } from '../../model/scan.ts';
import { counted } from '../wording.ts';

/**
 * Twelve numbers, points as rows: x' = x m0 + y m3 + z m6 + m9, y' with m1 m4 m7 m10, z' with m2 m5 m8 m11. The order
 * of 3MF ("m00 m01 m02 m10 ... m32"); of glTF's sixteen, column by column, it is what is left without every fourth.
 */
export type Affine = readonly [number, number, number, number, number, number, number, number, number, number, number, number];

/** Twelve numbers as they stand in a file. The caller has counted them. */
export const affineOf = (numbers: readonly number[]): Affine => numbers as Affine;

export const IDENTITY: Affine = [1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0];

/** First `inner`, then `outer`. */
export function composed(inner: Affine, outer: Affine): Affine {
  if (inner === IDENTITY) return outer;
  if (outer === IDENTITY) return inner;
  const row = (i: number, k: number): number =>
    (inner[i] as number) * (outer[k] as number) +
    (inner[i + 1] as number) * (outer[k + 3] as number) +
    (inner[i + 2] as number) * (outer[k + 6] as number);
  const moved = (k: 0 | 1 | 2): number => row(9, k) + outer[(9 + k) as 9 | 10 | 11];
  return [row(0, 0), row(0, 1), row(0, 2), row(3, 0), row(3, 1), row(3, 2), row(6, 0), row(6, 1), row(6, 2), moved(0), moved(1), moved(2)];
}

/** Of the map without its move: negative where it mirrors, 0 where it flattens. */
export const determinant = (m: Affine): number =>
  m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) + m[2] * (m[3] * m[7] - m[4] * m[6]);

/** Flattened beyond this share of what its rows' lengths would span, a map is singular: no body is left. */
const FLAT = 1e-9;

export function isSingular(m: Affine): boolean {
  const lengths = [0, 3, 6].map((i) => Math.sqrt((m[i] as number) ** 2 + (m[i + 1] as number) ** 2 + (m[i + 2] as number) ** 2));
  const span = lengths.reduce((a, b) => a * b, 1);
  return !(Math.abs(determinant(m)) > FLAT * span); // also where a number is none
}

/** Writes the map of a point to `out` at `at`. Under the identity each number is the point's own, also one that is none. */
export function apply(m: Affine, x: number, y: number, z: number, out: Float64Array, at: number): void {
  const still = m === IDENTITY;
  out[at] = still ? x : x * m[0] + y * m[3] + z * m[6] + m[9];
  out[at + 1] = still ? y : x * m[1] + y * m[4] + z * m[7] + m[10];
  out[at + 2] = still ? z : x * m[2] + y * m[5] + z * m[8] + m[11];
}

/** What is told where maps that mirror were met: `what` is mirrored, its triangles were turned over. */
export const mirrored = (what: string, triangles: number): Finding => ({
  code: 'scan/mirrored',
  level: 'changed',
  text: `${what} mirrored by its matrix: ${counted(triangles, 'triangle')} turned over, so that the outside stays outside.`,
  count: triangles,
});
