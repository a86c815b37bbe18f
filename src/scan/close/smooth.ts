/**
 * Patches for larger holes that follow curved ground: a first triangulation is refined to the density of the surface
 * round it (after Liepa, Filling holes in meshes, 2003), then its new points move to where a thin plate that leaves the
 * surface smoothly would lie.
 */
import { flipToDelaunay, type Patch, setTriangle, type Taken } from './patch.ts';

/** Most points that one patch gets: a larger hole is filled more coarsely than its surroundings. */
const MOST_POINTS = 1500;
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
 * point farther than half the hole's radius (a noisy edge), the plain membrane stays, which never leaves the loop's hull.
 */
export function fair(patch: Patch, ground: Ground): void {
  if (patch.points.length / 3 <= patch.loop) return;
  const membrane = new Plate(patch);
  for (let axis = 0; axis < 3; axis++) membrane.solve(axis); // also where the plate starts from
  const flat = patch.points.slice();
  const plate = new Plate(patch, ground);
  for (let axis = 0; axis < 3; axis++) plate.solve(axis);
  const reach = bulgeLimit(patch);
  for (let i = patch.loop; i < patch.points.length / 3; i++) {
    const from = [flat[3 * i], flat[3 * i + 1], flat[3 * i + 2]] as [number, number, number];
    if (distanceTo(patch.points, i, from) <= reach) continue;
    for (let k = 0; k < flat.length; k++) patch.points[k] = flat[k] as number;
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

/** Weight of a neighbour at a distance, mm; two points in one place do not weigh without end. */
const nearness = (d: number): number => 1 / Math.max(d, 1e-6);

/** Steps of the conjugate gradient at most: enough for some thousand points, and what is left by then is smooth. */
const STEPS = 1500;
/** Stops when the squared residual has fallen by this factor. */
const SETTLED = 1e-18;

/**
 * Least squares in one coordinate at a time: over rows r, (mean of r's neighbours - r)^2, unknown the new points. Rows
 * are the new points and, with `ground`, the loop points too (whose neighbours on the ground are then constants).
 * Solved by the conjugate gradient on the normal equations; the number of steps and the order of sums are fixed.
 */
class Plate {
  readonly #patch: Patch;
  readonly #all: number;
  readonly #firstRow: number;
  /** Neighbours of row r: near[start[r]] .. near[start[r + 1] - 1]. */
  readonly #start: Int32Array;
  readonly #near: Int32Array;
  /** Weight of each neighbour: one over its distance, all of a row (those on the ground too) adding up to 1. */
  readonly #weight: Float64Array;
  /** Of each loop point: the ground's weighted sum, x y z. */
  readonly #ground: Float64Array;

  constructor(patch: Patch, ground?: Ground) {
    const net = neighboursOf(patch);
    this.#patch = patch;
    this.#all = net.length;
    this.#firstRow = ground ? 0 : patch.loop;
    this.#near = Int32Array.from(net.flat());
    this.#weight = new Float64Array(this.#near.length);
    this.#ground = new Float64Array(3 * patch.loop);
    this.#start = new Int32Array(net.length + 1);
    net.forEach((list, r) => {
      const from = this.#start[r] as number;
      this.#start[r + 1] = from + list.length;
      const beyond = r < patch.loop && ground ? ground(r) : [];
      const raw = list.map((j) => nearness(gap(patch.points, r, j)));
      const far = beyond.map((q) => nearness(distanceTo(patch.points, r, q)));
      const total = [...raw, ...far].reduce((sum, w) => sum + w, 0);
      raw.forEach((w, k) => {
        this.#weight[from + k] = w / total;
      });
      beyond.forEach((q, k) => {
        for (let c = 0; c < 3; c++)
          this.#ground[3 * r + c] = (this.#ground[3 * r + c] as number) + (q[c as 0] * (far[k] as number)) / total;
      });
    });
  }

  /** out = rows applied to x, without the ground. */
  #rows(x: Float64Array, out: Float64Array): void {
    for (let r = this.#firstRow; r < this.#all; r++) {
      let sum = 0;
      for (let k = this.#start[r] as number, end = this.#start[r + 1] as number; k < end; k++) {
        sum += (this.#weight[k] as number) * (x[this.#near[k] as number] as number);
      }
      out[r] = sum - (x[r] as number);
    }
  }

  /** out = rows transposed, applied to y; nothing for the loop, which does not move. */
  #transposed(y: Float64Array, out: Float64Array): void {
    out.fill(0);
    for (let r = this.#firstRow; r < this.#all; r++) {
      const w = y[r] as number;
      for (let k = this.#start[r] as number, end = this.#start[r + 1] as number; k < end; k++) {
        const j = this.#near[k] as number;
        out[j] = (out[j] as number) + (this.#weight[k] as number) * w;
      }
      out[r] = (out[r] as number) - w;
    }
    out.fill(0, 0, this.#patch.loop);
  }

  solve(axis: number): void {
    const { points, loop } = this.#patch;
    const all = this.#all;
    const x = Float64Array.from({ length: all }, (_, i) => points[3 * i + axis] as number);
    const along = new Float64Array(all);
    this.#rows(x, along);
    for (let r = this.#firstRow; r < loop; r++) along[r] = (along[r] as number) + (this.#ground[3 * r + axis] as number);
    const residual = new Float64Array(all);
    this.#transposed(along, residual);
    for (let i = 0; i < all; i++) residual[i] = -(residual[i] as number);
    const direction = residual.slice();
    const back = new Float64Array(all);
    let size = dotOf(residual, residual);
    const enough = SETTLED * size;
    for (let step = 0; step < STEPS && size > enough; step++) {
      this.#rows(direction, along);
      const curve = dotOf(along, along);
      if (!(curve > 0)) break;
      const by = size / curve;
      this.#transposed(along, back);
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
}

function dotOf(a: Float64Array, b: Float64Array): number {
  let s = 0;
  for (let i = 0; i < a.length; i++) s += (a[i] as number) * (b[i] as number);
  return s;
}
