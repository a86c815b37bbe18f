/**
 * A box tree over the triangles of one mesh: nearest point, ray crossings, triangles near a box.
 *
 * Median splits on triangle centroids, at most four triangles a leaf, nodes in flat arrays; coordinates stay in double
 * precision (the trees of the rendering world are 32-bit). Build: O(n log n). All queries are deterministic; a
 * tie goes to the triangle met first. No query allocates, apart from those that return lists.
 */
import type { Mesh } from './mesh.ts';
import { type Frame, type Point, pt } from './vec.ts';

const LEAF = 4;

export interface Nearest<F extends Frame> {
  readonly distance: number;
  readonly point: Point<F>;
  readonly triangle: number;
}

/** What a tree is made of. A tree is one itself; plain arrays of one can go to another thread and be made a tree again there. */
export type TreeArrays = Pick<TriangleTree<Frame>, 'boxes' | 'second' | 'start' | 'count' | 'order'>;

export class TriangleTree<F extends Frame> {
  readonly mesh: Mesh<F>;
  /** Six numbers a node: min x y z, max x y z. */
  readonly boxes: Float64Array;
  /** A node's second child (the first follows it), or -1 for a leaf. */
  readonly second: Int32Array;
  /** First place in `order` and number of triangles below a node. */
  readonly start: Int32Array;
  readonly count: Int32Array;
  /** Triangle numbers in tree order. */
  readonly order: Uint32Array;
  #nodes = 0;
  readonly #near = new Float64Array(3);

  /** `built`: the arrays of a tree over this very mesh, which are then used as they are. */
  constructor(mesh: Mesh<F>, built?: TreeArrays) {
    this.mesh = mesh;
    const n = mesh.indices.length / 3;
    const most = Math.max(1, 2 * n);
    this.boxes = built?.boxes ?? new Float64Array(6 * most);
    this.second = built?.second ?? new Int32Array(most).fill(-1);
    this.start = built?.start ?? new Int32Array(most);
    this.count = built?.count ?? new Int32Array(most);
    this.order = built?.order ?? new Uint32Array(n);
    if (built) return;
    for (let i = 0; i < n; i++) this.order[i] = i;
    const boxes = triangleBoxes(mesh);
    if (n > 0) this.#build(0, n, boxes, middlesOf(boxes));
  }

