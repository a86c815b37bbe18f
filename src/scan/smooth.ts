/**
 * Patches for larger holes that follow curved ground: a first triangulation is refined to the density of the surface
 * round it (after Liepa, Filling holes in meshes, 2003), then its new points move to where a thin plate that leaves the
 * surface smoothly would lie.
 */
import { flipToDelaunay, type Patch, setTriangle, type Taken } from './patch.ts';

/** Most points that one patch gets. */
const MOST_POINTS = 20_000;
/** Rounds of refinement; each at least halves the size of the triangles that are too large. */
const ROUNDS = 24;
/** How far a triangle's centre must be from its corners, in their edge lengths, to be split (Liepa's density factor, root 2). */
const DENSITY = Math.SQRT2;

/** Splits triangles at their centres until they are about as large as those round the hole. */
export function refine(patch: Patch, taken: Taken): void {
  const { points, loop } = patch;
  const size: number[] = [];
  for (let i = 0; i < loop; i++) size.push((gap(points, i, (i + 1) % loop) + gap(points, i, (i + loop - 1) % loop)) / 2);
  for (let round = 0; round < ROUNDS; round++) {
    const span = points.length / 3;
    const triangles = patch.triangles;
    const many = triangles.length / 3;
    for (let t = 0; t < many && points.length < 3 * MOST_POINTS; t++) {
      const corners = [triangles[3 * t], triangles[3 * t + 1], triangles[3 * t + 2]] as [number, number, number];
      const centre = [0, 1, 2].map((k) => corners.reduce((sum, c) => sum + (points[3 * c + k] as number), 0) / 3) as [
        number,
        number,
        number,
      ];
      const wanted = corners.reduce((sum, c) => sum + (size[c] as number), 0) / 3;
      const far = corners.every((c) => DENSITY * distanceTo(points, c, centre) > Math.max(wanted, size[c] as number));
      if (!far) continue;
      const m = points.length / 3;
      points.push(...centre);
      size.push(wanted);
      setTriangle(triangles, t, corners[0], corners[1], m);
      triangles.push(corners[1], corners[2], m, corners[2], corners[0], m);
    }
    const now = points.length / 3;
    flipToDelaunay(points, triangles, now, loop, taken);
    if (now === span) return;
  }
}

const gap = (p: readonly number[], i: number, j: number): number =>
  distanceTo(p, i, [p[3 * j] as number, p[3 * j + 1] as number, p[3 * j + 2] as number]);

const distanceTo = (p: readonly number[], i: number, q: readonly [number, number, number]): number => {
  const x = (p[3 * i] as number) - q[0];
  const y = (p[3 * i + 1] as number) - q[1];
  const z = (p[3 * i + 2] as number) - q[2];
  return Math.sqrt(x * x + y * y + z * z);
};

/** The ground round a patch: for each loop point, the surface's neighbours of it (x y z), all held fixed. */
export type Ground = (loopPoint: number) => readonly (readonly [number, number, number])[];

/**
 * Moves the patch's new points (not the loop) to minimise the squared umbrella vectors (neighbours' mean minus the
 * point) of the new points and of the loop: a thin plate clamped to the surface's own slope. Where that would throw a
 * point farther than the hole is wide (a noisy edge), the plain membrane stays, which never leaves the loop's hull.
 */
export function fair(patch: Patch, ground: Ground): void {
  const many = patch.points.length / 3 - patch.loop;
  if (many <= 0) return;
  const net = neighboursOf(patch);
  const extra = Array.from({ length: patch.loop }, (_, i) => ground(i));
  for (let axis = 0; axis < 3; axis++) solve(patch, net, undefined, axis); // membrane: also the plate's starting point
  const membrane = patch.points.slice();
  for (let axis = 0; axis < 3; axis++) solve(patch, net, extra, axis);
  const reach = bulgeLimit(patch);
  for (let i = patch.loop; i < patch.points.length / 3; i++) {
    const [x, y, z] = [membrane[3 * i], membrane[3 * i + 1], membrane[3 * i + 2]] as [number, number, number];
    if (distanceTo(patch.points, i, [x, y, z]) <= reach) continue;
    for (let k = 0; k < membrane.length; k++) patch.points[k] = membrane[k] as number;
    return;
  }
}

