/**
 * Climbing the exact spare: linear max-min steps in a trust region, each accepted only if the exact spare rises.
 *
 * Rows come from sample points (walls), extreme points (cuts, pairs) and from the exact measurement's own witnesses,
 * which are kept: what the samples miss, a thin spike say, is in the model from the next step on.
 */
import { borderRows, pairRows, portRows, seatRows, wallRows } from './contacts.ts';
import type { Exact, Witness } from './exact.ts';
import { MaxMin } from './maxmin.ts';
import { type Model, type PartModel, SHELL } from './model.ts';
import { keepPorts, PORT_HAIR, portSlack, portsInPlay } from './ports.ts';
import { Rows } from './rows.ts';
import { movePart, placePart, STRIDE, type State, type World } from './state.ts';

export interface PolishLimits {
  /** Most steps. */
  readonly turns: number;
  /** Stop once the exact spare reaches this. */
  readonly enough: number;
  /** Smallest trust region, mm. */
  readonly least: number;
  /** First trust region, mm. */
  readonly first: number;
}

/** Longest reach of one step, mm. */
const LONGEST = 0.25;
/** Rows that one step looks at, at most: those of least spare. */
const MOST_ROWS = 260;
/** Rows of so much less spare than the exact one are not of this body (the cast's surface past a cut), mm. */
const DOUBT = 0.003;
/** Witnesses remembered in one climb. */
const MOST_WITNESSES = 80;
/** Refused steps in a row that bring a new wall into the model before the reach shrinks all the same. */
const RETRIES = 3;

export class Polisher {
  readonly #m: Model;
  readonly #exact: Exact;
  readonly #shouldStop: () => boolean;
  readonly #rows = new Rows();
  readonly #lp = new MaxMin();
  readonly #backup: State;
  readonly #at: Int32Array;
  readonly #box: Float64Array;
  #dense = new Float64Array(0);
  #kept: Witness[] = [];
  /** Linear steps tried so far. */
  steps = 0;

  constructor(m: Model, exact: Exact, shouldStop: () => boolean = () => false) {
    this.#m = m;
    this.#shouldStop = shouldStop;
    this.#exact = exact;
    this.#backup = new Float64Array(STRIDE * m.parts.length);
    this.#at = new Int32Array(m.parts.length);
    this.#box = new Float64Array(m.dof);
  }

