/**
 * Parts and vent climb together: one linear max-min step for all degrees of freedom of the parts and all corners of the
 * vent's line, accepted only if the exact spare rises. In turn they stop short: each holds the other where it stands.
 */
import type { Solids } from '../../room/convex.ts';
import type { Exact } from '../exact.ts';
import { MaxMin } from '../maxmin.ts';
import type { Model, PartModel } from '../model.ts';
import { bandOf, collectRows } from '../polish.ts';
import { PORT_HAIR, portSlack } from '../ports.ts';
import { Contacts } from '../remembered.ts';
import { Rows } from '../rows.ts';
import { movePart, placeAll, type State, type World } from '../state.ts';
import type { BallRow, Line, LineClimber, Obstacle } from './refine.ts';

const FIRST = 0.12;
const LEAST = 0.001;
const TURNS = 40;
const LONGEST = 0.25;
/** Rows of the parts, and of the vent, that one step looks at. */
const MOST_ROWS = 220;

export class JointClimber {
  readonly #m: Model;
  readonly #exact: Exact;
  readonly #climber: LineClimber;
  readonly #obstacles: readonly Obstacle[];
  readonly #all: readonly number[];
  readonly #rows = new Rows();
  readonly #lp = new MaxMin();
  readonly #contacts: Contacts;

  /** `m`: the parts without the vent; `asked`: what each of their primitives asks of it. */
  constructor(m: Model, w: World, exact: Exact, climber: LineClimber, asked: readonly Float64Array[]) {
    this.#m = m;
    this.#exact = exact;
    this.#contacts = new Contacts(m);
    this.#climber = climber;
    // The world's own solids: they move with it.
    this.#obstacles = asked.map((a, p) => ({ solids: w.solids[p] as Solids, asked: a }));
    this.#all = m.parts.map((_, p) => p);
  }

  #spare(w: World, line: Line, floor = -Infinity): number {
    const parts = this.#exact.spare(w, this.#all, Infinity, floor);
    this.#contacts.keep(this.#exact.witnesses);
    return parts < floor ? parts : Math.min(parts, this.#climber.spare(line, this.#obstacles, floor));
  }

  /** Climbs from where the state and the line are (the world must hold the state, and is left at the best). */
  climb(s: State, w: World, start: Line, enough: number): { readonly line: Line; readonly spare: number } {
    this.#contacts.forget();
    let line = start;
    let spare = this.#spare(w, line);
    const backup = s.slice();
    this.#climber.forget();
    for (let turn = 0, trust = FIRST; turn < TURNS && trust >= LEAST && spare < enough; turn++) {
      if (!this.#solve(s, w, line, spare, trust)) {
        trust *= 0.15;
        continue;
      }
      backup.set(s);
      let from = 0;
      for (const p of this.#all) {
        movePart(this.#m, s, p, this.#lp.x, from);
        from += (this.#m.parts[p] as PartModel).dof;
      }
      placeAll(this.#m, s, w);
      const next = this.#climber.moved(line, this.#lp.x, from);
      const now = portSlack(this.#m, s) >= PORT_HAIR ? this.#spare(w, next, spare) : -Infinity;
      if (now > spare + 1e-5) {
        line = next;
        spare = now;
        trust = Math.min(LONGEST, 1.8 * trust);
        continue;
      }
      s.set(backup);
      placeAll(this.#m, s, w);
      trust *= 0.35;
    }
    return { line, spare };
  }

  /** The step within `trust`; false where the model sees no gain. */
  #solve(s: State, w: World, line: Line, spare: number, trust: number): boolean {
    const m = this.#m;
    const band = bandOf(trust);
    const rows = this.#rows;
    collectRows(m, s, w, this.#all, spare, band, rows);
    this.#contacts.rows(w, spare + band, rows);
    if (rows.count > MOST_ROWS) rows.keepLeast(MOST_ROWS);
    let balls: BallRow[] = [];
    this.#climber.rows(line, this.#obstacles, spare + band, (row) => balls.push(row));
    if (balls.length > MOST_ROWS) balls = balls.sort((a, b) => a.value - b.value).slice(0, MOST_ROWS);
    const n = m.dof + 3 * line.length;
    const own = rows.count;
    const count = own + balls.length;
    const g = new Float64Array(n * count);
    this.#partSlopes(g, n, own);
    const value = new Float64Array(count);
    const hard = new Uint8Array(count);
    value.set(rows.value.subarray(0, own));
    hard.set(rows.hard.subarray(0, own));
    balls.forEach((ball, k) => {
      value[own + k] = ball.value;
      this.#climber.slopes(line, ball, g, n * (own + k) + m.dof);
      if (ball.obstacle >= 0) this.#obstacleSlopes(w, ball, g, n * (own + k));
    });
    const gain = this.#lp.solve(n, count, g, value, hard, new Float64Array(n).fill(trust));
    return gain >= 1e-5;
  }

  #partSlopes(g: Float64Array, n: number, count: number): void {
    const { jacobian, first, second } = this.#rows;
    for (let r = 0; r < count; r++) {
      for (const [side, p] of [
        [0, first[r] as number],
        [1, second[r] as number],
      ] as const) {
        if (p < 0) continue;
        const at = n * r + (this.#m.offset[p] as number);
        for (let k = 0; k < (this.#m.parts[p] as PartModel).dof; k++) g[at + k] = jacobian[12 * r + 6 * side + k] as number;
      }
    }
  }

  /** How the vent's clearance changes with the part that it is measured to. */
  #obstacleSlopes(w: World, { obstacle: p, along, at }: BallRow, g: Float64Array, from: number): void {
    if (!at) return;
    const m = this.#m;
    const part = m.parts[p] as PartModel;
    const rows = this.#rows;
    const r = rows.add(0, p, -1);
    const f = w.frame;
    const c = 12 * p + 9;
    rows.point(
      m,
      r,
      0,
      part,
      -along[0],
      -along[1],
      -along[2],
      at[0] - (f[c] as number),
      at[1] - (f[c + 1] as number),
      at[2] - (f[c + 2] as number),
    );
    for (let k = 0; k < part.dof; k++) g[from + (m.offset[p] as number) + k] = rows.jacobian[12 * r + k] as number;
    rows.count--;
  }
}
