/**
 * From a tip inwards along the rod: a first, rough line of section centroids.
 *
 * The centroids of parallel plane sections of a straight rod lie on its axis however askew the planes are, so a few parallel cuts find the
 * axis from a poor first direction; from there the planes follow the line.
 */
import { addScaled, distance, dot, type Frame, normalize, type Point, sub } from '../geometry/vec.ts';
import type { Slice, Slicer } from './slicer.ts';
import { wallsOf } from './template.ts';
import type { Tip } from './tips.ts';
import { axisOfWalls } from './walls.ts';
import { widthsOf } from './widths.ts';

export interface Station<F extends Frame> {
  readonly at: Point<F>; // the section's centroid
  readonly along: Point<F>; // the plane's normal, from the tip inwards
  readonly area: number;
  readonly elongation: number; // hull's largest over least width
  readonly solidity: number; // area over the hull's
  readonly wall: number; // share of the outline that is square to the plane
}

export interface Rod<F extends Frame> {
  readonly tip: Tip<F>;
  readonly across: Point<F>;
  readonly stations: readonly Station<F>[]; // from the tip inwards, STEP apart
  /** How much of it is a tube that sticks out: sum of lengths times radii over the stations that look like a canal, mm2, less for a slight rise. */
  readonly score: number;
  /** Length that looks like a canal, mm. */
  readonly tube: number;
  /** Last station that does. */
  readonly last: number;
}

interface Start<F extends Frame> {
  readonly at: Point<F>;
  readonly along: Point<F>;
}

export const STEP = 0.5;
/** Nothing in a canal is farther than this from its centreline, mm; a wider section is the concha's. */
const REACH = 18;
/** Sections of adult canals and their moulds, mm2 (5th to 95th percentile 39-86 at the first bend, entrance to 137; Voss 2020, 2023), with room to spare. */
export const CANAL_AREA = { least: 12, most: 180 } as const;
const FARTHEST = 45;

/** `across`: a direction that turns with the cast, not along the rod. */
export const traceRod = <F extends Frame>(slicer: Slicer<F>, tip: Tip<F>, across: Point<F>): Rod<F> =>
  traceFrom(slicer, tip, across, settle(slicer, tip));

/** Of the surface about a tip, so much shows the walls behind the end face, mm. */
const WALL_REACH = 10;

/**
 * The same where the end face slants so much that the first cuts run out through the wall and never find the axis: it is taken from the
 * walls behind the end face instead. `centre`: the cast's centroid.
 */
export function traceByWalls<F extends Frame>(slicer: Slicer<F>, tip: Tip<F>, across: Point<F>, centre: Point<F>): Rod<F> {
  const along = axisOfWalls(slicer.mesh, tip.at, WALL_REACH, normalize(sub(centre, tip.at)));
  return traceFrom(slicer, tip, across, { at: addScaled(tip.at, along, 1), along });
}

function traceFrom<F extends Frame>(slicer: Slicer<F>, tip: Tip<F>, across: Point<F>, start: Start<F>): Rod<F> {
  const stations: Station<F>[] = [];
  let along = start.along;
  let p = start.at;
  for (let s = 0; s < FARTHEST; s += STEP) {
    const slice = slicer.outline(p, along, REACH);
    if (!slice || (!slice.holds && slice.margin > 1)) break;
    const { share, direction } = wallsOf(slice, p, along, across);
    const station = stationOf(slice, along, share);
    if (station.area > 2.2 * CANAL_AREA.most) break;
    stations.push(station);
    along = steer(stations, along, direction);
    p = addScaled(station.at, along, STEP);
  }
  const rating = rate(stations);
  return { tip, across, stations, ...rating, score: rating.score * (tip.rise / (tip.rise + 3)) };
}

function stationOf<F extends Frame>(slice: Slice<F>, along: Point<F>, wall: number): Station<F> {
  const w = widthsOf(slice.points);
  return {
    at: slice.centroid,
    along,
    area: slice.area,
    elongation: w.major / w.minor,
    solidity: slice.area / w.hullArea,
    wall,
  };
}

/** The axis near the tip, by parallel cuts, and the point 1 mm inside the tip on it. */
function settle<F extends Frame>(slicer: Slicer<F>, tip: Tip<F>): Start<F> {
  let along = tip.inward;
  let at = addScaled(tip.at, along, 1);
  for (let round = 0; round < 4; round++) {
    const centres: Point<F>[] = [];
    let p = addScaled(tip.at, along, 2);
    for (let s = 2; s <= 6; s += STEP) {
      const slice = slicer.outline(p, along, REACH);
      if (!slice || (!slice.holds && slice.margin > 3) || slice.area > CANAL_AREA.most) break;
      centres.push(slice.centroid);
      p = addScaled(slice.centroid, along, STEP);
    }
    const first = centres[0];
    const last = centres[centres.length - 1];
    if (!first || !last || centres.length < 4) break;
    along = normalize(sub(last, first));
    at = addScaled(first, along, 1 - dot(sub(first, tip.at), along));
  }
  return { at, along };
}

/** Where to go on: as the walls run while they are a tube's, straight on where it widens. The first millimetres belong to the end face. */
function steer<F extends Frame>(stations: readonly Station<F>[], along: Point<F>, walls: Point<F>): Point<F> {
  const k = stations.length - 1;
  const back = Math.min(k, 6);
  if (back < 4) return along;
  const now = stations[k] as Station<F>;
  const then = stations[k - back] as Station<F>;
  const gone = distance(now.at, then.at);
  const widening = (Math.sqrt(now.area) - Math.sqrt(then.area)) / (gone * Math.sqrt(Math.PI));
  if (widening > STEEP || now.elongation > 2.8) return along;
  // No canal turns sharper: a side that opens makes the walls say so.
  return dot(walls, along) > SHARPEST ? walls : along;
}
const SHARPEST = 0.94; // 20 degrees in half a millimetre

/** Radius gained a millimetre: above this it is no tube. A cone as steep is open by 53 degrees. */
export const STEEP = 0.5;

/** A tube starts within this of its tip, mm; what looks like one farther on is another rod, met from behind. */
const START = 6.5;

function rate<F extends Frame>(stations: readonly Station<F>[]): { score: number; tube: number; last: number } {
  let score = 0;
  let tube = 0;
  let last = 0;
  for (let k = 4; k < stations.length; k++) {
    const s = stations[k] as Station<F>;
    const before = stations[k - 4] as Station<F>;
    const slope = (Math.sqrt(s.area) - Math.sqrt(before.area)) / (4 * STEP * Math.sqrt(Math.PI));
    const canal = s.area >= CANAL_AREA.least && s.area <= CANAL_AREA.most && s.elongation <= 2.8 && s.solidity >= 0.95;
    if (!canal || slope > STEEP || slope < -0.45) {
      if (tube > 0 || k * STEP >= START || s.area > CANAL_AREA.most) break;
      continue;
    }
    const even = 1 - Math.abs(slope) / STEEP; // a canal hardly tapers; a cone is more likely a piece of concha
    score += STEP * Math.sqrt(s.area / Math.PI) * even * even * even;
    tube += STEP;
    last = k;
  }
  return { score, tube, last };
}
