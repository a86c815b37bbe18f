/**
 * Cells of poses, and where a cell's poses take the points of a part: centre, first order, and a bound on the rest.
 *
 * Seated at the faceplate: slide (2) and spin (1). Free or at the tip: place (3) and turn (3), the turn as a quaternion
 * base * (1, a, b, c) / norm with a, b, c in [-1, 1]: one such cube holds every turn whose scalar part is the largest of
 * the four, and the bases 1, i, j, k give the other three.
 */
import { multiply, rotate, unitQuat } from '../geometry/rotation.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import { cross, type Plane, type Point, perpendicular, pt, type Quat } from '../geometry/vec.ts';

export interface Cell {
  readonly c: Float64Array; // centre
  readonly h: Float64Array; // half sizes
  readonly base: number; // which quaternion base
}

/** Filled by `place` for the cell's poses; `j` of a point by `slopes` when it is wanted. */
export class Moved {
  readonly q: Float64Array; // centre places, 3 a point
  readonly j: Float64Array; // 3 x size a point: move per variable from centre to the cell's side
  readonly reach: Float64Array; // no pose of the cell moves the point farther than this from q
  readonly rest: Float64Array; // nor farther than this from the first order

  constructor(points: number, size: number) {
    this.q = new Float64Array(3 * points);
    this.j = new Float64Array(3 * size * points);
    this.reach = new Float64Array(points);
    this.rest = new Float64Array(points);
  }
}

/** May a cell hold an allowed pose at all (a cone, a reach)? 'centre': its middle is one. */
export type Allowed = (cell: Cell) => 'none' | 'some' | 'centre';

export interface PoseSpace {
  readonly size: number;
  roots(): Cell[];
  place(cell: Cell, points: Float64Array, out: Moved): void;
  /** First order of point i, for the cell that was placed last. */
  slopes(i: number, points: Float64Array, out: Moved): void;
  /** The pose at the cell's middle: a rotation by rows, then the place. */
  frame(cell: Cell): Float64Array;
  /** The variable whose half moves the part most. */
  widest(cell: Cell): number;
  /** How far it moves it, mm: what cells of different parts are compared by. */
  width(cell: Cell): number;
}

export function halves(cell: Cell, k: number): [Cell, Cell] {
  const h = cell.h.slice();
  h[k] = (h[k] as number) / 2;
  const below = cell.c.slice();
  const above = cell.c.slice();
  below[k] = (cell.c[k] as number) - (h[k] as number);
  above[k] = (cell.c[k] as number) + (h[k] as number);
  return [
    { c: below, h, base: cell.base },
    { c: above, h, base: cell.base },
  ];
}

const most = (a: Float64Array | readonly number[]): number => {
  let k = 0;
  for (let i = 1; i < a.length; i++) if ((a[i] as number) > (a[k] as number)) k = i;
  return k;
};

/** Interval of a coordinate. */
export type Span = readonly [lo: number, hi: number];

/** Part frame on the faceplate's inner face: origin, two directions in it and the normal (+z of the part). */
export interface Seatplane {
  readonly origin: Point<'ear'>;
  readonly u: Point<'ear'>;
  readonly v: Point<'ear'>;
  readonly n: Point<'ear'>;
}

export function seatplane(outer: Plane<'ear'>, faceplate: number): Seatplane {
  const n = outer.normal;
  const u = perpendicular(n);
  const p = outer.point;
  return { origin: pt(p[0] - faceplate * n[0], p[1] - faceplate * n[1], p[2] - faceplate * n[2]), u, v: cross(n, u), n };
}

export class SeatedSpace implements PoseSpace {
  readonly size = 3;
  readonly plane: Seatplane;
  readonly slide: readonly [Span, Span];
  #now = { cs: 1, sn: 0, ha: 0, hb: 0, hs: 0 };
  readonly spin: number; // whole range of the spin: 0 round, PI half-turn symmetric, else 2 PI
  readonly #radius: number;

  constructor(plane: Seatplane, slide: readonly [Span, Span], spin: number, points: Float64Array) {
    this.plane = plane;
    this.slide = slide;
    this.spin = spin;
    this.#radius = farthest(points, (x, y) => x * x + y * y);
  }

  roots(): Cell[] {
    const n = this.spin === 0 ? 1 : this.spin > 4 ? 8 : 4;
    const h = this.spin / (2 * n);
    const [a, b] = this.slide;
    return Array.from({ length: n }, (_, i) => ({
      c: Float64Array.of((a[0] + a[1]) / 2, (b[0] + b[1]) / 2, (2 * i + 1) * h),
      h: Float64Array.of((a[1] - a[0]) / 2, (b[1] - b[0]) / 2, h),
      base: 0,
    }));
  }

