/**
 * Plane polygons of a file cut into triangles: no new points, n - 2 triangles for n corners, and along the polygon's
 * border the same edges, so that a closed mesh stays closed. Notches of concave polygons are not roofed over.
 *
 * Triangles that share the polygon's border and all turn its way cover every point as often as the border winds round
 * it: once inside, never outside, where the border does not cross itself. So a fan will do where all of it turns the
 * right way (any convex polygon); else ears are clipped. The plane is looked at along the axis nearest to its normal:
 * the corners' own coordinates, nothing is rounded.
 */
import { Fault } from '../../model/fault.ts';
import { clipEars, type Polygon } from '../close/earclip.ts';
import { grouped } from '../wording.ts';

/** Takes a triangle as numbers of points. */
export type Emit = (a: number, b: number, c: number) => void;

/** A triangle is flat when its height is below this share of its longest side; a polygon, when its area is below this share of its box. */
const FLAT = 1e-7;

/** Limits for polygons that need more than a fan: corners of one, and corners squared over the file. A few seconds at most. */
const MOST_CORNERS = 10_000;
const MOST_WORK = 4e8;

/** Corners looked at over the file in polygons that cannot be tiled; after that they are cut without looking. */
const MOST_LOOKS = 3e7;

export class PolygonCutter {
  /** Polygons that cross themselves or have no area, and the place of the first. */
  crossed = 0;
  firstCrossed = 0;
  readonly #points: ArrayLike<number>;
  readonly #emit: Emit;
  #work = 0;
  #looks = 0;
  #u = new Float64Array(16);
  #v = new Float64Array(16);

  /** `points`: x y z of each. Triangles go to `emit`. */
  constructor(points: ArrayLike<number>, emit: Emit) {
    this.#points = points;
    this.#emit = emit;
  }

  /**
   * Cuts the polygon with the n corners (4 or more, numbers of points) from `corners[at]` on. Their points are finite.
   * `place` is kept for the first polygon that crosses itself; `where` names it in words.
   * @throws Fault where polygons that are not convex have too many corners.
   */
  cut(corners: ArrayLike<number>, at: number, n: number, place: number, where: (place: number) => string): void {
    const emit: Emit = (a, b, c) => this.#emit(corners[at + a] as number, corners[at + b] as number, corners[at + c] as number);
    const g = this.#flatten(corners, at, n);
    if (g && fanTurns(g, 0)) {
      fan(n, 0, emit);
      return;
    }
    let sound = g !== undefined;
    if (!g) fan(n, 0, emit);
    else if (n === 4) sound = cutFour(g, emit);
    else {
      this.#work += n * n;
      if (n > MOST_CORNERS || this.#work > MOST_WORK) throw tooMany(n, where(place));
      sound = this.#clip(g, emit);
    }
    if (!sound && this.crossed++ === 0) this.firstCrossed = place;
  }

  /** The polygon in its plane, counter-clockwise; undefined when it has no area. */
  #flatten(corners: ArrayLike<number>, at: number, n: number): Polygon | undefined {
    const p = this.#points;
    const [normal, size] = newell(p, corners, at, n);
    const [x, y, z] = normal.map(Math.abs) as [number, number, number];
    const axis = x > y && x > z ? 0 : y > z ? 1 : 2;
    const along = normal[axis] as number;
    if (!(Math.abs(along) > FLAT * size * size)) return undefined;
    if (this.#u.length < n) {
      this.#u = new Float64Array(2 * n);
      this.#v = new Float64Array(2 * n);
    }
    const [i, j] = along > 0 ? [(axis + 1) % 3, (axis + 2) % 3] : [(axis + 2) % 3, (axis + 1) % 3];
    for (let k = 0; k < n; k++) {
      const c = 3 * (corners[at + k] as number);
      this.#u[k] = p[c + i] as number;
      this.#v[k] = p[c + j] as number;
    }
    return { u: this.#u.subarray(0, n), v: this.#v.subarray(0, n) };
  }

  /** Cuts a polygon of 5 corners or more by its ears; false where its triangles do not all turn its way. */
  #clip(g: Polygon, emit: Emit): boolean {
    const kept = withoutSpikes(g, emit);
    const part: Polygon = { u: Float64Array.from(kept, (k) => g.u[k] as number), v: Float64Array.from(kept, (k) => g.v[k] as number) };
    const own: Emit = (a, b, c) => emit(kept[a] as number, kept[b] as number, kept[c] as number);
    const ears = clipEars(part, () => false);
    if (!ears) return this.#clipAnyway(part, own);
    for (let t = 0; t < ears.length; t += 3) own(ears[t] as number, ears[t + 1] as number, ears[t + 2] as number);
    return true;
  }

