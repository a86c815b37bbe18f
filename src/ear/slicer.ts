/**
 * Many small sections of one mesh.
 *
 * geometry/section.ts measures every vertex, which is right for one cut and too slow for the hundreds of cuts that follow a canal: here
 * a box tree hands over only the triangles near the wanted outline (about 300 of 150 000).
 */
import { TriangleTree } from '../geometry/bvh.ts';
import { doubleArea, type Mesh } from '../geometry/mesh.ts';
import { cross, type Frame, type Point, perpendicular, pt, type Vec3 } from '../geometry/vec.ts';
import { placeIn } from './circles.ts';
import { meanNormals } from './grain.ts';
import { type Run, Segments } from './segments.ts';

/** The outline of one cut that goes round (or comes nearest to) the asked point. */
export interface Slice<F extends Frame> {
  /** u v pairs about the asked point, mm, counter-clockwise round material about the normal. */
  readonly points: Float64Array;
  /**
   * Of the segment that starts at each point: the surface normal's share along the plane's normal. 0: the wall stands square to the plane.
   * The normal is a mean over the triangles round the one that is cut: a single one is tilted by 0.2 where a scan is noisy.
   */
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
  readonly run: Run;
  readonly area: number;
  readonly margin: number;
  readonly holds: boolean;
}

/**
 * A triangle larger than this was not scanned, mm2: a flat cap's, or one of a thinned flat. It tells its own slant, and among its neighbours
 * it counts as one of this size.
 */
const LARGE = 3;

/** A tree of some 2^DEEP leaves leaves no more than so many nodes waiting. */
const DEEP = 64;

export class Slicer<F extends Frame> {
  readonly tree: TriangleTree<F>;
  readonly mesh: Mesh<F>;
  /** Vector areas round the vertices. */
  readonly #round: Float64Array;
  readonly #segments = new Segments();
  readonly #waiting = new Int32Array(DEEP);

  constructor(mesh: Mesh<F>) {
    this.mesh = mesh;
    this.tree = new TriangleTree(mesh);
    this.#round = meanNormals(mesh, LARGE);
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
    for (const run of this.#segments.closed()) {
      const points = this.#pointsOf(run);
      const area = signedArea(points);
      if (!(area > 0)) continue;
      const loop = { points, run, area, ...placeIn(points, 0, 0) };
      if (!best || nearer(loop, best)) best = loop;
    }
    if (!best) return undefined;
    const { points, run, area, holds, margin } = best;
    const { cu, cv, perimeter } = moments(points, area);
    const centroid = pt<F>(p[0] + cu * u[0] + cv * v[0], p[1] + cu * u[1] + cv * v[1], p[2] + cu * u[2] + cv * v[2]);
    return { points, tilts: this.#tiltsOf(run, n), area, perimeter, centroid, holds, margin, u, v };
  }

  /** Cuts the triangles near the plane and within reach. The order is the tree's. */
  #collect(p: Point<F>, n: Point<F>, u: Point<F>, v: Point<F>, reach: number): void {
    const { boxes, second, start, count, order } = this.tree;
    this.#segments.clear();
    if (order.length === 0) return;
    const [px, py, pz] = p;
    const [nx, ny, nz] = n;
    const [ax, ay, az] = [Math.abs(nx), Math.abs(ny), Math.abs(nz)];
    const waiting = this.#waiting;
    waiting[0] = 0;
    for (let left = 1; left > 0; ) {
      const node = waiting[--left] as number;
      const o = 6 * node;
      const hx = ((boxes[o + 3] as number) - (boxes[o] as number)) / 2;
      const hy = ((boxes[o + 4] as number) - (boxes[o + 1] as number)) / 2;
      const hz = ((boxes[o + 5] as number) - (boxes[o + 2] as number)) / 2;
      const dx = (boxes[o] as number) + hx - px;
      const dy = (boxes[o + 1] as number) + hy - py;
      const dz = (boxes[o + 2] as number) + hz - pz;
      const off = dx * nx + dy * ny + dz * nz;
      if (Math.abs(off) > ax * hx + ay * hy + az * hz + 1e-9) continue;
      const ex = Math.max(0, Math.abs(dx) - hx);
      const ey = Math.max(0, Math.abs(dy) - hy);
      const ez = Math.max(0, Math.abs(dz) - hz);
      if (ex * ex + ey * ey + ez * ez > reach * reach) continue;
      const right = second[node] as number;
      if (right >= 0) {
        waiting[left++] = right;
        waiting[left++] = node + 1;
        continue;
      }
      const end = (start[node] as number) + (count[node] as number);
      for (let i = start[node] as number; i < end; i++) this.#cut(order[i] as number, p, n, u, v);
    }
  }

