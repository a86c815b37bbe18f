/**
 * Many small sections of one mesh.
 *
 * geometry/section.ts measures every vertex, which is right for one cut and too slow for the hundreds of cuts that follow a canal: here
 * a box tree hands over only the triangles near the wanted outline (about 300 of 150 000).
 */
import { TriangleTree } from '../geometry/bvh.ts';
import type { Mesh } from '../geometry/mesh.ts';
import { cross, type Frame, type Point, perpendicular, pt } from '../geometry/vec.ts';
import { placeIn } from './circles.ts';

/** The outline of one cut that goes round (or comes nearest to) the asked point. */
export interface Slice<F extends Frame> {
  /** u v pairs about the asked point, mm, counter-clockwise round material about the normal. */
  readonly points: Float64Array;
  /** Of the segment that starts at each point: the surface normal's share along the plane's normal. 0: the wall stands square to the plane. */
  readonly tilts: Float64Array;
  readonly area: number; // mm2, above 0
  readonly perimeter: number; // mm
  readonly centroid: Point<F>;
  /** False when the asked point lies outside the outline and this one was merely the nearest. */
  readonly holds: boolean;
  /** From the asked point to the outline, mm. */
  readonly margin: number;
  readonly u: Point<F>;
  readonly v: Point<F>;
}

interface Loop {
  readonly points: Float64Array;
  readonly tilts: Float64Array;
  readonly area: number;
}

export class Slicer<F extends Frame> {
  readonly tree: TriangleTree<F>;
  readonly mesh: Mesh<F>;
  /** Entry and exit edge of each cut triangle, and where the entry lies in the plane. */
  readonly #enter: number[] = [];
  readonly #leave: number[] = [];
  readonly #at: number[] = [];
  readonly #tilt: number[] = [];

  constructor(mesh: Mesh<F>) {
    this.mesh = mesh;
    this.tree = new TriangleTree(mesh);
  }

  /**
   * The outline round `p` in the plane through p square to unit `n`. Only triangles within `reach` mm of p are looked at: an outline that
   * leaves that ball is not closed and counts as none. Undefined: no closed outline there.
   */
  outline(p: Point<F>, n: Point<F>, reach: number): Slice<F> | undefined {
    const u = perpendicular(n);
    const v = cross(n, u);
    this.#collect(p, n, u, v, reach);
    let best: Loop | undefined;
    let bestMargin = Infinity;
    let bestHolds = false;
    for (const loop of this.#loops()) {
      if (!(loop.area > 0)) continue;
      const { margin, holds } = placeIn(loop.points, 0, 0);
      const better = holds !== bestHolds ? holds : holds ? loop.area < (best?.area ?? Infinity) : margin < bestMargin;
      if (best && !better) continue;
      best = loop;
      bestMargin = margin;
      bestHolds = holds;
    }
    if (!best) return undefined;
    const { cu, cv, perimeter } = moments(best.points, best.area);
    const centroid = pt<F>(p[0] + cu * u[0] + cv * v[0], p[1] + cu * u[1] + cv * v[1], p[2] + cu * u[2] + cv * v[2]);
    return { points: best.points, tilts: best.tilts, area: best.area, perimeter, centroid, holds: bestHolds, margin: bestMargin, u, v };
  }

