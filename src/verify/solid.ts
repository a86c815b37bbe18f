/**
 * One convex primitive as it stands in the ear: signed distance of a point with a subgradient, and support function.
 *
 * Both are closed form. The signed distance of a convex body (negative inside: minus the distance to its surface) is a
 * convex function of the point, which is what every certified bound of this folder rests on:
 *   d(x) >= d(x0) + g . (x - x0) for every x, with g the subgradient at x0.
 */
import { compose, rotate } from '../geometry/rotation.ts';
import type { Point, Pose, Vec3 } from '../geometry/vec.ts';
import { pt } from '../geometry/vec.ts';
import type { Primitive, Shape } from '../model/parts.ts';

export class Solid {
  readonly shape: Shape;
  readonly centre: Point<'ear'>;
  /** Local x, y, z in the ear frame, unit. */
  readonly axes: readonly [Point<'ear'>, Point<'ear'>, Point<'ear'>];
  /** Half sizes along the axes; of a capsule without its round ends, so that [0, 0, half] is its core. */
  readonly half: Vec3;
  /** Radius of a cylinder or capsule, else 0. */
  readonly radius: number;
  /** Of the ball about the centre that holds it. */
  readonly reach: number;
  readonly #m: Float64Array;

  constructor(primitive: Primitive, pose: Pose<'ear'>) {
    const at = compose(pose, primitive);
    const [sx, sy, sz] = primitive.size;
    const axis = (v: Vec3): Point<'ear'> => pt<'ear'>(...rotate(at.quaternion, v));
    this.shape = primitive.shape;
    this.centre = at.position;
    this.axes = [axis([1, 0, 0]), axis([0, 1, 0]), axis([0, 0, 1])];
    this.radius = primitive.shape === 'box' ? 0 : sx / 2;
    const core = Math.max(0, sz / 2 - sx / 2);
    this.half =
      primitive.shape === 'box' ? [sx / 2, sy / 2, sz / 2] : primitive.shape === 'cylinder' ? [sx / 2, sx / 2, sz / 2] : [0, 0, core];
    const [hx, hy, hz] = this.half;
    this.reach =
      primitive.shape === 'capsule' ? core + this.radius : Math.sqrt(hx * hx + (primitive.shape === 'box' ? hy * hy : 0) + hz * hz);
    this.#m = Float64Array.of(...this.axes[0], ...this.axes[1], ...this.axes[2]);
  }

  /** Least half width: a ball of this radius about the centre lies inside. */
  get inner(): number {
    return this.shape === 'capsule' ? this.radius : Math.min(...this.half);
  }

  /** Signed distance, mm, negative inside. `g` (3 numbers) gets a subgradient of length 1 unless it is undefined. */
  distance(x: number, y: number, z: number, g?: Float64Array): number {
    const m = this.#m;
    const dx = x - this.centre[0];
    const dy = y - this.centre[1];
    const dz = z - this.centre[2];
    const a = (m[0] as number) * dx + (m[1] as number) * dy + (m[2] as number) * dz;
    const b = (m[3] as number) * dx + (m[4] as number) * dy + (m[5] as number) * dz;
    const c = (m[6] as number) * dx + (m[7] as number) * dy + (m[8] as number) * dz;
    if (this.shape === 'box') return this.#box(a, b, c, g);
    return this.shape === 'cylinder' ? this.#cylinder(a, b, c, g) : this.#capsule(a, b, c, g);
  }

