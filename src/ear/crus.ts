/**
 * The groove that the crus of the helix leaves between cymba and cavum, felt from the medial side: upright strips over the cast's medial
 * surface, each of which falls from the cavum's bowl into the groove and rises to the cymba's.
 */
import { addScaled, dot, type Point, sub } from '../geometry/vec.ts';
import type { EarFrame } from '../model/ear.ts';
import type { Slicer } from './slicer.ts';

export interface Groove {
  readonly at: Point<'scan'>;
  readonly confidence: number;
}

/** Strips from this far behind the aperture to this far before it, mm. */
const BEHIND = 8;
const BEFORE = 9;
const STRIP = 0.5;
/** From the canal's axis up, mm. */
const UP = 24;
const GRAIN = 0.25;
/** A groove is at least so deep, mm. */
const LEAST = 0.8;

/** `roof`: how far lateral of the aperture the rim lies on the canal's axis, mm: where nothing is met, the groove is open to there. */
export function grooveOf(slicer: Slicer<'scan'>, frame: EarFrame, roof: number): Groove | undefined {
  const found: { x: number; y: number; z: number; deep: number }[] = [];
  for (let x = -BEHIND; x <= BEFORE; x += STRIP) {
    const strip = stripAt(slicer, frame, x, roof);
    const best = deepest(strip);
    if (best) found.push({ x, y: best.k * GRAIN, z: strip[best.k] as number, deep: best.deep });
  }
  const run = longestRun(found);
  if (run.length < 4) return undefined;
  const middle = run[run.length >> 1] as { x: number; y: number; z: number; deep: number };
  const at = place(frame, middle.x, middle.y, middle.z);
  const deep = run.reduce((sum, g) => sum + g.deep, 0) / run.length;
  return { at, confidence: Math.min(1, run.length / 12) * (deep / (deep + 1)) };
}

const place = (f: EarFrame, x: number, y: number, z: number): Point<'scan'> =>
  addScaled(addScaled(addScaled(f.origin, f.anterior, x), f.superior, y), f.lateral, z);

/** Heights of the medial surface over the aperture along one strip, from the canal's axis up; `roof` where there is nothing below it. */
function stripAt(slicer: Slicer<'scan'>, frame: EarFrame, x: number, roof: number): Float64Array {
  const out = new Float64Array(Math.round(UP / GRAIN) + 1);
  const far = 60;
  for (let k = 0; k < out.length; k++) {
    const from = place(frame, x, k * GRAIN, -far);
    let least = Infinity;
    slicer.tree.alongRay(from, frame.lateral, (_t, d) => {
      if (d < least) least = d;
    });
    out[k] = Math.min(roof, least - far);
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
  // An open groove is flat-topped: its middle.
  let to = best.k;
  while (to + 1 < n && (strip[to + 1] as number) > (strip[best.k] as number) - 0.1) to++;
  return { k: (best.k + to) >> 1, deep: best.deep };
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

/** How far a point lies lateral of the aperture, mm. */
export const lateralOf = (frame: Pick<EarFrame, 'origin' | 'lateral'>, p: Point<'scan'>): number =>
  dot(sub(p, frame.origin), frame.lateral);
