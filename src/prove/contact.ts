/**
 * How far apart two parts can be while each keeps to its own cell of poses: rows over the variables of both.
 *
 * With balls of radius a and b inside the two parts, middles v apart at the cells' middles, and e the difference of the
 * middles' moves: apart <= |v + e| - a - b <= |v| + v.e / |v| + |e|^2 / (2 |v|) - a - b. Which balls are taken decides
 * only how tight the bound is: corners against the other's largest balls, and the balls nearest to each other.
 */
import type { Part } from '../model/parts.ts';
import { type Core, coresOf, nearestOfCore } from './cores.ts';
import type { RowSet } from './linear.ts';
import { pointsOf } from './points.ts';
import { type Cell, Moved, type PoseSpace } from './space.ts';

/** Of each kind (corners of the one, corners of the other), this many rows. */
const MOST = 5;
/** Points round a rim that stand for it between parts. */
const RIM = 12;
/** Projections to and fro between two cores: they need not end nearest. */
const TURNS = 3;

/** A part as it meets others. */
export interface Meets {
  readonly points: Float64Array;
  readonly cores: readonly Core[];
}

export const meetsOf = (part: Part): Meets => ({ points: pointsOf(part, RIM), cores: coresOf(part) });

/** A part in a cell of its poses; `frame`: its pose at the middle, rotation by rows, then the place. */
export interface InCell {
  readonly space: PoseSpace;
  readonly cell: Cell;
  readonly frame: Float64Array;
}

/** Two balls, a of the first part, b of the second, in the parts' frames. */
interface Witness {
  value: number; // apart at the middle poses
  radius: number; // of both together
  radiusA: number;
  readonly a: Float64Array;
  readonly b: Float64Array;
}

/** Within a part, in its frame: middle and radius, mm. */
export type Ball = readonly [x: number, y: number, z: number, radius: number];

export class Contact {
  readonly #first: Meets;
  readonly #second: Meets;
  /** Asked between the two, mm. */
  readonly #asked: number;
  readonly #witnesses: Witness[] = [];
  readonly #a: Float64Array;
  readonly #b: Float64Array;
  readonly #movedA: Moved;
  readonly #movedB: Moved;
  readonly #seen = new Float64Array(3);
  readonly #try: Witness = { value: 0, radius: 0, radiusA: 0, a: new Float64Array(3), b: new Float64Array(3) };
  #count = 0;
  #least = 0;
  readonly #rowed: number[] = [];

  constructor(first: Meets, second: Meets, asked: number, sizes: readonly [number, number]) {
    this.#first = first;
    this.#second = second;
    this.#asked = asked;
    const most = 2 * MOST + first.cores.length * second.cores.length;
    for (let i = 0; i < most; i++)
      this.#witnesses.push({ value: 0, radius: 0, radiusA: 0, a: new Float64Array(3), b: new Float64Array(3) });
    this.#a = new Float64Array(3 * most);
    this.#b = new Float64Array(3 * most);
    this.#movedA = new Moved(most, sizes[0]);
    this.#movedB = new Moved(most, sizes[1]);
  }