  /**
   * For a polygon that crosses itself, were it only by a hair: ears as long as there are any, and where there are none,
   * the corner whose triangle is smallest. A small crossing is so closed by a small fold.
   */
  #clipAnyway(g: Polygon, emit: Emit): boolean {
    const left = Array.from(g.u, (_, k) => k);
    let sound = true;
    for (let i = 0, missed = 0; left.length > 3; ) {
      const n = left.length;
      i %= n;
      const force = missed >= n || this.#looks > MOST_LOOKS;
      if (force) i = smallestCorner(g, left);
      const [a, b, c] = [left[(i + n - 1) % n] as number, left[i] as number, left[(i + 1) % n] as number];
      if (!force && !this.#isEar(g, left, a, b, c)) {
        missed++;
        i++;
        continue;
      }
      if (bend(g, a, b, c) < 0) sound = false;
      emit(a, b, c);
      left.splice(i, 1);
      missed = 0;
    }
    const [a, b, c] = left as [number, number, number];
    emit(a, b, c);
    return sound && bend(g, a, b, c) >= 0;
  }

  #isEar(g: Polygon, left: readonly number[], a: number, b: number, c: number): boolean {
    if (bend(g, a, b, c) <= 0) return false;
    this.#looks += left.length;
    return !left.some((k) => {
      if (k === a || k === b || k === c || sameSpot(g, k, a) || sameSpot(g, k, b) || sameSpot(g, k, c)) return false;
      return turn(g, a, b, k) >= 0 && turn(g, b, c, k) >= 0 && turn(g, c, a, k) >= 0;
    });
  }
}

/** Twice the area as a vector (Newell's sum), and the longest extent from the first corner. */
function newell(p: ArrayLike<number>, corners: ArrayLike<number>, at: number, n: number): [normal: number[], size: number] {
  const o = 3 * (corners[at] as number);
  const [ox, oy, oz] = [p[o] as number, p[o + 1] as number, p[o + 2] as number];
  let [x, y, z, size] = [0, 0, 0, 0];
  let [px, py, pz] = [0, 0, 0];
  for (let k = 1; k < n; k++) {
    const c = 3 * (corners[at + k] as number);
    const qx = (p[c] as number) - ox;
    const qy = (p[c + 1] as number) - oy;
    const qz = (p[c + 2] as number) - oz;
    x += py * qz - pz * qy;
    y += pz * qx - px * qz;
    z += px * qy - py * qx;
    size = Math.max(size, Math.abs(qx), Math.abs(qy), Math.abs(qz));
    px = qx;
    py = qy;
    pz = qz;
  }
  return [[x, y, z], size];
}

/** Twice the signed area of a-b-c. */
const turn = (g: Polygon, a: number, b: number, c: number): number => {
  const au = g.u[a] as number;
  const av = g.v[a] as number;
  return ((g.u[b] as number) - au) * ((g.v[c] as number) - av) - ((g.v[b] as number) - av) * ((g.u[c] as number) - au);
};

const square = (g: Polygon, a: number, b: number): number => {
  const u = (g.u[a] as number) - (g.u[b] as number);
  const v = (g.v[a] as number) - (g.v[b] as number);
  return u * u + v * v;
};

