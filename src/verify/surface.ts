/**
 * The cast surface of a body, and how far it is from a convex solid, certified.
 *
 * The signed distance to a convex solid is convex, so over a triangle it is bounded below by its
 * tangent plane at any point of it; triangles whose bound does not settle them are halved. No tree and no rounding to
 * single precision is involved: every triangle is looked at once, which is both simple and fast enough.
 */
import type { Point } from '../geometry/vec.ts';
import { pt } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Solid } from './solid.ts';

/** Gap between the certified bound and a point that attains it, mm: outside the solid, and inside it. */
const TIGHT = 1e-6;
const TIGHT_INSIDE = 5e-4;
const DEEPEST_SPLIT = 60;
/** Once the surface is known to be deeper than this inside the solid, it does not matter how deep, mm. */
const ENTERED = -0.05;

export interface SolidDistance {
  /**
   * Certified: no point of the surface is nearer to the solid (or, below zero, deeper inside it) than this, mm.
   * -Infinity where it enters by more than 0.05: how far a part sticks out is another question (see depth.ts).
   */
  readonly least: number;
  /** A surface point where the bound is attained within 1e-6 mm. */
  readonly at: Point<'ear'>;
}

export class Surface {
  /** Corner coordinates of the cast surface's triangles, nine numbers each. */
  readonly corners: Float64Array;
  /** Ball round each triangle: centre and radius, four numbers. */
  readonly balls: Float64Array;
  #lower = new Float64Array(0);

  constructor(body: Body) {
    const { positions: p, indices: t } = body.mesh;
    let n = 0;
    for (const f of body.face) if (f === 0) n++;
    this.corners = new Float64Array(9 * n);
    this.balls = new Float64Array(4 * n);
    let k = 0;
    for (let i = 0; i < body.face.length; i++) {
      if (body.face[i] !== 0) continue;
      for (let j = 0; j < 9; j++) this.corners[9 * k + j] = p[3 * (t[3 * i + Math.floor(j / 3)] as number) + (j % 3)] as number;
      ballRound(this.corners, 9 * k, this.balls, 4 * k);
      k++;
    }
    this.#lower = new Float64Array(n);
  }

  get triangles(): number {
    return this.balls.length / 4;
  }

  /** Certified least signed distance of the solid to the surface. An empty surface is infinitely far. */
  distanceTo(solid: Solid): SolidDistance {
    const search = new Search(solid);
    const lower = this.#lower;
    const b = this.balls;
    const n = this.triangles;
    for (let i = 0; i < n; i++) {
      const d = solid.distance(b[4 * i] as number, b[4 * i + 1] as number, b[4 * i + 2] as number);
      lower[i] = d - (b[4 * i + 3] as number);
      if (d < search.best) search.meet(d, b[4 * i] as number, b[4 * i + 1] as number, b[4 * i + 2] as number);
    }
    const near: number[] = [];
    for (let i = 0; i < n; i++) if ((lower[i] as number) < search.best) near.push(i);
    near.sort((x, y) => (lower[x] as number) - (lower[y] as number) || x - y);
    for (const i of near) {
      if (search.best < ENTERED) break;
      if ((lower[i] as number) >= search.settled) search.settle(lower[i] as number);
      else search.refine(this.corners.subarray(9 * i, 9 * i + 9));
    }
    return search.result();
  }
}

/** The running minimum over triangles: `best` is attained, `floor` is the least bound of what was put aside. */
class Search {
  best = Infinity;
  #floor = Infinity;
  readonly #solid: Solid;
  readonly #at = new Float64Array(3);
  readonly #g = new Float64Array(3);
  readonly #x = new Float64Array(3);

  constructor(solid: Solid) {
    this.#solid = solid;
  }

  meet(d: number, x: number, y: number, z: number): void {
    this.best = d;
    this.#at.set([x, y, z]);
  }

  /** Bounds from here on need no closer look. */
  get settled(): number {
    return this.best - (this.best < 0 ? TIGHT_INSIDE : TIGHT);
  }

