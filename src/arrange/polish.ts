/**
 * Climbing the exact spare: linear max-min steps in a trust region, each accepted only if the exact spare rises.
 *
 * Rows come from sample points (walls), extreme points (cuts, pairs) and from the exact measurement's own witnesses,
 * which are kept: what the samples miss, a thin spike say, is in the model from the next step on.
 */
import { borderRows, pairRows, portRows, seatRows, wallRows } from './contacts.ts';
import type { Exact } from './exact.ts';
import { MaxMin } from './maxmin.ts';
import { type Model, type PartModel, SHELL } from './model.ts';
import { keepPorts, PORT_HAIR, portSlack, portsInPlay } from './ports.ts';
import { Contacts } from './remembered.ts';
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
  readonly #contacts: Contacts;
  /** Linear steps tried so far. */
  steps = 0;

  constructor(m: Model, exact: Exact, shouldStop: () => boolean = () => false) {
    this.#m = m;
    this.#shouldStop = shouldStop;
    this.#exact = exact;
    this.#contacts = new Contacts(m);
    this.#backup = new Float64Array(STRIDE * m.parts.length);
    this.#at = new Int32Array(m.parts.length);
    this.#box = new Float64Array(m.dof);
  }

  /** Climbs from where the state is (the world must hold it); returns the exact spare reached. */
  climb(s: State, w: World, play: readonly number[], limits: PolishLimits): number {
    const m = this.#m;
    this.#contacts.forget();
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
    this.#contacts.keep(this.#exact.witnesses);
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
      this.#contacts.keep(this.#exact.witnesses);
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

  #collect(s: State, w: World, play: readonly number[], spare: number, trust: number): void {
    const rows = this.#rows;
    const band = bandOf(trust);
    collectRows(this.#m, s, w, play, spare, band, rows);
    this.#contacts.rows(w, spare + band, rows);
    rows.drop(spare - DOUBT);
    if (rows.count > MOST_ROWS) rows.keepLeast(MOST_ROWS);
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

/** A shift and a turn of `trust` each way along every axis: no point moves farther than about three times that. */
export const bandOf = (trust: number): number => 3 * trust + 0.01;

/** All rows that a step could make the least which moves no point farther than `band`. */
export function collectRows(m: Model, s: State, w: World, play: readonly number[], spare: number, band: number, rows: Rows): void {
  rows.clear();
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
}