  /** `middles`: of each axis, twice the middle of each triangle's box; the splits go by them. */
  #build(from: number, to: number, tri: Float64Array, middles: Middles): number {
    const node = this.#nodes++;
    this.start[node] = from;
    this.count[node] = to - from;
    const { axis, spread } = widest(this.order, from, to, middles);
    if (to - from <= LEAF || spread === 0) {
      this.#boxOfLeaf(node, from, to, tri);
      return node;
    }
    const mid = (from + to) >> 1;
    selectMedian(this.order, from, to, mid, middles[axis]);
    this.#build(from, mid, tri, middles);
    const right = this.#build(mid, to, tri, middles);
    this.second[node] = right;
    this.#boxOfBoth(node, node + 1, right);
    return node;
  }

  #boxOfLeaf(node: number, from: number, to: number, tri: Float64Array): void {
    const { boxes, order } = this;
    for (let k = 0; k < 3; k++) {
      let lo = Infinity;
      let hi = -Infinity;
      for (let i = from; i < to; i++) {
        const t = 6 * (order[i] as number) + k;
        lo = Math.min(lo, tri[t] as number);
        hi = Math.max(hi, tri[t + 3] as number);
      }
      boxes[6 * node + k] = lo;
      boxes[6 * node + 3 + k] = hi;
    }
  }

  #boxOfBoth(node: number, left: number, right: number): void {
    const b = this.boxes;
    for (let k = 0; k < 3; k++) {
      b[6 * node + k] = Math.min(b[6 * left + k] as number, b[6 * right + k] as number);
      b[6 * node + 3 + k] = Math.max(b[6 * left + 3 + k] as number, b[6 * right + 3 + k] as number);
    }
  }

  #boxDistance2(node: number, x: number, y: number, z: number): number {
    const b = this.boxes;
    const o = 6 * node;
    const dx = Math.max((b[o] as number) - x, 0, x - (b[o + 3] as number));
    const dy = Math.max((b[o + 1] as number) - y, 0, y - (b[o + 4] as number));
    const dz = Math.max((b[o + 2] as number) - z, 0, z - (b[o + 5] as number));
    return dx * dx + dy * dy + dz * dz;
  }

  /**
   * The nearest point of the surface, no farther than `within` mm, or undefined.
   * `hint` is a triangle that is probably near (a neighbour's answer): it only makes the search shorter.
   */
  nearest(p: Point<F>, within = Infinity, hint = -1): Nearest<F> | undefined {
    const t = this.nearestTriangle(p[0], p[1], p[2], within, hint);
    if (t < 0) return undefined;
    const d2 = closestOnTriangle(this.mesh, t, p[0], p[1], p[2], this.#near);
    const [x, y, z] = this.#near as unknown as [number, number, number];
    return { distance: Math.sqrt(d2), point: pt<F>(x, y, z), triangle: t };
  }

  /** As `nearest`, without allocating: the triangle's number or -1. The distance is closestOnTriangle of it. */
  nearestTriangle(x: number, y: number, z: number, within = Infinity, hint = -1): number {
    if (this.order.length === 0) return -1;
    let best = within * within;
    let found = -1;
    if (hint >= 0) {
      const d = closestOnTriangle(this.mesh, hint, x, y, z, this.#near);
      if (d <= best) {
        best = d;
        found = hint;
      }
    }
    const stack = [0];
    while (stack.length > 0) {
      const node = stack.pop() as number;
      if (this.#boxDistance2(node, x, y, z) > best) continue;
      const right = this.second[node] as number;
      if (right < 0) {
        const end = (this.start[node] as number) + (this.count[node] as number);
        for (let i = this.start[node] as number; i < end; i++) {
          const t = this.order[i] as number;
          const d = closestOnTriangle(this.mesh, t, x, y, z, this.#near);
          if (d < best || (found < 0 && d <= best)) {
            best = d;
            found = t;
          }
        }
        continue;
      }
      const dl = this.#boxDistance2(node + 1, x, y, z);
      const dr = this.#boxDistance2(right, x, y, z);
      if (dl < dr) stack.push(right, node + 1);
      else stack.push(node + 1, right);
    }
    return found;
  }

  /** Signed distance: positive inside the closed mesh. The sign is a count of crossings along a skew ray. */
  signedDistance(p: Point<F>): number {
    const near = this.nearest(p);
    if (!near) return -Infinity;
    return this.contains(p) ? near.distance : -near.distance;
  }

  /** Inside the closed surface? By the signed number of crossings along a ray of fixed, unremarkable direction. */
  contains(p: Point<F>): boolean {
    let turns = 0;
    this.alongRay(p, RAY, (_t, _d, facing) => {
      turns += facing;
    });
    return turns > 0;
  }

  /** Every crossing of the ray from p along unit d: triangle, distance, +1 when leaving (outward face) or -1 when entering. */
  alongRay(p: Point<F>, d: readonly [number, number, number], visit: (triangle: number, distance: number, facing: 1 | -1) => void): void {
    if (this.order.length === 0) return;
    const [ix, iy, iz] = [1 / d[0], 1 / d[1], 1 / d[2]];
    const stack = [0];
    while (stack.length > 0) {
      const node = stack.pop() as number;
      if (!rayMeetsBox(this.boxes, 6 * node, p, ix, iy, iz)) continue;
      const right = this.second[node] as number;
      if (right >= 0) {
        stack.push(right, node + 1);
        continue;
      }
      const end = (this.start[node] as number) + (this.count[node] as number);
      for (let i = this.start[node] as number; i < end; i++) {
        const t = this.order[i] as number;
        const hit = rayTriangle(this.mesh, t, p, d);
        if (hit !== undefined) visit(t, Math.abs(hit) === Infinity ? 0 : Math.abs(hit), hit > 0 ? 1 : -1);
      }
    }
  }

  /** Every triangle whose box meets the given box. */
  inBox(min: readonly [number, number, number], max: readonly [number, number, number], visit: (triangle: number) => void): void {
    if (this.order.length === 0) return;
    const b = this.boxes;
    const stack = [0];
    while (stack.length > 0) {
      const node = stack.pop() as number;
      const o = 6 * node;
      if ((b[o] as number) > max[0] || (b[o + 3] as number) < min[0] || (b[o + 1] as number) > max[1]) continue;
      if ((b[o + 4] as number) < min[1] || (b[o + 2] as number) > max[2] || (b[o + 5] as number) < min[2]) continue;
      const right = this.second[node] as number;
      if (right >= 0) {
        stack.push(right, node + 1);
        continue;
      }
      const end = (this.start[node] as number) + (this.count[node] as number);
      for (let i = this.start[node] as number; i < end; i++) visit(this.order[i] as number);
    }
  }
}

/** A direction with no special relation to any axis, so that edges are met by accident only. */
const RAY = ((): readonly [number, number, number] => {
  const v = [0.5773, 0.3217, 0.7505] as const;
  const l = Math.sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
  return [v[0] / l, v[1] / l, v[2] / l];
})();

function triangleBoxes(mesh: Mesh<Frame>): Float64Array {
  const { positions: p, indices: t } = mesh;
  const out = new Float64Array(2 * t.length);
  for (let i = 0; i < t.length / 3; i++) {
    for (let k = 0; k < 3; k++) {
      const a = p[3 * (t[3 * i] as number) + k] as number;
      const b = p[3 * (t[3 * i + 1] as number) + k] as number;
      const c = p[3 * (t[3 * i + 2] as number) + k] as number;
      out[6 * i + k] = Math.min(a, b, c);
      out[6 * i + 3 + k] = Math.max(a, b, c);
    }
  }
  return out;
}

type Middles = readonly [Float64Array, Float64Array, Float64Array];

function middlesOf(boxes: Float64Array): Middles {
  const n = boxes.length / 6;
  const out = [new Float64Array(n), new Float64Array(n), new Float64Array(n)] as const;
  for (let i = 0; i < n; i++)
    for (let k = 0; k < 3; k++) (out[k as 0] as Float64Array)[i] = (boxes[6 * i + k] as number) + (boxes[6 * i + 3 + k] as number);
  return out;
}

/** The axis along which the middles of order[from..to) are spread most (of equals the first), and by how much. */
function widest(order: Uint32Array, from: number, to: number, middles: Middles): { axis: 0 | 1 | 2; spread: number } {
  const [x, y, z] = middles;
  let [x0, y0, z0, x1, y1, z1] = [Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity];
  for (let i = from; i < to; i++) {
    const t = order[i] as number;
    const [a, b, c] = [x[t] as number, y[t] as number, z[t] as number];
    if (a < x0) x0 = a;
    if (a > x1) x1 = a;
    if (b < y0) y0 = b;
    if (b > y1) y1 = b;
    if (c < z0) z0 = c;
    if (c > z1) z1 = c;
  }
  const [dx, dy, dz] = [x1 - x0, y1 - y0, z1 - z0];
  if (dx >= dy && dx >= dz) return { axis: 0, spread: dx };
  return dy >= dz ? { axis: 1, spread: dy } : { axis: 2, spread: dz };
}

/** Quickselect: after it, order[from..mid) have keys <= those of order[mid..to). */
function selectMedian(order: Uint32Array, from: number, to: number, mid: number, key: Float64Array): void {
  let lo = from;
  let hi = to - 1;
  while (lo < hi) {
    const pivot = key[order[(lo + hi) >> 1] as number] as number;
    let i = lo;
    let j = hi;
    while (i <= j) {
      while ((key[order[i] as number] as number) < pivot) i++;
      while ((key[order[j] as number] as number) > pivot) j--;
      if (i <= j) {
        const s = order[i] as number;
        order[i] = order[j] as number;
        order[j] = s;
        i++;
        j--;
      }
    }
    if (mid <= j) hi = j;
    else if (mid >= i) lo = i;
    else return;
  }
}

/** `ix` and its like: 1 over the ray's direction. */
function rayMeetsBox(b: Float64Array, o: number, p: Point<Frame>, ix: number, iy: number, iz: number): boolean {
  const x0 = ((b[o] as number) - p[0]) * ix;
  const x1 = ((b[o + 3] as number) - p[0]) * ix;
  const y0 = ((b[o + 1] as number) - p[1]) * iy;
  const y1 = ((b[o + 4] as number) - p[1]) * iy;
  const z0 = ((b[o + 2] as number) - p[2]) * iz;
  const z1 = ((b[o + 5] as number) - p[2]) * iz;
  const near = Math.max(0, Math.min(x0, x1), Math.min(y0, y1), Math.min(z0, z1));
  return near <= Math.min(Math.max(x0, x1), Math.max(y0, y1), Math.max(z0, z1));
}

/** Distance along the ray, negated when the ray enters through the triangle (meets its outer side); undefined: no hit. */
function rayTriangle(m: Mesh<Frame>, t: number, p: Point<Frame>, d: readonly [number, number, number]): number | undefined {
  const { positions: v, indices: ix } = m;
  const a = 3 * (ix[3 * t] as number);
  const b = 3 * (ix[3 * t + 1] as number);
  const c = 3 * (ix[3 * t + 2] as number);
  const e1x = (v[b] as number) - (v[a] as number);
  const e1y = (v[b + 1] as number) - (v[a + 1] as number);
  const e1z = (v[b + 2] as number) - (v[a + 2] as number);
  const e2x = (v[c] as number) - (v[a] as number);
  const e2y = (v[c + 1] as number) - (v[a + 1] as number);
  const e2z = (v[c + 2] as number) - (v[a + 2] as number);
  const hx = d[1] * e2z - d[2] * e2y;
  const hy = d[2] * e2x - d[0] * e2z;
  const hz = d[0] * e2y - d[1] * e2x;
  const det = e1x * hx + e1y * hy + e1z * hz;
  if (det === 0) return undefined;
  const sx = p[0] - (v[a] as number);
  const sy = p[1] - (v[a + 1] as number);
  const sz = p[2] - (v[a + 2] as number);
  const u = (sx * hx + sy * hy + sz * hz) / det;
  if (u < 0 || u > 1) return undefined;
  const qx = sy * e1z - sz * e1y;
  const qy = sz * e1x - sx * e1z;
  const qz = sx * e1y - sy * e1x;
  const w = (d[0] * qx + d[1] * qy + d[2] * qz) / det;
  if (w < 0 || u + w > 1) return undefined;
  const r = (e2x * qx + e2y * qy + e2z * qz) / det;
  if (r < 0) return undefined;
  return det > 0 ? -Math.max(r, Number.MIN_VALUE) : Math.max(r, Number.MIN_VALUE);
}

/** Writes the closest point of triangle `t` into `out`; returns the squared distance. Does not allocate. (Ericson, Real-Time Collision Detection, 5.1.5.) */
export function closestOnTriangle(m: Mesh<Frame>, t: number, x: number, y: number, z: number, out: Float64Array): number {
  const { positions: v, indices: ix } = m;
  const a = 3 * (ix[3 * t] as number);
  const b = 3 * (ix[3 * t + 1] as number);
  const c = 3 * (ix[3 * t + 2] as number);
  const ax = v[a] as number;
  const ay = v[a + 1] as number;
  const az = v[a + 2] as number;
  const abx = (v[b] as number) - ax;
  const aby = (v[b + 1] as number) - ay;
  const abz = (v[b + 2] as number) - az;
  const acx = (v[c] as number) - ax;
  const acy = (v[c + 1] as number) - ay;
  const acz = (v[c + 2] as number) - az;
  const apx = x - ax;
  const apy = y - ay;
  const apz = z - az;
  const d1 = abx * apx + aby * apy + abz * apz;
  const d2 = acx * apx + acy * apy + acz * apz;
  const bpx = apx - abx;
  const bpy = apy - aby;
  const bpz = apz - abz;
  const d3 = abx * bpx + aby * bpy + abz * bpz;
  const d4 = acx * bpx + acy * bpy + acz * bpz;
  const cpx = apx - acx;
  const cpy = apy - acy;
  const cpz = apz - acz;
  const d5 = abx * cpx + aby * cpy + abz * cpz;
  const d6 = acx * cpx + acy * cpy + acz * cpz;
  let s = 0;
  let w = 0;
  const vc = d1 * d4 - d3 * d2;
  const vb = d5 * d2 - d1 * d6;
  const va = d3 * d6 - d5 * d4;
  if (d1 <= 0 && d2 <= 0) {
    s = 0;
    w = 0;
  } else if (d3 >= 0 && d4 <= d3) {
    s = 1;
    w = 0;
  } else if (vc <= 0 && d1 >= 0 && d3 <= 0) {
    s = d1 / (d1 - d3);
    w = 0;
  } else if (d6 >= 0 && d5 <= d6) {
    s = 0;
    w = 1;
  } else if (vb <= 0 && d2 >= 0 && d6 <= 0) {
    s = 0;
    w = d2 / (d2 - d6);
  } else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
    w = (d4 - d3) / (d4 - d3 + (d5 - d6));
    s = 1 - w;
  } else {
    const den = va + vb + vc;
    s = den > 0 ? vb / den : 0;
    w = den > 0 ? vc / den : 0;
  }
  const px = ax + abx * s + acx * w;
  const py = ay + aby * s + acy * w;
  const pz = az + abz * s + acz * w;
  out[0] = px;
  out[1] = py;
  out[2] = pz;
  return (x - px) * (x - px) + (y - py) * (y - py) + (z - pz) * (z - pz);
}
