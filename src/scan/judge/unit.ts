/**
 * The file's unit. Where it states none, millimetres are taken where they are believable, and asked about where not:
 * nothing is ever converted on a guess.
 *
 * An ear impression is taken to be 10 to 60 mm long (from memory, no published source).
 */
import type { Bounds } from '../../geometry/mesh.ts';
import { Fault } from '../../model/fault.ts';
import type { Finding, Unit } from '../../model/scan.ts';
import { short } from '../wording.ts';

export const UNITS: readonly Unit[] = ['mm', 'cm', 'm', 'um', 'inch'];

/** Units as people read them. */
export const UNIT_WORDS: Record<Unit, string> = { mm: 'millimetres', cm: 'centimetres', m: 'metres', um: 'micrometres', inch: 'inches' };

/** Usual longest extents of an impression, mm. */
const USUAL = [10, 60] as const;
/** Read as millimetres with a warning up to here: a bulky impression with its handle, a whole ear, a mere stub. */
const BEARABLE = [8, 100] as const;
/** Outside this, mm, no geometry of an ear is left to work on, whatever the unit given. */
const POSSIBLE = [0.01, 10_000] as const;
/** Farther than this from the origin, mm, doubles no longer resolve the weld tolerance comfortably. */
const FARTHEST = 1e9;

/** Times how many millimetres. Micrometres divide, because 1/1000 is no double. */
export function toMillimetres(x: number, unit: Unit): number {
  if (unit === 'mm') return x;
  if (unit === 'um') return x / 1000;
  return x * (unit === 'inch' ? 25.4 : unit === 'cm' ? 10 : 1000);
}

const within = (x: number, [lo, hi]: readonly [number, number]): boolean => x >= lo && x <= hi;

/** Units in which the extent would be that of an impression. */
export function believableUnits(extent: number): Unit[] {
  const usual = UNITS.filter((u) => within(toMillimetres(extent, u), USUAL));
  return usual.length > 0 ? usual : UNITS.filter((u) => within(toMillimetres(extent, u), BEARABLE));
}

export const longest = (b: Bounds<'scan'>): number => Math.max(b.max[0] - b.min[0], b.max[1] - b.min[1], b.max[2] - b.min[2]);

/** Who says what unit the file is in, if anyone. */
export interface Said {
  /** The user. Rules over everything. */
  readonly asked?: Unit | undefined;
  /** The file (3MF, glTF). Taken without a question where the size that it gives is bearable. */
  readonly stated?: Unit | undefined;
}

/**
 * Decides the unit from the longest extent, in the file's own numbers. `onePiece` gives that of the largest piece alone;
 * it is asked for only where the whole file is too large (two ears in one file).
 *
 * @throws Fault scan/unit with the believable units as its choices; scan/size where the user's unit cannot be
 */
export function settleUnit(extent: number, onePiece: () => number, { asked, stated }: Said, findings: Finding[]): Unit {
  if (asked !== undefined) return asAsked(extent, asked, stated, findings);
  const unit = stated ?? 'mm';
  if (!within(toMillimetres(extent, unit), POSSIBLE)) throw unbelievable(extent, unit);
  const whole = toMillimetres(extent, unit);
  const judged = whole > BEARABLE[1] ? toMillimetres(onePiece(), unit) : whole;
  if (!within(judged, BEARABLE)) throw unbelievable(whole > BEARABLE[1] ? onePiece() : extent, unit);
  if (stated !== undefined && stated !== 'mm') {
    findings.push({
      code: 'scan/unit',
      level: 'note',
      text: `The file states ${UNIT_WORDS[stated]}: the largest extent ${short(extent)} is ${short(whole)} mm.`,
    });
  }
  warnSize(judged, findings);
  return unit;
}

