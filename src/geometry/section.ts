/**
 * Where a plane cuts a mesh, as closed outlines in the plane.
 *
 * A vertex that lies exactly on the plane counts as above it, so that every triangle gives no segment or one, and the
 * segments of a closed mesh chain into closed loops without a tolerance.
 */
import type { Mesh } from './mesh.ts';
import { addScaled, cross, dot, type Frame, normalize, type Plane, type Point, perpendicular, sub } from './vec.ts';

/** Two coordinates in a section's plane, mm. */
export type Flat = readonly [u: number, v: number];

export interface Outline {
  /** x y pairs in the plane, without repeating the first; counter-clockwise about the plane's normal round material. */
  readonly points: Float64Array;
  readonly closed: boolean;
  /** Signed area, mm2: positive round material, negative round a hole. */
  readonly area: number;
  readonly perimeter: number;
}

export interface Section<F extends Frame> {
  readonly plane: Plane<F>;
  /** The plane's own axes: right-handed with the normal. */
  readonly u: Point<F>;
  readonly v: Point<F>;
  readonly outlines: readonly Outline[];
}

/** Cuts `mesh`. `u` fixes the direction of the first axis (made square to the normal); without it, any. */
export function sectionOf<F extends Frame>(mesh: Mesh<F>, plane: Plane<F>, u?: Point<F>): Section<F> {
  const n = plane.normal;
  const first = u ? normalize(addScaled(u, n, -dot(u, n))) : perpendicular(n);
  const second = cross(n, first);
  const { positions: p, indices: t } = mesh;
  const height = new Float64Array(p.length / 3);
  const off = dot(n, plane.point);
  for (let i = 0; i < height.length; i++) {
    height[i] = n[0] * (p[3 * i] as number) + n[1] * (p[3 * i + 1] as number) + n[2] * (p[3 * i + 2] as number) - off;
  }
  // Each cut edge (a < b) is one node; each cut triangle links the node where the outline enters to where it leaves.
  const next = new Map<number, number>();
  const many = p.length / 3;
  const key = (a: number, b: number): number => (a < b ? a * many + b : b * many + a);
  for (let i = 0; i < t.length; i += 3) {
    let enter = -1;
    let leave = -1;
    for (let k = 0; k < 3; k++) {
      const a = t[i + k] as number;
      const b = t[i + ((k + 1) % 3)] as number;
      const ha = (height[a] as number) >= 0;
      const hb = (height[b] as number) >= 0;
      if (ha && !hb) enter = key(a, b);
      else if (!ha && hb) leave = key(a, b);
    }
    // Seen from above with outward-facing triangles, material stays left when going from the falling edge to the rising one.
    if (enter >= 0) next.set(enter, leave);
  }
  return { plane, u: first, v: second, outlines: chain(next, (k) => flatten(k)) };

  function flatten(k: number): Flat {
    const a = Math.floor(k / many);
    const b = k - a * many;
    const ha = height[a] as number;
    const s = ha / (ha - (height[b] as number));
    const q = [0, 1, 2].map((c) => (p[3 * a + c] as number) + s * ((p[3 * b + c] as number) - (p[3 * a + c] as number)));
    const d = sub(q as unknown as Point<F>, plane.point);
    return [dot(d, first), dot(d, second)];
  }
}

function chain(next: Map<number, number>, flatten: (key: number) => Flat): Outline[] {
  const outlines: Outline[] = [];
  const entered = new Set(next.values());
  const starts = [...next.keys()].filter((k) => !entered.has(k)); // open chains first, from their ends
  for (const start of [...starts, ...next.keys()]) {
    if (!next.has(start)) continue;
    const flat: number[] = [];
    let at: number | undefined = start;
    while (at !== undefined) {
      flat.push(...flatten(at));
      const to: number | undefined = next.get(at);
      next.delete(at);
      at = to;
      if (to === start) break;
    }
    outlines.push(outlineOf(Float64Array.from(flat), at === start));
  }
  return outlines;
}

function outlineOf(points: Float64Array, closed: boolean): Outline {
  let twice = 0;
  let perimeter = 0;
  const n = points.length / 2;
  for (let i = 0; i < (closed ? n : n - 1); i++) {
    const j = (i + 1) % n;
    const ax = points[2 * i] as number;
    const ay = points[2 * i + 1] as number;
    const bx = points[2 * j] as number;
    const by = points[2 * j + 1] as number;
    twice += ax * by - bx * ay;
    perimeter += Math.sqrt((bx - ax) * (bx - ax) + (by - ay) * (by - ay));
  }
  return { points, closed, area: twice / 2, perimeter };
}

/** Does the outline go round the point (u, v)? Even-odd rule. */
export function outlineHolds(outline: Outline, u: number, v: number): boolean {
  const p = outline.points;
  let inside = false;
  for (let i = 0, j = p.length / 2 - 1; i < p.length / 2; j = i++) {
    const yi = p[2 * i + 1] as number;
    const yj = p[2 * j + 1] as number;
    if (yi > v === yj > v) continue;
    const xi = p[2 * i] as number;
    const x = xi + ((v - yi) / (yj - yi)) * ((p[2 * j] as number) - xi);
    if (u < x) inside = !inside;
  }
  return inside;
}
