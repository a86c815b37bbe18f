/** Closing a large loop flat: the base of an impression, or the first go at a large hole. */
import { cross, length, normalize, type Point, perpendicular } from '../../geometry/vec.ts';
import { nextOf } from '../mend/joins.ts';
import { clipEars, crossingPoints, type Polygon } from './earclip.ts';
import { areaOf, fan, flipOffTaken, flipToDelaunay, leastArea, Sides, setTriangle, type Taken, thirdOf } from './patch.ts';

/** Rounds of smoothing a ragged loop before it is given up as not plane. */
const MOST_ROUNDS = 64;
/** Largest loop for which the cubic least-area search is tried when it cannot be laid flat. */
const CUBIC = 300;

export interface Flat {
  /** Three point numbers each. */
  readonly triangles: number[];
  /** plane: no overlaps seen along the normal. space: least-area surface. fan: about one new point. */
  readonly how: 'plane' | 'space' | 'fan';
}

/**
 * Triangles over a loop of n points (x y z in `points`; the loop counter-clockwise about `normal`). Follows the ragged
 * loop exactly. Where the loop crosses itself as seen along the normal, the teeth that do so are cut off first, each
 * with a triangle of its own. `points` grows by one when all that is left is a fan about its lifted centre.
 */
export function capFlat(points: number[], n: number, normal: Point<'scan'>, taken: Taken): Flat {
  const all = project(points, n, normal);
  const chords = new Set<number>();
  const used: Taken = (i, j) => taken(i, j) || chords.has(Math.min(i, j) * n + Math.max(i, j));
  const teeth = cutTeeth(points, all, used, chords);
  if (teeth) {
    const { ring, triangles } = teeth;
    const within: Taken = (i, j) => used(ring[i] as number, ring[j] as number);
    const part: Polygon = { u: Float64Array.from(ring, (i) => all.u[i] as number), v: Float64Array.from(ring, (i) => all.v[i] as number) };
    // Where every ear left needs a taken chord, it is used and turned away afterwards.
    const flat = clipEars(part, within) ?? clipEars(part, () => false);
    if (flat) {
      const spread = new Float64Array(3 * ring.length);
      for (let i = 0; i < ring.length; i++) spread.set([part.u[i] as number, part.v[i] as number, 0], 3 * i);
      flipToDelaunay(spread, flat, ring.length, ring.length, within);
      flipOffTaken(spread, flat, ring.length, ring.length, within);
      const whole = [...triangles, ...flat.map((i) => ring[i] as number)];
      avoidTaken(points, whole, n, taken);
      return { triangles: whole, how: 'plane' };
    }
  }
  const space = n <= CUBIC ? leastArea(points, n, taken) : undefined;
  if (space) return { triangles: space, how: 'space' };
  return { triangles: fan(points, n, liftedCentre(points, n, normal)), how: 'fan' };
}

/**
 * Gives every inner edge that still lies over a taken chord a new point beside it, a third of the way into the larger of
 * its two triangles: else the cap would lie on the tooth of the rim that has the chord, back to back.
 */
function avoidTaken(points: number[], triangles: number[], n: number, taken: Taken): void {
  const sides = new Sides(triangles, points.length / 3 + triangles.length);
  for (let h = 0; h < triangles.length; h++) {
    const t = Math.floor(h / 3);
    const a = triangles[h] as number;
    const b = triangles[nextOf(h)] as number;
    if (a > b || b >= n || !taken(a, b)) continue;
    const u = sides.at(b, a);
    if (u === undefined || u === t) continue;
    const c = thirdOf(triangles, t, a, b);
    const d = thirdOf(triangles, u, a, b);
    const into = areaOf(points, a, b, c) > areaOf(points, a, b, d) ? c : d;
    const m = points.length / 3;
    for (let k = 0; k < 3; k++) {
      const middle = ((points[3 * a + k] as number) + (points[3 * b + k] as number)) / 2;
      points.push(middle + ((points[3 * into + k] as number) - middle) / 3);
    }
    sides.remove(triangles, t);
    sides.remove(triangles, u);
    setTriangle(triangles, t, a, m, c);
    setTriangle(triangles, u, b, m, d);
    triangles.push(m, b, c, m, a, d);
    for (const changed of [t, u, triangles.length / 3 - 2, triangles.length / 3 - 1]) sides.add(triangles, changed);
    h = 3 * t - 1; // the triangle has new sides
  }
}

/** The loop in the plane's own axes, about its first point. */
function project(points: readonly number[], n: number, normal: Point<'scan'>): Polygon {
  const w = normalize(normal);
  const a = perpendicular(w);
  const b = cross(w, a);
  const u = new Float64Array(n);
  const v = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const x = (points[3 * i] as number) - (points[0] as number);
    const y = (points[3 * i + 1] as number) - (points[1] as number);
    const z = (points[3 * i + 2] as number) - (points[2] as number);
    u[i] = x * a[0] + y * a[1] + z * a[2];
    v[i] = x * b[0] + y * b[1] + z * b[2];
  }
  return { u, v };
}

/** Cuts corners off where edges cross in projection, until none do: the ring that is left, and the triangles cut. */
function cutTeeth(
  points: readonly number[],
  all: Polygon,
  taken: Taken,
  chords: Set<number>,
): { ring: number[]; triangles: number[] } | undefined {
  const n = all.u.length;
  let ring = Array.from({ length: n }, (_, i) => i);
  const triangles: number[] = [];
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const part: Polygon = { u: Float64Array.from(ring, (i) => all.u[i] as number), v: Float64Array.from(ring, (i) => all.v[i] as number) };
    const crossing = crossingPoints(part);
    if (crossing.size === 0) return { ring, triangles };
    const cut = new Set<number>();
    for (const at of [...crossing].sort((i, j) => i - j)) {
      for (const k of [at, (at + 1) % ring.length]) {
        const before = (k + ring.length - 1) % ring.length;
        const after = (k + 1) % ring.length;
        if (cut.has(k) || cut.has(before) || cut.has(after) || ring.length - cut.size <= 3) continue;
        const [p, i, q] = [ring[before], ring[k], ring[after]] as [number, number, number];
        if (taken(p, q) || samePoint(points, p, q)) continue;
        triangles.push(p, i, q);
        chords.add(Math.min(p, q) * n + Math.max(p, q));
        cut.add(k);
      }
    }
    if (cut.size === 0) return undefined;
    ring = ring.filter((_, k) => !cut.has(k));
  }
  return undefined;
}

const samePoint = (p: readonly number[], i: number, j: number): boolean =>
  p[3 * i] === p[3 * j] && p[3 * i + 1] === p[3 * j + 1] && p[3 * i + 2] === p[3 * j + 2];

/** The loop's centre, lifted out of the body by a tenth of its mean radius so that the fan clears a ragged edge. */
function liftedCentre(points: readonly number[], n: number, normal: Point<'scan'>): [number, number, number] {
  const c: [number, number, number] = [0, 0, 0];
  for (let i = 0; i < n; i++) for (let k = 0; k < 3; k++) c[k] = (c[k] as number) + (points[3 * i + k] as number) / n;
  let radius = 0;
  for (let i = 0; i < n; i++) {
    radius += length([(points[3 * i] as number) - c[0], (points[3 * i + 1] as number) - c[1], (points[3 * i + 2] as number) - c[2]]) / n;
  }
  const w = normalize(normal);
  return [c[0] + 0.1 * radius * w[0], c[1] + 0.1 * radius * w[1], c[2] + 0.1 * radius * w[2]];
}
