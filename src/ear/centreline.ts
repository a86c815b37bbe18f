/**
 * The canal's centreline through the centroids of its sections, each section square to the line: found by going round a few times.
 *
 * Lines here run from the tip laterally, s in mm from where the line leaves the material at the tip. Lateral of the aperture the sections
 * belong to the concha and say nothing about the canal, so the line goes straight on.
 */
import { addScaled, distance, dot, type Frame, lerp, normalize, type Point, pt, scale, sub } from '../geometry/vec.ts';
import {
  followLaterally,
  followMedially,
  type LateralEnd,
  type Middles,
  PATIENCE,
  PATIENT,
  SHORTEST_STRETCH,
  UPRIGHT_SHARE,
} from './follow.ts';
import { findOpening, type Opening } from './opening.ts';
import { Profile, type Samples } from './profile.ts';
import type { Slicer } from './slicer.ts';
import { smoothed, stiffnessFor } from './smooth.ts';
import { templateOf } from './template.ts';
import { FIT_GRAIN, fitTip } from './tipfit.ts';
import { type Rod, STEP, type Station } from './trace.ts';

/** Places `STEP` apart with unit tangents (laterally). */
export interface Line<F extends Frame> {
  readonly points: readonly Point<F>[];
  readonly tangents: readonly Point<F>[];
  /** The first place that sections tell; before it the line merely goes straight on to the tip. */
  readonly told: number;
  /** The last one; from there it goes straight on laterally. */
  readonly end: number;
}

export interface Spine<F extends Frame> {
  readonly line: Line<F>;
  readonly profile: Profile<F>;
  /** First place whose section the end face does not cut. */
  readonly first: number;
  readonly opening: Opening;
}

/** How far the line is carried on laterally of the canal, mm. */
const BEYOND = 13;
/** Waves of the centreline shorter than this are noise, mm: two bends of a canal lie 4 mm apart or more. */
const WAVE = 5;
/** The straight lateral part continues the direction that the line has over this length, mm. */
const LEVER = 3.5;
/** The part up to the tip continues the direction over this length, mm. */
const TIP_LEVER = 2;
/** Before the walls turn away the sections are already drawn aside: this much is left out, mm. */
const GUARD = 3;
const ROUNDS = 6;
/** An opening farther than this within the traced tube is looked at again, mm. */
const WITHIN = 4;

export function spineOf<F extends Frame>(slicer: Slicer<F>, rod: Rod<F>): Spine<F> {
  const { spine, spent } = spineBy(slicer, rod, PATIENCE);
  const { opening } = spine;
  // An opening that lies within the tube that was traced is a dent or a bubble in it as likely as the concha.
  if (opening.seen && opening.at > rod.last * STEP - WITHIN) return spine;
  if (!spent) return spine; // more patience would walk the same way
  const again = spineBy(slicer, rod, PATIENT).spine;
  if (!again.opening.seen) return spine;
  return !opening.seen || uprightOf(again) * (1 - SLACK) > uprightOf(spine) ? again : spine;
}

const uprightOf = <F extends Frame>({ profile, opening }: Spine<F>): number => uprightness(profile.walls, opening);

/** `spent`: in some round the patience came to its end. */
function spineBy<F extends Frame>(slicer: Slicer<F>, rod: Rod<F>, patience: number): { readonly spine: Spine<F>; readonly spent: boolean } {
  const { across, tip } = rod;
  let line = extended(slicer, evened(tubeOf(rod)), tip.at);
  let spent = false;
  const rounds: { spine: Spine<F>; worth: number }[] = [];
  for (let round = 0; ; round++) {
    const spine = spineAlong(slicer, line, across);
    const { profile, opening } = spine;
    const worth = uprightness(profile.walls, opening) - (opening.seen ? 0 : profile.walls.length);
    const before = rounds[rounds.length - 1]?.spine;
    rounds.push({ spine, worth });
    const done = round === ROUNDS || (before && settled(before, spine));
    const middles = done ? undefined : middlesOf(slicer, spine, across, patience);
    if (!middles) return { spine: withTip(slicer, middling(rounds), rod), spent };
    spent ||= middles.spent;
    line = extended(slicer, evened(smoothLine(middles)), tip.at);
  }
}

/** Two rounds that lie this near each other are the same, mm. */
const SAME = 0.06;

