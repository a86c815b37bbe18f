/** Some of a mesh's vertices in square columns along z, for questions about what lies near. */

/** More columns than this beside one segment, and all points are looked at instead. */
const MOST_COLUMNS = 4096;
/** Column (i, j) has the number i * ROW + j. */
const ROW = 2 ** 26;

export class PointGrid {
  readonly #p: Float64Array;
  readonly #side: number;
  readonly #members: readonly number[];
  readonly #columns = new Map<number, number[]>();
  readonly #lowX: number;
  readonly #lowY: number;

  /** Members are vertex numbers; `side` is a column's width, mm, and the largest distance that `within` may be asked. */
  constructor(positions: Float64Array, members: readonly number[], side: number) {
    this.#p = positions;
    this.#side = side;
    this.#members = members;
    let lowX = Infinity;
    let lowY = Infinity;
    for (const v of members) {
      lowX = Math.min(lowX, positions[3 * v] as number);
      lowY = Math.min(lowY, positions[3 * v + 1] as number);
    }
    this.#lowX = lowX;
    this.#lowY = lowY;
    for (const v of members) {
      const key = this.#i(positions[3 * v] as number) * ROW + this.#j(positions[3 * v + 1] as number);
      const list = this.#columns.get(key);
      if (list) list.push(v);
      else this.#columns.set(key, [v]);
    }
  }

  #i(x: number): number {
    return Math.floor((x - this.#lowX) / this.#side);
  }

  #j(y: number): number {
    return Math.floor((y - this.#lowY) / this.#side);
  }

  /** Members no farther than `reach` (at most one column) from vertex v, v among them, ascending. */
  within(v: number, reach: number): number[] {
    const p = this.#p;
    const x = p[3 * v] as number;
    const y = p[3 * v + 1] as number;
    const z = p[3 * v + 2] as number;
    const near: number[] = [];
    for (let i = this.#i(x) - 1, end = i + 3; i < end; i++) {
      for (let j = this.#j(y) - 1, stop = j + 3; j < stop; j++) {
        for (const w of this.#columns.get(i * ROW + j) ?? []) {
          const dx = (p[3 * w] as number) - x;
          const dy = (p[3 * w + 1] as number) - y;
          const dz = (p[3 * w + 2] as number) - z;
          if (dx * dx + dy * dy + dz * dz <= reach * reach) near.push(w);
        }
      }
    }
    return near.sort((a, b) => a - b);
  }

  /** Members within `reach` of the inside of segment a-b and farther than that from both ends, in order from a. */
  alongSegment(a: number, b: number, reach: number): number[] {
    const p = this.#p;
    const ux = (p[3 * b] as number) - (p[3 * a] as number);
    const uy = (p[3 * b + 1] as number) - (p[3 * a + 1] as number);
    const uz = (p[3 * b + 2] as number) - (p[3 * a + 2] as number);
    const length = Math.sqrt(ux * ux + uy * uy + uz * uz);
    if (length <= 2 * reach) return [];
    const found: [at: number, v: number][] = [];
    for (const v of this.#besideSegment(a, b, reach)) {
      const x = (p[3 * v] as number) - (p[3 * a] as number);
      const y = (p[3 * v + 1] as number) - (p[3 * a + 1] as number);
      const z = (p[3 * v + 2] as number) - (p[3 * a + 2] as number);
      const at = (x * ux + y * uy + z * uz) / length;
      if (at <= reach || at >= length - reach) continue;
      const off2 = x * x + y * y + z * z - at * at;
      if (off2 <= reach * reach) found.push([at, v]);
    }
    return found.sort((s, t) => s[0] - t[0] || s[1] - t[1]).map(([, v]) => v);
  }

  #besideSegment(a: number, b: number, reach: number): readonly number[] {
    const p = this.#p;
    const ax = p[3 * a] as number;
    const bx = p[3 * b] as number;
    const ay = p[3 * a + 1] as number;
    const by = p[3 * b + 1] as number;
    const i0 = this.#i(Math.min(ax, bx) - reach);
    const i1 = this.#i(Math.max(ax, bx) + reach);
    const j0 = this.#j(Math.min(ay, by) - reach);
    const j1 = this.#j(Math.max(ay, by) + reach);
    if ((i1 - i0 + 1) * (j1 - j0 + 1) > MOST_COLUMNS) return this.#members;
    const near: number[] = [];
    for (let i = i0; i <= i1; i++) for (let j = j0; j <= j1; j++) for (const v of this.#columns.get(i * ROW + j) ?? []) near.push(v);
    return near;
  }
}
