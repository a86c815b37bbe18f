/**
 * The least upper bound that a cell's rows give together.
 *
 * Over the cell (each of its variables z in [-1, 1]) every row says: spare <= a + g . z. Weights w >= 0 with sum 1 then
 * give the bound sum w a + sum over k of |sum w g_k|, whatever w is; opposite walls cancel in the second sum. The best
 * weights come from a simplex method; the bound is computed anew from them at the end, so that a bad pivot costs
 * tightness and never truth.
 */

const MOST_PIVOTS = 40;
/** A number no smaller than x that 32 bits hold: the last of its 24 digits is at most x / 2^23. */
const heldAbove = (x: number): number => Math.fround(x + Math.abs(x) / 8388608);

export class RowSet {
  readonly size: number; // variables of a cell
  count = 0;
  #a: Float64Array = new Float64Array(64);
  #g: Float64Array;
  readonly #inverse: Float64Array;
  readonly #basis: Int32Array;
  readonly #x: Float64Array;
  readonly #y: Float64Array;
  readonly #column: Float64Array;
  #weighed = Infinity;
  #first = -1; // the row that alone gave the last bound
  /** After `bound`: each variable's share of it (where a cell is best halved). */
  readonly share: Float64Array;

  constructor(size: number) {
    this.size = size;
    this.#g = new Float64Array(64 * size);
    const m = size + 1;
    this.#inverse = new Float64Array(m * m);
    this.#basis = new Int32Array(m);
    this.#x = new Float64Array(m);
    this.#y = new Float64Array(m);
    this.#column = new Float64Array(m);
    this.share = new Float64Array(size);
  }

  clear(): void {
    this.count = 0;
    this.#weighed = Infinity;
  }

  /** Adds a row; its slopes are then written by `slope`. */
  add(a: number): number {
    if (this.count === this.#a.length) {
      this.#a = grown(this.#a);
      this.#g = grown(this.#g);
    }
    const i = this.count++;
    this.#a[i] = a;
    this.#g.fill(0, i * this.size, (i + 1) * this.size);
    return i;
  }

  slope(row: number, k: number, g: number): void {
    this.#g[row * this.size + k] = g;
  }

