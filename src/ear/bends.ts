/** Bends of the canal: peaks of the centreline's curvature medial of the aperture. */

import { acos, radians } from '../geometry/trig.ts';
import { dot, length, type Point } from '../geometry/vec.ts';
import { curvatureOf, type Line } from './centreline.ts';
import { STEP } from './trace.ts';

export interface Turn {
  readonly s: number; // mm along the line
  readonly angle: number; // radians
  readonly confidence: number;
}

/** A place that turns the canal by less is no bend. Common practice, no published source. */
const LEAST = radians(8);
/** Of a bend that runs on into the tip, where sections no longer tell the line, less is seen: so much is enough if its crest is. */
const LEAST_AT_END = radians(5);
/** No bend is sought this near the aperture, mm: there the concha's edge sways the sections. */
const CLEAR = 2.5;

/** Up to two bends between the end of the line and `aperture` (mm along it), the lateral one first. */
export function bendsOf(line: Line<'scan'>, aperture: number): Turn[] {
  const first = line.told + 1; // curvature there needs one place on either side
  const kappa = curvatureOf(line);
  const size = kappa.map(length);
  const last = Math.floor((aperture - CLEAR) / STEP);
  const found: (Turn & { from: number; to: number })[] = [];
  for (const k of peaksOf(size, first, Math.min(last, size.length - 1))) {
    if (found.some((t) => k >= t.from && k <= t.to)) continue; // a lesser peak of a bend that is known
    const from = foot(kappa, size, k, -1, first);
    const to = foot(kappa, size, k, 1, last);
    const angle = acos(dot(line.tangents[from] as Point<'scan'>, line.tangents[to] as Point<'scan'>));
    const cutShort = k > first && from <= first + 2;
    if (angle < (cutShort ? LEAST_AT_END : LEAST)) continue;
    found.push({ s: crestOf(size, k, from, to) * STEP, angle, confidence: trust(angle, k - first), from, to });
  }
  return found
    .sort((a, b) => b.angle - a.angle)
    .slice(0, 2)
    .sort((a, b) => b.s - a.s)
    .map(({ s, angle, confidence }) => ({ s, angle, confidence }));
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

/** Sharper turns and turns well inside the cast are surer. */
const trust = (angle: number, samples: number): number => {
  const sharp = angle / (angle + radians(6));
  const inside = Math.min(1, (samples * STEP) / 3);
  return sharp * (0.5 + 0.5 * inside);
};
