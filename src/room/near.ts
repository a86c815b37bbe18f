import { type TreeArrays, TriangleTree } from '../geometry/bvh.ts';
import type { Mesh } from '../geometry/mesh.ts';

/** What nearest triangles are found by. */
export interface NearArrays {
  readonly tree: TreeArrays;
  readonly packed: Float64Array;
}

/**
 * Nearest triangle of the cast, many times over: the tree's boxes with the triangles packed beside each other in the
 * tree's own order, so that one query touches little memory and allocates nothing.
 *
 * A triangle's `place` is its number in that order; `tree.order[place]` is its number in the mesh.
 */
export class NearTriangles {
  readonly tree: TriangleTree<'ear'>;
  /** Twelve numbers a place: a corner, the two edges from it, then the outward unit normal (0 0 0 without area). */
  readonly packed: Float64Array;
  /** Squared distance that the last query found. */
  found = Infinity;
  readonly #nodes = new Int32Array(128);
  readonly #dists = new Float64Array(128);

  /** `built`: the arrays of one over this very mesh, which are then used as they are. */
  constructor(mesh: Mesh<'ear'>, built?: NearArrays) {
    this.tree = new TriangleTree(mesh, built?.tree);
    this.packed = built?.packed ?? pack(mesh, this.tree.order);
  }

  /** The place of the nearest triangle nearer than sqrt(`limit`), or -1. `hint` is a place that is probably near. */
  query(x: number, y: number, z: number, hint: number, limit: number): number {
    const { boxes, second, start, count } = this.tree;
    const nodes = this.#nodes;
    const dists = this.#dists;
    let best = limit;
    let place = -1;
    if (hint >= 0) {
      const d = this.distance2(hint, x, y, z);
      if (d < best) {
        best = d;
        place = hint;
      }
    }
    let top = 0;
    if (this.tree.order.length > 0) {
      nodes[0] = 0;
      dists[0] = 0;
      top = 1;
    }
    while (top > 0) {
      top--;
      if ((dists[top] as number) >= best) continue;
      const node = nodes[top] as number;
      const right = second[node] as number;
      if (right < 0) {
        const from = start[node] as number;
        const to = from + (count[node] as number);
        for (let i = from; i < to; i++) {
          const d = this.distance2(i, x, y, z);
          if (d < best) {
            best = d;
            place = i;
          }
        }
        continue;
      }
      const dl = boxDistance2(boxes, 6 * node + 6, x, y, z);
      const dr = boxDistance2(boxes, 6 * right, x, y, z);
      const leftFirst = dl < dr;
      const far = leftFirst ? dr : dl;
      if (far < best) {
        nodes[top] = leftFirst ? right : node + 1;
        dists[top++] = far;
      }
      const near = leftFirst ? dl : dr;
      if (near < best) {
        nodes[top] = leftFirst ? node + 1 : right;
        dists[top++] = near;
      }
    }
    this.found = best;
    return place;
  }

  /** Closest point of the last `distance2`. */
  qx = 0;
  qy = 0;
  qz = 0;

  /** Squared distance from a point to one triangle; leaves the closest point in qx, qy, qz. (Ericson, Real-Time Collision Detection, 5.1.5.) */
  distance2(place: number, x: number, y: number, z: number): number {
    const t = this.packed;
    const o = 12 * place;
    const apx = x - (t[o] as number);
    const apy = y - (t[o + 1] as number);
    const apz = z - (t[o + 2] as number);
    const abx = t[o + 3] as number;
    const aby = t[o + 4] as number;
    const abz = t[o + 5] as number;
    const acx = t[o + 6] as number;
    const acy = t[o + 7] as number;
    const acz = t[o + 8] as number;
    const d1 = abx * apx + aby * apy + abz * apz;
    const d2 = acx * apx + acy * apy + acz * apz;
    const bb = abx * abx + aby * aby + abz * abz;
    const bc = abx * acx + aby * acy + abz * acz;
    const cc = acx * acx + acy * acy + acz * acz;
    const d3 = d1 - bb;
    const d4 = d2 - bc;
    const d5 = d1 - bc;
    const d6 = d2 - cc;
    let s = 0;
    let w = 0;
    if (d1 > 0 || d2 > 0) {
      const vc = d1 * d4 - d3 * d2;
      const vb = d5 * d2 - d1 * d6;
      const va = d3 * d6 - d5 * d4;
      if (d3 >= 0 && d4 <= d3) s = 1;
      else if (vc <= 0 && d1 >= 0 && d3 <= 0) s = d1 / (d1 - d3);
      else if (d6 >= 0 && d5 <= d6) w = 1;
      else if (vb <= 0 && d2 >= 0 && d6 <= 0) w = d2 / (d2 - d6);
      else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
        w = (d4 - d3) / (d4 - d3 + (d5 - d6));
        s = 1 - w;
      } else {
        const den = va + vb + vc;
        s = den > 0 ? vb / den : 0;
        w = den > 0 ? vc / den : 0;
      }
    }
    const rx = apx - abx * s - acx * w;
    const ry = apy - aby * s - acy * w;
    const rz = apz - abz * s - acz * w;
    this.qx = x - rx;
    this.qy = y - ry;
    this.qz = z - rz;
    return rx * rx + ry * ry + rz * rz;
  }
}

function pack(mesh: Mesh<'ear'>, order: Uint32Array): Float64Array {
  const { positions: p, indices: ix } = mesh;
  const out = new Float64Array(12 * order.length);
  for (let i = 0; i < order.length; i++) {
    const t = 3 * (order[i] as number);
    const a = 3 * (ix[t] as number);
    const b = 3 * (ix[t + 1] as number);
    const c = 3 * (ix[t + 2] as number);
    const o = 12 * i;
    for (let k = 0; k < 3; k++) {
      const at = p[a + k] as number;
      out[o + k] = at;
      out[o + 3 + k] = (p[b + k] as number) - at;
      out[o + 6 + k] = (p[c + k] as number) - at;
    }
    const [ux, uy, uz, vx, vy, vz] = out.subarray(o + 3, o + 9) as unknown as [number, number, number, number, number, number];
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    const l = Math.sqrt(nx * nx + ny * ny + nz * nz) || 1;
    out[o + 9] = nx / l;
    out[o + 10] = ny / l;
    out[o + 11] = nz / l;
  }
  return out;
}

/** Squared distance from a point to a box of the tree, 0 inside it. */
function boxDistance2(b: Float64Array, o: number, x: number, y: number, z: number): number {
  let s = 0;
  const x0 = (b[o] as number) - x;
  const x1 = x - (b[o + 3] as number);
  if (x0 > 0) s = x0 * x0;
  else if (x1 > 0) s = x1 * x1;
  const y0 = (b[o + 1] as number) - y;
  const y1 = y - (b[o + 4] as number);
  if (y0 > 0) s += y0 * y0;
  else if (y1 > 0) s += y1 * y1;
  const z0 = (b[o + 2] as number) - z;
  const z1 = z - (b[o + 5] as number);
  if (z0 > 0) s += z0 * z0;
  else if (z1 > 0) s += z1 * z1;
  return s;
}
