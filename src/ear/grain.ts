/** How finely and how quietly a surface was scanned. */
import type { Mesh } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

/** So many sides are looked at: enough for a middle. */
const SIDES = 20_000;

/** The middle length of the triangles' sides, mm. */
export function edgeOf({ positions: p, indices: ix }: Mesh<Frame>): number {
  const step = 3 * Math.max(1, Math.floor(ix.length / 3 / SIDES));
  const lengths: number[] = [];
  for (let h = 0; h < ix.length; h += step) {
    const [a, b] = [3 * (ix[h] as number), 3 * (ix[h + 1] as number)];
    const [x, y, z] = [0, 1, 2].map((k) => (p[a + k] as number) - (p[b + k] as number)) as [number, number, number];
    lengths.push(Math.sqrt(x * x + y * y + z * z));
  }
  lengths.sort((a, b) => a - b);
  return lengths[lengths.length >> 1] ?? 0;
}

/**
 * Standard deviation of the vertices' noise along the normal, mm: each vertex less the mean of its neighbours, and that once
 * more, so that bends fall out. On a lattice of six neighbours independent noise comes through 1.359 times (the root of
 * 49/36 + 6 (10/36)^2 + 6 (2/36)^2 + 6 (1/36)^2). The middle of the absolute values is taken, so that edges and dents do not
 * count; for a normal distribution it is 0.6745 of the deviation.
 */
export function noiseOf({ positions: p, indices: ix }: Mesh<Frame>): number {
  const first = awayFromNeighbours(p, ix);
  const twice = awayFromNeighbours(first, ix);
  const normals = normalsOf(p, ix);
  const sizes: number[] = [];
  for (let i = 0; i < p.length; i += 3) {
    let d = 0;
    for (let k = 0; k < 3; k++) d += (twice[i + k] as number) * (normals[i + k] as number);
    sizes.push(Math.abs(d));
  }
  sizes.sort((a, b) => a - b);
  return (sizes[sizes.length >> 1] ?? 0) / (0.6745 * 1.359);
}

/** Of each vertex: its value less the mean of its neighbours' (three numbers each). */
function awayFromNeighbours(x: Float64Array, ix: Uint32Array): Float64Array {
  const sum = new Float64Array(x.length);
  const many = new Uint32Array(x.length / 3);
  for (let h = 0; h < ix.length; h++) {
    const a = ix[h] as number;
    const b = ix[h % 3 === 2 ? h - 2 : h + 1] as number;
    for (let k = 0; k < 3; k++) sum[3 * a + k] = (sum[3 * a + k] as number) + (x[3 * b + k] as number);
    many[a] = (many[a] as number) + 1;
  }
  for (let i = 0; i < x.length; i++) sum[i] = (x[i] as number) - (sum[i] as number) / Math.max(1, many[(i - (i % 3)) / 3] as number);
  return sum;
}

/** Unit normals of the vertices, by area. */
function normalsOf(p: Float64Array, ix: Uint32Array): Float64Array {
  const n = new Float64Array(p.length);
  for (let t = 0; t < ix.length; t += 3) {
    const [a, b, c] = [3 * (ix[t] as number), 3 * (ix[t + 1] as number), 3 * (ix[t + 2] as number)];
    const u = [0, 1, 2].map((k) => (p[b + k] as number) - (p[a + k] as number)) as [number, number, number];
    const v = [0, 1, 2].map((k) => (p[c + k] as number) - (p[a + k] as number)) as [number, number, number];
    const w = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    for (const at of [a, b, c]) for (let k = 0; k < 3; k++) n[at + k] = (n[at + k] as number) + (w[k] as number);
  }
  for (let i = 0; i < n.length; i += 3) {
    const size = Math.sqrt((n[i] as number) ** 2 + (n[i + 1] as number) ** 2 + (n[i + 2] as number) ** 2) || 1;
    for (let k = 0; k < 3; k++) n[i + k] = (n[i + k] as number) / size;
  }
  return n;
}
