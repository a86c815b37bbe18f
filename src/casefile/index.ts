/**
 * A case as a file: which scan, and everything that was said about it. Nothing in it that the engine does not heed; what is
 * not said is as the engine's defaults have it. Names of other files are plain names beside the case, so that a case cannot
 * reach out of its folder.
 */
import * as v from 'valibot';
import { isFileOf, readJson } from '../json/index.ts';
import { figure, head, keyed, list, oneOf, type Reads, wholeFigure } from '../json/schema.ts';
import type { EarOverrides, Side } from '../model/ear.ts';
import type { Change, Effort } from '../model/fit.ts';
import type { OrderRequest } from '../model/order.ts';
import type { Rules, StyleName } from '../model/parts.ts';
import { STYLES } from '../model/parts.ts';
import type { Unit } from '../model/scan.ts';
import { SomeOrder } from '../order/index.ts';
import { SomeRules } from '../parts/index.ts';
import { UNITS } from '../scan/index.ts';
import { SomeCorrections } from './corrections.ts';

export { readCorrections } from './corrections.ts';

export interface CaseFile {
  /** Name of the scan's file, beside the case. */
  readonly scan: string;
  readonly side?: Side;
  readonly unit?: Unit;
  /** Set by hand in place of what the survey finds. */
  readonly corrections?: EarOverrides;
  readonly order?: OrderRequest;
  readonly rules?: Partial<Rules>;
  readonly cuts?: NonNullable<Change['cuts']>;
  readonly styles?: readonly StyleName[];
  readonly seed?: number;
  readonly effort?: Effort;
  /** Name of a catalogue's file, beside the case. */
  readonly catalogue?: string;
}

export const CASE_FORMAT = 'cavum-case';

const LONGEST_NAME = 255;

/** A file beside the case: no folder, no drive, no climbing out. What the file holds is never shown. */
const besideName: Reads<string> = v.pipe(
  v.unknown(),
  v.check(
    (x) => typeof x === 'string' && x.length > 0 && x.length <= LONGEST_NAME && !/[\\/:\p{Cc}]/u.test(x) && x !== '.' && x !== '..',
    ({ input }) =>
      `${input === undefined ? 'missing' : `found ${JSON.stringify(String(input).slice(0, 60))}`}, the plain name of a file beside the case is needed (no folders)`,
  ),
  v.transform((x) => x as string),
);

/** Wide: what a style allows is asked when it is cut. */
const turn = v.optional(figure(-90, 90, 'degrees'));
export const SomeCuts = keyed({
  outer: v.optional(figure(-10, 30, 'mm')),
  tilt: v.optional(keyed({ superior: turn, anterior: turn })),
  tip: v.optional(figure(0, 20, 'mm')),
});

const CaseKeys = keyed({
  ...head(CASE_FORMAT),
  scan: besideName,
  side: v.optional(oneOf(['left', 'right'])),
  unit: v.optional(oneOf(UNITS)),
  corrections: v.optional(SomeCorrections),
  order: v.optional(SomeOrder),
  rules: v.optional(SomeRules),
  cuts: v.optional(keyed(Object.fromEntries(STYLES.map((s) => [s, v.optional(SomeCuts)])))),
  styles: v.optional(list(oneOf(STYLES), 1, STYLES.length, 'styles')),
  seed: v.optional(wholeFigure(0, 4294967295)),
  effort: v.optional(oneOf(['quick', 'normal', 'thorough'])),
  catalogue: v.optional(besideName),
});

/**
 * Reads a case.
 * @throws Fault json/... naming every flaw with its path, what was found and what is allowed.
 */
export function readCase(input: string | Uint8Array, name: string): CaseFile {
  const {
    format: _format,
    version: _version,
    ...keys
  } = readJson(input, CaseKeys, name, 'Correct the case file; README "Cases" shows a whole one.');
  return dropUnsaid(keys) as CaseFile;
}

/** The case as text: keys in a fixed order, ends with a line feed; `readCase` of it is the case again. */
export function writeCase(c: CaseFile): string {
  const { scan, side, unit, corrections, order, rules, cuts, styles, seed, effort, catalogue } = c;
  const keys = { format: CASE_FORMAT, version: 1, scan, side, unit, corrections, order, rules, cuts, styles, seed, effort, catalogue };
  return `${JSON.stringify(dropUnsaid(keys), null, 1)}\n`;
}

/** Does the file look like a case of ours? By its first letters: a scan never begins so. */
export const isCase = (bytes: Uint8Array): boolean => isFileOf(bytes, CASE_FORMAT);

/** Without undefined values, however deep. */
function dropUnsaid(x: unknown): unknown {
  if (Array.isArray(x)) return x.map(dropUnsaid);
  if (typeof x !== 'object' || x === null) return x;
  return Object.fromEntries(Object.entries(x).flatMap(([k, y]) => (y === undefined ? [] : [[k, dropUnsaid(y)]])));
}
