/** A survey held against the truth of a synthetic ear: how far each mark is off, and whether that is within what its confidence promises. */
import { directionToScan, pointToScan } from '../../src/ear/frame.ts';
import { acos, degrees } from '../../src/geometry/trig.ts';
import { distance, dot, type Point, sub, type Vec3 } from '../../src/geometry/vec.ts';
import type { Ear } from '../../src/model/ear.ts';
import type { EarTruth } from '../../src/synth/index.ts';

/** The marks that carry a confidence. */
export const MARKS = ['aperture', 'firstBend', 'secondBend', 'end', 'rim', 'crus'] as const;
export type MarkName = (typeof MARKS)[number];

/** Off by so much, mm (the angles: degrees). A mark found where there is none, or the other way round: Infinity. */
export interface Off {
  readonly aperture: number;
  readonly firstBend: number;
  readonly secondBend: number;
  readonly end: number;
  /** Off the rim plane at the truth's point of it, and between the normals. */
  readonly rim: number;
  readonly rimTurn: number;
  /** Up and down only: along its groove the crus has no sharp place. */
  readonly crus: number;
  readonly axis: number;
  readonly superior: number;
}

/** Tolerances that the survey's confidences are about (src/ear/trust.ts, written here again), mm. The rim's normal: 10 degrees. */
const TOLERANCE: Readonly<Record<MarkName, number>> = { aperture: 1, firstBend: 1.5, secondBend: 1.5, end: 1, rim: 1.5, crus: 2.5 };
const RIM_TURN = 10;

export const within = (off: Off, mark: MarkName): boolean => off[mark] <= TOLERANCE[mark] && (mark !== 'rim' || off.rimTurn <= RIM_TURN);

/** As the survey says it; undefined where it found no such mark. */
export const confidenceOf = (ear: Ear, mark: MarkName): number | undefined => ear[mark]?.confidence;

const between = (a: Vec3, b: Vec3): number => degrees(acos(Math.max(-1, Math.min(1, dot(a, b)))));

export function offOf(ear: Ear, truth: EarTruth): Off {
  const { frame } = ear;
  const from = (found: { readonly at: Point<'ear'> } | undefined, told: Vec3 | undefined): number => {
    if (!found && !told) return 0;
    return found && told ? distance(pointToScan(frame, found.at), told) : Infinity;
  };
  const { point, normal } = ear.rim.plane;
  const rimAt = pointToScan(frame, point);
  const rimNormal = directionToScan(frame, normal);
  const crus = ear.crus && sub(pointToScan(frame, ear.crus.at), truth.crus);
  return {
    aperture: from(ear.aperture, truth.aperture),
    firstBend: from(ear.firstBend, truth.firstBend?.at),
    secondBend: from(ear.secondBend, truth.secondBend?.at),
    end: from(ear.end, truth.end.at),
    rim: Math.abs(dot(sub(truth.rim.point, rimAt), rimNormal)),
    rimTurn: between(rimNormal, truth.rim.normal),
    crus: crus ? Math.abs(dot(crus, truth.superior)) : Infinity,
    axis: between(frame.lateral, truth.lateral),
    superior: between(frame.superior, truth.superior),
  };
}

/** The value that this share of them does not exceed (the next one up). */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? 0;
}
