/** The spare that a part can have anywhere in a cell of poses: an upper bound from rows, and the value at its middle. */
import type { Plane, Point } from '../geometry/vec.ts';
import { pt } from '../geometry/vec.ts';
import { RowSet } from './linear.ts';
import { type Cell, Moved, type PoseSpace } from './space.ts';
import type { WallOracle } from './wall.ts';

/** What a part is asked, mm: to the cast surface, and to each plane that counts for it. */
export interface Asked {
  readonly wall: number;
  readonly planes: readonly { readonly plane: Plane<'ear'>; readonly asked: number }[];
}

const FINEST = 4; // places 1/16 mm apart

export class CellBounder {
  readonly space: PoseSpace;
  readonly points: Float64Array;
  readonly #oracle: WallOracle;
  readonly #asked: Asked;
  readonly #moved: Moved;
  readonly #rows: RowSet;
  readonly #least: number; // of all that is asked
  #hot = 0;

  constructor(space: PoseSpace, points: Float64Array, oracle: WallOracle, asked: Asked) {
    this.space = space;
    this.points = points;
    this.#oracle = oracle;
    this.#asked = asked;
    this.#moved = new Moved(points.length / 3, space.size);
    this.#rows = new RowSet(space.size);
    this.#least = Math.min(asked.wall, ...asked.planes.map((p) => p.asked));
  }

  /** Upper bound of the spare over the cell. Stops tightening once below `enough`. */
  bound(cell: Cell, enough: number): number {
    const m = this.#moved;
    this.space.place(cell, this.points, m);
    this.#rows.clear();
    let leaves = false;
    let plain = Infinity;
    for (let i = 0; i < m.reach.length; i++) {
      leaves = this.#planes(i) || leaves;
      plain = Math.min(plain, this.#plain(i));
    }
    if (plain > enough) {
      for (let i = 0; i < m.reach.length; i++) this.#witnesses(i, plain);
      plain = Math.min(plain, this.#rows.bound(enough));
    }
    // A point beyond a plane lacks all that is asked of that plane, but its wall is not known: say no more than that.
    return leaves ? Math.max(plain, -this.#least) : plain;
  }

  /** Rows of the planes; true when some pose may take the point beyond one. */
  #planes(i: number): boolean {
    const m = this.#moved;
    const k3 = 3 * this.space.size;
    let leaves = false;
    for (const { plane, asked } of this.#asked.planes) {
      const [nx, ny, nz] = plane.normal;
      const o = plane.point;
      const height =
        nx * ((m.q[3 * i] as number) - o[0]) + ny * ((m.q[3 * i + 1] as number) - o[1]) + nz * ((m.q[3 * i + 2] as number) - o[2]);
      const reach = m.reach[i] as number;
      if (height + reach > 0) leaves = true;
      if (-height > 4 + reach) continue; // so far behind that it decides nothing
      const row = this.#rows.add(Math.min(m.rest[i] as number, 2 * reach) - height - asked);
      for (let k = 0; k < this.space.size; k++) {
        const j = k3 * i + 3 * k;
        this.#rows.slope(row, k, -(nx * (m.j[j] as number) + ny * (m.j[j + 1] as number) + nz * (m.j[j + 2] as number)));
      }
    }
    return leaves;
  }

  #witnessesOf(i: number): Float64Array {
    const m = this.#moved;
    const reach = m.reach[i] as number;
    let level = 0;
    for (let s = 1; level < FINEST && s > 0.7 * reach; s /= 2) level++;
    return this.#oracle.near(this.#place(i), level);
  }

  #place(i: number): Point<'ear'> {
    const q = this.#moved.q;
    return pt<'ear'>(q[3 * i] as number, q[3 * i + 1] as number, q[3 * i + 2] as number);
  }

  /** phi at the nearest measured place plus the farthest way from it. */
  #plain(i: number): number {
    const w = this.#witnessesOf(i);
    if (w.length === 0) return Infinity;
    return (w[3] as number) + this.#away(i, w, 0) + (this.#moved.reach[i] as number) - this.#asked.wall;
  }

  #away(i: number, w: Float64Array, at: number): number {
    const q = this.#moved.q;
    const x = (q[3 * i] as number) - (w[at] as number);
    const y = (q[3 * i + 1] as number) - (w[at + 1] as number);
    const z = (q[3 * i + 2] as number) - (w[at + 2] as number);
    return Math.sqrt(x * x + y * y + z * z);
  }

  /**
   * Rows of the point's surface and far witnesses: |v + e| <= |v| + v.e/|v| + |e|^2 / (2 |v|), v from witness to centre
   * place, e the move. A point that is clear by more than `plain` whatever the pose needs none.
   */
  #witnesses(i: number, plain: number): void {
    const m = this.#moved;
    const w = this.#witnessesOf(i);
    const reach = m.reach[i] as number;
    if (w.length === 0 || (w[3] as number) - this.#away(i, w, 0) - reach - this.#asked.wall > plain) return;
    const k3 = 3 * this.space.size;
    for (let at = 4; at < w.length; at += 4) {
      const l = this.#away(i, w, at);
      if (l < 1e-6) continue;
      const curve = (reach * reach) / (2 * l);
      const rest = m.rest[i] as number;
      if (curve + rest > 2 * reach) continue; // the plain bound is better
      const row = this.#rows.add((w[at + 3] as number) + l + curve + rest - this.#asked.wall);
      const x = ((m.q[3 * i] as number) - (w[at] as number)) / l;
      const y = ((m.q[3 * i + 1] as number) - (w[at + 1] as number)) / l;
      const z = ((m.q[3 * i + 2] as number) - (w[at + 2] as number)) / l;
      for (let k = 0; k < this.space.size; k++) {
        const j = k3 * i + 3 * k;
        this.#rows.slope(row, k, x * (m.j[j] as number) + y * (m.j[j + 1] as number) + z * (m.j[j + 2] as number));
      }
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
      const i = s === 0 ? this.#hot : s <= this.#hot ? s - 1 : s;
      const p = this.#place(i);
      let v = this.#oracle.phi(p) - this.#asked.wall;
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