  settle(bound: number): void {
    if (bound < this.#floor) this.#floor = bound;
  }

  result(): SolidDistance {
    // Rounding of coordinates of some tens of mm stays below 1e-12; 1e-10 covers the sums.
    const least = this.best < ENTERED ? -Infinity : Math.min(this.best, this.#floor);
    return { least: least - 1e-10, at: pt<'ear'>(this.#at[0] as number, this.#at[1] as number, this.#at[2] as number) };
  }

  refine(triangle: Float64Array): void {
    const stack: { readonly t: Float64Array; readonly level: number }[] = [{ t: triangle, level: 0 }];
    for (let top = stack.pop(); top && this.best >= ENTERED; top = stack.pop()) {
      const bound = this.#bound(top.t);
      if (bound >= this.settled || top.level >= DEEPEST_SPLIT) this.settle(bound);
      else for (const half of halves(top.t)) stack.push({ t: half, level: top.level + 1 });
    }
  }

  /** Best tangent bound over the triangle, from the centroid and from where projecting to and fro leads. */
  #bound(t: Float64Array): number {
    const x = this.#x;
    const g = this.#g;
    for (let k = 0; k < 3; k++) x[k] = ((t[k] as number) + (t[3 + k] as number) + (t[6 + k] as number)) / 3;
    let bound = -Infinity;
    for (let turn = 0; turn < 6; turn++) {
      const [px, py, pz] = x as unknown as [number, number, number];
      const d = this.#solid.distance(px, py, pz, g);
      if (d < this.best) this.meet(d, px, py, pz);
      let low = Infinity;
      for (let v = 0; v < 9; v += 3) {
        const s =
          (g[0] as number) * ((t[v] as number) - px) +
          (g[1] as number) * ((t[v + 1] as number) - py) +
          (g[2] as number) * ((t[v + 2] as number) - pz);
        if (s < low) low = s;
      }
      if (d + low > bound) bound = d + low;
      if (bound >= this.settled) break;
      const step = Math.abs(d); // outside: to the solid's nearest point and back; inside: as far again towards the middle
      closestOn(t, 0, px - step * (g[0] as number), py - step * (g[1] as number), pz - step * (g[2] as number), x);
    }
    return bound;
  }
}

/** The triangle cut in two at the middle of its longest side. */
function halves(t: Float64Array): [Float64Array, Float64Array] {
  let longest = 0;
  let most = -1;
  for (let e = 0; e < 3; e++) {
    const a = 3 * e;
    const b = 3 * ((e + 1) % 3);
    const x = (t[b] as number) - (t[a] as number);
    const y = (t[b + 1] as number) - (t[a + 1] as number);
    const z = (t[b + 2] as number) - (t[a + 2] as number);
    const l = x * x + y * y + z * z;
    if (l > most) {
      most = l;
      longest = e;
    }
  }
  const a = 3 * longest;
  const b = 3 * ((longest + 1) % 3);
  const one = t.slice();
  const two = t.slice();
  for (let k = 0; k < 3; k++) {
    const m = ((t[a + k] as number) + (t[b + k] as number)) / 2;
    one[b + k] = m;
    two[a + k] = m;
  }
  return [one, two];
}

function ballRound(c: Float64Array, o: number, out: Float64Array, at: number): void {
  let far = 0;
  for (let k = 0; k < 3; k++) out[at + k] = ((c[o + k] as number) + (c[o + 3 + k] as number) + (c[o + 6 + k] as number)) / 3;
  for (let v = 0; v < 9; v += 3) {
    const x = (c[o + v] as number) - (out[at] as number);
    const y = (c[o + v + 1] as number) - (out[at + 1] as number);
    const z = (c[o + v + 2] as number) - (out[at + 2] as number);
    far = Math.max(far, x * x + y * y + z * z);
  }
  out[at + 3] = Math.sqrt(far) + 1e-12;
}

/** Writes the point of triangle at `o` of `t` (nine numbers) nearest to (x, y, z): foot in the plane, or the nearest side's. */
export function closestOn(t: ArrayLike<number>, o: number, x: number, y: number, z: number, out: Float64Array): number {
  const ux = (t[o + 3] as number) - (t[o] as number);
  const uy = (t[o + 4] as number) - (t[o + 1] as number);
  const uz = (t[o + 5] as number) - (t[o + 2] as number);
  const vx = (t[o + 6] as number) - (t[o] as number);
  const vy = (t[o + 7] as number) - (t[o + 1] as number);
  const vz = (t[o + 8] as number) - (t[o + 2] as number);
  const wx = x - (t[o] as number);
  const wy = y - (t[o + 1] as number);
  const wz = z - (t[o + 2] as number);
  const uu = ux * ux + uy * uy + uz * uz;
  const uv = ux * vx + uy * vy + uz * vz;
  const vv = vx * vx + vy * vy + vz * vz;
  const uw = ux * wx + uy * wy + uz * wz;
  const vw = vx * wx + vy * wy + vz * wz;
  const det = uu * vv - uv * uv;
  if (det > 1e-14 * uu * vv) {
    const a = (vv * uw - uv * vw) / det;
    const b = (uu * vw - uv * uw) / det;
    if (a >= 0 && b >= 0 && a + b <= 1) return write(out, t, o, x, y, z, a, b);
  }
  let best = Infinity;
  let from = 0;
  let along = 0;
  for (let e = 0; e < 9; e += 3) {
    const f = (e + 3) % 9;
    const ex = (t[o + f] as number) - (t[o + e] as number);
    const ey = (t[o + f + 1] as number) - (t[o + e + 1] as number);
    const ez = (t[o + f + 2] as number) - (t[o + e + 2] as number);
    const px = x - (t[o + e] as number);
    const py = y - (t[o + e + 1] as number);
    const pz = z - (t[o + e + 2] as number);
    const ee = ex * ex + ey * ey + ez * ez;
    const s = ee > 0 ? Math.max(0, Math.min(1, (ex * px + ey * py + ez * pz) / ee)) : 0;
    const rx = px - s * ex;
    const ry = py - s * ey;
    const rz = pz - s * ez;
    const d = rx * rx + ry * ry + rz * rz;
    if (d < best) {
      best = d;
      from = e;
      along = s;
    }
  }
  if (from === 0) return write(out, t, o, x, y, z, along, 0);
  return from === 3 ? write(out, t, o, x, y, z, 1 - along, along) : write(out, t, o, x, y, z, 0, 1 - along);
}

/** Corner 0 + a (corner 1 - corner 0) + b (corner 2 - corner 0), and how far it is from (x, y, z). */
function write(out: Float64Array, t: ArrayLike<number>, o: number, x: number, y: number, z: number, a: number, b: number): number {
  let d = 0;
  for (let k = 0; k < 3; k++) {
    const c =
      (t[o + k] as number) + a * ((t[o + 3 + k] as number) - (t[o + k] as number)) + b * ((t[o + 6 + k] as number) - (t[o + k] as number));
    out[k] = c;
    const e = c - (k === 0 ? x : k === 1 ? y : z);
    d += e * e;
  }
  return Math.sqrt(d);
}
