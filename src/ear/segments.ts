/**
 * The segments in which a plane cuts triangles, and the closed outlines that they make.
 *
 * A section has some hundreds of segments and a survey a thousand sections, so nothing here is made anew for each: flat arrays that grow,
 * and edges that are met again by a table of places instead of a map of keys.
 */

/** A closed outline: so many segments from place `from` of `Segments.chain` on. */
export interface Run {
  readonly from: number;
  readonly count: number;
}

/** An outline has at least so many segments. */
const FEWEST = 3;

export class Segments {
  count = 0;
  /** Of each segment: the triangle that is cut. */
  triangle = new Int32Array(0);
  /** Where it begins, u v in the plane. */
  at = new Float64Array(0);
  /** Segment numbers, outline after outline, once `closed` has run. */
  chain = new Int32Array(0);
  /** The edge by which it enters the triangle, and the one by which it leaves: the lesser vertex, then the greater. */
  #enter = new Int32Array(0);
  #leave = new Int32Array(0);
  /** The next segment that enters by the same edge. */
  #rest = new Int32Array(0);
  #used = new Uint8Array(0);
  /** Of each edge that is entered, at the first free place from its hash on: its first segment and 1. */
  #table = new Int32Array(0);

  clear(): void {
    this.count = 0;
  }

  /** One more, entering its triangle by the edge between vertices a and b and leaving by that between c and d, beginning at u v. */
  add(triangle: number, a: number, b: number, c: number, d: number, u: number, v: number): void {
    const i = this.count++;
    if (i === this.triangle.length) this.#grow();
    const o = 2 * i;
    this.triangle[i] = triangle;
    this.at[o] = u;
    this.at[o + 1] = v;
    this.#enter[o] = Math.min(a, b);
    this.#enter[o + 1] = Math.max(a, b);
    this.#leave[o] = Math.min(c, d);
    this.#leave[o + 1] = Math.max(c, d);
  }

  #grow(): void {
    const most = Math.max(512, 2 * this.triangle.length);
    const wider = (old: Int32Array, n: number): Int32Array<ArrayBuffer> => {
      const out = new Int32Array(n);
      out.set(old);
      return out;
    };
    const at = new Float64Array(2 * most);
    at.set(this.at);
    this.at = at;
    this.triangle = wider(this.triangle, most);
    this.#enter = wider(this.#enter, 2 * most);
    this.#leave = wider(this.#leave, 2 * most);
    this.chain = new Int32Array(most);
    this.#rest = new Int32Array(most);
    this.#used = new Uint8Array(most);
    this.#table = new Int32Array(4 * most);
  }

  /**
   * The closed outlines, in the order of their first segments. Where more than two triangles share an edge several segments enter by it; any
   * pairing gives closed outlines, so the first one left is taken.
   */
  closed(): Run[] {
    const { count, chain } = this;
    const mask = this.#fillTable();
    const [used, enter, leave, rest] = [this.#used, this.#enter, this.#leave, this.#rest];
    used.fill(0, 0, count);
    const runs: Run[] = [];
    let from = 0;
    for (let first = 0; first < count; first++) {
      if (used[first]) continue;
      const [lo, hi] = [enter[2 * first], enter[2 * first + 1]];
      let to = from;
      let i = first;
      while (i >= 0) {
        used[i] = 1;
        chain[to++] = i;
        const [a, b] = [leave[2 * i] as number, leave[2 * i + 1] as number];
        if (a === lo && b === hi) break;
        i = this.#entering(a, b, mask);
        while (i >= 0 && used[i]) i = rest[i] as number;
      }
      if (i < 0 || to - from < FEWEST) continue;
      runs.push({ from, count: to - from });
      from = to;
    }
    return runs;
  }

  /** Files every segment under the edge by which it enters, the last first; returns the table's mask. */
  #fillTable(): number {
    let size = 64;
    while (size < 2 * this.count) size *= 2;
    const mask = size - 1;
    const [table, enter, rest] = [this.#table, this.#enter, this.#rest];
    table.fill(0, 0, size);
    for (let i = this.count - 1; i >= 0; i--) {
      const place = this.#placeOf(enter[2 * i] as number, enter[2 * i + 1] as number, mask);
      rest[i] = (table[place] as number) - 1;
      table[place] = i + 1;
    }
    return mask;
  }

  /** First segment that enters by that edge, or -1. */
  #entering(lo: number, hi: number, mask: number): number {
    return (this.#table[this.#placeOf(lo, hi, mask)] as number) - 1;
  }

  /** The edge's place in the table: its own, or the free one where it belongs. */
  #placeOf(lo: number, hi: number, mask: number): number {
    const [table, enter] = [this.#table, this.#enter];
    let place = (Math.imul(lo, 0x9e3779b1) ^ Math.imul(hi, 0x85ebca6b)) >>> 0;
    place = (place ^ (place >>> 15)) & mask;
    for (;;) {
      const held = 2 * ((table[place] as number) - 1);
      if (held < 0 || (enter[held] === lo && enter[held + 1] === hi)) return place;
      place = (place + 1) & mask;
    }
  }
}
