/**
 * Cells of a part's poses, and how the poses of a cell move a point of the part: derived here once more, so that nothing is
 * believed of the prover. Every pose of a cell is middle + z * half, z in [-1, 1] for each variable.
 */
import { multiply, rotate, unitQuat } from '../geometry/rotation.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import { length, type Plane, type Point, pt, type Quat } from '../geometry/vec.ts';
import { BASES, type Base, type FreePoses, isSeated, type PartCells, type SeatedPoses, type Vec } from './format.ts';

export interface Cell {
  readonly lo: Float64Array;
  readonly hi: Float64Array;
  /** Which of the roots it is of. */
  readonly root: number;
}

/** Where a cell's poses take one point of the part, mm. */
export interface Moves {
  /** At the middle. */
  readonly at: Vec;
  /** First order: the move for z = 1 of each variable. */
  readonly slopes: readonly Vec[];
  /** No pose takes it farther than this from there, nor farther than `rest` from the first order. */
  readonly reach: number;
  readonly rest: number;
}

export interface Poses {
  readonly size: number;
  roots(): Cell[];
  moves(cell: Cell, p: Vec): Moves;
}

/** Half sizes hold a little more than the cell, so that rounding leaves no pose out between two cells. */
const RIM = 1e-12;
const middle = (c: Cell, k: number): number => ((c.lo[k] as number) + (c.hi[k] as number)) / 2;
const half = (c: Cell, k: number): number => ((c.hi[k] as number) - (c.lo[k] as number)) / 2 + RIM;

/** The least cell that holds some of one root. */
export function around(cells: readonly Cell[]): Cell {
  const [first] = cells as [Cell, ...Cell[]];
  const [lo, hi] = [first.lo.slice(), first.hi.slice()];
  for (const cell of cells) {
    for (let k = 0; k < lo.length; k++) {
      lo[k] = Math.min(lo[k] as number, cell.lo[k] as number);
      hi[k] = Math.max(hi[k] as number, cell.hi[k] as number);
    }
  }
  return { lo, hi, root: first.root };
}

/** The two parts of a cell below and above a place; undefined for a place that is not within it. */
export function cutAt(cell: Cell, k: number, at: number): readonly [Cell, Cell] | undefined {
  if (!(at > (cell.lo[k] as number) && at < (cell.hi[k] as number))) return undefined;
  const hi = cell.hi.slice();
  const lo = cell.lo.slice();
  hi[k] = at;
  lo[k] = at;
  return [
    { ...cell, hi },
    { ...cell, lo },
  ];
}

export const halved = (cell: Cell, k: number): readonly [Cell, Cell] | undefined => cutAt(cell, k, middle(cell, k));

/** No first order takes a point farther than its largest step along each axis. */
export function spread(slopes: readonly Vec[]): number {
  const along = (d: 0 | 1 | 2): number => slopes.reduce((s, v) => s + Math.abs(v[d]), 0);
  return length([along(0), along(1), along(2)]);
}

export const posesOf = (part: PartCells, outer: Plane<'ear'> | undefined): Poses =>
  isSeated(part.poses) ? new Seated(part.poses, (outer as Plane<'ear'>).normal) : new Free(part.poses);

class Seated implements Poses {
  readonly size = 3;
  readonly #poses: SeatedPoses;
  readonly #n: Point<'ear'>;

  constructor(poses: SeatedPoses, normal: Point<'ear'>) {
    this.#poses = poses;
    this.#n = normal;
  }

  roots(): Cell[] {
    const { slide, spin } = this.#poses;
    const [a, b] = slide;
    const whole = spin.range === 'whole' ? 2 * PI : spin.range === 'half' ? PI : 0;
    const count = spin.range === 'none' ? 1 : spin.parts;
    return Array.from({ length: count }, (_, root) => ({
      lo: Float64Array.of(a[0], b[0], (whole * root) / count),
      hi: Float64Array.of(a[1], b[1], (whole * (root + 1)) / count),
      root,
    }));
  }

  /**
   * A point r from the spin's axis goes round it: by at most r hs, and by at most r hs^2 / 2 farther than the straight step
   * (the chord's second derivative is at most r). Slides are straight.
   */
  moves(cell: Cell, p: Vec): Moves {
    const { origin: o, u, v } = this.#poses;
    const [ha, hb, hs] = [half(cell, 0), half(cell, 1), half(cell, 2)];
    const [c, s] = [cos(middle(cell, 2)), sin(middle(cell, 2))];
    const [x, y] = [c * p[0] - s * p[1], s * p[0] + c * p[1]];
    const [a, b] = [middle(cell, 0) + x, middle(cell, 1) + y];
    const each = (of: (k: 0 | 1 | 2) => number): Vec => [of(0), of(1), of(2)];
    const r = Math.sqrt(x * x + y * y);
    return {
      at: each((k) => o[k] + a * u[k] + b * v[k] + p[2] * this.#n[k]),
      slopes: [each((k) => ha * u[k]), each((k) => hb * v[k]), each((k) => hs * (x * v[k] - y * u[k]))],
      reach: Math.sqrt(ha * ha + hb * hb) + r * hs,
      rest: (r * hs * hs) / 2,
    };
  }
}

export const QUATERNIONS: Readonly<Record<Base, Quat>> = { '1': [0, 0, 0, 1], i: [1, 0, 0, 0], j: [0, 1, 0, 0], k: [0, 0, 1, 0] };

export class Free implements Poses {
  readonly size = 6;
  readonly #poses: FreePoses;
  #last: Cell | undefined; // rows of one cell come together
  #frame: readonly [Vec, Vec, Vec] = [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ];

