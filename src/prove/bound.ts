/** The spare that a part can have anywhere in a cell of poses: an upper bound from rows, and the value at its middle. */
import type { Plane, Point } from '../geometry/vec.ts';
import { pt } from '../geometry/vec.ts';
import { RowSet } from './linear.ts';
import { type Cell, Moved, type PoseSpace } from './space.ts';
import { FINEST, type Place, type WallOracle } from './wall.ts';

/** In a cell that moves some point by more than this, rows together say little more than alone, mm. (Measured on proofs with 6 degrees of freedom: without such a limit they take about twice as long.) */
const COARSE = 4;

/** What a part is asked, mm: to the cast surface, and to each plane that counts for it. */
export interface Asked {
  readonly wall: number;
  readonly planes: readonly { readonly plane: Plane<'ear'>; readonly asked: number }[];
}

/** Where a row comes from. */
export type Origin = Omit<Closing, 'weight'>;

/** One row of an inequality that closes a cell: a point of the part, its weight, and the witness or the plane (by number) it is held against. */
export interface Closing {
  readonly point: number;
  readonly weight: number;
  readonly witness?: readonly [number, number, number];
  readonly plane?: number;
}

export class CellBounder {
  readonly space: PoseSpace;
  readonly points: Float64Array;
  readonly #oracle: WallOracle;
  readonly #asked: Asked;
  readonly #moved: Moved;
  readonly #rows: RowSet;
  readonly #least: number; // of all that is asked
  readonly #leaving: Uint8Array;
  readonly #sloped: Uint8Array;
  readonly #near: (Place | undefined)[] = [];
  #hot = 0;
  #beyondRows = -Infinity;
  readonly #lo: Float64Array;
  readonly #hi: Float64Array;

  constructor(space: PoseSpace, points: Float64Array, oracle: WallOracle, asked: Asked) {
    this.space = space;
    this.points = points;
    this.#oracle = oracle;
    this.#asked = asked;
    this.#moved = new Moved(points.length / 3, space.size);
    this.#rows = new RowSet(space.size);
    this.#lo = new Float64Array(space.size);
    this.#hi = new Float64Array(space.size);
    this.#leaving = new Uint8Array(points.length / 3);
    this.#sloped = new Uint8Array(points.length / 3);
    this.#least = Math.min(asked.wall, ...asked.planes.map((p) => p.asked));
  }

