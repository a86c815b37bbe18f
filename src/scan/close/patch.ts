/**
 * A patch that closes one loop, while it is being built: triangles over the loop's own points and new ones.
 *
 * Points 0 .. n-1 are the loop in the patch's direction (against the surface's), new ones follow. `taken(i, j)` tells
 * whether the surface has an edge between loop points i and j already: a patch must not add it a second time.
 */
export interface Patch {
  readonly points: number[]; // x y z of all points
  readonly loop: number; // n
  triangles: number[]; // three point numbers each
}

export type Taken = (i: number, j: number) => boolean;

const edge = (p: ArrayLike<number>, i: number, j: number): number => {
  const x = (p[3 * i] as number) - (p[3 * j] as number);
  const y = (p[3 * i + 1] as number) - (p[3 * j + 1] as number);
  const z = (p[3 * i + 2] as number) - (p[3 * j + 2] as number);
  return x * x + y * y + z * z;
};

/** Area of the triangle of three points. */
export const areaOf = (p: ArrayLike<number>, i: number, j: number, k: number): number => {
  const ux = (p[3 * j] as number) - (p[3 * i] as number);
  const uy = (p[3 * j + 1] as number) - (p[3 * i + 1] as number);
  const uz = (p[3 * j + 2] as number) - (p[3 * i + 2] as number);
  const vx = (p[3 * k] as number) - (p[3 * i] as number);
  const vy = (p[3 * k + 1] as number) - (p[3 * i + 1] as number);
  const vz = (p[3 * k + 2] as number) - (p[3 * i + 2] as number);
  const x = uy * vz - uz * vy;
  const y = uz * vx - ux * vz;
  const z = ux * vy - uy * vx;
  return Math.sqrt(x * x + y * y + z * z) / 2;
};

/** Weight of a triangle's squared sides beside its area: between equal areas, the one without needles. */
const SHAPE = 0.02;

/** A triangle with less area than this share of its squared sides is flat, and dear: taken only where nothing else closes the loop. */
const FLAT = 1e-7;
const FLAT_COST = 100;

/**
 * Least-area triangulation of a closed loop in space by dynamic programming over its chords (Barequet and Sharir 1995).
 * O(n^3): for loops of up to some hundred points. Undefined when every triangulation needs a taken chord.
 */
export function leastArea(points: ArrayLike<number>, n: number, taken: Taken): number[] | undefined {
  const cost = new Float64Array(n * n).fill(Infinity);
  const middle = new Int32Array(n * n).fill(-1);
  for (let i = 0; i + 1 < n; i++) cost[i * n + i + 1] = 0;
  for (let step = 2; step < n; step++) {
    for (let i = 0; i + step < n; i++) {
      const j = i + step;
      const closing = i === 0 && j === n - 1;
      if (!closing && taken(i, j)) continue;
      const side = edge(points, i, j);
      let best = Infinity;
      for (let m = i + 1; m < j; m++) {
        const rest = (cost[i * n + m] as number) + (cost[m * n + j] as number);
        if (rest >= best) continue;
        const area = areaOf(points, i, m, j);
        const sides = side + edge(points, i, m) + edge(points, m, j);
        const c = rest + area + (area > FLAT * sides ? SHAPE : FLAT_COST) * sides;
        if (c < best) {
          best = c;
          middle[i * n + j] = m;
        }
      }
      cost[i * n + j] = best;
    }
  }
  if (n < 3 || cost[n - 1] === Infinity) return undefined;
  const out: number[] = [];
  const stack: [number, number][] = [[0, n - 1]];
  for (let top = stack.pop(); top; top = stack.pop()) {
    const [i, j] = top;
    if (j - i < 2) continue;
    const m = middle[i * n + j] as number;
    out.push(i, m, j);
    stack.push([m, j], [i, m]);
  }
  return out;
}

/** Adds a point and joins it to every loop edge: closes any loop, taken chords or not. The point is the last of `points`. */
export function fan(points: number[], n: number, apex: readonly [number, number, number]): number[] {
  const at = points.length / 3;
  points.push(...apex);
  const out: number[] = [];
  for (let i = 0; i < n; i++) out.push(i, (i + 1) % n, at);
  return out;
}

/** The triangles' sides: directed edge from i to j -> triangle number. Keys are i * span + j. */
export class Sides {
  readonly #span: number;
  readonly #map = new Map<number, number>();
  constructor(triangles: readonly number[], span: number) {
    this.#span = span;
    for (let t = 0; 3 * t < triangles.length; t++) this.add(triangles, t);
  }
  add(triangles: readonly number[], t: number): void {
    for (let k = 0; k < 3; k++)
      this.#map.set((triangles[3 * t + k] as number) * this.#span + (triangles[3 * t + ((k + 1) % 3)] as number), t);
  }
  remove(triangles: readonly number[], t: number): void {
    for (let k = 0; k < 3; k++)
      this.#map.delete((triangles[3 * t + k] as number) * this.#span + (triangles[3 * t + ((k + 1) % 3)] as number));
  }
  /** The triangle whose side runs from i to j, or undefined. */
  at(i: number, j: number): number | undefined {
    return this.#map.get(i * this.#span + j);
  }
}

