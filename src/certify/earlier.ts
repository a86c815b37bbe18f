/** Certificates of the first version: one part at the faceplate, witnesses written where they are used. */
import * as v from 'valibot';
import { SomeCorrections } from '../casefile/corrections.ts';
import { figure, identifier, keyed, line, list, oneOf, wholeFigure } from '../json/schema.ts';
import { STYLES } from '../model/parts.ts';
import type { Against, Certificate, Entry, Vec } from './format.ts';
import { ceiling, margin, place, points, primitives, rule, twoSpans, unit } from './keys.ts';

type EarlierRow =
  | readonly [point: number, weight: number, x: number, y: number, z: number]
  | readonly [point: number, weight: number, cut: number];
type EarlierEntry = number | readonly EarlierRow[];

const MOST_CELLS = 100_000;
const MOST_ROWS = 8;

const isRow = (x: unknown): x is EarlierRow =>
  Array.isArray(x) &&
  (x.length === 3 || x.length === 5) &&
  x.every((n) => typeof n === 'number' && Math.abs(n) <= 1000) &&
  Number.isInteger(x[0]) &&
  (x.length === 5 || x[2] === 0 || x[2] === 1);
const isEntry = (x: unknown): x is EarlierEntry =>
  typeof x === 'number' ? x === 0 || x === 1 || x === 2 : Array.isArray(x) && x.length >= 1 && x.length <= MOST_ROWS && x.every(isRow);

export const EarlierKeys = keyed({
  format: oneOf(['cavum-certificate']),
  version: v.literal(1),
  style: oneOf(STYLES),
  side: oneOf(['left', 'right']),
  cuts: v.optional(keyed({ outer: v.optional(figure(-10, 30, 'mm')), tip: v.optional(figure(0, 20, 'mm')) })),
  corrections: v.optional(SomeCorrections),
  part: keyed({
    id: identifier,
    name: line(80),
    margin,
    primitives,
  }),
  rules: keyed({ wall: rule, faceplate: rule, gap: rule }),
  ceiling,
  seat: keyed({ origin: place, u: unit, v: unit }),
  slide: twoSpans,
  spin: keyed({ range: oneOf(['none', 'half', 'whole']), parts: wholeFigure(1, 64) }),
  points,
  cells: list(
    v.custom<EarlierEntry>(isEntry, `0, 1 or 2, or a list of 1 to ${MOST_ROWS} rows of 3 or 5 numbers is needed`),
    1,
    MOST_CELLS,
    'cells',
  ),
});

/** The same claim and the same walk in today's words. What was ordered is not known of it. */
export function ofEarlier(keys: v.InferOutput<typeof EarlierKeys>): Certificate {
  const { style, side, cuts, corrections, part, rules, ceiling, seat, slide, spin, points, cells } = keys;
  const witnesses: Vec[] = [];
  // The cuts that count for a seated part were numbered: the tip's, then the upper one.
  const against = (row: EarlierRow): Against =>
    row.length === 3 ? (row[2] === 0 ? 'tip' : 'upper') : witnesses.push([row[2], row[3], row[4]]) - 1;
  const entry = (e: EarlierEntry): Entry => (typeof e === 'number' ? e : e.map((row) => [row[0], row[1], against(row)] as const));
  return {
    style,
    side,
    ...(cuts ? { cuts: cuts as NonNullable<Certificate['cuts']> } : {}),
    ...(corrections ? { corrections } : {}),
    // Between parts nothing is claimed.
    rules: { ...rules, partGap: 0, suspension: 0 },
    ceiling,
    parts: [{ ...part, seat: { at: 'faceplate' }, poses: { ...seat, slide, spin }, points, balls: [], cells: cells.map(entry), finer: [] }],
    witnesses,
    joint: [],
  };
}