/** Did the line stay where it was, from the tip to the opening? */
function settled<F extends Frame>(a: Spine<F>, b: Spine<F>): boolean {
  if (a.line.told !== b.line.told || a.line.end !== b.line.end || Math.abs(a.opening.at - b.opening.at) > SAME) return false;
  const upTo = Math.min(a.line.points.length, b.line.points.length, Math.ceil(b.opening.at / STEP) + 2);
  for (let k = 0; k < upTo; k++) if (distance(a.line.points[k] as Point<F>, b.line.points[k] as Point<F>) > SAME) return false;
  return true;
}

/** What the sections along a line say. */
function spineAlong<F extends Frame>(slicer: Slicer<F>, line: Line<F>, across: Point<F>): Spine<F> {
  const profile = new Profile(slicer, line, across);
  const first = firstWhole(profile.walls);
  const opening = findOpening(profile.walls, profile.areas, STEP, Math.max(first, line.end - Math.round(2 / STEP)));
  return { line, profile, first, opening };
}

/** How far lateral of the first whole section the tip's own fit begins, mm: sections nearer to it may be askew already. */
const TIP_FROM = 1.5;

/** Weight of a place that is settled; 1 is what a section's middle has. */
const SETTLED = 10;

/** The same with its medial end laid on all of the wall there (`fitTip`). */
function withTip<F extends Frame>(slicer: Slicer<F>, spine: Spine<F>, { across, tip }: Rod<F>): Spine<F> {
  const { line, profile, first } = spine;
  const from = Math.min(first + Math.round(TIP_FROM / STEP), line.end - SHORTEST_STRETCH);
  const slice = profile.slice(from);
  if (from < 1 || !slice) return spine;
  const tangent = line.tangents[from] as Point<F>;
  const template = templateOf(slice, line.points[from] as Point<F>, tangent, across);
  const fitted = fitTip(slicer.mesh, {
    at: slice.centroid,
    medially: scale(tangent, -1),
    curvature: turnAt(line, from),
    taper: taperAt(profile.areas, from) / STEP,
    template,
  });
  const every = Math.round(STEP / FIT_GRAIN);
  // What is settled laterally stays as it is.
  const at = line.points.slice(from, line.end + 1);
  const known = { at, weights: at.map(() => SETTLED) };
  for (let k = every; k < fitted.at.length; k += every) {
    known.at.unshift(fitted.at[k] as Point<F>);
    known.weights.unshift((fitted.seen[k] as number) ** 2);
  }
  const refined = extended(slicer, evened(smoothLine(known)), tip.at);
  return spineAlong(slicer, refined, across);
}

/** How the line turns about a place, going medially, per mm: over the 2 mm lateral of it, where it is known best. */
function turnAt<F extends Frame>(line: Line<F>, k: number): Point<F> {
  const back = 4;
  const far = line.tangents[Math.min(line.end, k + back)] as Point<F>;
  const d = sub(far, line.tangents[k] as Point<F>);
  return scale(d, 1 / (back * STEP));
}

/**
 * The round to believe. Rounds seldom part by more than a hair. But a short canal leaves little to hold on to, and a round may lose it: it
 * then shows much less canal. And where one side opens early, rounds may take turns in following it a little into the concha. So of those
 * that show most canal, the later of the middle ones by where they see the opening. A line that is known to beyond the opening was drawn
 * aside there, and tells only that it opens before: it is believed where there is no other.
 */
function middling<F extends Frame>(rounds: readonly { spine: Spine<F>; worth: number }[]): Spine<F> {
  const most = Math.max(...rounds.map((r) => r.worth));
  const enough = rounds.map((r) => ({ ...r, at: r.spine.opening.at })).filter((r) => r.worth >= most - SLACK * Math.abs(most));
  const clear = enough.filter((r) => !r.spine.opening.before);
  const able = clear.length > 0 ? clear : enough;
  const middle = ([...able].sort((a, b) => a.at - b.at)[(able.length - 1) >> 1] as { at: number }).at;
  const alike = able.filter((r) => Math.abs(r.at - middle) <= ALIKE);
  return (alike[alike.length - 1] as { spine: Spine<F> }).spine;
}

/** Rounds that lack no more than this share of the most upright canal show as much. */
const SLACK = 0.2;
/** Openings this near each other are one, mm. */
const ALIKE = 0.5;