  #box(a: number, b: number, c: number, g?: Float64Array): number {
    const qa = Math.abs(a) - this.half[0];
    const qb = Math.abs(b) - this.half[1];
    const qc = Math.abs(c) - this.half[2];
    const top = Math.max(qa, qb, qc);
    const sa = a < 0 ? -1 : 1;
    const sb = b < 0 ? -1 : 1;
    const sc = c < 0 ? -1 : 1;
    if (top <= 0) {
      if (g) this.#turn(qa === top ? sa : 0, qa !== top && qb === top ? sb : 0, qa !== top && qb !== top ? sc : 0, g);
      return top;
    }
    const oa = Math.max(qa, 0);
    const ob = Math.max(qb, 0);
    const oc = Math.max(qc, 0);
    const d = Math.sqrt(oa * oa + ob * ob + oc * oc);
    if (g) this.#turn((sa * oa) / d, (sb * ob) / d, (sc * oc) / d, g);
    return d;
  }

  #cylinder(a: number, b: number, c: number, g?: Float64Array): number {
    const rho = Math.sqrt(a * a + b * b);
    const qr = rho - this.radius;
    const qc = Math.abs(c) - this.half[2];
    const sc = c < 0 ? -1 : 1;
    const ua = rho > 0 ? a / rho : 1;
    const ub = rho > 0 ? b / rho : 0;
    if (qr <= 0 && qc <= 0) {
      if (g) this.#turn(qr > qc ? ua : 0, qr > qc ? ub : 0, qr > qc ? 0 : sc, g);
      return Math.max(qr, qc);
    }
    const or = Math.max(qr, 0);
    const oc = Math.max(qc, 0);
    const d = Math.sqrt(or * or + oc * oc);
    if (g) this.#turn((ua * or) / d, (ub * or) / d, (sc * oc) / d, g);
    return d;
  }

  #capsule(a: number, b: number, c: number, g?: Float64Array): number {
    const e = c - Math.max(-this.half[2], Math.min(this.half[2], c));
    const d = Math.sqrt(a * a + b * b + e * e);
    if (g) {
      if (d > 0) this.#turn(a / d, b / d, e / d, g);
      else this.#turn(1, 0, 0, g);
    }
    return d - this.radius;
  }

  #turn(a: number, b: number, c: number, g: Float64Array): void {
    const m = this.#m;
    g[0] = (m[0] as number) * a + (m[3] as number) * b + (m[6] as number) * c;
    g[1] = (m[1] as number) * a + (m[4] as number) * b + (m[7] as number) * c;
    g[2] = (m[2] as number) * a + (m[5] as number) * b + (m[8] as number) * c;
  }

  /** The farthest point along u (any length); a capsule's round part left out when `core`. */
  support(u: Vec3, core = false): Point<'ear'> {
    const [x, y, z] = this.axes;
    const a = u[0] * x[0] + u[1] * x[1] + u[2] * x[2];
    const b = u[0] * y[0] + u[1] * y[1] + u[2] * y[2];
    const c = u[0] * z[0] + u[1] * z[1] + u[2] * z[2];
    const [hx, hy, hz] = this.half;
    let p = a < 0 ? -hx : hx;
    let q = b < 0 ? -hy : hy;
    if (this.shape === 'cylinder') {
      const rho = Math.sqrt(a * a + b * b);
      p = rho > 0 ? (this.radius * a) / rho : 0;
      q = rho > 0 ? (this.radius * b) / rho : 0;
    }
    const r = c < 0 ? -hz : hz;
    const l = Math.sqrt(u[0] * u[0] + u[1] * u[1] + u[2] * u[2]);
    const round = this.shape === 'capsule' && !core && l > 0 ? this.radius / l : 0;
    return pt<'ear'>(
      this.centre[0] + p * x[0] + q * y[0] + r * z[0] + round * u[0],
      this.centre[1] + p * x[1] + q * y[1] + r * z[1] + round * u[1],
      this.centre[2] + p * x[2] + q * y[2] + r * z[2] + round * u[2],
    );
  }

  /** The nearest point of the solid (the point itself when inside). */
  closest(p: Point<'ear'>): Point<'ear'> {
    const g = new Float64Array(3);
    const d = this.distance(p[0], p[1], p[2], g);
    if (d <= 0) return p;
    return pt<'ear'>(p[0] - d * (g[0] as number), p[1] - d * (g[1] as number), p[2] - d * (g[2] as number));
  }
}

/** How much farther a corner can be from an inner parallel body than its faces are: sqrt 3 for a box, sqrt 2, 1. */
export const cornerFactor = (s: Shape): number => (s === 'box' ? Math.sqrt(3) : s === 'cylinder' ? Math.SQRT2 : 1);
