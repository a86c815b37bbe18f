/**
 * A thinner surface for the eye alone: vertices that share a cell of a grid become their mean, triangles that collapse
 * are dropped. O(n), and a closed surface stays closed wherever it does not touch itself within a cell. Never used for a
 * measurement; sections are cut from the whole mesh.
 */
import { areaOf, type Mesh, triangleCount } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

/** More triangles than this are not told apart on a screen. */
export const MOST = 90_000;

/** `mesh` itself where it is thin enough. */
export function thin<F extends Frame>(mesh: Mesh<F>, most = MOST): Mesh<F> {
  if (triangleCount(mesh) <= most) return mesh;
  // A surface has about half as many vertices as triangles, and each takes about a cell's square.
  const cell = Math.sqrt(areaOf(mesh) / (most / 2));
  const { positions: p, indices: t } = mesh;
  const cells = new Map<string, number>();
  const home = new Uint32Array(p.length / 3);
  const sums: number[] = [];
  for (let i = 0; i < home.length; i++) {
    const key = `${Math.floor((p[3 * i] as number) / cell)},${Math.floor((p[3 * i + 1] as number) / cell)},${Math.floor((p[3 * i + 2] as number) / cell)}`;
    let at = cells.get(key);
    if (at === undefined) {
      at = cells.size;
      cells.set(key, at);
      sums.push(0, 0, 0, 0);
    }
    home[i] = at;
    for (let k = 0; k < 3; k++) sums[4 * at + k]! += p[3 * i + k] as number;
    sums[4 * at + 3]! += 1;
  }
  const positions = new Float64Array(3 * cells.size);
  for (let i = 0; i < cells.size; i++)
    for (let k = 0; k < 3; k++) positions[3 * i + k] = (sums[4 * i + k] as number) / (sums[4 * i + 3] as number);
  const kept: number[] = [];
  for (let i = 0; i < t.length; i += 3) {
    const a = home[t[i] as number] as number;
    const b = home[t[i + 1] as number] as number;
    const c = home[t[i + 2] as number] as number;
    if (a !== b && b !== c && c !== a) kept.push(a, b, c);
  }
  return { frame: mesh.frame, positions, indices: Uint32Array.from(kept) };
}
