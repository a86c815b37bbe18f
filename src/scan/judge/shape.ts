/** Does the scan look like something that grew, or like something that was built? */
import { faceNormals } from '../../geometry/mesh.ts';
import type { Surface } from '../mend/weld.ts';

/** Neighbours whose normals agree to this cosine lie in one plane. */
const SAME_PLANE = 1 - 1e-6;
/** A plane counts from this share of the whole area: curved ground in coarse triangles has none of that size. */
const LARGE = 0.04;

/** Share of the area that lies in large plane faces, 0..1. The cap of a base does not count. */
export function planeShare(s: Surface, twin: Int32Array, cap: Uint8Array): number {
  const many = s.indices.length / 3;
  const normals = faceNormals(s);
  const seen = Uint8Array.from(cap);
  const queue = new Int32Array(many);
  let total = 0;
  for (let t = 0; t < many; t++) total += cap[t] === 1 ? 0 : (normals[4 * t + 3] as number);
  let plane = 0;
  for (let seed = 0; seed < many; seed++) {
    if (seen[seed] === 1) continue;
    seen[seed] = 1;
    queue[0] = seed;
    let filled = 1;
    let area = 0;
    for (let q = 0; q < filled; q++) {
      const t = queue[q] as number;
      area += normals[4 * t + 3] as number;
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const u = Math.floor((twin[h] as number) / 3);
        if (u < 0 || seen[u] === 1 || !alike(normals, seed, u)) continue;
        seen[u] = 1;
        queue[filled++] = u;
      }
    }
    if (area >= LARGE * total) plane += area;
  }
  return total > 0 ? plane / total : 0;
}

const alike = (n: Float64Array, a: number, b: number): boolean =>
  (n[4 * a] as number) * (n[4 * b] as number) +
    (n[4 * a + 1] as number) * (n[4 * b + 1] as number) +
    (n[4 * a + 2] as number) * (n[4 * b + 2] as number) >=
  SAME_PLANE;
