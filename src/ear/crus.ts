/**
 * The groove that the crus of the helix leaves between cymba and cavum, felt from the medial side: upright strips over the cast's medial
 * surface, each of which falls from the cavum's bowl into the groove and rises to the cymba's.
 */
import { addScaled, dot, type Plane, type Point, sub } from '../geometry/vec.ts';
import type { EarFrame } from '../model/ear.ts';
import type { Slicer } from './slicer.ts';

export interface Groove {
  readonly at: Point<'scan'>;
  readonly confidence: number;
}

/** Strips from this far behind the aperture to this far before it, mm. */
const BEHIND = 15;
const BEFORE = 9;
const STRIP = 0.5;
/** From the canal's axis up, mm. */
const UP = 24;
const GRAIN = 0.25;
/** A groove is at least so deep, mm. */
const LEAST = 0.8;

/** In front the groove is open to the rim; where its bottom lies this far below it, material covers it, mm. */
const COVERED = 2.0;
/** With fewer covered strips than this they are an accident of where strips lie. */
const FEW = 3;

/** `rim`: the concha's; where nothing is met below it, the groove is open to there. */
export function grooveOf(slicer: Slicer<'scan'>, frame: EarFrame, rim: Plane<'scan'>): Groove | undefined {
  const roofAt = roofOf(frame, rim);
  const found: Foot[] = [];
  for (let x = -BEHIND; x <= BEFORE; x += STRIP) {
    const strip = stripAt(slicer, frame, x, roofAt);
    const best = deepest(strip);
    if (!best) continue;
    const [y, z] = [best.k * GRAIN, strip[best.k] as number];
    found.push({ x, y, z, deep: best.deep, covered: z < roofAt(x, y) - COVERED });
  }
  const run = longestRun(found);
  if (run.length < 4) return undefined;
  const covered = run.filter((g) => g.covered);
  // A groove that is open all along is so from its hind end on, beside where material would cover it.
  const seat = covered.length >= FEW ? covered : run.slice(0, FEW);
  const middle = seat[seat.length >> 1] as Foot;
  const at = place(frame, middle.x, middle.y, middle.z);
  const deep = run.reduce((sum, g) => sum + g.deep, 0) / run.length;
  return { at, confidence: Math.min(1, run.length / 12) * (deep / (deep + 1)) };
}

/** Where a strip falls into the groove: anterior, superior, lateral of the aperture, and how deep the groove is there, mm. */
interface Foot {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly deep: number;
  readonly covered: boolean;
}

/** How far lateral of the aperture the rim lies over a place, mm. */
function roofOf(frame: EarFrame, { point, normal }: Plane<'scan'>): (x: number, y: number) => number {
  const [nx, ny, nz] = [dot(normal, frame.anterior), dot(normal, frame.superior), Math.max(0.2, dot(normal, frame.lateral))];
  const off = dot(normal, sub(point, frame.origin));
  return (x, y) => (off - nx * x - ny * y) / nz;
}

const place = (f: EarFrame, x: number, y: number, z: number): Point<'scan'> =>
  addScaled(addScaled(addScaled(f.origin, f.anterior, x), f.superior, y), f.lateral, z);

/** Heights of the medial surface over the aperture along one strip, from the canal's axis up; the roof where there is nothing below it. */
function stripAt(slicer: Slicer<'scan'>, frame: EarFrame, x: number, roofAt: (x: number, y: number) => number): Float64Array {
  const out = new Float64Array(Math.round(UP / GRAIN) + 1);
  const far = 60;
  for (let k = 0; k < out.length; k++) {
    const from = place(frame, x, k * GRAIN, -far);
    let least = Infinity;
    slicer.tree.alongRay(from, frame.lateral, (_t, d) => {
      if (d < least) least = d;
    });
    out[k] = Math.min(roofAt(x, k * GRAIN), least - far);
  }
  return out;
}

/** The highest place of a strip that has lower ones on both sides, by how much it stands over the higher of the two. */
function deepest(strip: Float64Array): { k: number; deep: number } | undefined {
  const n = strip.length;
  const above = new Float64Array(n);
  let low = Infinity;
  for (let k = n - 1; k >= 0; k--) {
    above[k] = low;
    low = Math.min(low, strip[k] as number);
  }
  let best: { k: number; deep: number } | undefined;
  low = Infinity;
  for (let k = 0; k < n; k++) {
    const deep = (strip[k] as number) - Math.max(low, above[k] as number);
    if (deep > (best?.deep ?? LEAST) + 1e-9) best = { k, deep };
    low = Math.min(low, strip[k] as number);
  }
  if (!best) return undefined;
  // The highest place leans towards the shallower bowl: the middle between the flanks at half depth does not.
  const level = (strip[best.k] as number) - best.deep / 2;
  let from = best.k;
  while (from > 0 && (strip[from - 1] as number) > level) from--;
  let to = best.k;
  while (to + 1 < n && (strip[to + 1] as number) > level) to++;
  return { k: (from + to) >> 1, deep: best.deep };
}

/** Neighbouring strips whose grooves lie beside each other. */
function longestRun<G extends { x: number; y: number }>(found: readonly G[]): G[] {
  let best: G[] = [];
  let run: G[] = [];
  for (const g of found) {
    const last = run[run.length - 1];
    if (last && (g.x - last.x > 1.5 * STRIP || Math.abs(g.y - last.y) > 1.6)) run = [];
    run.push(g);
    if (run.length > best.length) best = [...run];
  }
  return best;
}