  constructor(poses: FreePoses) {
    this.#poses = poses;
  }

  roots(): Cell[] {
    const [x, y, z] = this.#poses.box;
    return this.#poses.bases.map((_, root) => ({
      lo: Float64Array.of(x[0], y[0], z[0], -1, -1, -1),
      hi: Float64Array.of(x[1], y[1], z[1], 1, 1, 1),
      root,
    }));
  }

  /** The turn at the cell's middle. */
  turn(cell: Cell): Quat {
    const base = QUATERNIONS[this.#poses.bases[cell.root] ?? BASES[0]];
    return unitQuat(multiply(multiply(this.#poses.start, base), [middle(cell, 3), middle(cell, 4), middle(cell, 5), 1]));
  }

  /**
   * How far a cell turns away from its middle. With a at the middle and a + d elsewhere the turn between them is
   * conj(a, 1) (a + d, 1) = (1 + a.a + a.d) + (d - a x d): its axis times tan of half its angle is T = (d - a x d) / (s + a.d), s = 1 +
   * a.a. |d - a x d| is at most |d| sqrt(s), and a.d at most `slant` s in size: |T| <= t = |d| / sqrt(s) / (1 - slant).
   */
  turns(cell: Cell): { readonly t: number; readonly slant: number; readonly s: number } {
    let [s, slant, d] = [1, 0, 0];
    for (let k = 3; k < 6; k++) {
      const [a, h] = [middle(cell, k), half(cell, k)];
      s += a * a;
      slant += Math.abs(a) * h;
      d += h * h;
    }
    slant /= s;
    return { t: slant < 1 ? Math.sqrt(d) / Math.sqrt(s) / (1 - slant) : Infinity, slant, s };
  }

  /**
   * A turn T takes p by (2 T x p + 2 T x (T x p)) / (1 + T.T): in all 2 sin of half the angle times |p| at most. First order 2 T0 x p with
   * T0 = (d - a x d) / s; T - T0 = -T (a.d) / s, so that the rest is at most |p| (2 t slant + 2 t^3 + 2 t^2).
   */
  moves(cell: Cell, p: Vec): Moves {
    const [x, y, z] = this.#axes(cell);
    const { t, slant, s } = this.turns(cell);
    const [ax, ay, az] = [middle(cell, 3), middle(cell, 4), middle(cell, 5)];
    const out = (q: Vec): Vec => [
      q[0] * x[0] + q[1] * y[0] + q[2] * z[0],
      q[0] * x[1] + q[1] * y[1] + q[2] * z[1],
      q[0] * x[2] + q[1] * y[2] + q[2] * z[2],
    ];
    const turned = (k: number, d: Vec): Vec => {
      const f = (2 * half(cell, k)) / s;
      const w: Vec = [d[0] - (ay * d[2] - az * d[1]), d[1] - (az * d[0] - ax * d[2]), d[2] - (ax * d[1] - ay * d[0])];
      return out([f * (w[1] * p[2] - w[2] * p[1]), f * (w[2] * p[0] - w[0] * p[2]), f * (w[0] * p[1] - w[1] * p[0])]);
    };
    const [hx, hy, hz] = [half(cell, 0), half(cell, 1), half(cell, 2)];
    const q = out(p);
    const r = length(p);
    return {
      at: [middle(cell, 0) + q[0], middle(cell, 1) + q[1], middle(cell, 2) + q[2]],
      slopes: [[hx, 0, 0], [0, hy, 0], [0, 0, hz], turned(3, [1, 0, 0]), turned(4, [0, 1, 0]), turned(5, [0, 0, 1])],
      reach: length([hx, hy, hz]) + r * (t < 1e6 ? (2 * t) / Math.sqrt(1 + t * t) : 2),
      rest: t < 1e6 ? r * (2 * t * slant + 2 * t * t * t + 2 * t * t) : Infinity,
    };
  }

  #axes(cell: Cell): readonly [Vec, Vec, Vec] {
    if (cell !== this.#last) {
      const q = this.turn(cell);
      this.#frame = [rotate(q, [1, 0, 0]), rotate(q, [0, 1, 0]), rotate(q, [0, 0, 1])];
      this.#last = cell;
    }
    return this.#frame;
  }
}

/** Where the poses of a cell have a part's own z axis, and how far off it they may turn: what the cone asks. */
export function axisOf(poses: Free, cell: Cell): { readonly at: Point<'ear'>; readonly t: number } {
  return { at: pt<'ear'>(...rotate(poses.turn(cell), [0, 0, 1])), t: poses.turns(cell).t };
}
