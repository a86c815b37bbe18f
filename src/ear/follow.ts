/**
 * Following a canal beyond the stretch of it that is known, section by section, each plane square to where the line is going: towards the tip
 * by the wall that the end face has left, and laterally until the walls turn away into the concha.
 */
import { cos, PI, sin } from '../geometry/trig.ts';
import { addScaled, cross, distance, dot, type Frame, normalize, type Point, scale, sub } from '../geometry/vec.ts';
import type { Slice, Slicer } from './slicer.ts';
import { directionOfWalls, fitTemplate, type Template, wallShare } from './template.ts';
import { CANAL_AREA, STEEP, STEP } from './trace.ts';

/** Middles of sections, STEP apart, from the tip laterally; weights 0..1 say how well each is known. */
export interface Middles<F extends Frame> {
  readonly at: Point<F>[];
  readonly weights: number[];
}

/** No outline of a canal or of the concha about its mouth is looked for beyond this, mm. */
export const REACH = 22;
/** With less wall than this share the middle cannot be told by a template. */
const LEAST_WALL = 0.4;
/** Upright walls at least by this share: the section is a canal's, and its centroid the middle. */
export const UPRIGHT_SHARE = 0.82;
const FARTHEST = 40;
/** Shortest stretch that gives a direction: two chords of CHORD steps. */
const CHORD = 4;
export const SHORTEST_STRETCH = 2 * CHORD + 1;

/** Carries the middles on towards the tip, over at most `most` mm. `taper`: share of its radius that the canal loses a step. */
export function followMedially<F extends Frame>(
  slicer: Slicer<F>,
  { at, weights }: Middles<F>,
  template: Template<F>,
  taper: number,
  most: number,
  across: Point<F>,
): void {
  for (let step = 0; step < most / STEP; step++) {
    const along = heading(at[0], at[CHORD], at[2 * CHORD]);
    const p = addScaled(at[0] as Point<F>, along, STEP);
    // Planes face laterally throughout.
    let out = scale(along, -1);
    let slice = sectionAt(slicer, p, out);
    if (!slice) break;
    const walls = directionOfWalls(slice, p, out, across);
    if (dot(walls, out) > STEADY) {
      out = walls;
      slice = sectionAt(slicer, p, out);
      if (!slice) break;
    }
    const fit = fitTemplate(template, Math.max(0.5, 1 - taper * (step + 2)), slice, p);
    if (fit.share < LEAST_WALL || distance(fit.at, p) > STEP) break;
    at.unshift(fit.at);
    weights.unshift(fit.share * fit.share);
  }
}

/**
 * On the inner side of a bend a tapering canal flares for a moment as if it opened. So poor sections are passed over for up to PATIENCE mm,
 * as long as they have not grown by more than PATIENT_GROWTH; if the walls have not righted themselves by then, it was the opening. Bubbles
 * and folds in a bend spoil a longer stretch: only where that leaves a canal that opens into nothing are PATIENT mm passed over.
 */
export const PATIENCE = 3;
export const PATIENT = 6;
const PATIENT_GROWTH = 1.2;

/** Cosine of the most that the walls may say the line turns beside where it was going: more is the opening's doing. */
const STEADY = 0.966; // 15 degrees

/** How a canal was seen to end laterally. */
export interface LateralEnd {
  /** All at once, with upright walls to the last: nothing has drawn the last sections aside. */
  readonly abrupt: boolean;
  /** With patience at an end: more of it might have led on. */
  readonly spent: boolean;
}