  /** Upper bound of the spare over the cell. Stops tightening once below `enough`. */
  bound(cell: Cell, enough: number): number {
    this.space.place(cell, this.points, this.#moved);
    this.#sloped.fill(0);
    const leaves = this.#markLeaving();
    const all = this.#combined(enough, false);
    this.#beyondRows = leaves ? -this.#least : -Infinity;
    if (!leaves || all >= -this.#least) return all;
    if (-this.#least <= enough) return -this.#least;
    this.#beyondRows = -Infinity;
    // A point that passes a plane lacks all that is asked of that plane, but its wall is then unknown. So either no point
    // does and every row holds, or one does and only the rows of those that never can are to be used.
    return Math.max(all, Math.min(-this.#least, this.#combined(enough, true)));
  }

  /**
   * After `bound(cell, enough)`: a cell that holds every pose of it with more than `enough`; the same one where nothing can be left out.
   */
  narrowed(cell: Cell, enough: number): Cell {
    if (this.#beyondRows > enough || this.#rows.count === 0) return cell;
    const lo = this.#lo.fill(-1);
    const hi = this.#hi.fill(1);
    this.#rows.narrow(enough, lo, hi);
    let all = true;
    const c = cell.c.slice();
    const h = cell.h.slice();
    for (let k = 0; k < c.length; k++) {
      const [a, b] = [lo[k] as number, hi[k] as number];
      if (a === -1 && b === 1) continue;
      all = false;
      c[k] = (cell.c[k] as number) + ((a + b) / 2) * (cell.h[k] as number);
      h[k] = Math.max(0, (b - a) / 2) * (cell.h[k] as number) + 1e-12;
    }
    return all ? cell : { c, h, base: cell.base };
  }

  /** Rows of the last bound for use beside another part's; none where it needed none. */
  rows(most: number): Float32Array {
    return this.#rows.kept(most);
  }

  /**
   * The most that a pose may have for which the rows do not hold: one that takes a point beyond a plane, where all rows
   * were used. -Infinity where they hold for every pose.
   */
  get beyondRows(): number {
    return this.#beyondRows;
  }

  /**
   * The rows whose weighted sum keeps every pose of the cell, as far as its points stay behind the planes, below `target`;
   * undefined where the bound does not come below it. (What goes beyond a plane is left to whoever asks.)
   */
  closing(cell: Cell, target: number): Closing[] | undefined {
    this.space.place(cell, this.points, this.#moved);
    this.#sloped.fill(0);
    this.#tags = [];
    const bound = this.#combined(target, false);
    const tags = this.#tags;
    const alone = this.#alone;
    this.#tags = undefined;
    this.#origins = tags;
    this.#beyondRows = -Infinity;
    if (bound >= target || !alone) return undefined;
    if (alone.bound <= bound) return [{ ...alone.tag, weight: 1 }];
    return this.#rows.weights().map(([row, weight]) => ({ ...(tags[row] as Origin), weight }));
  }
  #tags: Origin[] | undefined;
  #origins: readonly Origin[] = [];

  /** After `closing` came to nothing: where the rows come from that `rows` keeps. */
  origins(most: number): Origin[] {
    return this.#rows.least(most).map((row) => this.#origins[row] as Origin);
  }

  /** While `closing` is at work: the point and witness that by themselves say the least. */
  #alone: { readonly bound: number; readonly tag: Origin } | undefined;

  #tag(bound: number, tag: Origin): void {
    if (this.#tags && !(this.#alone && this.#alone.bound <= bound)) this.#alone = { bound, tag };
  }

  /** Which points some pose of the cell may take beyond a plane; true when any. */
  #markLeaving(): boolean {
    const m = this.#moved;
    let any = false;
    for (let i = 0; i < m.reach.length; i++) {
      const over = this.#over(i, this.#asked.planes);
      this.#leaving[i] = over + (m.reach[i] as number) > 0 ? 1 : 0;
      any ||= this.#leaving[i] === 1;
    }
    return any;
  }

  #over(i: number, planes: Asked['planes']): number {
    const q = this.#moved.q;
    let over = -Infinity;
    for (const { plane } of planes) {
      const n = plane.normal;
      const o = plane.point;
      const h = n[0] * ((q[3 * i] as number) - o[0]) + n[1] * ((q[3 * i + 1] as number) - o[1]) + n[2] * ((q[3 * i + 2] as number) - o[2]);
      if (h > over) over = h;
    }
    return over;
  }

  #combined(enough: number, staying: boolean): number {
    const n = this.#moved.reach.length;
    this.#rows.clear();
    this.#alone = undefined;
    let plain = Infinity;
    for (let s = 0; s < n; s++) {
      const i = this.#order(s);
      if (staying && this.#leaving[i] === 1) this.#near[i] = undefined;
      else plain = this.#plain(i, plain);
      plain = Math.min(plain, this.#beyond(i));
      if (plain <= enough) {
        this.#hot = i;
        return plain;
      }
    }
    if (this.#widest() > COARSE) return plain;
    for (let i = 0; i < n; i++) this.#planes(i);
    for (let i = 0; i < n; i++) this.#witnesses(i, plain);
    return Math.min(plain, this.#rows.bound(enough));
  }

  /** The point that decided last comes first: it makes the rest short. */
  #order(s: number): number {
    return s === 0 ? this.#hot : s <= this.#hot ? s - 1 : s;
  }

  #widest(): number {
    let most = 0;
    for (const r of this.#moved.reach) if (r > most) most = r;
    return most;
  }

  /** The planes' own plain bound. */
  #beyond(i: number): number {
    let least = Infinity;
    for (const [plane, p] of this.#asked.planes.entries()) {
      const bound = (this.#moved.reach[i] as number) - this.#over(i, [p]) - p.asked;
      this.#tag(bound, { point: i, plane });
      least = Math.min(least, bound);
    }
    return least;
  }

  /** First orders are worked out for the points that need them. */
  #slopes(i: number): void {
    if (this.#sloped[i] === 1) return;
    this.#sloped[i] = 1;
    this.space.slopes(i, this.points, this.#moved);
  }

  /** Rows of the planes near enough to decide anything. */
  #planes(i: number): void {
    const m = this.#moved;
    const k3 = 3 * this.space.size;
    for (const [number, { plane, asked }] of this.#asked.planes.entries()) {
      const [nx, ny, nz] = plane.normal;
      const o = plane.point;
      const height =
        nx * ((m.q[3 * i] as number) - o[0]) + ny * ((m.q[3 * i + 1] as number) - o[1]) + nz * ((m.q[3 * i + 2] as number) - o[2]);
      const reach = m.reach[i] as number;
      if (-height > 4 + reach) continue;
      this.#slopes(i);
      const rest = m.rest[i] as number;
      const row = this.#rows.add(Math.min(rest, reach) - height - asked);
      this.#tags?.push({ point: i, plane: number });
      for (let k = 0; k < this.space.size && rest < reach; k++) {
        const j = k3 * i + 3 * k;
        this.#rows.slope(row, k, -(nx * (m.j[j] as number) + ny * (m.j[j + 1] as number) + nz * (m.j[j + 2] as number)));
      }
    }
  }

  /** How far the first order alone takes a point, at the most. */
  #spread(i: number): number {
    const j = this.#moved.j;
    const size = this.space.size;
    let sum = 0;
    for (let d = 0; d < 3; d++) {
      let along = 0;
      for (let k = 0; k < size; k++) along += Math.abs(j[3 * size * i + 3 * k + d] as number);
      sum += along * along;
    }
    return Math.sqrt(sum);
  }

  #place(i: number): Point<'ear'> {
    const q = this.#moved.q;
    return pt<'ear'>(q[3 * i] as number, q[3 * i + 1] as number, q[3 * i + 2] as number);
  }

  /**
   * phi at a measured place near the point plus the farthest way from it: the least over finer and finer places, until
   * the point is seen to be clearer than `plain` whatever the pose (then it needs no rows).
   */
  #plain(i: number, plain: number): number {
    const p = this.#place(i);
    const reach = this.#moved.reach[i] as number;
    this.#near[i] = undefined;
    let least = plain;
    for (let level = 0, spacing = 1; ; level = Math.min(level + 2, FINEST), spacing /= 4) {
      const place = this.#oracle.near(p, level);
      if (place) {
        const x = p[0] - place.x;
        const y = p[1] - place.y;
        const z = p[2] - place.z;
        const way = Math.sqrt(x * x + y * y + z * z);
        this.#near[i] = undefined;
        if (place.phi - way - reach - this.#asked.wall > least) return least;
        this.#near[i] = place;
        const bound = place.phi + way + reach - this.#asked.wall;
        this.#tag(bound, { point: i, witness: [place.x, place.y, place.z] });
        least = Math.min(least, bound);
      }
      if (level >= FINEST || spacing < 0.7 * reach) return least;
    }
  }

  /** Rows of the point's witnesses: on the surface, and far outside. */
  #witnesses(i: number, plain: number): void {
    const place = this.#near[i];
    if (!place) return;
    const q = this.#moved.q;
    const x = (q[3 * i] as number) - place.x;
    const y = (q[3 * i + 1] as number) - place.y;
    const z = (q[3 * i + 2] as number) - place.z;
    const way = Math.sqrt(x * x + y * y + z * z);
    if (place.phi - way - (this.#moved.reach[i] as number) - this.#asked.wall > plain) return;
    this.#row(i, place.foot[0], place.foot[1], place.foot[2], 0);
    const far = this.#oracle.far(place);
    for (let at = 0; at < far.length; at += 4)
      this.#row(i, far[at] as number, far[at + 1] as number, far[at + 2] as number, far[at + 3] as number);
  }

  /** |v + e| <= |v| + v.e/|v| + |e|^2 / (2 |v|), v from the witness to the point's centre place, e its move. */
  #row(i: number, wx: number, wy: number, wz: number, phi: number): void {
    const m = this.#moved;
    const reach = m.reach[i] as number;
    const x = (m.q[3 * i] as number) - wx;
    const y = (m.q[3 * i + 1] as number) - wy;
    const z = (m.q[3 * i + 2] as number) - wz;
    const l = Math.sqrt(x * x + y * y + z * z);
    const rest = m.rest[i] as number;
    if (!(rest <= 2 * reach)) return; // the plain bound is better (or the witness is where the point is)
    this.#slopes(i);
    const near = this.#spread(i) + rest;
    const most = Math.min(reach, near);
    const curve = (most * most) / (2 * l);
    if (!(curve + rest <= 2 * reach)) return;
    const row = this.#rows.add(phi + l + curve + rest - this.#asked.wall + 1e-9);
    this.#tags?.push({ point: i, witness: [wx, wy, wz] });
    for (let k = 0; k < this.space.size; k++) {
      const j = 3 * this.space.size * i + 3 * k;
      this.#rows.slope(row, k, (x * (m.j[j] as number) + y * (m.j[j + 1] as number) + z * (m.j[j + 2] as number)) / l);
    }
  }

  /**
   * The points' own spare at the cell's middle, or anything at most `below` when it is not more than that. (The relaxed
   * problem's value: it tells how far a bound can still fall.)
   */
  value(cell: Cell, below: number): number {
    this.space.place(cell, this.points, this.#moved);
    const n = this.points.length / 3;
    let least = Infinity;
    for (let s = 0; s < n && least > below; s++) {
      const i = this.#order(s);
      const p = this.#place(i);
      let v = this.#oracle.phi(p[0], p[1], p[2], 0) - this.#asked.wall;
      for (const { plane, asked } of this.#asked.planes) {
        const o = plane.point;
        const n3 = plane.normal;
        v = Math.min(v, -(n3[0] * (p[0] - o[0]) + n3[1] * (p[1] - o[1]) + n3[2] * (p[2] - o[2])) - asked);
      }
      if (v < least) {
        least = v;
        if (v <= below) this.#hot = i;
      }
    }
    return least;
  }
}