  /** Climbs from where the state is (the world must hold it); returns the exact spare reached. */
  climb(s: State, w: World, play: readonly number[], limits: PolishLimits): number {
    const m = this.#m;
    this.#kept = [];
    let n = 0;
    for (const p of play) {
      this.#at[p] = n;
      n += (m.parts[p] as PartModel).dof;
    }
    const ports = portsInPlay(m, play);
    if (ports && portSlack(m, s) < PORT_HAIR) {
      keepPorts(m, s);
      for (const p of play) placePart(m, s, w, p);
      if (portSlack(m, s) < PORT_HAIR) return -Infinity;
    }
    let spare = this.#exact.spare(w, play);
    // What is grown into the shell stays: past what it leaves itself there is nothing to climb for.
    const enough = Math.min(limits.enough, this.#exact.grown);
    this.#keep(this.#exact.witnesses);
    let trust = limits.first;
    let idle = 0;
    let retries = 0;
    for (let turn = 0; turn < limits.turns && trust >= limits.least && spare < enough; turn++) {
      if (this.#shouldStop()) break;
      this.steps++;
      this.#collect(s, w, play, spare, trust);
      const gain = this.#step(n, trust) - spare;
      if (gain < 1e-5) {
        // The model sees no way up within this reach: either the top, or rows of far walls that a smaller reach leaves out.
        trust *= 0.15;
        continue;
      }
      this.#backup.set(s);
      this.#move(s, w, play);
      const now = !ports || portSlack(m, s) >= PORT_HAIR ? this.#exact.spare(w, play, Infinity, spare) : -Infinity;
      this.#keep(this.#exact.witnesses);
      if (now > spare) {
        const share = (now - spare) / gain;
        idle = now - spare < 2e-5 ? idle + 1 : 0;
        spare = now;
        retries = 0;
        trust = share > 0.7 ? Math.min(LONGEST, trust * 2) : share < 0.3 ? trust * 0.5 : trust;
        if (idle >= 3) break;
      } else {
        s.set(this.#backup);
        for (const p of play) placePart(m, s, w, p);
        // A wall that no row stood for: it does now, so the same reach is worth another try.
        const { other, border } = this.#exact.tightest;
        const unseen = other < 0 && border < 0 && retries < RETRIES;
        retries = unseen ? retries + 1 : 0;
        if (!unseen) trust *= 0.35;
      }
    }
    return spare;
  }

  #keep(found: readonly Witness[]): void {
    for (const f of found) this.#kept.push(f);
    if (this.#kept.length > MOST_WITNESSES) this.#kept = this.#kept.slice(this.#kept.length - MOST_WITNESSES);
  }

  /** All rows that a step within `trust` could make the least. */
  #collect(s: State, w: World, play: readonly number[], spare: number, trust: number): void {
    const m = this.#m;
    const rows = this.#rows;
    rows.clear();
    // A shift and a turn of `trust` each way along every axis: no point moves farther than about three times that.
    const band = 3 * trust + 0.01;
    const below = spare + band;
    for (let k = 0; k < play.length; k++) {
      const p = play[k] as number;
      if ((m.parts[p] as PartModel).seat !== SHELL) {
        wallRows(m, w, p, true, below, rows);
        borderRows(m, w, p, below, band, false, rows);
        seatRows(m, w, p, band, 0, rows);
      }
      for (let l = 0; l < k; l++) pairRows(m, w, play[l] as number, p, below, 2 * band, false, rows);
    }
    if (m.ports.length > 0 && m.ports.every((r) => play.includes(r.front) && play.includes(r.rear)))
      portRows(m, s, band, -2 * PORT_HAIR, rows);
    this.#witnessRows(w, below);
    rows.drop(spare - DOUBT);
    if (rows.count > MOST_ROWS) rows.keepLeast(MOST_ROWS);
  }

  /** Remembered contacts, measured anew from the part's point to the triangle. */
  #witnessRows(w: World, below: number): void {
    const m = this.#m;
    const { near } = m.room.field;
    for (const k of this.#kept) {
      const part = m.parts[k.part] as PartModel;
      const f = w.frame;
      const o = 12 * k.part;
      const x = (f[o] as number) * k.x + (f[o + 1] as number) * k.y + (f[o + 2] as number) * k.z;
      const y = (f[o + 3] as number) * k.x + (f[o + 4] as number) * k.y + (f[o + 5] as number) * k.z;
      const z = (f[o + 6] as number) * k.x + (f[o + 7] as number) * k.y + (f[o + 8] as number) * k.z;
      const px = x + (f[o + 9] as number);
      const py = y + (f[o + 10] as number);
      const pz = z + (f[o + 11] as number);
      const d = Math.sqrt(near.distance2(k.place, px, py, pz));
      const value = d - (part.wallAsked[k.primitive] as number);
      if (value >= below || d < 1e-6) continue;
      const r = this.#rows.add(value, k.part, -1);
      this.#rows.point(m, r, 0, part, (px - near.qx) / d, (py - near.qy) / d, (pz - near.qz) / d, x, y, z);
    }
  }

  /** Solves for the step within `trust`; the spare that the model promises. */
  #step(n: number, trust: number): number {
    const rows = this.#rows;
    const m = rows.count;
    if (this.#dense.length < m * n) this.#dense = new Float64Array(2 * m * n);
    const g = this.#dense;
    g.fill(0, 0, m * n);
    for (let r = 0; r < m; r++) {
      const p = rows.first[r] as number;
      const a = r * n + (this.#at[p] as number);
      const da = (this.#m.parts[p] as PartModel).dof;
      for (let k = 0; k < da; k++) g[a + k] = rows.jacobian[12 * r + k] as number;
      const q = rows.second[r] as number;
      if (q < 0) continue;
      const b = r * n + (this.#at[q] as number);
      const db = (this.#m.parts[q] as PartModel).dof;
      for (let k = 0; k < db; k++) g[b + k] = rows.jacobian[12 * r + 6 + k] as number;
    }
    this.#box.fill(trust, 0, n);
    this.#lp.solve(n, m, g, rows.value, rows.hard, this.#box);
    return this.#lp.t;
  }

  #move(s: State, w: World, play: readonly number[]): void {
    for (const p of play) {
      movePart(this.#m, s, p, this.#lp.x, this.#at[p] as number);
      placePart(this.#m, s, w, p);
    }
  }
}
