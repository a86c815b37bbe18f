/**
 * Plane polygons to triangles by cutting ears (Meisters 1975), with the reflex corners in a grid so that ragged loops of
 * many thousand points stay fast, and a test for loops that cross themselves.
 */
import type { Taken } from './patch.ts';

/** A closed polygon, counter-clockwise: u and v of each point. */
export interface Polygon {
  readonly u: Float64Array;
  readonly v: Float64Array;
}

/** Twice the signed area of a-b-c. */
const turn = (g: Polygon, a: number, b: number, c: number): number => {
  const au = g.u[a] as number;
  const av = g.v[a] as number;
  return ((g.u[b] as number) - au) * ((g.v[c] as number) - av) - ((g.v[b] as number) - av) * ((g.u[c] as number) - au);
};

/** A corner is flat when its height is below this share of its longer side. */
const FLAT = 1e-7;

/** Does a-b-c turn left by more than rounding? */
const bends = (g: Polygon, a: number, b: number, c: number): boolean => {
  const p = square(g, a, b);
  const q = square(g, b, c);
  return turn(g, a, b, c) > FLAT * Math.max(p, q, square(g, a, c));
};

const square = (g: Polygon, a: number, b: number): number => {
  const u = (g.u[a] as number) - (g.u[b] as number);
  const v = (g.v[a] as number) - (g.v[b] as number);
  return u * u + v * v;
};

/** Square cells over the polygon, about one a point. */
class Cells {
  readonly #lists = new Map<number, number[]>();
  readonly #u: number;
  readonly #v: number;
  readonly #side: number;
  constructor(g: Polygon) {
    let [u0, u1, v0, v1] = [Infinity, -Infinity, Infinity, -Infinity];
    for (let i = 0; i < g.u.length; i++) {
      u0 = Math.min(u0, g.u[i] as number);
      u1 = Math.max(u1, g.u[i] as number);
      v0 = Math.min(v0, g.v[i] as number);
      v1 = Math.max(v1, g.v[i] as number);
    }
    this.#u = u0;
    this.#v = v0;
    this.#side = Math.max(u1 - u0, v1 - v0, 1e-12) / Math.max(1, Math.floor(Math.sqrt(g.u.length)));
  }
  add(item: number, uLo: number, uHi: number, vLo: number, vHi: number): void {
    this.visit(uLo, uHi, vLo, vHi, (key) => {
      const list = this.#lists.get(key);
      if (list) list.push(item);
      else this.#lists.set(key, [item]);
      return false;
    });
  }
  /** Some item in the cells of the box for which `test` holds? An item may be asked more than once. */
  some(uLo: number, uHi: number, vLo: number, vHi: number, test: (item: number) => boolean): boolean {
    return this.visit(uLo, uHi, vLo, vHi, (key) => this.#lists.get(key)?.some(test) ?? false);
  }
  visit(uLo: number, uHi: number, vLo: number, vHi: number, stop: (key: number) => boolean): boolean {
    const i1 = Math.floor((uHi - this.#u) / this.#side);
    const j1 = Math.floor((vHi - this.#v) / this.#side);
    const j0 = Math.floor((vLo - this.#v) / this.#side);
    for (let i = Math.floor((uLo - this.#u) / this.#side); i <= i1; i++)
      for (let j = j0; j <= j1; j++) if (stop(i * 65536 + j)) return true;
    return false;
  }
}

/** Points of the polygon (in the given order) whose edge to the next crosses another edge properly. */
export function crossingPoints(g: Polygon): Set<number> {
  const n = g.u.length;
  const cells = new Cells(g);
  const found = new Set<number>();
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    const box = [
      Math.min(g.u[i] as number, g.u[j] as number),
      Math.max(g.u[i] as number, g.u[j] as number),
      Math.min(g.v[i] as number, g.v[j] as number),
      Math.max(g.v[i] as number, g.v[j] as number),
    ] as const;
    cells.some(...box, (k) => {
      const l = (k + 1) % n;
      if (k !== i && l !== i && k !== j && cross(g, i, j, k, l)) {
        found.add(i);
        found.add(k);
      }
      return false;
    });
    cells.add(i, ...box);
  }
  return found;
}

const cross = (g: Polygon, a: number, b: number, c: number, d: number): boolean => {
  const s = turn(g, a, b, c);
  const t = turn(g, a, b, d);
  if (!((s > 0 && t < 0) || (s < 0 && t > 0))) return false;
  const p = turn(g, c, d, a);
  const q = turn(g, c, d, b);
  return (p > 0 && q < 0) || (p < 0 && q > 0);
};

/**
 * Triangles (three point numbers each, counter-clockwise) that cover a simple polygon, none over a taken chord.
 * Undefined where that cannot be had: the polygon crosses itself, or every ear left needs a taken chord.
 */
export function clipEars(g: Polygon, taken: Taken): number[] | undefined {
  const n = g.u.length;
  const next = Int32Array.from({ length: n }, (_, i) => (i + 1) % n);
  const prev = Int32Array.from({ length: n }, (_, i) => (i + n - 1) % n);
  const alive = new Uint8Array(n).fill(1);
  const cells = new Cells(g);
  for (let i = 0; i < n; i++) {
    // Cutting ears never makes a corner reflex that was not, so the list made here (flat ones in it) holds for good.
    if (turn(g, prev[i] as number, i, next[i] as number) <= 0)
      cells.add(i, g.u[i] as number, g.u[i] as number, g.v[i] as number, g.v[i] as number);
  }
  const out: number[] = [];
  let left = n;
  let missed = 0;
  for (let i = 0; left > 3; ) {
    const p = prev[i] as number;
    const q = next[i] as number;
    if (isEar(g, cells, alive, p, i, q) && !taken(p, q)) {
      out.push(p, i, q);
      next[p] = q;
      prev[q] = p;
      alive[i] = 0;
      left--;
      missed = 0;
      i = next[q] as number; // past the neighbour, so that ears do not pile up round one corner
      continue;
    }
    if (++missed > left) return undefined;
    i = q;
  }
  const last = alive.indexOf(1);
  const p = prev[last] as number;
  const q = next[last] as number;
  if (turn(g, p, last, q) <= 0) return undefined;
  out.push(p, last, q);
  return out;
}

function isEar(g: Polygon, cells: Cells, alive: Uint8Array, p: number, i: number, q: number): boolean {
  if (!bends(g, p, i, q)) return false;
  const us = [g.u[p] as number, g.u[i] as number, g.u[q] as number];
  const vs = [g.v[p] as number, g.v[i] as number, g.v[q] as number];
  return !cells.some(Math.min(...us), Math.max(...us), Math.min(...vs), Math.max(...vs), (k) => {
    if (alive[k] === 0 || k === p || k === i || k === q) return false;
    if (sameSpot(g, k, p) || sameSpot(g, k, q) || sameSpot(g, k, i)) return false;
    return turn(g, p, i, k) >= 0 && turn(g, i, q, k) >= 0 && turn(g, q, p, k) >= 0;
  });
}

const sameSpot = (g: Polygon, a: number, b: number): boolean => g.u[a] === g.u[b] && g.v[a] === g.v[b];