/** Half the mean radius of the loop: a half ball over a round hole would bulge by twice as much. */
function bulgeLimit(patch: Patch): number {
  const n = patch.loop;
  const c: [number, number, number] = [0, 0, 0];
  for (let i = 0; i < n; i++) for (let k = 0; k < 3; k++) c[k] = (c[k] as number) + (patch.points[3 * i + k] as number) / n;
  let radius = 0;
  for (let i = 0; i < n; i++) radius += distanceTo(patch.points, i, c) / n;
  return radius / 2;
}

function neighboursOf(patch: Patch): number[][] {
  const sets: Set<number>[] = Array.from({ length: patch.points.length / 3 }, () => new Set<number>());
  for (let h = 0; h < patch.triangles.length; h++) {
    const a = patch.triangles[h] as number;
    const b = patch.triangles[h % 3 === 2 ? h - 2 : h + 1] as number;
    (sets[a] as Set<number>).add(b);
    (sets[b] as Set<number>).add(a);
  }
  return sets.map((s) => [...s].sort((x, y) => x - y));
}

/** Steps of the conjugate gradient at most, for each unknown. */
const STEPS = 6;
/** Stops when the squared residual has fallen by this factor. */
const SETTLED = 1e-22;

/**
 * Least squares in one coordinate: over rows r, (mean of r's neighbours - r)^2, unknown the new points. Rows are the new
 * points and, with `extra`, the loop points too (whose neighbours on the ground are then constants). Solved by the
 * conjugate gradient on the normal equations; the count of steps and the order of sums are fixed.
 */
function solve(
  patch: Patch,
  net: readonly number[][],
  extra: readonly (readonly (readonly [number, number, number])[])[] | undefined,
  axis: number,
): void {
  const { points, loop } = patch;
  const all = points.length / 3;
  const firstRow = extra ? 0 : loop;
  const value = (i: number): number => points[3 * i + axis] as number;
  const degree = (i: number): number => (net[i] as number[]).length + (i < loop && extra ? (extra[i] as readonly unknown[]).length : 0);
  // Rows applied to a vector over all points; `fixed` adds the ground's constants.
  const rows = (x: Float64Array, fixed: boolean): Float64Array => {
    const out = new Float64Array(all);
    for (let r = firstRow; r < all; r++) {
      let sum = 0;
      for (const j of net[r] as number[]) sum += x[j] as number;
      if (fixed && r < loop && extra) for (const q of extra[r] as readonly (readonly [number, number, number])[]) sum += q[axis] as number;
      out[r] = sum / degree(r) - (x[r] as number);
    }
    return out;
  };
  const transposed = (y: Float64Array): Float64Array => {
    const out = new Float64Array(all);
    for (let r = firstRow; r < all; r++) {
      const w = (y[r] as number) / degree(r);
      for (const j of net[r] as number[]) out[j] = (out[j] as number) + w;
      out[r] = (out[r] as number) - (y[r] as number);
    }
    out.fill(0, 0, loop); // the loop does not move
    return out;
  };
  const x = Float64Array.from({ length: all }, (_, i) => value(i));
  const residual = transposed(rows(x, true)).map((g) => -g);
  const direction = residual.slice();
  let size = dotOf(residual, residual);
  const start = size;
  for (let step = 0; step < STEPS * (all - loop) + 50 && size > SETTLED * start; step++) {
    const along = rows(direction, false);
    const curve = dotOf(along, along);
    if (!(curve > 0)) break;
    const by = size / curve;
    const back = transposed(along);
    for (let i = loop; i < all; i++) {
      x[i] = (x[i] as number) + by * (direction[i] as number);
      residual[i] = (residual[i] as number) - by * (back[i] as number);
    }
    const next = dotOf(residual, residual);
    const keep = next / size;
    for (let i = loop; i < all; i++) direction[i] = (residual[i] as number) + keep * (direction[i] as number);
    size = next;
  }
  for (let i = loop; i < all; i++) points[3 * i + axis] = x[i] as number;
}

function dotOf(a: Float64Array, b: Float64Array): number {
  let s = 0;
  for (let i = 0; i < a.length; i++) s += (a[i] as number) * (b[i] as number);
  return s;
}
