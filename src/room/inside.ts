import type { Mesh } from '../geometry/mesh.ts';
import type { Grid } from './grid.ts';

/**
 * Which nodes of a grid lie inside a closed mesh: 1 or 0 a node.
 *
 * Every triangle is drawn into the columns along z that pass through it; each crossing is counted +1 where a column
 * enters the solid and -1 where it leaves, and a running sum from the medial end upwards gives the sign. Counting
 * signed crossings (not odd and even) keeps doubled or overlapping shells right, and starting medially leaves a cast
 * with an open lateral base right everywhere below the hole.
 *
 * An edge's side test is computed from its vertices in ascending order, so that both triangles beside it agree to the
 * last bit: no column slips between two triangles or is counted twice.
 */
export function insideNodes(mesh: Mesh<'ear'>, grid: Grid): Uint8Array {
  const { nx, ny, nz } = grid;
  const layer = nx * ny;
  const turns = new Int8Array(layer * nz);
  const { positions: p, indices: ix } = mesh;
  for (let t = 0; t < ix.length; t += 3) drawTriangle(p, ix[t] as number, ix[t + 1] as number, ix[t + 2] as number, grid, turns);
  const inside = new Uint8Array(layer * nz);
  const sum = new Int32Array(layer);
  for (let k = 0, n = 0; k < nz; k++) {
    for (let c = 0; c < layer; c++, n++) {
      const s = (sum[c] as number) + (turns[n] as number);
      sum[c] = s;
      if (s > 0) inside[n] = 1;
    }
  }
  return inside;
}

function drawTriangle(p: Float64Array, a: number, b: number, c: number, g: Grid, turns: Int8Array): void {
  const ax = p[3 * a] as number;
  const ay = p[3 * a + 1] as number;
  const bx = p[3 * b] as number;
  const by = p[3 * b + 1] as number;
  const cx = p[3 * c] as number;
  const cy = p[3 * c + 1] as number;
  const i0 = Math.max(0, Math.ceil((Math.min(ax, bx, cx) - g.x0) / g.h));
  const i1 = Math.min(g.nx - 1, Math.floor((Math.max(ax, bx, cx) - g.x0) / g.h));
  const j0 = Math.max(0, Math.ceil((Math.min(ay, by, cy) - g.y0) / g.h));
  const j1 = Math.min(g.ny - 1, Math.floor((Math.max(ay, by, cy) - g.y0) / g.h));
  if (i0 > i1 || j0 > j1) return;
  const az = p[3 * a + 2] as number;
  const bz = p[3 * b + 2] as number;
  const cz = p[3 * c + 2] as number;
  const nz = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
  if (nz === 0) return;
  // Facing +z: the column leaves the solid here.
  const turn = nz > 0 ? -1 : 1;
  for (let j = j0; j <= j1; j++) {
    const y = g.y0 + g.h * j;
    for (let i = i0; i <= i1; i++) {
      const x = g.x0 + g.h * i;
      const wc = side(p, a, b, x, y);
      const wa = side(p, b, c, x, y);
      const wb = side(p, c, a, x, y);
      if (!(wa > 0 && wb > 0 && wc > 0) && !(wa < 0 && wb < 0 && wc < 0)) continue;
      const z = (wa * az + wb * bz + wc * cz) / (wa + wb + wc);
      const k = Math.max(0, Math.ceil((z - g.z0) / g.h));
      if (k < g.nz) {
        const n = (k * g.ny + j) * g.nx + i;
        turns[n] = (turns[n] as number) + turn;
      }
    }
  }
}

/** Which side of edge a-b a column is on; never 0, and exactly opposite for b-a. */
function side(p: Float64Array, a: number, b: number, x: number, y: number): number {
  const lo = Math.min(a, b);
  const hi = Math.max(a, b);
  const lx = p[3 * lo] as number;
  const ly = p[3 * lo + 1] as number;
  const w = ((p[3 * hi] as number) - lx) * (y - ly) - ((p[3 * hi + 1] as number) - ly) * (x - lx);
  const s = w === 0 ? Number.MIN_VALUE : w;
  return a < b ? s : -s;
}