/** The corner of triangle t that is neither i nor j. */
export const thirdOf = (triangles: readonly number[], t: number, i: number, j: number): number => {
  for (let k = 0; k < 3; k++) {
    const c = triangles[3 * t + k] as number;
    if (c !== i && c !== j) return c;
  }
  return i;
};

/** Cotangent of the angle at c over edge a-b; +-Infinity for a flat triangle. */
const cotangent = (p: ArrayLike<number>, c: number, a: number, b: number): number => {
  const twice = 2 * areaOf(p, a, b, c);
  const dot = (edge(p, a, c) + edge(p, b, c) - edge(p, a, b)) / 2;
  return twice > 0 ? dot / twice : dot < 0 ? -Infinity : Infinity;
};

/** A flip must gain this much, so that four points on a circle do not flip to and fro by rounding. */
const GAIN = 1e-9;
/** So many rounds over all edges at most; each round leaves fewer to flip. */
const FLIP_ROUNDS = 60;

/**
 * Turns inner edges of the patch that are not Delaunay (opposite angles above two right ones together), where the two
 * new triangles face the same way as the old. `points` may be a flat projection with z = 0: then the patch stays plane
 * and free of overlaps. Points from `span` on do not occur.
 */
export function flipToDelaunay(points: ArrayLike<number>, triangles: number[], span: number, loop: number, taken: Taken): void {
  const bad = (a: number, b: number, c: number, d: number): boolean => cotangent(points, c, a, b) + cotangent(points, d, a, b) < -GAIN;
  flipWhere(bad, points, triangles, span, loop, taken);
}

/** Turns inner edges of the patch that lie over a taken chord, where the patch stays as plane as it was. */
export function flipOffTaken(points: ArrayLike<number>, triangles: number[], span: number, loop: number, taken: Taken): void {
  flipWhere((a, b) => a < loop && b < loop && taken(a, b), points, triangles, span, loop, taken);
}

/** Flips edges a-b (with c and d opposite) for which `bad` holds, in rounds, as far as the patch and `taken` allow. */
function flipWhere(
  bad: (a: number, b: number, c: number, d: number) => boolean,
  points: ArrayLike<number>,
  triangles: number[],
  span: number,
  loop: number,
  taken: Taken,
): void {
  const sides = new Sides(triangles, span);
  for (let round = 0, flips = 1; round < FLIP_ROUNDS && flips > 0; round++) {
    flips = 0;
    for (let h = 0; h < triangles.length; h++) {
      const t = Math.floor(h / 3);
      const a = triangles[h] as number;
      const b = triangles[h % 3 === 2 ? h - 2 : h + 1] as number;
      if (a > b) continue;
      const u = sides.at(b, a);
      if (u === undefined || u === t) continue;
      const c = thirdOf(triangles, t, a, b);
      const d = thirdOf(triangles, u, a, b);
      if (!bad(a, b, c, d)) continue;
      if (sides.at(c, d) !== undefined || sides.at(d, c) !== undefined) continue;
      if (c < loop && d < loop && taken(c, d)) continue;
      if (!sameFacing(points, a, b, c, d)) continue;
      sides.remove(triangles, t);
      sides.remove(triangles, u);
      setTriangle(triangles, t, a, d, c);
      setTriangle(triangles, u, d, b, c);
      sides.add(triangles, t);
      sides.add(triangles, u);
      flips++;
    }
  }
}

export function setTriangle(triangles: number[], t: number, a: number, b: number, c: number): void {
  triangles[3 * t] = a;
  triangles[3 * t + 1] = b;
  triangles[3 * t + 2] = c;
}

/** Do the triangles a-d-c and d-b-c both face as a-b-c and b-a-d do together, and is neither of them flat? */
function sameFacing(p: ArrayLike<number>, a: number, b: number, c: number, d: number): boolean {
  const one = normalOf(p, a, b, c);
  const two = normalOf(p, b, a, d);
  const old = [one[0] + two[0], one[1] + two[1], one[2] + two[2]] as const;
  const least = FLAT * (old[0] * old[0] + old[1] * old[1] + old[2] * old[2]);
  const facing = (n: readonly [number, number, number]): number => n[0] * old[0] + n[1] * old[1] + n[2] * old[2];
  return facing(normalOf(p, a, d, c)) > least && facing(normalOf(p, d, b, c)) > least;
}

function normalOf(p: ArrayLike<number>, i: number, j: number, k: number): [number, number, number] {
  const ux = (p[3 * j] as number) - (p[3 * i] as number);
  const uy = (p[3 * j + 1] as number) - (p[3 * i + 1] as number);
  const uz = (p[3 * j + 2] as number) - (p[3 * i + 2] as number);
  const vx = (p[3 * k] as number) - (p[3 * i] as number);
  const vy = (p[3 * k + 1] as number) - (p[3 * i + 1] as number);
  const vz = (p[3 * k + 2] as number) - (p[3 * i + 2] as number);
  return [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
}
