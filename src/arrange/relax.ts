/**
 * Pushing parts apart: Levenberg-Marquardt on the sum of squares by which clearances fall short of a wished spare.
 * Fast and approximate (sample points, field): it finds the basin, `polish` then climbs by exact distances.
 */
import { solveInPlace } from '../geometry/solve.ts';
import { borderRows, pairRows, portRows, seatRows, wallRows } from './contacts.ts';
import type { Model, PartModel } from './model.ts';
import { portsInPlay } from './ports.ts';
import { Rows } from './rows.ts';
import { movePart, placePart, STRIDE, type State, type World } from './state.ts';

/** Longest shift in one step, mm. */
const STRIDE_MM = 0.6;

export class Relaxer {
  readonly #m: Model;
  readonly #rows: Rows;
  readonly #spareRows: Rows;
  readonly #h: Float64Array;
  readonly #g: Float64Array;
  readonly #delta: Float64Array;
  readonly #at: Int32Array;
  readonly #backup: State;
  /** Least spare by the samples' measure at the last evaluation; no more than the wished spare. */
  least = 0;
  /** Evaluations so far: one is all clearances of the parts in play. */
  evaluations = 0;

  constructor(m: Model) {
    this.#m = m;
    this.#rows = new Rows();
    this.#spareRows = new Rows();
    this.#h = new Float64Array(m.dof * m.dof);
    this.#g = new Float64Array(m.dof);
    this.#delta = new Float64Array(m.dof);
    this.#at = new Int32Array(m.parts.length);
    this.#backup = new Float64Array(STRIDE * m.parts.length);
  }

  /**
   * Moves the parts in `moving` until every clearance among the parts in `play` has spare `wished`, or `turns` steps are
   * used. The world must hold the state. Returns the sum of squared shortfalls, mm2; 0: reached.
   */
  relax(s: State, w: World, play: readonly number[], moving: readonly number[], wished: number, turns: number): number {
    const m = this.#m;
    let n = 0;
    this.#at.fill(-1);
    for (const p of moving) {
      this.#at[p] = n;
      n += (m.parts[p] as PartModel).dof;
    }
    let lambda = 0.01;
    let rows = this.#rows;
    let spareRows = this.#spareRows;
    let short = this.#measure(s, w, play, wished, rows);
    let least = this.least;
    for (let turn = 0; turn < turns && short > 0; turn++) {
      this.#equations(rows, wished, n);
      if (!this.#solve(n, lambda)) {
        lambda *= 10;
        continue;
      }
      this.#backup.set(s);
      for (const p of moving) {
        movePart(m, s, p, this.#delta, this.#at[p] as number);
        placePart(m, s, w, p);
      }
      const now = this.#measure(s, w, play, wished, spareRows);
      if (now < short) {
        const gain = short - now;
        const swap = rows;
        rows = spareRows;
        spareRows = swap;
        least = this.least;
        short = now;
        lambda = Math.max(1e-4, lambda / 4);
        if (gain < 1e-4 * short && turn > 3) break;
        continue;
      }
      s.set(this.#backup);
      for (const p of moving) placePart(m, s, w, p);
      lambda *= 6;
      if (lambda > 1e3) break;
    }
    this.least = least;
    return short;
  }

  /** Shortfall of the parts in play; their rows are left in `rows`. */
  #measure(s: State, w: World, play: readonly number[], wished: number, rows: Rows): number {
    const m = this.#m;
    rows.clear();
    this.evaluations++;
    let least = wished;
    for (let k = 0; k < play.length; k++) {
      const p = play[k] as number;
      // A fixed part's own walls cannot be helped.
      if ((this.#at[p] as number) >= 0) {
        least = Math.min(least, wallRows(m, w, p, false, wished, rows), borderRows(m, w, p, wished, 0, true, rows));
        seatRows(m, w, p, 0, wished, rows);
      }
      for (let l = 0; l < k; l++) {
        const q = play[l] as number;
        if ((this.#at[p] as number) < 0 && (this.#at[q] as number) < 0) continue;
        least = Math.min(least, pairRows(m, w, q, p, wished, 0, true, rows));
      }
    }
    if (portsInPlay(m, play)) least = Math.min(least, wished + portRows(m, s, 0, wished, rows));
    this.least = least;
    let short = 0;
    for (let r = 0; r < rows.count; r++) {
      const v = wished - (rows.value[r] as number);
      if (v > 0) short += v * v;
    }
    return short;
  }

  #equations(rows: Rows, wished: number, n: number): void {
    const h = this.#h;
    const g = this.#g;
    h.fill(0, 0, n * n);
    g.fill(0, 0, n);
    for (let r = 0; r < rows.count; r++) {
      const v = wished - (rows.value[r] as number);
      if (v <= 0) continue;
      const p = rows.first[r] as number;
      const q = rows.second[r] as number;
      const a = this.#at[p] as number;
      const b = q < 0 ? -1 : (this.#at[q] as number);
      const da = a < 0 ? 0 : (this.#m.parts[p] as PartModel).dof;
      const db = b < 0 ? 0 : (this.#m.parts[q] as PartModel).dof;
      this.#block(rows.jacobian, 12 * r, a, da, 12 * r, a, da, n);
      this.#block(rows.jacobian, 12 * r + 6, b, db, 12 * r + 6, b, db, n);
      if (da > 0 && db > 0) {
        if (a > b) this.#block(rows.jacobian, 12 * r, a, da, 12 * r + 6, b, db, n);
        else this.#block(rows.jacobian, 12 * r + 6, b, db, 12 * r, a, da, n);
      }
      for (let k = 0; k < da; k++) g[a + k] = (g[a + k] as number) + v * (rows.jacobian[12 * r + k] as number);
      for (let k = 0; k < db; k++) g[b + k] = (g[b + k] as number) + v * (rows.jacobian[12 * r + 6 + k] as number);
    }
  }

  /** Adds an outer product to the lower triangle. */
  #block(j: Float64Array, o: number, a: number, da: number, q: number, b: number, db: number, n: number): void {
    const h = this.#h;
    for (let k = 0; k < da; k++) {
      const x = j[o + k] as number;
      if (x === 0) continue;
      const row = (a + k) * n + b;
      for (let l = 0; l < db; l++) h[row + l] = (h[row + l] as number) + x * (j[q + l] as number);
    }
  }

  /** delta = (H + lambda)^-1 g by Cholesky, each part's shift limited; false when that fails. */
  #solve(n: number, lambda: number): boolean {
    const h = this.#h;
    const x = this.#delta;
    for (let i = 0; i < n; i++) {
      h[i * n + i] = (h[i * n + i] as number) + lambda * (1 + (h[i * n + i] as number));
      x[i] = this.#g[i] as number;
    }
    if (!solveInPlace(h, x, n)) return false;
    let most = 0;
    for (let i = 0; i < n; i++) most = Math.max(most, Math.abs(x[i] as number));
    if (most > STRIDE_MM) for (let i = 0; i < n; i++) x[i] = ((x[i] as number) * STRIDE_MM) / most;
    return Number.isFinite(most);
  }
}