/** How much upright canal a line shows up to its opening: counts only what clearly is, so that more concha is not more canal. */
function uprightness(walls: Samples, opening: Opening): number {
  let sum = 0;
  for (let k = 0; k * STEP <= opening.at && k < walls.length; k++) sum += Math.max(0, (walls.at(k) as number) - 0.6);
  return sum;
}

/** The rod's middles over the first stretch that is a tube with upright walls. */
function tubeOf<F extends Frame>({ stations, last }: Rod<F>): Point<F>[] {
  const first = firstWhole(stations.map((s) => s.wall));
  let end = first;
  while (end < Math.min(last, stations.length - 1) && (stations[end + 1] as Station<F>).wall >= UPRIGHT_SHARE) end++;
  const least = Math.min(stations.length - 1, Math.max(end - Math.round(GUARD / STEP), first + SHORTEST_STRETCH));
  return stations.slice(Math.max(0, Math.min(first, least - SHORTEST_STRETCH)), least + 1).map((s) => s.at);
}

/** The same curve in steps of STEP, with tangents by central differences. */
function evened<F extends Frame>(path: readonly Point<F>[]): Pick<Line<F>, 'points' | 'tangents'> {
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
function extended<F extends Frame>(slicer: Slicer<F>, line: Pick<Line<F>, 'points' | 'tangents'>, tip: Point<F>): Line<F> {
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
  const told = out.length;
  out.push(...points);
  for (let s = STEP; s <= BEYOND; s += STEP) out.push(addScaled(end, lateral, s));
  const along = tangentsOf(out);
  for (let k = told + n - 1; k < out.length; k++) along[k] = lateral;
  for (let k = 0; k < n - 1; k++) along[told + k] = tangents[k] as Point<F>;
  return { points: out, tangents: along, told, end: told + n - 1 };
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

/** No end face reaches farther than this from the tip, mm. */
const END_FACE = 8;

/** The first section from the tip that the end face does not cut, nor its next RUN - 1. */
function firstWhole(walls: Samples): number {
  const most = Math.min(walls.length - 1, Math.round(END_FACE / STEP));
  for (let k = 0; k < most; k++) {
    let whole = true;
    for (let j = 0; j < RUN; j++) whole &&= (walls.at(k + j) as number) >= UPRIGHT_SHARE;
    if (whole) return k;
  }
  return most;
}
const RUN = 4;

/** Share of its radius that the canal loses a step towards the tip, by the sections lateral of place k. */
function taperAt(areas: Samples, k: number): number {
  const near = Math.sqrt(areas.at(k) as number);
  const far = Math.sqrt(areas.at(Math.min(areas.length - 1, k + SHORTEST_STRETCH)) as number);
  return near > 0 ? Math.max(-0.02, Math.min(0.08, (far - near) / (SHORTEST_STRETCH * near))) : 0;
}

/**
 * The middles of the sections that are the canal's: the known ones, and those that following the canal adds at either end. Undefined where the
 * line is too short to be followed anywhere.
 */
function middlesOf<F extends Frame>(
  slicer: Slicer<F>,
  { line, profile, first }: Spine<F>,
  across: Point<F>,
  patience: number,
): (Middles<F> & Pick<LateralEnd, 'spent'>) | undefined {
  const from = Math.min(Math.max(first, line.told), line.end - SHORTEST_STRETCH);
  if (from < 0) return undefined;
  const last = Math.max(from + SHORTEST_STRETCH, line.end - Math.round(2 / STEP));
  const at = line.points.slice(from, last + 1).map((_, k) => profile.centre(from + k));
  const weights = at.map((_, k) => ((profile.areas.at(from + k) as number) > 0 ? 1 : 0));
  const whole = profile.slice(from + 1);
  const known = { at, weights };
  const { abrupt, spent } = followLaterally(slicer, known, across, patience);
  const guard = Math.min(Math.round((abrupt ? STEP : GUARD) / STEP), at.length - SHORTEST_STRETCH);
  if (guard > 0) {
    at.length -= guard;
    weights.length -= guard;
  }
  if (whole) {
    const template = templateOf(whole, line.points[from + 1] as Point<F>, line.tangents[from + 1] as Point<F>, across);
    followMedially(slicer, known, template, taperAt(profile.areas, from + 1), END_FACE, across);
  }
  return { ...known, spent };
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
