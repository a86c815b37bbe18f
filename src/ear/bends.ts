/** Bends of the canal: peaks of the centreline's curvature medial of the aperture. */

import { acos, radians } from '../geometry/trig.ts';
import { dot, length, type Point } from '../geometry/vec.ts';
import { curvatureOf, type Line } from './centreline.ts';
import { STEP } from './trace.ts';
import { bendTrust } from './trust.ts';

export interface Turn {
  readonly s: number; // mm along the line
  readonly angle: number; // radians
  /** Chance that it lies within 1.5 mm of there. */
  readonly confidence: number;
}

/** A place that turns the canal by less is no bend. Common practice, no published source. */
const LEAST = radians(8);
/** Of a bend that runs on into the tip, where sections no longer tell the line, less is seen: so much is enough if its crest is. */
const LEAST_AT_END = radians(5);
/**
 * Where less than this of the line is told medial of a crest, mm, the cast may as well end before it as past it. Such a bend is believed only
 * where bends usually lie: this far from the aperture. (From memory; no numeric source found.)
 */
const SHOWN = 2.6;
const USUAL = 7.5;
/** Two bends of one canal lie this far apart or more, mm. */
const APART = 3.2;
/** No bend is sought this near the aperture, mm: there the concha's edge sways the sections. */
const CLEAR = 2.5;

/** Up to two bends between the end of the line and `aperture` (mm along it), the lateral one first. */
export function bendsOf(line: Line<'scan'>, aperture: number): Turn[] {
  const first = line.told + 1; // curvature there needs one place on either side
  const kappa = curvatureOf(line);
  const size = kappa.map(length);
  const last = Math.floor((aperture - CLEAR) / STEP);
  const found: (Omit<Turn, 'confidence'> & { inside: number; from: number; to: number })[] = [];
  for (const k of peaksOf(size, first, Math.min(last, size.length - 1))) {
    if (found.some((t) => k >= t.from && k <= t.to)) continue; // a lesser peak of a bend that is known
    const from = foot(kappa, size, k, -1, first);
    const to = foot(kappa, size, k, 1, last);
    const angle = acos(dot(line.tangents[from] as Point<'scan'>, line.tangents[to] as Point<'scan'>));
    const cutShort = k > first && from <= first + 2;
    if (angle < (cutShort ? LEAST_AT_END : LEAST)) continue;
    const inside = (k - first) * STEP;
    if (inside <= SHOWN && aperture - k * STEP < USUAL) continue;
    found.push({ s: crestOf(size, k, from, to) * STEP, angle, inside, from, to });
  }
  const kept: (typeof found)[number][] = [];
  for (const t of found.sort((a, b) => b.angle - a.angle)) {
    if (kept.length < 2 && kept.every((other) => Math.abs(other.s - t.s) >= APART)) kept.push(t);
  }
  return kept.sort((a, b) => b.s - a.s).map(({ s, angle, inside }, i) => ({ s, angle, confidence: bendTrust(angle, inside, i > 0) }));
}

/**
 * Places of greatest curvature, the greatest first. The first place counts if curvature falls from there on: the cast ends within that
 * bend, and all that it shows of it is on one side.
 */
function peaksOf(size: readonly number[], first: number, last: number): number[] {
  const peaks: number[] = [];
  for (let k = first; k < last; k++) {
    const here = size[k] as number;
    const before = k === first ? -1 : (size[k - 1] as number);
    if (here > before && here >= (size[k + 1] as number)) peaks.push(k);
  }
  return peaks.sort((a, b) => (size[b] as number) - (size[a] as number));
}

/** Where a bend ends: curvature falls below a tenth of its peak, turns the other way, or rises again. */
function foot(kappa: readonly Point<'scan'>[], size: readonly number[], peak: number, way: 1 | -1, stop: number): number {
  const top = size[peak] as number;
  let k = peak;
  let lowest = top;
  while (k !== stop && k + way >= 0 && k + way < size.length) {
    const next = size[k + way] as number;
    if (dot(kappa[k + way] as Point<'scan'>, kappa[peak] as Point<'scan'>) <= 0 || next < 0.1 * top) return k + way;
    if (next > lowest + 0.15 * top) return k;
    lowest = Math.min(lowest, next);
    k += way;
  }
  return k;
}

/** A crest is flat, and its highest sample wherever noise puts it: the middle of all that rises above this share of it is steadier. */
const CREST = 0.7;

/** Middle of the crest round the peak, weighted by curvature; in places of the line. */
function crestOf(size: readonly number[], peak: number, from: number, to: number): number {
  const above = CREST * (size[peak] as number);
  let sum = 0;
  let weight = 0;
  const take = (k: number): boolean => {
    const w = (size[k] as number) - above;
    if (w <= 0) return false;
    sum += w * k;
    weight += w;
    return true;
  };
  take(peak);
  for (let k = peak - 1; k >= Math.min(from, to) && take(k); k--);
  for (let k = peak + 1; k <= Math.max(from, to) && take(k); k++);
  return sum / weight;
}
