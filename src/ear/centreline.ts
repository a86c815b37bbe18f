/**
 * The canal's centreline through the centroids of its sections, each section square to the line: found by going round a few times.
 *
 * Lines here run from the tip laterally, s in mm from where the line leaves the material at the tip. Lateral of the aperture the sections
 * belong to the concha and say nothing about the canal, so the line goes straight on.
 */
import { addScaled, distance, dot, type Frame, lerp, normalize, type Point, pt, scale, sub } from '../geometry/vec.ts';
import { findOpening, type Opening } from './opening.ts';
import type { Slice, Slicer } from './slicer.ts';
import { smoothed, stiffnessFor } from './smooth.ts';
import { fitTemplate, templateOf, wallShare } from './template.ts';
import { type Rod, STEP, type Station } from './trace.ts';

/** Places `STEP` apart with unit tangents (laterally). */
export interface Line<F extends Frame> {
  readonly points: readonly Point<F>[];
  readonly tangents: readonly Point<F>[];
}

/** What the sections square to the line say, one a place of the line. Area 0 where there is no closed outline within reach. */
export interface Profile<F extends Frame> {
  readonly areas: Float64Array;
  readonly centres: Point<F>[];
  readonly slices: readonly (Slice<F> | undefined)[];
  /** Share of the outline that is canal wall. */
  readonly walls: Float64Array;
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
/** The part up to the tip continues the direction over this length, mm. */
const TIP_LEVER = 2;
/**
 * Sections nearer than this to the opening are left out of the line, mm: there the concha draws the centroids aside. In the first rounds,
 * when the opening is not well known and planes may be askew, more are.
 */
const GUARD = 1;
const FAR_GUARD = 3;
const WARY = 3;
const ROUNDS = 6;
const REACH = 22;

export function spineOf<F extends Frame>(slicer: Slicer<F>, rod: Rod<F>): Spine<F> {
  let line = evened(tubeOf(rod).map((s) => s.at));
  line = extended(slicer, line, rod.tip.at);
  for (let round = 0; ; round++) {
    const profile = profileOf(slicer, line, rod.across);
    const first = firstWhole(profile.walls);
    const opening = findOpening(profile.areas, STEP, first);
    if (round === ROUNDS) return { line, profile, first, opening };
    const guard = round < WARY ? FAR_GUARD : GUARD;
    const last = Math.max(first + 8, Math.min(Math.floor((opening.at - guard) / STEP), profile.areas.length - 1));
    line = extended(slicer, evened(smoothLine(middles(slicer, line, profile, first, last, rod.across))), rod.tip.at);
  }
}

/** The rod's stations from the first whole one to where it opens or stops looking like a tube. */
function tubeOf<F extends Frame>(rod: Rod<F>): readonly Station<F>[] {
  const areas = rod.stations.map((s) => s.area);
  const first = firstWhole(rod.stations.map((s) => s.wall));
  const opening = findOpening(areas, STEP, first);
  const end = Math.min(rod.stations.length, rod.last + 1, Math.round((opening.at - FAR_GUARD) / STEP));
  return rod.stations.slice(Math.min(first, Math.max(0, end - 8)), Math.max(end, 8));
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
function extended<F extends Frame>(slicer: Slicer<F>, line: Line<F>, tip: Point<F>): Line<F> {
  const { points, tangents } = line;
  const n = points.length;
  const lever = Math.min(n - 1, Math.round(LEVER / STEP));
  const end = points[n - 1] as Point<F>;
  const lateral = leverDirection(points.slice(n - 1 - lever));
  const head = points[0] as Point<F>;
  const medial = scale(leverDirection(points.slice(0, Math.min(n, 1 + Math.round(TIP_LEVER / STEP)))), -1);
  const left = Math.min(exitOf(slicer, head, medial), Math.max(0, dot(sub(tip, head), medial)) + 1);
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

function profileOf<F extends Frame>(slicer: Slicer<F>, line: Line<F>, across: Point<F>): Profile<F> {
  const areas = new Float64Array(line.points.length);
  const walls = new Float64Array(line.points.length);
  const slices = line.points.map((p, k) => {
    const slice = slicer.outline(p, line.tangents[k] as Point<F>, REACH);
    if (!slice || (!slice.holds && slice.margin > 1)) return undefined;
    areas[k] = slice.area;
    walls[k] = wallShare(slice, p, line.tangents[k] as Point<F>, across);
    return slice;
  });
  return { areas, walls, slices, centres: line.points.map((p, k) => slices[k]?.centroid ?? p) };
}

/** A section with this share of canal wall is whole: the rest is bubbles, folds and noise. */
const WHOLE = 0.9;
/** No end face reaches farther than this from the tip, mm. */
const END_FACE = 8;

/** The first section that the end face does not cut, with all that follow. */
function firstWhole(walls: ArrayLike<number>): number {
  for (let k = Math.min(walls.length - 1, Math.round(END_FACE / STEP)); k > 0; k--) if ((walls[k - 1] as number) < WHOLE) return k;
  return 0;
}

/** With less wall than this share the middle cannot be told. */
const LEAST_WALL = 0.4;

interface Middles<F extends Frame> {
  readonly at: readonly Point<F>[];
  readonly weights: readonly number[];
}

/**
 * The middles of the sections up to place `last`, carried on from place `first` towards the tip by the wall that the end face has left. Each
 * further plane is laid square to where the line was going, so that a canal that bends near its tip is followed.
 */
function middles<F extends Frame>(
  slicer: Slicer<F>,
  line: Line<F>,
  profile: Profile<F>,
  first: number,
  last: number,
  across: Point<F>,
): Middles<F> {
  const at = profile.centres.slice(first, last + 1);
  const weights = at.map((_, k) => ((profile.areas[first + k] as number) > 0 ? 1 : 0));
  const whole = profile.slices[first + 1];
  if (!whole || at.length < 8) return { at, weights };
  const template = templateOf(whole, line.points[first + 1] as Point<F>, line.tangents[first + 1] as Point<F>, across);
  for (let step = 0; step < END_FACE / STEP; step++) {
    const along = heading(at);
    const p = addScaled(at[0] as Point<F>, along, -STEP);
    const slice = slicer.outline(p, along, REACH);
    if (!slice || (!slice.holds && slice.margin > 1)) break;
    const fit = fitTemplate(template, slice, p);
    if (fit.share < LEAST_WALL || distance(fit.at, p) > 0.5 * STEP) break;
    at.unshift(fit.at);
    weights.unshift(fit.share * fit.share);
  }
  return { at, weights };
}

/** Direction (laterally) of the line at half a step before its first point, by the turn of its last millimetres. */
function heading<F extends Frame>(at: readonly Point<F>[]): Point<F> {
  const near = normalize(sub(at[3] as Point<F>, at[0] as Point<F>));
  const far = normalize(sub(at[6] as Point<F>, at[3] as Point<F>));
  // The two chords lie 3 steps apart, the wanted place 2 steps before the middle of the nearer one.
  return normalize(addScaled(near, sub(near, far), 2 / 3));
}

const AXES = [0, 1, 2] as const;

function smoothLine<F extends Frame>({ at, weights }: Middles<F>): Point<F>[] {
  const stiffness = stiffnessFor(WAVE / STEP);
  const [x, y, z] = AXES.map((c) =>
    smoothed(
      at.map((p) => p[c]),
      weights,
      stiffness,
    ),
  ) as [Float64Array, Float64Array, Float64Array];
  return at.map((_, k) => pt<F>(x[k] as number, y[k] as number, z[k] as number));
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