  /** The rows with the least middles, at most `most`. */
  least(most: number): number[] {
    const order = Array.from({ length: this.count }, (_, i) => i);
    return order.sort((i, j) => (this.#a[i] as number) - (this.#a[j] as number) || i - j).slice(0, most);
  }

  /**
   * The rows with the least middles, at most `most`, as numbers that can be kept: a, then the slopes. What the slopes lose
   * in 32 bits is paid for by `a`: over -1..1 a row says no less than before.
   */
  kept(most: number): Float32Array {
    const order = this.least(most);
    const n = order.length;
    const m = this.size + 1;
    const out = new Float32Array(n * m);
    for (let r = 0; r < n; r++) {
      const i = order[r] as number;
      let a = this.#a[i] as number;
      for (let k = 0; k < this.size; k++) {
        const g = this.#g[i * this.size + k] as number;
        out[r * m + k + 1] = g;
        a += Math.abs(g - (out[r * m + k + 1] as number));
      }
      out[r * m] = heldAbove(a);
    }
    return out;
  }

  /** Adds rows that were kept by another set, their variables from `at` on. */
  addKept(rows: Float32Array, size: number, at: number): void {
    const m = size + 1;
    for (let r = 0; r < rows.length; r += m) {
      const row = this.add(rows[r] as number);
      for (let k = 0; k < size; k++) this.slope(row, at + k, rows[r + k + 1] as number);
    }
  }

  /** The rows that gave the last bound, and their weights. */
  weights(): (readonly [row: number, weight: number])[] {
    if (this.#first >= 0) return [[this.#first, 1]];
    return Array.from(this.#basis, (row, r) => [row, Math.max(0, this.#x[r] as number)] as const).filter(
      ([row, w]) => row < this.count && w > 0,
    );
  }

  /** A row's own bound. */
  alone(row: number): number {
    let b = this.#a[row] as number;
    for (let k = 0; k < this.size; k++) b += Math.abs(this.#g[row * this.size + k] as number);
    return b;
  }

  /** The certified bound; Infinity without rows. Stops early once below `enough`. */
  bound(enough: number): number {
    if (this.count === 0) return Infinity;
    let first = 0;
    let best = Infinity;
    for (let i = 0; i < this.count; i++) {
      const b = this.alone(i);
      if (b < best) {
        best = b;
        first = i;
      }
    }
    this.#start(first);
    for (let pivots = 0; pivots < MOST_PIVOTS && this.#value() > enough; pivots++) if (!this.#pivot()) break;
    this.#weighed = this.#certified();
    this.#first = best <= this.#weighed ? first : -1;
    return Math.min(best, this.#weighed);
  }

  /**
   * Narrows -1..1 in each variable (`lo`, `hi` are kept if already narrower) to where every row, and the last bound's
   * weights over all rows, still allow more than `least`: a row that allows s more at its best corner may lose no more than s on the way.
   */
  narrow(least: number, lo: Float64Array, hi: Float64Array): void {
    for (let i = 0; i < this.count; i++) this.#cut(this.#g, i * this.size, this.alone(i) - least, lo, hi);
    if (this.#weighed < Infinity) this.#cut(this.share, 0, this.#weighed - least, lo, hi);
  }

  #cut(g: Float64Array, from: number, slack: number, lo: Float64Array, hi: Float64Array): void {
    const s = slack + 1e-9;
    for (let k = 0; k < this.size; k++) {
      const gk = g[from + k] as number;
      if (s >= 2 * Math.abs(gk)) continue;
      if (gk > 0) lo[k] = Math.max(lo[k] as number, 1 - s / gk);
      else hi[k] = Math.min(hi[k] as number, -1 - s / gk);
    }
  }

  /** Column numbers: rows first; then 2k for a slack of -e_k, 2k + 1 for one of +e_k. */
  #start(row: number): void {
    const m = this.size + 1;
    this.#inverse.fill(0);
    this.#inverse[0] = 1;
    this.#basis[0] = row;
    this.#x.fill(0);
    this.#x[0] = 1;
    for (let k = 0; k < this.size; k++) {
      const g = this.#g[row * this.size + k] as number;
      const sign = g > 0 ? -1 : 1;
      this.#basis[k + 1] = this.count + 2 * k + (sign < 0 ? 0 : 1);
      this.#inverse[(k + 1) * m] = -sign * g;
      this.#inverse[(k + 1) * m + k + 1] = sign;
      this.#x[k + 1] = Math.abs(g);
    }
  }

  #cost(column: number): number {
    return column < this.count ? (this.#a[column] as number) : 1;
  }

  #value(): number {
    let v = 0;
    for (let r = 0; r <= this.size; r++) v += this.#cost(this.#basis[r] as number) * (this.#x[r] as number);
    return v;
  }

  #pivot(): boolean {
    const m = this.size + 1;
    const y = this.#y.fill(0);
    for (let r = 0; r < m; r++) {
      const c = this.#cost(this.#basis[r] as number);
      for (let k = 0; k < m; k++) y[k]! += c * (this.#inverse[r * m + k] as number);
    }
    let enter = -1;
    let least = -1e-9;
    for (let i = 0; i < this.count; i++) {
      let reduced = (this.#a[i] as number) - (y[0] as number);
      for (let k = 0; k < this.size; k++) reduced -= (y[k + 1] as number) * (this.#g[i * this.size + k] as number);
      if (reduced < least) {
        least = reduced;
        enter = i;
      }
    }
    for (let k = 0; k < this.size; k++) {
      for (const sign of [-1, 1]) {
        const reduced = 1 - sign * (y[k + 1] as number);
        if (reduced < least) {
          least = reduced;
          enter = this.count + 2 * k + (sign < 0 ? 0 : 1);
        }
      }
    }
    return enter >= 0 && this.#exchange(enter);
  }

  #exchange(enter: number): boolean {
    const m = this.size + 1;
    const d = this.#column;
    for (let r = 0; r < m; r++) {
      let s = 0;
      if (enter < this.count) {
        s = this.#inverse[r * m] as number;
        for (let k = 0; k < this.size; k++) s += (this.#inverse[r * m + k + 1] as number) * (this.#g[enter * this.size + k] as number);
      } else {
        const slack = enter - this.count;
        s = (slack % 2 === 0 ? -1 : 1) * (this.#inverse[r * m + (slack >> 1) + 1] as number);
      }
      d[r] = s;
    }
    let leave = -1;
    let ratio = Infinity;
    for (let r = 0; r < m; r++) {
      if ((d[r] as number) > 1e-12 && (this.#x[r] as number) / (d[r] as number) < ratio) {
        ratio = (this.#x[r] as number) / (d[r] as number);
        leave = r;
      }
    }
    if (leave < 0) return false;
    const pivot = d[leave] as number;
    for (let k = 0; k < m; k++) this.#inverse[leave * m + k]! /= pivot;
    this.#x[leave] = ratio;
    for (let r = 0; r < m; r++) {
      if (r === leave) continue;
      const f = d[r] as number;
      if (f === 0) continue;
      for (let k = 0; k < m; k++) this.#inverse[r * m + k]! -= f * (this.#inverse[leave * m + k] as number);
      this.#x[r] = Math.max(0, (this.#x[r] as number) - f * ratio);
    }
    this.#basis[leave] = enter;
    return true;
  }

  /** From the weights alone. */
  #certified(): number {
    let sum = 0;
    for (let r = 0; r <= this.size; r++) if ((this.#basis[r] as number) < this.count) sum += Math.max(0, this.#x[r] as number);
    if (!(sum > 0)) return Infinity;
    let bound = 0;
    this.share.fill(0);
    for (let r = 0; r <= this.size; r++) {
      const i = this.#basis[r] as number;
      if (i >= this.count) continue;
      const w = Math.max(0, this.#x[r] as number) / sum;
      bound += w * (this.#a[i] as number);
      for (let k = 0; k < this.size; k++) this.share[k]! += w * (this.#g[i * this.size + k] as number);
    }
    for (let k = 0; k < this.size; k++) bound += Math.abs(this.share[k] as number);
    return Number.isNaN(bound) ? Infinity : bound + 1e-9;
  }
}

function grown(a: Float64Array): Float64Array {
  const b = new Float64Array(2 * a.length);
  b.set(a);
  return b;
}
