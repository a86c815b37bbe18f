/**
 * Walks as a file writes them: one short text an entry, so that a proof of many cells stays small and can be read line by line.
 *
 *   "2"                       halve along variable 2           "2@-1.25"   cut there at -1.25
 *   "4 0.25 17, 9 0.75 tip"   rows: point 4, weight 0.25, witness 17; point 9, weight 0.75, the tip cut
 *   "0:4 0.5 17, 0-1:0.5 3 8" of several parts: part 0's row; ball 3 of part 0 and ball 8 of part 1, weight 0.5
 *   "open", "reach", "cone", "ports"                            as in format.ts
 */
import { type Against, CUTS, type CutName, type Entry, type JointEntry, type JointRow, type Row, type Vec } from './format.ts';

/** Rows of one entry: as many as variables of three parts and one, and some. */
const MOST_ROWS = 16;
const LONGEST = 1200;

const NUMBER = /^-?(?:0|[1-9]\d*)(?:\.\d+)?(?:e[+-]?\d+)?$/;
const WHOLE = /^(?:0|[1-9]\d{0,7})$/;

const numberOf = (text: string | undefined): number | undefined => {
  const x = text !== undefined && NUMBER.test(text) ? Number(text) : Number.NaN;
  return Math.abs(x) <= 1000 ? x : undefined;
};
const wholeOf = (text: string | undefined): number | undefined => (text !== undefined && WHOLE.test(text) ? Number(text) : undefined);

const rowText = ([point, weight, against]: Row): string => `${point} ${weight} ${against}`;

export function entryText(entry: Entry): string {
  if (typeof entry === 'string') return entry;
  if (typeof entry === 'number') return `${entry}`;
  return isCutThere(entry) ? `${entry[0]}@${entry[1]}` : entry.map(rowText).join(', ');
}

export const isCutThere = (entry: Exclude<Entry, number | string>): entry is readonly [number, number] => typeof entry[0] === 'number';

export function jointText(entry: JointEntry): string {
  if (typeof entry === 'string') return entry;
  if (typeof entry === 'number') return `${entry}`;
  return entry.map((r) => ('of' in r ? `${r.of}:${rowText(r.row)}` : `${r.first}-${r.second}:${r.weight} ${r.a} ${r.b}`)).join(', ');
}

export const vecText = (v: Vec): string => v.join(' ');

/** Undefined for what is none. */
export function readVec(text: unknown): Vec | undefined {
  if (typeof text !== 'string' || text.length > 100) return undefined;
  const [x, y, z, ...rest] = text.split(' ').map(numberOf);
  return x === undefined || y === undefined || z === undefined || rest.length > 0 ? undefined : [x, y, z];
}

/** Undefined for what is none. */
export function readEntry(text: unknown): Entry | undefined {
  if (typeof text !== 'string' || text.length > LONGEST) return undefined;
  if (text === 'open' || text === 'reach' || text === 'cone') return text;
  const [variable, at, ...rest] = text.split('@');
  if (at !== undefined) {
    const [k, x] = [wholeOf(variable), numberOf(at)];
    return k === undefined || x === undefined || rest.length > 0 ? undefined : [k, x];
  }
  return wholeOf(text) ?? all(text.split(', ').map(readRow));
}

function readRow(text: string): Row | undefined {
  const [p, w, a, ...rest] = text.split(' ');
  const [point, weight, against] = [wholeOf(p), numberOf(w), againstOf(a)];
  return point === undefined || weight === undefined || against === undefined || rest.length > 0 ? undefined : [point, weight, against];
}

const againstOf = (text: string | undefined): Against | undefined => wholeOf(text) ?? CUTS.find((c: CutName) => c === text);

/** Undefined for what is none. */
export function readJoint(text: unknown): JointEntry | undefined {
  if (typeof text !== 'string' || text.length > LONGEST) return undefined;
  if (text === 'ports') return text;
  return wholeOf(text) ?? all(text.split(', ').map(readJointRow));
}

function readJointRow(text: string): JointRow | undefined {
  const [who, row, ...rest] = text.split(':');
  if (row === undefined || rest.length > 0) return undefined;
  const [first, second, ...others] = (who as string).split('-').map(wholeOf);
  if (first === undefined || others.length > 0) return undefined;
  if (!who?.includes('-')) {
    const own = readRow(row);
    return own && { of: first, row: own };
  }
  const [w, i, j, ...more] = row.split(' ');
  const [weight, a, b] = [numberOf(w), wholeOf(i), wholeOf(j)];
  if (second === undefined || weight === undefined || a === undefined || b === undefined || more.length > 0) return undefined;
  return { first, second, weight, a, b };
}

function all<T>(items: readonly (T | undefined)[]): T[] | undefined {
  return items.length > 0 && items.length <= MOST_ROWS && items.every((x) => x !== undefined) ? (items as T[]) : undefined;
}