function asAsked(extent: number, asked: Unit, stated: Unit | undefined, findings: Finding[]): Unit {
  const size = toMillimetres(extent, asked);
  if (!within(size, POSSIBLE)) {
    const fits = believableUnits(extent);
    throw new Fault(
      'scan/size',
      `the largest extent is ${short(extent)} in the file's numbers, ${short(size)} mm as ${UNIT_WORDS[asked]}: that is no ear impression (${USUAL[0]} to ${USUAL[1]} mm)${inUnits(extent, fits)}`,
      '',
      fits.length > 0
        ? `Set the unit to ${fits.join(' or ')} if that is right.`
        : 'Check the file in the scanning software; a stray triangle far away would do this too.',
      fits,
    );
  }
  const against = stated !== undefined && stated !== asked;
  if (asked !== 'mm' || against) {
    findings.push({
      code: 'scan/unit',
      level: against ? 'warning' : 'note',
      text: `Unit set by the user: ${UNIT_WORDS[asked]}${against ? `, although the file states ${UNIT_WORDS[stated]}` : ''}; the largest extent ${short(extent)} is ${short(size)} mm.`,
    });
  }
  warnSize(size, findings);
  return asked;
}

function warnSize(size: number, findings: Finding[]): void {
  if (within(size, USUAL)) return;
  const much = size > USUAL[1] ? 'large' : 'small';
  findings.push({
    code: 'scan/size',
    level: 'warning',
    text: `The largest extent is ${short(size)} mm: ${much} for an ear impression (${USUAL[0]} to ${USUAL[1]} mm). Is this the right file, and the right unit?`,
  });
}

const inUnits = (extent: number, units: readonly Unit[]): string =>
  units.length === 0 ? '' : `; in ${units.map((u) => `${UNIT_WORDS[u]} it is ${short(toMillimetres(extent, u))} mm`).join(', in ')}`;

function unbelievable(extent: number, unit: Unit): Fault {
  const units = believableUnits(extent).filter((u) => u !== unit);
  const size = toMillimetres(extent, unit);
  const much = size < BEARABLE[0] ? 'small' : 'large';
  const as = unit === 'mm' ? 'as millimetres' : `as ${UNIT_WORDS[unit]}, which the file states, ${short(size)} mm:`;
  return new Fault(
    'scan/unit',
    `largest extent ${short(extent)}; ${as} that is too ${much} for an ear impression (${USUAL[0]} to ${USUAL[1]} mm)${inUnits(extent, units)}`,
    '',
    units.length > 0
      ? `Say which unit the file is in: ${units.join(' or ')}.`
      : 'In no unit is it one. Choose the scan of an impression; to read this one all the same, give its unit.',
    units,
  );
}

/** Refuses scans so far from the origin that coordinates cannot tell points apart, and warns of a coarse 32-bit step. */
export function judgePrecision(b: Bounds<'scan'>, unit: Unit, single: boolean, findings: Finding[]): void {
  const far = Math.max(...b.min.map(Math.abs), ...b.max.map(Math.abs));
  if (toMillimetres(far, unit) > FARTHEST) {
    throw new Fault(
      'scan/far',
      `the scan lies ${short(toMillimetres(far, unit))} mm from the origin; coordinates there are too coarse to use`,
      '',
      'Move the scan to the origin in the scanning software and export it again.',
    );
  }
  if (!single) return;
  const step = toMillimetres(singleStep(far), unit);
  if (step < COARSE) return;
  findings.push({
    code: 'scan/coarse',
    level: 'warning',
    text: `The scan lies up to ${short(toMillimetres(far, unit))} mm from the origin: there the file's own numbers step by ${short(step)} mm, so that much detail is lost already. Export it again near the origin, or as text.`,
  });
}

/** A step of the file's numbers worth a warning, mm: a twentieth of the tolerance that verdicts work with. */
const COARSE = 0.005;

/** The gap between neighbouring 32-bit numbers at x: 2^-23 of the power of two below it. */
function singleStep(x: number): number {
  let power = 1;
  while (power > x && power > 1e-30) power /= 2;
  while (power * 2 <= x) power *= 2;
  return power / 8388608;
}
