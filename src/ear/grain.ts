/** How finely and how quietly a surface was scanned. */
import { doubleArea, type Mesh } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

type Triangles = Pick<Mesh<Frame>, 'positions' | 'indices'>;

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
  const { sum: n } = vectorAreas({ positions: p, indices: ix }, Infinity);
  for (let i = 0; i < n.length; i += 3) {
    const size = Math.sqrt((n[i] as number) ** 2 + (n[i + 1] as number) ** 2 + (n[i + 2] as number) ** 2) || 1;
    for (let k = 0; k < 3; k++) n[i + k] = (n[i + k] as number) / size;
  }
  return n;
}

interface Areas {
  /** Of each vertex, the sum of twice the vector areas of the triangles round it, mm2: its direction is their mean normal. */
  readonly sum: Float64Array;
  /** A triangle's mean area, mm2. */
  readonly mean: number;
}

const area = new Float64Array(3);

/** A triangle larger than `most` mm2 counts as one of that size, so that a wide flat one does not outvote its neighbours. */
function vectorAreas({ positions: p, indices: ix }: Triangles, most: number): Areas {
  const sum = new Float64Array(p.length);
  let all = 0;
  for (let t = 0; t < ix.length; t += 3) {
    const a = 3 * (ix[t] as number);
    const b = 3 * (ix[t + 1] as number);
    const c = 3 * (ix[t + 2] as number);
    doubleArea(p, a, b, c, area);
    const x = area[0] as number;
    const y = area[1] as number;
    const z = area[2] as number;
    const twice = Math.sqrt(x * x + y * y + z * z);
    const share = twice > 2 * most ? (2 * most) / twice : 1;
    all += (share * twice) / 2;
    add(sum, a, share * x, share * y, share * z);
    add(sum, b, share * x, share * y, share * z);
    add(sum, c, share * x, share * y, share * z);
  }
  return { sum, mean: (3 * all) / Math.max(1, ix.length) };
}

function add(sum: Float64Array, o: number, x: number, y: number, z: number): void {
  sum[o] = (sum[o] as number) + x;
  sum[o + 1] = (sum[o + 1] as number) + y;
  sum[o + 2] = (sum[o + 2] as number) + z;
}

/** A vertex's normal is a mean over about so much surface, mm2: its six triangles in a usual scan. */
const PATCH = 0.48;
/** So many passes at most: a scan that fine is averaged over less. */
const MOST_PASSES = 8;

/**
 * Of each vertex, a sum of vector areas round it, mm2: its direction is the mean normal there. The same noise tilts small triangles more than
 * large ones, so it goes as far round in a fine scan as in a usual one, and a surface in smaller triangles has the same slants. `most`: a
 * larger triangle counts as one of this size, mm2.
 */
export function meanNormals(mesh: Triangles, most: number): Float64Array {
  const { sum, mean } = vectorAreas(mesh, most);
  // Every pass adds as much to the mean square of how far it reaches as the first does.
  const passes = Math.min(MOST_PASSES, Math.round(PATCH / (6 * mean)));
  let out = sum;
  for (let pass = 1; pass < passes; pass++) out = spread(mesh.indices, out);
  return out;
}

/** Of each vertex: the mean over the corners of the triangles round it, counting each as often as it is one. */
function spread(ix: Uint32Array, from: Float64Array): Float64Array {
  const out = new Float64Array(from.length);
  for (let t = 0; t < ix.length; t += 3) {
    const a = 3 * (ix[t] as number);
    const b = 3 * (ix[t + 1] as number);
    const c = 3 * (ix[t + 2] as number);
    const x = ((from[a] as number) + (from[b] as number) + (from[c] as number)) / CORNERS;
    const y = ((from[a + 1] as number) + (from[b + 1] as number) + (from[c + 1] as number)) / CORNERS;
    const z = ((from[a + 2] as number) + (from[b + 2] as number) + (from[c + 2] as number)) / CORNERS;
    add(out, a, x, y, z);
    add(out, b, x, y, z);
    add(out, c, x, y, z);
  }
  return out;
}
/** Of six triangles. */
const CORNERS = 18;
