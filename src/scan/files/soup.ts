/** What every reader of a format gives: loose triangles in doubles, in the file's own unit. */
import { Fault } from '../../model/fault.ts';
import type { Finding, ScanFormat, Unit } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';

export interface Soup {
  readonly format: ScanFormat;
  /** Where the file states it (3MF, glTF). Its numbers are in this unit. */
  readonly unit?: Unit;
  /** Nine numbers a triangle. All finite; no negative zeros (so that equal places have equal bits). */
  readonly corners: Float64Array;
  /** Triangles in the file, those left out for non-finite numbers included. */
  readonly triangles: number;
  /** Coordinates were stored in 32 bits: their step grows with the distance from the origin. */
  readonly single: boolean;
  readonly findings: readonly Finding[];
}

/** Enough for any scanner (the finest write some 2 million); beyond it memory, not geometry, would decide. */
export const MOST_TRIANGLES = 5_000_000;

export function refuseTooMany(triangles: number): void {
  if (triangles <= MOST_TRIANGLES) return;
  throw new Fault(
    'scan/too-large',
    `the file holds ${grouped(triangles)} triangles, the limit is ${grouped(MOST_TRIANGLES)}`,
    '',
    'Reduce the scan in the scanning software (150 000 triangles show everything that matters here) and export it again.',
  );
}

export function refuseEmpty(): never {
  throw new Fault('scan/no-triangles', 'no triangles in file', '', 'The export wrote an empty model: export the scan again.');
}

/** A number that is none, where it stands in the file. */
export interface NotFinite {
  readonly triangle: number; // from 0
  readonly vertex: number; // 0..2
  readonly axis: 'x' | 'y' | 'z';
  readonly what: string; // "NaN", "infinite"
  readonly line?: number;
}

const wordsFor = (n: NotFinite): string =>
  n.line === undefined
    ? `triangle ${grouped(n.triangle + 1)}, vertex ${n.vertex + 1}: ${n.axis} is ${n.what}`
    : `line ${n.line}: ${n.axis} is not a finite number (${n.what})`;

/** Up to 1 triangle in this many may hold a number that is none: it is left out and said so. More, and the file is damaged. */
const BAD_SHARE = 1000;

/**
 * Leaves out triangles with non-finite numbers where they are very few (the gaps are treated as holes later), and
 * refuses the file where they are not. `corners` is changed in place; returns the part of it that is left.
 */
export function settleNotFinite(corners: Float64Array, bad: readonly NotFinite[], findings: Finding[]): Float64Array {
  const first = bad[0];
  if (first === undefined) return corners;
  const total = corners.length / 9;
  const triangles = [...new Set(bad.map((n) => n.triangle))];
  const list = bad.slice(0, 4).map(wordsFor).join('; ') + (bad.length > 4 ? ' ...' : '');
  if (triangles.length * BAD_SHARE > total) {
    throw new Fault(
      'scan/not-finite',
      `${grouped(triangles.length)} of ${counted(total, 'triangle')} ${triangles.length === 1 ? 'has' : 'have'} coordinates that are not finite numbers: ${list}`,
      first.line === undefined ? `triangle ${grouped(first.triangle + 1)}` : `line ${first.line}`,
      'The file is damaged: export the scan again.',
    );
  }
  const drop = new Set(triangles);
  let kept = 0;
  for (let t = 0; t < total; t++) {
    if (drop.has(t)) continue;
    corners.copyWithin(9 * kept, 9 * t, 9 * t + 9);
    kept++;
  }
  findings.push({
    code: 'scan/not-finite',
    level: 'warning',
    text: `${counted(triangles.length, 'triangle')} of ${grouped(total)} left out: ${list}. The file is damaged there; the gaps count as holes.`,
    count: triangles.length,
  });
  return corners.subarray(0, 9 * kept);
}

/** Which numbers of the soup are not finite, in order. Cheap when all are: one sum tells. */
export function findNotFinite(corners: Float64Array): NotFinite[] {
  let probe = 0;
  for (let i = 0; i < corners.length; i++) probe += (corners[i] as number) * 0; // NaN as soon as one is NaN or infinite
  const bad: NotFinite[] = [];
  if (probe === 0) return bad;
  for (let i = 0; i < corners.length; i++) {
    const c = corners[i] as number;
    if (Number.isFinite(c)) continue;
    const axis = (['x', 'y', 'z'] as const)[i % 3] as 'x' | 'y' | 'z';
    bad.push({ triangle: Math.floor(i / 9), vertex: Math.floor((i % 9) / 3), axis, what: Number.isNaN(c) ? 'NaN' : 'infinite' });
  }
  return bad;
}