  #collect(p: Point<F>, n: Point<F>, u: Point<F>, v: Point<F>, reach: number): void {
    const { boxes, second, start, count, order } = this.tree;
    this.#enter.length = 0;
    this.#leave.length = 0;
    this.#at.length = 0;
    this.#tilt.length = 0;
    if (order.length === 0) return;
    const [px, py, pz] = p;
    const [nx, ny, nz] = n;
    const stack = [0];
    while (stack.length > 0) {
      const node = stack.pop() as number;
      const o = 6 * node;
      const hx = ((boxes[o + 3] as number) - (boxes[o] as number)) / 2;
      const hy = ((boxes[o + 4] as number) - (boxes[o + 1] as number)) / 2;
      const hz = ((boxes[o + 5] as number) - (boxes[o + 2] as number)) / 2;
      const dx = (boxes[o] as number) + hx - px;
      const dy = (boxes[o + 1] as number) + hy - py;
      const dz = (boxes[o + 2] as number) + hz - pz;
      const off = dx * nx + dy * ny + dz * nz;
      const spread = Math.abs(nx) * hx + Math.abs(ny) * hy + Math.abs(nz) * hz;
      if (Math.abs(off) > spread + 1e-9) continue;
      const ex = Math.max(0, Math.abs(dx) - hx);
      const ey = Math.max(0, Math.abs(dy) - hy);
      const ez = Math.max(0, Math.abs(dz) - hz);
      if (ex * ex + ey * ey + ez * ez > reach * reach) continue;
      const right = second[node] as number;
      if (right >= 0) {
        stack.push(right, node + 1);
        continue;
      }
      const end = (start[node] as number) + (count[node] as number);
      for (let i = start[node] as number; i < end; i++) this.#cut(order[i] as number, p, n, u, v);
    }
  }

  /** As in geometry/section.ts: a vertex on the plane counts as above, so each triangle gives one segment or none. */
  #cut(triangle: number, p: Point<F>, n: Point<F>, u: Point<F>, v: Point<F>): void {
    const { positions: q, indices: ix } = this.mesh;
    const many = q.length / 3;
    let enter = -1;
    let leave = -1;
    let su = 0;
    let sv = 0;
    for (let k = 0; k < 3; k++) {
      const a = ix[3 * triangle + k] as number;
      const b = ix[3 * triangle + ((k + 1) % 3)] as number;
      const lo = Math.min(a, b);
      const hi = Math.max(a, b);
      const lx = (q[3 * lo] as number) - p[0];
      const ly = (q[3 * lo + 1] as number) - p[1];
      const lz = (q[3 * lo + 2] as number) - p[2];
      const gx = (q[3 * hi] as number) - p[0];
      const gy = (q[3 * hi + 1] as number) - p[1];
      const gz = (q[3 * hi + 2] as number) - p[2];
      const hLo = lx * n[0] + ly * n[1] + lz * n[2];
      const hHi = gx * n[0] + gy * n[1] + gz * n[2];
      if (hLo >= 0 === hHi >= 0) continue;
      const falling = (a < b ? hLo : hHi) >= 0;
      if (!falling) {
        leave = lo * many + hi;
        continue;
      }
      enter = lo * many + hi;
      const s = hLo / (hLo - hHi);
      const x = lx + s * (gx - lx);
      const y = ly + s * (gy - ly);
      const z = lz + s * (gz - lz);
      su = x * u[0] + y * u[1] + z * u[2];
      sv = x * v[0] + y * v[1] + z * v[2];
    }
    if (enter < 0) return;
    this.#enter.push(enter);
    this.#leave.push(leave);
    this.#at.push(su, sv);
    this.#tilt.push(tiltOf(q, ix, triangle, n));
  }

  /**
   * The closed outlines among the collected segments. Where more than two triangles share an edge several segments enter by it; any pairing
   * gives closed outlines, so the first one left is taken.
   */
  #loops(): Loop[] {
    const by = new Map<number, number>();
    const rest = new Int32Array(this.#enter.length);
    for (let i = rest.length - 1; i >= 0; i--) {
      rest[i] = by.get(this.#enter[i] as number) ?? -1;
      by.set(this.#enter[i] as number, i);
    }
    const used = new Uint8Array(rest.length);
    const loops: Loop[] = [];
    for (let first = 0; first < used.length; first++) {
      if (used[first]) continue;
      const flat: number[] = [];
      const tilts: number[] = [];
      let i = first;
      while (i >= 0) {
        used[i] = 1;
        flat.push(this.#at[2 * i] as number, this.#at[2 * i + 1] as number);
        tilts.push(this.#tilt[i] as number);
        const leave = this.#leave[i] as number;
        if (leave === this.#enter[first]) break;
        i = by.get(leave) ?? -1;
        while (i >= 0 && used[i]) i = rest[i] as number;
      }
      if (i >= 0 && flat.length >= 6) {
        loops.push({ points: Float64Array.from(flat), tilts: Float64Array.from(tilts), area: signedArea(flat) });
      }
    }
    return loops;
  }
}

/** Cosine between a triangle's normal and unit n; 0 for a triangle without area. */
function tiltOf(q: Float64Array, ix: Uint32Array, triangle: number, n: readonly [number, number, number]): number {
  const a = 3 * (ix[3 * triangle] as number);
  const b = 3 * (ix[3 * triangle + 1] as number);
  const c = 3 * (ix[3 * triangle + 2] as number);
  const ux = (q[b] as number) - (q[a] as number);
  const uy = (q[b + 1] as number) - (q[a + 1] as number);
  const uz = (q[b + 2] as number) - (q[a + 2] as number);
  const vx = (q[c] as number) - (q[a] as number);
  const vy = (q[c + 1] as number) - (q[a + 1] as number);
  const vz = (q[c + 2] as number) - (q[a + 2] as number);
  const x = uy * vz - uz * vy;
  const y = uz * vx - ux * vz;
  const z = ux * vy - uy * vx;
  const l = Math.sqrt(x * x + y * y + z * z);
  return l > 0 ? (x * n[0] + y * n[1] + z * n[2]) / l : 0;
}

function signedArea(p: ArrayLike<number>): number {
  let twice = 0;
  for (let i = 0, j = p.length - 2; i < p.length; j = i, i += 2) {
    twice += (p[j] as number) * (p[i + 1] as number) - (p[i] as number) * (p[j + 1] as number);
  }
  return twice / 2;
}

function moments(p: Float64Array, area: number): { cu: number; cv: number; perimeter: number } {
  let cu = 0;
  let cv = 0;
  let perimeter = 0;
  for (let i = 0, j = p.length - 2; i < p.length; j = i, i += 2) {
    const ax = p[j] as number;
    const ay = p[j + 1] as number;
    const bx = p[i] as number;
    const by = p[i + 1] as number;
    const w = ax * by - bx * ay;
    cu += (ax + bx) * w;
    cv += (ay + by) * w;
    perimeter += Math.sqrt((bx - ax) * (bx - ax) + (by - ay) * (by - ay));
  }
  return { cu: cu / (6 * area), cv: cv / (6 * area), perimeter };
}
