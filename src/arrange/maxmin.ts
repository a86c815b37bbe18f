/**
 * One step of the climb: max t subject to value_r + g_r . x >= t (soft rows), value_r + g_r . x >= 0 (hard rows) and
 * |x_k| <= box. A primal simplex on bounded variables over a dense table; it starts at x = 0 and moves only what helps,
 * so parts that limit nothing stay where they are.
 */
export class MaxMin {
  #table: Float64Array = new Float64Array(0);
  /** Of each basic row and each column: which variable. 0..n-1: x; n: t; n+1+r: slack of row r. */
  #basic: Int32Array = new Int32Array(0);
  #column: Int32Array = new Int32Array(0);
  #basicAt: Float64Array = new Float64Array(0);
  #columnAt: Float64Array = new Float64Array(0);
  #box: Float64Array = new Float64Array(0);
  #n = 0;
  #m = 0;
  /** The step found. */
  x: Float64Array = new Float64Array(0);
  t = 0;

  /** `g`: m rows of n numbers. `hard[r]`: the row does not carry t. `box[k]`: limit of |x_k|. Returns the model's gain in t. */
  solve(n: number, m: number, g: Float64Array, value: Float64Array, hard: Uint8Array, box: Float64Array): number {
    this.#start(n, m, g, value, hard, box);
    const t0 = this.#columnAt[n] as number;
    const most = 20 * (n + 8);
    let stuck = 0;
    for (let turn = 0; turn < most; turn++) {
      const row = this.#rowOf(n);
      const before = row < 0 ? (this.#columnAt[this.#columnOf(n)] as number) : (this.#basicAt[row] as number);
      if (!this.#pivot(row, stuck > 12)) break;
      const now = this.#rowOf(n);
      const after = now < 0 ? (this.#columnAt[this.#columnOf(n)] as number) : (this.#basicAt[now] as number);
      stuck = after > before + 1e-12 ? 0 : stuck + 1;
      if (stuck > 60) break;
    }
    this.#read(n);
    return this.t - t0;
  }

  #start(n: number, m: number, g: Float64Array, value: Float64Array, hard: Uint8Array, box: Float64Array): void {
    const width = n + 1;
    if (this.#table.length < m * width) this.#table = new Float64Array(m * width * 2);
    if (this.#basic.length < m) {
      this.#basic = new Int32Array(2 * m);
      this.#basicAt = new Float64Array(2 * m);
    }
    if (this.#column.length < width) {
      this.#column = new Int32Array(width);
      this.#columnAt = new Float64Array(width);
      this.x = new Float64Array(width);
    }
    this.#n = n;
    this.#m = m;
    this.#box = box;
    let t = Infinity;
    for (let r = 0; r < m; r++) if (!hard[r] && (value[r] as number) < t) t = value[r] as number;
    if (t === Infinity) t = 0;
    for (let c = 0; c < width; c++) {
      this.#column[c] = c;
      this.#columnAt[c] = 0;
    }
    this.#columnAt[n] = t;
    for (let r = 0; r < m; r++) {
      this.#basic[r] = width + r;
      // A hard row that is already breached may only not get worse.
      this.#basicAt[r] = hard[r] ? Math.max(0, value[r] as number) : (value[r] as number) - t;
      for (let k = 0; k < n; k++) this.#table[r * width + k] = g[r * n + k] as number;
      this.#table[r * width + n] = hard[r] ? 0 : -1;
    }
  }

  #rowOf(v: number): number {
    for (let r = 0; r < this.#m; r++) if (this.#basic[r] === v) return r;
    return -1;
  }

  #columnOf(v: number): number {
    for (let c = 0; c <= this.#n; c++) if (this.#column[c] === v) return c;
    return -1;
  }

  #low(v: number): number {
    return v < this.#n ? -(this.#box[v] as number) : v === this.#n ? -Infinity : 0;
  }

  #high(v: number): number {
    return v < this.#n ? (this.#box[v] as number) : Infinity;
  }

  /** One improving exchange; false at the optimum. `row`: where t is basic, or -1. */
  #pivot(row: number, first: boolean): boolean {
    const width = this.#n + 1;
    let enter = -1;
    let best = 1e-10;
    let up = true;
    for (let c = 0; c < width; c++) {
      const v = this.#column[c] as number;
      const gain = row < 0 ? (v === this.#n ? 1 : 0) : (this.#table[row * width + c] as number);
      const size = gain < 0 ? -gain : gain;
      if (size <= best) continue;
      const at = this.#columnAt[c] as number;
      if (gain > 0 ? at >= this.#high(v) : at <= this.#low(v)) continue;
      best = size;
      enter = c;
      up = gain > 0;
      if (first) break;
    }
    if (enter < 0) return false;
    return this.#exchange(enter, up);
  }

  #exchange(enter: number, up: boolean): boolean {
    const width = this.#n + 1;
    const v = this.#column[enter] as number;
    const sign = up ? 1 : -1;
    let reach = up ? this.#high(v) - (this.#columnAt[enter] as number) : (this.#columnAt[enter] as number) - this.#low(v);
    let leave = -1;
    let strong = 0;
    for (let r = 0; r < this.#m; r++) {
      const d = sign * (this.#table[r * width + enter] as number);
      if (d > -1e-11 && d < 1e-11) continue;
      const b = this.#basic[r] as number;
      const room = d < 0 ? ((this.#basicAt[r] as number) - this.#low(b)) / -d : (this.#high(b) - (this.#basicAt[r] as number)) / d;
      const size = d < 0 ? -d : d;
      if (room < reach - 1e-13 || (leave >= 0 && room <= reach + 1e-13 && size > strong)) {
        reach = Math.max(room, 0);
        leave = r;
        strong = size;
      }
    }
    if (reach === Infinity) return false;
    for (let r = 0; r < this.#m; r++) {
      const d = this.#table[r * width + enter] as number;
      if (d !== 0) this.#basicAt[r] = (this.#basicAt[r] as number) + sign * reach * d;
    }
    this.#columnAt[enter] = (this.#columnAt[enter] as number) + sign * reach;
    if (leave >= 0) this.#swap(leave, enter);
    return true;
  }

  /** The row's variable leaves the basis for the column's. */
  #swap(leave: number, enter: number): void {
    const width = this.#n + 1;
    const t = this.#table;
    const o = leave * width;
    const inverse = 1 / (t[o + enter] as number);
    const goes = this.#basic[leave] as number;
    const at = this.#basicAt[leave] as number;
    this.#basic[leave] = this.#column[enter] as number;
    this.#basicAt[leave] = this.#columnAt[enter] as number;
    this.#column[enter] = goes;
    const low = this.#low(goes);
    const high = this.#high(goes);
    this.#columnAt[enter] = at - low < high - at ? low : high;
    // goes = sum; solve for the entering variable: x = (goes - rest) / pivot.
    for (let c = 0; c < width; c++) t[o + c] = -(t[o + c] as number) * inverse;
    t[o + enter] = inverse;
    for (let r = 0; r < this.#m; r++) {
      if (r === leave) continue;
      const q = r * width;
      const d = t[q + enter] as number;
      if (d === 0) continue;
      t[q + enter] = 0;
      for (let c = 0; c < width; c++) {
        const y = t[o + c] as number;
        if (y !== 0) t[q + c] = (t[q + c] as number) + d * y;
      }
    }
  }

  #read(n: number): void {
    for (let c = 0; c <= n; c++) {
      const v = this.#column[c] as number;
      if (v < n) this.x[v] = this.#columnAt[c] as number;
      else if (v === n) this.t = this.#columnAt[c] as number;
    }
    for (let r = 0; r < this.#m; r++) {
      const v = this.#basic[r] as number;
      if (v < n) this.x[v] = this.#basicAt[r] as number;
      else if (v === n) this.t = this.#basicAt[r] as number;
    }
  }
}
