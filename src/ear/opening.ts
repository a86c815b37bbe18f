/**
 * Where a tube begins to open.
 *
 * Tried first: the area against depth, as a parabola with an extra from some place on. It works where the canal hardly tapers, and is fooled
 * where it widens like a trumpet before the concha. What tells a trumpet from an opening is that a trumpet's walls slant alike all
 * round, while the concha's floor turns them away one side after the other (a canal lies at the concha's edge, and askew).
 * So: the place where less than two thirds of the wall still slant like the rest (`wallShare`). On synthetic casts, whose aperture is
 * where the opening has added 5 % to the canal's section, that is the aperture within 0.35 mm (95 of 100).
 */

import type { Samples } from './profile.ts';
import { CANAL_AREA } from './trace.ts';

export interface Opening {
  /** mm from the first sample. */
  readonly at: number;
  /** 0..1: how abruptly the tube opens there. */
  readonly confidence: number;
  /** Did it open into something wider? Otherwise `at` is where the tube was last seen. */
  readonly seen: boolean;
  /** It was open already at the first place that was looked at: it opens there or before. */
  readonly before: boolean;
}

/** Share of upright wall at the aperture. */
const MOUTH = 2 / 3;
/** Radius gained a millimetre, over 2 mm, above which no canal is left. */
const FUNNEL = 0.65;
/** Walls that part ways within this after that still tell the place better, mm. */
const LATER = 1.5;
/** It stays open, within this, for STAY mm: a bubble does not. */
const BACK = 0.04;
const STAY = 1;
/** A tube of at least this length comes before, mm. */
const TUBE = 2;
/** Within WITHIN mm the section must have grown by this factor; a cast cut off square has no concha. */
const GROWTH = 1.25;
const WITHIN = 5;

/** `walls`: share of upright wall, `areas`: mm2; `step` mm apart, from the tip laterally; areas 0 outside the cast, infinite beyond reach. `first`: where the tube's own sections begin. */
export function findOpening(walls: Samples, areas: Samples, step: number, first: number): Opening {
  const stay = Math.round(STAY / step);
  const from = first + Math.round(TUBE / step);
  let mouth = from;
  while (mouth + 1 < walls.length && !crossesAfter(walls, mouth, stay)) mouth++;
  const parts = mouth + 1 < walls.length;
  const late = parts ? mouth - Math.round(LATER / step) : walls.length; // a funnel from there on is none
  let funnel = from;
  while (funnel < late && !tooWide(areas, funnel, step)) funnel++;
  if (parts && funnel >= late) {
    const here = walls.at(mouth) as number;
    const next = walls.at(mouth + 1) as number;
    const at = (mouth + Math.max(0, Math.min(1, (here - MOUTH) / Math.max(1e-9, here - next)))) * step;
    const before = mouth === from && here < MOUTH;
    return { at, confidence: abruptness(walls, mouth, step), seen: grows(areas, mouth, step), before };
  }
  if (funnel < walls.length) return { at: funnel * step, confidence: 0.3, seen: grows(areas, funnel, step), before: funnel === from };
  let last = first;
  while (last + 1 < areas.length && (areas.at(last + 1) as number) > 0) last++;
  return { at: last * step, confidence: 0, seen: false, before: false };
}

/** A funnel may widen evenly all round, so that its walls never part ways: it is open where it is too wide or too steep for a canal. */
function tooWide(areas: Samples, k: number, step: number): boolean {
  const ahead = Math.round(2 / step);
  const here = areas.at(k) as number;
  const then = areas.at(k + ahead) ?? 0;
  if (here > CANAL_AREA.most) return true;
  return here > 0 && then > 0 && Math.sqrt(then / Math.PI) - Math.sqrt(here / Math.PI) > FUNNEL * ahead * step;
}

function crossesAfter(walls: Samples, k: number, stay: number): boolean {
  if ((walls.at(k + 1) as number) >= MOUTH) return false;
  for (let j = k + 2; j <= k + stay && j < walls.length; j++) if ((walls.at(j) as number) >= MOUTH + BACK) return false;
  return true;
}

/** How much of the wall turns away between 1.5 mm before and 1.5 mm after; four fifths of it is as clear as it gets. */
function abruptness(walls: Samples, k: number, step: number): number {
  const reach = Math.round(1.5 / step);
  const before = walls.at(Math.max(0, k - reach)) as number;
  const after = walls.at(Math.min(walls.length - 1, k + 1 + reach)) as number;
  return Math.max(0.05, Math.min(1, (before - after) / 0.8));
}

function grows(areas: Samples, k: number, step: number): boolean {
  const here = areas.at(k) as number;
  for (let j = k + 1; j < areas.length && (j - k) * step <= WITHIN; j++) {
    if ((areas.at(j) as number) > GROWTH * here) return true;
  }
  return false;
}