/** Carries the middles on laterally to the last section that is a canal's. `patience`: mm of poor sections that are passed over. */
export function followLaterally<F extends Frame>(
  slicer: Slicer<F>,
  { at, weights }: Middles<F>,
  across: Point<F>,
  patience: number,
): LateralEnd {
  let poor = 0;
  let abrupt = false;
  let narrowed = false; // a plane had to be turned aside to see the canal alone
  let good = Infinity; // area of the last good section
  const areas: number[] = [];
  for (let step = 0; step < FARTHEST / STEP && poor * STEP < patience; step++) {
    const n = at.length - 1;
    let along = heading(at[n], at[n - CHORD], at[n - 2 * CHORD]);
    const p = addScaled(at[n] as Point<F>, along, STEP);
    const first = sectionAt(slicer, p, along);
    if (first) {
      const walls = directionOfWalls(first, p, along, across);
      if (dot(walls, along) > STEADY) along = walls;
    }
    let slice = sectionAt(slicer, p, along);
    if (!slice || slice.area > PATIENT_GROWTH * good || !canalLike(areas, slice.area)) {
      const free = freeSection(slicer, p, along, across, good);
      if (!free) {
        abrupt = poor === 0 && narrowed;
        break;
      }
      narrowed = true;
      along = free.along;
      slice = free.slice;
    }
    areas.push(slice.area);
    if (wallShare(slice, p, along, across) >= UPRIGHT_SHARE) {
      poor = 0;
      good = slice.area;
    } else poor++;
    at.push(slice.centroid);
    weights.push(poor === 0 ? 1 : 0.3);
  }
  at.length -= poor;
  weights.length -= poor;
  return { abrupt, spent: poor * STEP >= patience };
}

/** How far the plane is turned aside to get past a neighbour, radians. */
const ASIDE = [0.15, 0.3, 0.45] as const;
const ASIDE_WAYS = 12;

/**
 * Where a canal runs close along the concha, a plane that is a little askew cuts both at once. Turned aside, one of them may cut the canal
 * alone: the section of least area, if it is no larger than the last good one and upright all round.
 */
function freeSection<F extends Frame>(
  slicer: Slicer<F>,
  p: Point<F>,
  along: Point<F>,
  across: Point<F>,
  good: number,
): { slice: Slice<F>; along: Point<F> } | undefined {
  const u = normalize(addScaled(across, along, -dot(across, along)));
  const v = cross(along, u);
  // What is sought is no larger than the last good section: an outline that leaves this ball is not.
  // (Of an ellipse three times as long as it is wide, the half length is a fiftieth less than the root of its area.)
  const reach = Math.min(REACH, Math.sqrt(NO_LARGER * Math.min(good, CANAL_AREA.most)));
  let best: { slice: Slice<F>; along: Point<F> } | undefined;
  for (const aside of ASIDE) {
    for (let k = 0; k < ASIDE_WAYS; k++) {
      const a = (2 * PI * k) / ASIDE_WAYS;
      const way = normalize(addScaled(addScaled(along, u, aside * cos(a)), v, aside * sin(a)));
      const slice = slicer.outline(p, way, reach);
      if (!slice?.holds || slice.area > NO_LARGER * good || distance(slice.centroid, p) > STEP) continue;
      if (best && slice.area >= best.slice.area) continue;
      if (wallShare(slice, p, way, across) >= FREE_SHARE) best = { slice, along: way };
    }
  }
  return best;
}
const NO_LARGER = 1.08;
/** Of a free section's wall, at least so much is upright: an opening is not. */
const FREE_SHARE = 0.9;

/** Is a section that follows these still narrow enough, and not too much wider than those before it? */
function canalLike(before: readonly number[], area: number): boolean {
  if (area > CANAL_AREA.most) return false;
  const back = before[before.length - CHORD];
  return back === undefined || Math.sqrt(area / Math.PI) - Math.sqrt(back / Math.PI) <= STEEP * CHORD * STEP;
}

export function sectionAt<F extends Frame>(slicer: Slicer<F>, p: Point<F>, along: Point<F>): Slice<F> | undefined {
  const slice = slicer.outline(p, along, REACH);
  return slice && (slice.holds || slice.margin <= 1) ? slice : undefined;
}

/** Direction of a line half a step beyond its end, by the turn of its last chords. */
function heading<F extends Frame>(end: Point<F> | undefined, middle: Point<F> | undefined, start: Point<F> | undefined): Point<F> {
  const near = normalize(sub(end as Point<F>, middle as Point<F>));
  const far = normalize(sub(middle as Point<F>, start as Point<F>));
  // The middles of the chords lie CHORD steps apart; the wanted place half a chord and half a step beyond that of the nearer one.
  return normalize(addScaled(near, sub(near, far), (CHORD + 1) / 2 / CHORD));
}