  /** As in geometry/section.ts: a vertex on the plane counts as above, so each triangle gives one segment or none. */
  #cut(triangle: number, p: Point<F>, n: Point<F>, u: Point<F>, v: Point<F>): void {
    const { positions: q, indices: ix } = this.mesh;
    const a = ix[3 * triangle] as number;
    const b = ix[3 * triangle + 1] as number;
    const c = ix[3 * triangle + 2] as number;
    const above = heightAt(q, a, p, n) >= 0;
    const bAbove = heightAt(q, b, p, n) >= 0;
    const cAbove = heightAt(q, c, p, n) >= 0;
    if (above === bAbove && above === cAbove) return;
    // The vertex that is alone on its side, then the next two round the triangle.
    if (above !== bAbove && above !== cAbove) this.#segment(triangle, a, b, c, above, p, n, u, v);
    else if (above !== bAbove) this.#segment(triangle, b, c, a, bAbove, p, n, u, v);
    else this.#segment(triangle, c, a, b, cAbove, p, n, u, v);
  }

  #segment(
    triangle: number,
    alone: number,
    next: number,
    last: number,
    above: boolean,
    p: Point<F>,
    n: Point<F>,
    u: Point<F>,
    v: Point<F>,
  ): void {
    const q = this.mesh.positions;
    // The outline enters by the edge that falls. Reckoned from the lesser vertex, so that both triangles of an edge agree to the last bit.
    const other = above ? next : last;
    const lo = Math.min(alone, other);
    const hi = Math.max(alone, other);
    const lx = (q[3 * lo] as number) - p[0];
    const ly = (q[3 * lo + 1] as number) - p[1];
    const lz = (q[3 * lo + 2] as number) - p[2];
    const gx = (q[3 * hi] as number) - p[0];
    const gy = (q[3 * hi + 1] as number) - p[1];
    const gz = (q[3 * hi + 2] as number) - p[2];
    const hLo = lx * n[0] + ly * n[1] + lz * n[2];
    const s = hLo / (hLo - (gx * n[0] + gy * n[1] + gz * n[2]));
    const x = lx + s * (gx - lx);
    const y = ly + s * (gy - ly);
    const z = lz + s * (gz - lz);
    const su = x * u[0] + y * u[1] + z * u[2];
    const sv = x * v[0] + y * v[1] + z * v[2];
    this.#segments.add(triangle, lo, hi, alone, above ? last : next, su, sv);
  }

  #pointsOf({ from, count }: Run): Float64Array {
    const { chain, at } = this.#segments;
    const points = new Float64Array(2 * count);
    for (let k = 0; k < count; k++) {
      const i = 2 * (chain[from + k] as number);
      points[2 * k] = at[i] as number;
      points[2 * k + 1] = at[i + 1] as number;
    }
    return points;
  }

  #tiltsOf({ from, count }: Run, n: Point<F>): Float64Array {
    const { chain, triangle } = this.#segments;
    const tilts = new Float64Array(count);
    for (let k = 0; k < count; k++) tilts[k] = tiltOf(this.mesh, this.#round, triangle[chain[from + k] as number] as number, n);
    return tilts;
  }
}

/** Of outlines round the point the smallest; else the one that comes nearest to it. */
function nearer(a: Loop, b: Loop): boolean {
  if (a.holds !== b.holds) return a.holds;
  return a.holds ? a.area < b.area : a.margin < b.margin;
}

/** Height of a vertex over the plane, mm. */
const heightAt = (q: Float64Array, vertex: number, p: Vec3, n: Vec3): number =>
  ((q[3 * vertex] as number) - p[0]) * n[0] + ((q[3 * vertex + 1] as number) - p[1]) * n[1] + ((q[3 * vertex + 2] as number) - p[2]) * n[2];

const area = new Float64Array(3);

/** Cosine between unit n and the mean normal of a triangle and its neighbours; 0 where they have no area. `round`: their vector areas. */
function tiltOf({ positions: q, indices: ix }: Mesh<Frame>, round: Float64Array, triangle: number, n: Vec3): number {
  const a = 3 * (ix[3 * triangle] as number);
  const b = 3 * (ix[3 * triangle + 1] as number);
  const c = 3 * (ix[3 * triangle + 2] as number);
  doubleArea(q, a, b, c, area);
  let x = area[0] as number;
  let y = area[1] as number;
  let z = area[2] as number;
  const twice = Math.sqrt(x * x + y * y + z * z);
  const own = twice > 2 * LARGE ? 1 - (2 * LARGE) / twice : 0; // the rest of it is in the sums
  x = own * x + (round[a] as number) + (round[b] as number) + (round[c] as number);
  y = own * y + (round[a + 1] as number) + (round[b + 1] as number) + (round[c + 1] as number);
  z = own * z + (round[a + 2] as number) + (round[b + 2] as number) + (round[c + 2] as number);
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