  frame(cell: Cell): Float64Array {
    const { origin: o, u, v, n } = this.plane;
    const [a, b, spin] = cell.c as unknown as [number, number, number];
    const cs = cos(spin);
    const sn = sin(spin);
    const out = new Float64Array(12);
    for (let k = 0; k < 3; k++) {
      const [uk, vk] = [u[k] as number, v[k] as number];
      out.set([cs * uk + sn * vk, cs * vk - sn * uk, n[k] as number], 3 * k);
      out[9 + k] = (o[k] as number) + a * uk + b * vk;
    }
    return out;
  }

  widest(cell: Cell): number {
    return most(this.#moves(cell));
  }

  width(cell: Cell): number {
    return Math.max(...this.#moves(cell));
  }

  #moves(cell: Cell): number[] {
    return [cell.h[0] as number, cell.h[1] as number, (cell.h[2] as number) * this.#radius];
  }

  place(cell: Cell, points: Float64Array, out: Moved): void {
    const { origin: o, u, v, n } = this.plane;
    const [a, b, spin] = cell.c as unknown as [number, number, number];
    const [ha, hb, hs] = cell.h as unknown as [number, number, number];
    const cs = cos(spin);
    const sn = sin(spin);
    this.#now = { cs, sn, ha, hb, hs };
    const slide = Math.sqrt(ha * ha + hb * hb);
    for (let i = 0; i < points.length / 3; i++) {
      const px = points[3 * i] as number;
      const py = points[3 * i + 1] as number;
      const pz = points[3 * i + 2] as number;
      const x = a + cs * px - sn * py;
      const y = b + sn * px + cs * py;
      for (let k = 0; k < 3; k++) out.q[3 * i + k] = (o[k] as number) + x * (u[k] as number) + y * (v[k] as number) + pz * (n[k] as number);
      const r = Math.sqrt(px * px + py * py);
      out.reach[i] = slide + r * hs + 1e-12;
      out.rest[i] = (r * hs * hs) / 2 + 1e-12;
    }
  }

  slopes(i: number, points: Float64Array, out: Moved): void {
    const { u, v } = this.plane;
    const { cs, sn, ha, hb, hs } = this.#now;
    const px = points[3 * i] as number;
    const py = points[3 * i + 1] as number;
    for (let k = 0; k < 3; k++) {
      out.j[9 * i + k] = ha * (u[k] as number);
      out.j[9 * i + 3 + k] = hb * (v[k] as number);
      out.j[9 * i + 6 + k] = hs * ((cs * px - sn * py) * (v[k] as number) - (sn * px + cs * py) * (u[k] as number));
    }
  }
}

/** A cone that the part's +z must keep to, and a point of it that must stay near a place. */
export interface TipSeat {
  readonly spout: Point<'part'>;
  readonly at: Point<'ear'>;
  readonly reach: number;
  readonly tangent: Point<'ear'>;
  readonly cone: number;
}

export class FreeSpace implements PoseSpace {
  readonly size = 6;
  readonly box: readonly [Span, Span, Span];
  readonly start: Quat;
  readonly bases: readonly Quat[];
  readonly #matrix = new Float64Array(9); // columns: the part's axes in the ear
  #now = { cell: NO_CELL, square: 1 };
  readonly #radius: number;

  /** `start` is the turn that the search begins from; half turns that change nothing are left out. */
  constructor(box: readonly [Span, Span, Span], start: Quat, symmetric: readonly [boolean, boolean, boolean], points: Float64Array) {
    this.box = box;
    this.start = start;
    this.bases = basesFor(symmetric);
    this.#radius = farthest(points, (x, y, z) => x * x + y * y + z * z);
  }

  roots(): Cell[] {
    const c = this.box.map((s) => (s[0] + s[1]) / 2);
    const h = this.box.map((s) => (s[1] - s[0]) / 2);
    return this.bases.map((_, base) => ({ c: Float64Array.of(...c, 0, 0, 0), h: Float64Array.of(...h, 1, 1, 1), base }));
  }

  quaternion(cell: Cell): Quat {
    const base = multiply(this.start, this.bases[cell.base] as Quat);
    return unitQuat(multiply(base, [cell.c[3] as number, cell.c[4] as number, cell.c[5] as number, 1]));
  }

  /** tan of half the largest turn in the cell away from its centre; Infinity when that may pass half a turn. */
  turn(cell: Cell): number {
    const { square, slant } = this.#slants(cell);
    const s = Math.sqrt(sum2(cell.h, 3));
    return slant < 1 ? s / Math.sqrt(square) / (1 - slant) : Infinity;
  }

  #slants(cell: Cell): { square: number; slant: number } {
    const square = 1 + sum2(cell.c, 3);
    let slant = 0;
    for (let k = 3; k < 6; k++) slant += Math.abs(cell.c[k] as number) * (cell.h[k] as number);
    return { square, slant: slant / square };
  }

  frame(cell: Cell): Float64Array {
    const q = this.quaternion(cell);
    const out = new Float64Array(12);
    for (const [k, axis] of AXES.entries()) {
      const r = rotate(q, axis);
      for (let d = 0; d < 3; d++) out[3 * d + k] = r[d] as number;
      out[9 + k] = cell.c[k] as number;
    }
    return out;
  }

  widest(cell: Cell): number {
    return most(this.#moves(cell));
  }

  width(cell: Cell): number {
    return Math.max(...this.#moves(cell));
  }

  #moves(cell: Cell): Float64Array {
    const { square } = this.#slants(cell);
    const f = (2 * this.#radius) / Math.sqrt(square);
    return cell.h.map((h, k) => (k < 3 ? h : h * f));
  }

  /**
   * The relative turn within a cell is T = (d - a x d) / (1 + a.a + a.d), its axis times tan of half its angle, d the
   * offset from the centre a. A point p moves by (2 T x p + 2 T x (T x p)) / (1 + T.T): first order 2 T0 x p with
   * T0 = (d - a x d) / (1 + a.a); the rest is at most |p| (2 t slant + 2 t^3 + 2 t^2), t the largest |T|; all of it at
   * most 2 t |p| and never more than 2 |p|.
   */
  place(cell: Cell, points: Float64Array, out: Moved): void {
    const q = this.quaternion(cell);
    const { square, slant } = this.#slants(cell);
    const t = this.turn(cell);
    const [hx, hy, hz] = cell.h as unknown as [number, number, number];
    const slide = Math.sqrt(hx * hx + hy * hy + hz * hz);
    const m = this.#matrix;
    for (const [k, axis] of AXES.entries()) m.set(rotate(q, axis), 3 * k);
    this.#now = { cell, square };
    for (let i = 0; i < points.length / 3; i++) {
      const x = points[3 * i] as number;
      const y = points[3 * i + 1] as number;
      const z = points[3 * i + 2] as number;
      const r = Math.sqrt(x * x + y * y + z * z);
      for (let k = 0; k < 3; k++) {
        out.q[3 * i + k] = (cell.c[k] as number) + x * (m[k] as number) + y * (m[3 + k] as number) + z * (m[6 + k] as number);
      }
      out.reach[i] = slide + Math.min(2 * t, 2) * r + 1e-12;
      out.rest[i] = (t < 1e6 ? r * (2 * t * slant + 2 * t * t * t + 2 * t * t) : Infinity) + 1e-12;
    }
  }

  slopes(i: number, points: Float64Array, out: Moved): void {
    const { cell, square } = this.#now;
    const m = this.#matrix;
    const [px, py, pz] = [points[3 * i] as number, points[3 * i + 1] as number, points[3 * i + 2] as number];
    const [ax, ay, az] = [cell.c[3] as number, cell.c[4] as number, cell.c[5] as number];
    for (let k = 0; k < 3; k++) {
      for (let d = 0; d < 3; d++) out.j[18 * i + 3 * k + d] = d === k ? (cell.h[k] as number) : 0;
      const [dx, dy, dz] = [k === 0 ? 1 : 0, k === 1 ? 1 : 0, k === 2 ? 1 : 0];
      const f = (2 * (cell.h[3 + k] as number)) / square;
      const tx = f * (dx - (ay * dz - az * dy));
      const ty = f * (dy - (az * dx - ax * dz));
      const tz = f * (dz - (ax * dy - ay * dx));
      const [mx, my, mz] = [ty * pz - tz * py, tz * px - tx * pz, tx * py - ty * px];
      for (let d = 0; d < 3; d++)
        out.j[18 * i + 9 + 3 * k + d] = mx * (m[d] as number) + my * (m[3 + d] as number) + mz * (m[6 + d] as number);
    }
  }
}

const AXES: readonly (readonly [number, number, number])[] = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];
const NO_CELL: Cell = { c: new Float64Array(6), h: new Float64Array(6), base: 0 };

function basesFor([x, y, z]: readonly [boolean, boolean, boolean]): Quat[] {
  const one: Quat = [0, 0, 0, 1];
  const i: Quat = [1, 0, 0, 0];
  const j: Quat = [0, 1, 0, 0];
  const k: Quat = [0, 0, 1, 0];
  if (x && y) return [one];
  if (z) return [one, i];
  if (x) return [one, j];
  if (y) return [one, i];
  return [one, i, j, k];
}

const sum2 = (a: Float64Array, from: number): number => {
  let s = 0;
  for (let k = from; k < from + 3; k++) s += (a[k] as number) * (a[k] as number);
  return s;
};

function farthest(points: Float64Array, measure: (x: number, y: number, z: number) => number): number {
  let far = 0;
  for (let i = 0; i < points.length; i += 3)
    far = Math.max(far, measure(points[i] as number, points[i + 1] as number, points[i + 2] as number));
  return Math.sqrt(far);
}

/** Half a turn and a whole one. */
export const HALF_TURN = PI;
export const WHOLE_TURN = 2 * PI;