const sameSpot = (g: Polygon, a: number, b: number): boolean => g.u[a] === g.u[b] && g.v[a] === g.v[b];

/** Does a-b-c turn left (1), right (-1), or is it flat (0)? */
function bend(g: Polygon, a: number, b: number, c: number): -1 | 0 | 1 {
  const t = turn(g, a, b, c);
  const flat = FLAT * Math.max(square(g, a, b), square(g, b, c), square(g, a, c));
  return t > flat ? 1 : t < -flat ? -1 : 0;
}

/** Do all triangles of the fan from corner `start` turn left? */
function fanTurns(g: Polygon, start: number): boolean {
  const n = g.u.length;
  for (let i = 1; i < n - 1; i++) if (bend(g, start, (start + i) % n, (start + i + 1) % n) <= 0) return false;
  return true;
}

function fan(n: number, start: number, emit: Emit): void {
  for (let i = 1; i < n - 1; i++) emit(start, (start + i) % n, (start + i + 1) % n);
}

/** Four corners: along the diagonal that leaves the larger of the smaller triangles; false where that folds. */
function cutFour(g: Polygon, emit: Emit): boolean {
  const first = Math.min(turn(g, 0, 1, 2), turn(g, 0, 2, 3));
  const other = Math.min(turn(g, 1, 2, 3), turn(g, 1, 3, 0));
  const start = other > first ? 1 : 0;
  fan(4, start, emit);
  return bend(g, start, start + 1, start + 2) >= 0 && bend(g, start, start + 2, (start + 3) % 4) >= 0;
}

/** The corners that stay when repeated ones, and spikes that run out and straight back, are cut off as triangles without area. */
function withoutSpikes(g: Polygon, emit: Emit): number[] {
  const n = g.u.length;
  const kept: number[] = [];
  let left = n;
  const cutOff = (a: number, b: number, c: number): boolean => {
    if (left === 3 || !isSpike(g, a, b, c)) return false;
    emit(a, b, c);
    left--;
    return true;
  };
  for (let c = 0; c < n; c++) {
    while (kept.length > 1 && cutOff(kept[kept.length - 2] as number, kept[kept.length - 1] as number, c)) kept.pop();
    kept.push(c);
  }
  let first = 0; // round the seam
  for (let more = true; more; ) {
    more = false;
    const last = kept.length - 1;
    if (cutOff(kept[last - 1] as number, kept[last] as number, kept[first] as number)) more = kept.pop() !== undefined;
    else if (cutOff(kept[last] as number, kept[first] as number, kept[first + 1] as number)) more = ++first > 0;
  }
  return kept.slice(first);
}

function isSpike(g: Polygon, a: number, b: number, c: number): boolean {
  if (turn(g, a, b, c) !== 0) return false;
  const ahead = ((g.u[b] as number) - (g.u[a] as number)) * ((g.u[c] as number) - (g.u[b] as number));
  const aside = ((g.v[b] as number) - (g.v[a] as number)) * ((g.v[c] as number) - (g.v[b] as number));
  return ahead + aside <= 0;
}

/** Where in `left` the corner with the smallest triangle stands. */
function smallestCorner(g: Polygon, left: readonly number[]): number {
  const n = left.length;
  let best = 0;
  let least = Infinity;
  for (let i = 0; i < n; i++) {
    const t = Math.abs(turn(g, left[(i + n - 1) % n] as number, left[i] as number, left[(i + 1) % n] as number));
    if (t >= least) continue;
    least = t;
    best = i;
  }
  return best;
}

const tooMany = (n: number, where: string): Fault =>
  new Fault(
    'scan/too-large',
    n > MOST_CORNERS
      ? `a polygon of ${grouped(n)} corners that is not convex; the limit is ${grouped(MOST_CORNERS)}`
      : 'polygons of too many corners that are not convex',
    where,
    'Export the scan as triangles.',
  );