  /**
   * The bound of each pair of balls alone, the least of them; rows are added to `rows`, unless that bound is already at
   * most `enough` or no row can matter below `least`. `at`: where the variables of the two parts begin.
   */
  bound(first: InCell, second: InCell, enough: number, least: number, rows: RowSet, at: readonly [number, number]): number {
    this.#choose(first.frame, second.frame);
    const n = this.#count;
    for (let i = 0; i < n; i++) {
      this.#a.set((this.#witnesses[i] as Witness).a, 3 * i);
      this.#b.set((this.#witnesses[i] as Witness).b, 3 * i);
    }
    const [pa, pb] = [this.#a.subarray(0, 3 * n), this.#b.subarray(0, 3 * n)];
    const [ma, mb] = [this.#movedA, this.#movedB];
    first.space.place(first.cell, pa, ma);
    second.space.place(second.cell, pb, mb);
    let plain = Infinity;
    for (let i = 0; i < n; i++) {
      const way = this.#way(i);
      const reach = (ma.reach[i] as number) + (mb.reach[i] as number);
      const alone = way - (this.#witnesses[i] as Witness).radius - this.#asked + reach + 1e-9;
      if (alone >= plain) continue;
      plain = alone;
      this.#least = i;
    }
    this.#rowed.length = 0;
    if (plain <= enough) return plain;
    for (let i = 0; i < n; i++) this.#row(i, first, second, least, rows, at);
    return plain;
  }

  /** After `bound`: the two balls of the row that it added as its k-th; without k, of those that by themselves say the least. */
  balls(k?: number): { readonly a: Ball; readonly b: Ball } {
    const { a, b, radius, radiusA } = this.#witnesses[k === undefined ? this.#least : (this.#rowed[k] as number)] as Witness;
    const ball = (p: Float64Array, r: number): Ball => [p[0] as number, p[1] as number, p[2] as number, r];
    return { a: ball(a, radiusA), b: ball(b, radius - radiusA) };
  }

  #way(i: number): number {
    const [qa, qb] = [this.#movedA.q, this.#movedB.q];
    const x = (qb[3 * i] as number) - (qa[3 * i] as number);
    const y = (qb[3 * i + 1] as number) - (qa[3 * i + 1] as number);
    const z = (qb[3 * i + 2] as number) - (qa[3 * i + 2] as number);
    return Math.sqrt(x * x + y * y + z * z);
  }

  #row(i: number, first: InCell, second: InCell, least: number, rows: RowSet, at: readonly [number, number]): void {
    const [ma, mb] = [this.#movedA, this.#movedB];
    const reach = (ma.reach[i] as number) + (mb.reach[i] as number);
    const rest = (ma.rest[i] as number) + (mb.rest[i] as number);
    const l = this.#way(i);
    const curve = (reach * reach) / (2 * l);
    const apart = l - (this.#witnesses[i] as Witness).radius - this.#asked;
    if (apart - reach > least || !(curve + rest <= 2 * reach)) return;
    const row = rows.add(apart + curve + rest + 1e-9);
    this.#rowed.push(i);
    this.#slopes(row, i, first.space, this.#a, ma, rows, at[0], -1 / l);
    this.#slopes(row, i, second.space, this.#b, mb, rows, at[1], 1 / l);
  }

  #slopes(row: number, i: number, space: PoseSpace, points: Float64Array, moved: Moved, rows: RowSet, at: number, scale: number): void {
    space.slopes(i, points, moved);
    const [qa, qb] = [this.#movedA.q, this.#movedB.q];
    for (let k = 0; k < space.size; k++) {
      let g = 0;
      for (let d = 0; d < 3; d++)
        g += (moved.j[3 * space.size * i + 3 * k + d] as number) * ((qb[3 * i + d] as number) - (qa[3 * i + d] as number));
      rows.slope(row, at + k, scale * g);
    }
  }

  /** Apart at the middle poses by the nearest witnesses, less what is asked. */
  middle(first: InCell, second: InCell): number {
    this.#choose(first.frame, second.frame);
    let least = Infinity;
    for (let i = 0; i < this.#count; i++) least = Math.min(least, (this.#witnesses[i] as Witness).value);
    return least - this.#asked;
  }

  #choose(fa: Float64Array, fb: Float64Array): void {
    this.#count = 0;
    const [a, b] = [this.#first, this.#second];
    this.#corners(a.points, fa, b.cores, fb, true);
    this.#corners(b.points, fb, a.cores, fa, false);
    for (const p of a.cores) for (const q of b.cores) this.#balls(p, fa, q, fb);
  }

  /** The few points of one part that lie nearest to, or deepest in, the other. */
  #corners(points: Float64Array, from: Float64Array, cores: readonly Core[], to: Float64Array, first: boolean): void {
    const begin = this.#count;
    const [seen, t] = [this.#seen, this.#try];
    const [mine, other] = first ? [t.a, t.b] : [t.b, t.a];
    for (let i = 0; i < points.length; i += 3) {
      mine.set(points.subarray(i, i + 3));
      carry(from, mine, to, seen);
      t.value = Infinity;
      for (const core of cores) {
        nearestOfCore(core, seen[0] as number, seen[1] as number, seen[2] as number, other, 0);
        const value = apart(seen, other) - core.radius;
        if (value >= t.value) continue;
        t.value = value;
        t.radius = core.radius;
        t.radiusA = first ? 0 : core.radius;
        this.#nearest.set(other);
      }
      other.set(this.#nearest);
      this.#insert(begin);
    }
  }
  readonly #nearest = new Float64Array(3);

  /** Keeps the `MOST` least from `begin` on, in order. */
  #insert(begin: number): void {
    const t = this.#try;
    let at = this.#count;
    if (at === begin + MOST) {
      at--;
      if ((this.#witnesses[at] as Witness).value <= t.value) return;
    } else this.#count++;
    const free = this.#witnesses[at] as Witness;
    for (; at > begin && (this.#witnesses[at - 1] as Witness).value > t.value; at--)
      this.#witnesses[at] = this.#witnesses[at - 1] as Witness;
    this.#witnesses[at] = free;
    copy(t, free);
  }

  #balls(p: Core, fa: Float64Array, q: Core, fb: Float64Array): void {
    const t = this.#try;
    const seen = this.#seen;
    t.b.set(q.frame.subarray(9, 12));
    for (let k = 0; k < TURNS; k++) {
      carry(fb, t.b, fa, seen);
      nearestOfCore(p, seen[0] as number, seen[1] as number, seen[2] as number, t.a, 0);
      carry(fa, t.a, fb, seen);
      nearestOfCore(q, seen[0] as number, seen[1] as number, seen[2] as number, t.b, 0);
    }
    t.radius = p.radius + q.radius;
    t.radiusA = p.radius;
    t.value = apart(seen, t.b) - t.radius;
    copy(t, this.#witnesses[this.#count++] as Witness);
  }
}

function copy(from: Witness, to: Witness): void {
  to.value = from.value;
  to.radius = from.radius;
  to.radiusA = from.radiusA;
  to.a.set(from.a);
  to.b.set(from.b);
}

function apart(p: Float64Array, q: Float64Array): number {
  const x = (p[0] as number) - (q[0] as number);
  const y = (p[1] as number) - (q[1] as number);
  const z = (p[2] as number) - (q[2] as number);
  return Math.sqrt(x * x + y * y + z * z);
}

/** A point of one frame as another sees it. */
function carry(from: Float64Array, p: Float64Array, to: Float64Array, out: Float64Array): void {
  const [x, y, z] = [p[0] as number, p[1] as number, p[2] as number];
  const dx = (from[0] as number) * x + (from[1] as number) * y + (from[2] as number) * z + (from[9] as number) - (to[9] as number);
  const dy = (from[3] as number) * x + (from[4] as number) * y + (from[5] as number) * z + (from[10] as number) - (to[10] as number);
  const dz = (from[6] as number) * x + (from[7] as number) * y + (from[8] as number) * z + (from[11] as number) - (to[11] as number);
  out[0] = (to[0] as number) * dx + (to[3] as number) * dy + (to[6] as number) * dz;
  out[1] = (to[1] as number) * dx + (to[4] as number) * dy + (to[7] as number) * dz;
  out[2] = (to[2] as number) * dx + (to[5] as number) * dy + (to[8] as number) * dz;
}
