/**
 * The canal's centreline through the centroids of its sections, each section square to the line: found by going round a few times.
 *
 * Lines here run from the tip laterally, s in mm from where the line leaves the material at the tip. Lateral of the aperture the sections
 * belong to the concha and say nothing about the canal, so the line goes straight on.
 */
import { addScaled, distance, dot, type Frame, lerp, normalize, type Point, pt, sub } from '../geometry/vec.ts';
import { findOpening, type Opening } from './opening.ts';
import type { Slicer } from './slicer.ts';
import { smoothed, stiffnessFor } from './smooth.ts';
import { type Rod, STEP } from './trace.ts';

/** Places `STEP` apart with unit tangents (laterally). */
export interface Line<F extends Frame> {
  readonly points: readonly Point<F>[];
  readonly tangents: readonly Point<F>[];
}

/** What the sections square to the line say, one a place of the line. Area 0 where there is no closed outline within reach. */
export interface Profile<F extends Frame> {
  readonly areas: Float64Array;
  readonly centres: readonly Point<F>[];
}

export interface Spine<F extends Frame> {
  readonly line: Line<F>;
  readonly profile: Profile<F>;
  /** First place whose section the end face does not cut. */
  readonly first: number;
  readonly opening: Opening;
}

/** How far the line is carried on laterally of the opening, mm. */
const BEYOND = 12;
/** Waves of the centreline shorter than this are noise, mm: two bends of a canal lie 4 mm apart or more. */
const WAVE = 5;
/** The straight lateral part continues the direction that the line has over this length medial of the opening, mm. */
const LEVER = 4;
const ROUNDS = 6;
const REACH = 22;

export function spineOf<F extends Frame>(slicer: Slicer<F>, rod: Rod<F>): Spine<F> {
  let line = evened(rod.stations.slice(0, tubeEnd(rod)).map((s) => s.at));
  line = extended(slicer, line);
  for (let round = 0; ; round++) {
    const profile = profileOf(slicer, line);
    const first = firstWhole(profile);
    const opening = findOpening(profile.areas, STEP, first);
    if (round === ROUNDS) return { line, profile, first, opening };
    const last = Math.max(first + 4, Math.min(Math.floor((opening.at - 0.5) / STEP), profile.areas.length - 1));
    line = extended(slicer, evened(fitted(profile, first, last)));
  }
}

/** Stations up to where the rod stops looking like a tube. */
function tubeEnd<F extends Frame>(rod: Rod<F>): number {
  return Math.max(6, Math.min(rod.stations.length, rod.last + 1));
}

/** The same curve in steps of STEP, with tangents by central differences. */
function evened<F extends Frame>(path: readonly Point<F>[]): Line<F> {
  const points: Point<F>[] = [path[0] as Point<F>];
  let rest = STEP;
  for (let k = 0; k + 1 < path.length; k++) {
    const a = path[k] as Point<F>;
    const b = path[k + 1] as Point<F>;
    const l = distance(a, b);
    while (rest <= l) {
      points.push(lerp(a, b, rest / l));
      rest += STEP;
    }
    rest -= l;
  }
  return { points, tangents: tangentsOf(points) };
}

function tangentsOf<F extends Frame>(points: readonly Point<F>[]): Point<F>[] {
  const n = points.length;
  return points.map((_, k) => normalize(sub(points[Math.min(n - 1, k + 1)] as Point<F>, points[Math.max(0, k - 1)] as Point<F>)));
}

/** Carries the line on: medially straight to the surface at the tip, laterally straight by BEYOND. */
function extended<F extends Frame>(slicer: Slicer<F>, line: Line<F>): Line<F> {
  const { points, tangents } = line;
  const n = points.length;
  const lever = Math.min(n - 1, Math.round(LEVER / STEP));
  const end = points[n - 1] as Point<F>;
  const lateral = leverDirection(points.slice(n - 1 - lever));
  const head = points[0] as Point<F>;
  const medial = normalize(sub(head, points[Math.min(n - 1, 3)] as Point<F>));
  const left = exitOf(slicer, head, medial);
  const out: Point<F>[] = [];
  for (let s = Math.floor(left / STEP) * STEP; s > 0; s -= STEP) out.push(addScaled(head, medial, s));
  const before = out.length;
  out.push(...points);
  for (let s = STEP; s <= BEYOND; s += STEP) out.push(addScaled(end, lateral, s));
  const along = tangentsOf(out);
  for (let k = before + n - 1; k < out.length; k++) along[k] = lateral;
  for (let k = 0; k < n - 1; k++) along[before + k] = tangents[k] as Point<F>;
  return { points: out, tangents: along };
}

/** Direction of the straight line that fits the points best (they are evenly spaced). */
function leverDirection<F extends Frame>(points: readonly Point<F>[]): Point<F> {
  const mid = (points.length - 1) / 2;
  let sum = pt<F>(0, 0, 0);
  points.forEach((p, k) => {
    sum = addScaled(sum, sub(p, points[0] as Point<F>), k - mid);
  });
  return normalize(sum);
}

/** From a point inside along unit d to where the material ends, mm. */
export function exitOf<F extends Frame>(slicer: Slicer<F>, p: Point<F>, d: Point<F>): number {
  let least = Infinity;
  slicer.tree.alongRay(p, d, (_t, far, facing) => {
    if (facing === 1 && far < least) least = far;
  });
  return Number.isFinite(least) ? least : 0;
}

function profileOf<F extends Frame>(slicer: Slicer<F>, line: Line<F>): Profile<F> {
  const areas = new Float64Array(line.points.length);
  const centres = line.points.map((p, k) => {
    const slice = slicer.outline(p, line.tangents[k] as Point<F>, REACH);
    if (!slice || (!slice.holds && slice.margin > 1)) return p;
    areas[k] = slice.area;
    return slice.centroid;
  });
  return { areas, centres };
}

/** The first section that is no longer cut by the rounded or slanting end face: from there on the area runs evenly. */
function firstWhole(profile: Profile<Frame>): number {
  const a = profile.areas;
  const span = Math.round(2.5 / STEP);
  for (let k = Math.min(a.length - span - 1, Math.round(8 / STEP)); k > 0; k--) {
    let sum = 0;
    for (let j = 1; j <= span; j++) sum += a[k + j] as number;
    if ((a[k] as number) < 0.95 * (sum / span) - 0.5) return Math.min(k + 2, a.length - span - 1);
  }
  return 1;
}

function fitted<F extends Frame>(profile: Profile<F>, first: number, last: number): Point<F>[] {
  const use = profile.centres.slice(first, last + 1);
  const weights = use.map((_, k) => ((profile.areas[first + k] as number) > 0 ? 1 : 0));
  const stiffness = stiffnessFor(WAVE / STEP);
  const [x, y, z] = [0, 1, 2].map((c) => {
    return smoothed(
      use.map((p) => p[c as 0]),
      weights,
      stiffness,
    );
  }) as [Float64Array, Float64Array, Float64Array];
  return use.map((_, k) => pt<F>(x[k] as number, y[k] as number, z[k] as number));
}

/** Curvature vector at each place of a line (second difference), per mm. */
export function curvatureOf<F extends Frame>(line: Line<F>): Point<F>[] {
  const { tangents } = line;
  const n = tangents.length;
  return tangents.map((t, k) => {
    const d = sub(tangents[Math.min(n - 1, k + 1)] as Point<F>, tangents[Math.max(0, k - 1)] as Point<F>);
    const square = addScaled(d, t, -dot(d, t));
    return [square[0] / (2 * STEP), square[1] / (2 * STEP), square[2] / (2 * STEP)] as unknown as Point<F>;
  });
}
