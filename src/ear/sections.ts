/** The canal laid out by depth: its centreline and the sections square to it. */

import { addScaled, cross, dot, type Point, scale } from '../geometry/vec.ts';
import type { CanalSection, Centreline, EarFrame } from '../model/ear.ts';
import type { Spine } from './centreline.ts';
import { circumscribedAbout, inscribedIn } from './circles.ts';
import { directionToEar, pointToEar } from './frame.ts';
import { along } from './ground.ts';
import { CONCHA_REACH } from './rim.ts';
import type { Slice, Slicer } from './slicer.ts';
import { STEP } from './trace.ts';
import { hullOf, widthsOfHull } from './widths.ts';

/** The depth between two sections of the survey, mm. */
const SECTION_STEP = 0.25;
/** Sections are given from this far lateral of the aperture, mm. */
const SECTIONS_FROM = 3;

/** Lateral end first, in even steps of depth with one at the aperture. */
function depthsOf(spine: Spine<'scan'>, step: number, lateral: number, tip: number): number[] {
  const end = spine.opening.at - tip;
  const out: number[] = [];
  for (let k = -Math.floor(lateral / step); k * step < end - 1e-9; k++) out.push(k * step);
  return out;
}

export function centrelineOf(frame: EarFrame, spine: Spine<'scan'>, tip: number): Centreline {
  const lateral = (spine.line.points.length - 1) * STEP - spine.opening.at;
  const depths = [...depthsOf(spine, SECTION_STEP, lateral, tip), spine.opening.at - tip];
  const points: number[] = [];
  const tangents: number[] = [];
  for (const depth of depths) {
    const { at, tangent } = along(spine.line, spine.opening.at - depth);
    points.push(...pointToEar(frame, at));
    tangents.push(...directionToEar(frame, scale(tangent, -1)));
  }
  return { points: Float64Array.from(points), tangents: Float64Array.from(tangents), depths: Float64Array.from(depths) };
}

export function sectionsOf(slicer: Slicer<'scan'>, frame: EarFrame, spine: Spine<'scan'>, tip: number): CanalSection[] {
  const out: CanalSection[] = [];
  for (const depth of depthsOf(spine, SECTION_STEP, SECTIONS_FROM, tip)) {
    const { at, tangent } = along(spine.line, spine.opening.at - depth);
    const slice = slicer.outline(at, tangent, CONCHA_REACH);
    if (slice?.holds) out.push(sectionIn(frame, depth, at, tangent, slice));
  }
  return out;
}

function sectionIn(frame: EarFrame, depth: number, at: Point<'scan'>, tangent: Point<'scan'>, slice: Slice<'scan'>): CanalSection {
  const hull = hullOf(slice.points);
  const w = widthsOfHull(hull);
  const inScan = ([a, b]: readonly [number, number]): Point<'scan'> => addScaled(scale(slice.u, a), slice.v, b);
  const medially = directionToEar(frame, scale(tangent, -1));
  const majorDirection = pointing(directionToEar(frame, inScan(w.majorDirection)), 1);
  return {
    depth,
    at: pointToEar(frame, at),
    tangent: medially,
    area: slice.area,
    major: w.major,
    minor: w.minor,
    perimeter: slice.perimeter,
    majorDirection,
    minorDirection: pointing(directionToEar(frame, inScan(w.minorDirection)), 0),
    inscribed: 2 * inscribedIn(slice.points).radius,
    circumscribed: 2 * circumscribedAbout(hull).radius,
    outline: outlineIn(frame, slice, majorDirection, cross(medially, majorDirection)),
  };
}

/** The outline along two axes of its plane, counter-clockwise about them. */
function outlineIn(frame: EarFrame, { points, u, v }: Slice<'scan'>, a: Point<'ear'>, b: Point<'ear'>): Float64Array {
  const [eu, ev] = [directionToEar(frame, u), directionToEar(frame, v)];
  const [au, av, bu, bv] = [dot(a, eu), dot(a, ev), dot(b, eu), dot(b, ev)];
  const n = points.length / 2;
  const out = new Float64Array(points.length);
  // Slices run counter-clockwise about u, v; the axes may be mirrored against those.
  const turned = au * bv - av * bu < 0;
  for (let i = 0; i < n; i++) {
    const o = 2 * (turned ? n - 1 - i : i);
    const [x, y] = [points[2 * i] as number, points[2 * i + 1] as number];
    out[o] = au * x + av * y;
    out[o + 1] = bu * x + bv * y;
  }
  return out;
}

/** A line's direction with that component positive. */
const pointing = (d: Point<'ear'>, k: 0 | 1): Point<'ear'> => (d[k] < 0 ? scale(d, -1) : d);
