/**
 * Two questions about points that come up only when something is wrong or to be sure of a sign: is a point inside the
 * closed body, and how far is it from the cast surface.
 */
import type { Mesh } from '../geometry/mesh.ts';
import { closestOn } from './surface.ts';

/** A line that passes this near an edge (twice the area it spans, mm2) decides nothing: it is moved. */
const GRAZING = 1e-11;

/** Is a point inside a closed mesh? By the signed number of triangles beyond it along x, which canal walls rarely follow. */
export class Columns {
  readonly #mesh: Mesh<'ear'>;
  readonly #low = [Infinity, Infinity]; // least y, z
  readonly #n = [1, 1]; // columns along y, z
  readonly #size: number;
  readonly #start: Int32Array;
  readonly #list: Int32Array;

  constructor(mesh: Mesh<'ear'>) {
    this.#mesh = mesh;
    const { positions: p, indices: t } = mesh;
    const high = [-Infinity, -Infinity];
    for (let i = 0; i < p.length; i++) {
      const k = (i % 3) - 1;
      if (k < 0) continue;
      this.#low[k] = Math.min(this.#low[k] as number, p[i] as number);
      high[k] = Math.max(high[k] as number, p[i] as number);
    }
    const n = t.length / 3;
    const wide = [0, 1].map((k) => (high[k] as number) - (this.#low[k] as number)) as [number, number];
    this.#size = Math.max(1e-9, Math.sqrt((wide[0] * wide[1]) / Math.max(1, n / 4)), wide[0] / 512, wide[1] / 512);
    for (const k of [0, 1] as const) this.#n[k] = Math.max(1, Math.floor(wide[k] / this.#size) + 1);
    [this.#start, this.#list] = buckets((this.#n[0] as number) * (this.#n[1] as number), n, (i, put) => {
      const [j0, j1] = this.#span(i, 0);
      const [k0, k1] = this.#span(i, 1);
      for (let k = k0; k <= k1; k++) for (let j = j0; j <= j1; j++) put(k * (this.#n[0] as number) + j);
    });
  }

  /** First and last column of a triangle along y (k = 0) or z (k = 1). */
  #span(triangle: number, k: 0 | 1): [number, number] {
    const { positions: p, indices: t } = this.#mesh;
    const [a, b, c] = [0, 1, 2].map((v) => p[3 * (t[3 * triangle + v] as number) + 1 + k] as number) as [number, number, number];
    const column = (x: number): number =>
      Math.max(0, Math.min((this.#n[k] as number) - 1, Math.floor((x - (this.#low[k] as number)) / this.#size)));
    return [column(Math.min(a, b, c)), column(Math.max(a, b, c))];
  }

  contains(x: number, y: number, z: number): boolean {
    for (let k = 0; k < 64; k++) {
      // A line through an edge or corner is moved by less than a micrometre: no answer is asked that near the surface.
      const turns = this.#turns(x, y + 1.13e-8 * k * k, z + 0.71e-8 * k * (k + 1));
      if (turns !== undefined) return turns > 0;
    }
    return false;
  }

  #turns(x: number, y: number, z: number): number | undefined {
    const j = Math.floor((y - (this.#low[0] as number)) / this.#size);
    const k = Math.floor((z - (this.#low[1] as number)) / this.#size);
    if (j < 0 || k < 0 || j >= (this.#n[0] as number) || k >= (this.#n[1] as number)) return 0;
    const { positions: p, indices: t } = this.#mesh;
    const column = k * (this.#n[0] as number) + j;
    let turns = 0;
    for (let i = this.#start[column] as number; i < (this.#start[column + 1] as number); i++) {
      const f = 3 * (this.#list[i] as number);
      const a = 3 * (t[f] as number);
      const b = 3 * (t[f + 1] as number);
      const c = 3 * (t[f + 2] as number);
      const ab = side(p, a, b, y, z);
      const bc = side(p, b, c, y, z);
      const ca = side(p, c, a, y, z);
      const front = ab >= -GRAZING && bc >= -GRAZING && ca >= -GRAZING;
      const back = ab <= GRAZING && bc <= GRAZING && ca <= GRAZING;
      if (!front && !back) continue;
      if (Math.max(p[a] as number, p[b] as number, p[c] as number) < x) continue;
      if (Math.min(Math.abs(ab), Math.abs(bc), Math.abs(ca)) <= GRAZING) return undefined;
      const at = (bc * (p[a] as number) + ca * (p[b] as number) + ab * (p[c] as number)) / (ab + bc + ca);
      if (at > x) turns += front ? 1 : -1;
    }
    return turns;
  }
}

/** Twice the signed area of a, b and (y, z) seen from +x; the same number for either triangle at an edge, but for the sign. */
function side(p: Float64Array, a: number, b: number, y: number, z: number): number {
  if (a > b) return -side(p, b, a, y, z);
  const ay = p[a + 1] as number;
  const az = p[a + 2] as number;
  return ((p[b + 1] as number) - ay) * (z - az) - ((p[b + 2] as number) - az) * (y - ay);
}

/** The nearest point of a set of triangles (nine numbers each), by boxes halved along their longest side. */
export class Nearest {
  readonly #corners: Float64Array;
  readonly #order: Uint32Array;
  /** A node: its six bounds; its members order[from .. to); its second half's node (the first half follows it) or 0. */
  readonly #bounds: number[] = [];
  readonly #from: number[] = [];
  readonly #to: number[] = [];
  readonly #second: number[] = [];
  readonly #out = new Float64Array(3);

  constructor(corners: Float64Array) {
    this.#corners = corners;
    this.#order = Uint32Array.from({ length: corners.length / 9 }, (_, i) => i);
    if (this.#order.length > 0) this.#split(0, this.#order.length);
  }

  #split(from: number, to: number): number {
    const node = this.#from.length;
    const c = this.#corners;
    const box = [Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity];
    for (let i = from; i < to; i++) {
      for (let v = 0; v < 9; v++) {
        const x = c[9 * (this.#order[i] as number) + v] as number;
        const k = v % 3;
        if (x < (box[k] as number)) box[k] = x;
        if (x > (box[3 + k] as number)) box[3 + k] = x;
      }
    }
    this.#bounds.push(...box);
    this.#from.push(from);
    this.#to.push(to);
    this.#second.push(0);
    if (to - from <= 6) return node;
    const size = [0, 1, 2].map((k) => (box[3 + k] as number) - (box[k] as number));
    const k = size.indexOf(Math.max(...size));
    const middle = this.#part(from, to, k, (box[k] as number) + (box[3 + k] as number));
    this.#split(from, middle);
    this.#second[node] = this.#split(middle, to);
    return node;
  }

  /** Members whose middle lies below half of `sum` along k come first; where that parts nothing, half of them do. */
  #part(from: number, to: number, k: number, sum: number): number {
    const c = this.#corners;
    const order = this.#order;
    let lo = from;
    for (let i = from; i < to; i++) {
      const t = order[i] as number;
      if ((c[9 * t + k] as number) + (c[9 * t + 3 + k] as number) + (c[9 * t + 6 + k] as number) >= 1.5 * sum) continue;
      order[i] = order[lo] as number;
      order[lo++] = t;
    }
    return lo > from && lo < to ? lo : (from + to) >> 1;
  }

  #boxDistance(node: number, x: number, y: number, z: number): number {
    const b = this.#bounds;
    const o = 6 * node;
    const dx = Math.max((b[o] as number) - x, 0, x - (b[o + 3] as number));
    const dy = Math.max((b[o + 1] as number) - y, 0, y - (b[o + 4] as number));
    const dz = Math.max((b[o + 2] as number) - z, 0, z - (b[o + 5] as number));
    return Math.sqrt(dx * dx + dy * dy + dz * dz);
  }

  /** The distance, or `within` when it is not less; then `point` is left alone, else it gets the nearest point. */
  distance(x: number, y: number, z: number, point: Float64Array, within = Infinity): number {
    if (this.#from.length === 0) return within;
    let best = within;
    const visit = (node: number, away: number): void => {
      if (away >= best) return;
      const second = this.#second[node] as number;
      if (second > 0) {
        const a = this.#boxDistance(node + 1, x, y, z);
        const b = this.#boxDistance(second, x, y, z);
        if (a <= b) visit(node + 1, a);
        visit(second, b);
        if (a > b) visit(node + 1, a);
        return;
      }
      for (let i = this.#from[node] as number; i < (this.#to[node] as number); i++) {
        const d = closestOn(this.#corners, 9 * (this.#order[i] as number), x, y, z, this.#out);
        if (d >= best) continue;
        best = d;
        point.set(this.#out);
      }
    };
    visit(0, 0);
    return best;
  }
}

/** Lists by cell in two flat arrays: members of cell c are list[start[c] .. start[c + 1]). */
function buckets(cells: number, items: number, visit: (item: number, put: (cell: number) => void) => void): [Int32Array, Int32Array] {
  const start = new Int32Array(cells + 1);
  for (let i = 0; i < items; i++) visit(i, (c) => start[c + 1]!++);
  for (let c = 0; c < cells; c++) start[c + 1]! += start[c] as number;
  const list = new Int32Array(start[cells] as number);
  const next = start.slice(0, cells);
  for (let i = 0; i < items; i++)
    visit(i, (c) => {
      list[next[c]!++] = i;
    });
  return [start, list];
}
