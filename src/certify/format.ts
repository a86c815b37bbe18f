/**
 * A proof written out: that one part at the faceplate, alone, has its place nowhere in a body. Lengths in mm, angles in
 * radians, places in the ear frame; points in the part's own.
 */
import * as v from 'valibot';
import { SomeCorrections } from '../casefile/corrections.ts';
import { readJson } from '../json/index.ts';
import { figure, head, identifier, keyed, line, list, oneOf, type Reads, triple, wholeFigure } from '../json/schema.ts';
import type { EarOverrides, Side } from '../model/ear.ts';
import type { StyleCuts } from '../model/fit.ts';
import type { Primitive, StyleName } from '../model/parts.ts';
import { STYLES } from '../model/parts.ts';

export const CERTIFICATE_FORMAT = 'cavum-certificate';

type Vec = readonly [number, number, number];

/**
 * One row of the inequality that closes a cell: a point of the part (its number) and its weight, then either a witness in
 * the ear, or the number of a cut.
 */
export type Row =
  | readonly [point: number, weight: number, x: number, y: number, z: number]
  | readonly [point: number, weight: number, cut: number];

/** Cells in the order of a walk: a number halves along that variable (0, 1 slide, 2 spin), first its lower half; rows close a cell. */
export type Entry = number | readonly Row[];

export interface Certificate {
  readonly style: StyleName;
  readonly side: Side;
  /** Where the cuts went instead of where the style puts them. */
  readonly cuts?: StyleCuts;
  /** What was set by hand in the survey. */
  readonly corrections?: EarOverrides;
  readonly part: {
    readonly id: string;
    readonly name: string;
    readonly margin: number;
    readonly primitives: readonly Omit<Primitive, 'kind'>[]; // the solid ones
  };
  readonly rules: { readonly wall: number; readonly faceplate: number; readonly gap: number };
  /** What is claimed: no pose has more to spare. */
  readonly ceiling: number;
  /** The faceplate's inner face: a place on it and two directions in it, square to each other. */
  readonly seat: { readonly origin: Vec; readonly u: Vec; readonly v: Vec };
  /** How far the part's origin is followed along u and along v from that place. */
  readonly slide: readonly [readonly [number, number], readonly [number, number]];
  /** Which spins are looked at, in so many equal parts: all of them stand for themselves, half of them for a part that half a turn leaves as it is. */
  readonly spin: { readonly range: 'none' | 'half' | 'whole'; readonly parts: number };
  readonly points: readonly Vec[];
  readonly cells: readonly Entry[];
}

const MOST_CELLS = 100_000;
const MOST_ROWS = 8;
const MOST_POINTS = 2000;

const length = figure(-1000, 1000, 'mm');
const place = triple(length, 'lengths');
const unit = triple(figure(-1.001, 1.001, ''), 'numbers');

const isRow = (x: unknown): x is Row =>
  Array.isArray(x) &&
  (x.length === 3 || x.length === 5) &&
  x.every((n) => typeof n === 'number' && Math.abs(n) <= 1000) &&
  Number.isInteger(x[0]) &&
  (x.length === 5 || Number.isInteger(x[2]));
const isEntry = (x: unknown): x is Entry =>
  typeof x === 'number' ? x === 0 || x === 1 || x === 2 : Array.isArray(x) && x.length >= 1 && x.length <= MOST_ROWS && x.every(isRow);

const entry: Reads<Entry> = v.custom<Entry>(isEntry, `0, 1 or 2, or a list of 1 to ${MOST_ROWS} rows of 3 or 5 numbers is needed`);

const CertificateKeys = keyed({
  ...head(CERTIFICATE_FORMAT),
  style: oneOf(STYLES),
  side: oneOf(['left', 'right']),
  cuts: v.optional(keyed({ outer: v.optional(figure(-10, 30, 'mm')), tip: v.optional(figure(0, 20, 'mm')) })),
  corrections: v.optional(SomeCorrections),
  part: keyed({
    id: identifier,
    name: line(80),
    margin: figure(0, 2, 'mm'),
    primitives: list(
      keyed({
        shape: oneOf(['box', 'cylinder', 'capsule']),
        size: triple(figure(0.01, 100, 'mm'), 'lengths'),
        position: place,
        quaternion: v.pipe(
          list(figure(-1.001, 1.001, ''), 4, 4, 'numbers'),
          v.transform(([x, y, z, w]) => [x as number, y as number, z as number, w as number] as const),
        ),
      }),
      1,
      50,
      'primitives',
    ),
  }),
  rules: keyed({ wall: figure(0, 5, 'mm'), faceplate: figure(0, 5, 'mm'), gap: figure(0, 5, 'mm') }),
  ceiling: figure(-100, 100, 'mm'),
  seat: keyed({ origin: place, u: unit, v: unit }),
  slide: v.pipe(
    list(span(), 2, 2, 'intervals'),
    v.transform(([a, b]) => [a as readonly [number, number], b as readonly [number, number]] as const),
  ),
  spin: keyed({ range: oneOf(['none', 'half', 'whole']), parts: wholeFigure(1, 64) }),
  points: list(place, 1, MOST_POINTS, 'points'),
  cells: list(entry, 1, MOST_CELLS, 'cells'),
});

function span(): Reads<readonly [number, number]> {
  return v.pipe(
    list(length, 2, 2, 'lengths'),
    v.transform(([lo, hi]) => [lo as number, hi as number] as const),
  );
}

/**
 * Reads a certificate. That it is well formed says nothing of what it claims: `certify` does.
 * @throws Fault json/... naming the path of every key that is wrong, what was found there and what is needed.
 */
export function readCertificate(input: string | Uint8Array, name: string): Certificate {
  const {
    format: _format,
    version: _version,
    ...rest
  } = readJson(input, CertificateKeys, name, 'Write the certificate anew with fit --certificate.');
  return rest as Certificate;
}

/** As a file holds it. */
export const certificateDocument = (c: Certificate) => ({ format: CERTIFICATE_FORMAT, version: 1, ...c });
