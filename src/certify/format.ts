/**
 * A proof written out: that some parts of a kit, one to three of them, have their places nowhere in a body. Lengths in mm, angles in
 * radians, places in the ear frame; points and balls in the part's own.
 */
import type { EarOverrides, Side } from '../model/ear.ts';
import type { StyleCuts } from '../model/fit.ts';
import type { OrderRequest } from '../model/order.ts';
import type { Part, PortRule, Primitive, Rules, StyleName } from '../model/parts.ts';

export const CERTIFICATE_FORMAT = 'cavum-certificate';

export type Vec = readonly [number, number, number];
export type Span = readonly [lo: number, hi: number];

/** Names of cuts, as bodies have them. */
export const CUTS = ['outer', 'tip', 'upper'] as const;
export type CutName = (typeof CUTS)[number];

/** What a point is held against: a witness in the ear (its number), or a cut. */
export type Against = number | CutName;

/** One row of the inequality that closes a cell of one part: a point of the part (its number), a weight, what it is held against. */
export type Row = readonly [point: number, weight: number, against: Against];

/**
 * Cells of one part's poses in the order of a walk, lower halves first. A number halves along that variable; a number and a place
 * cut the cell there; rows close it; so does a seat that none of its poses keeps to. An open cell is left to the other parts.
 */
export type Entry = number | readonly [variable: number, at: number] | readonly Row[] | Unseated | 'open';
export type Unseated = 'reach' | 'cone';

/** One row of the inequality that closes cells of several parts: a row of one of them, or a ball of each of two. */
export type JointRow =
  | { readonly of: number; readonly row: Row }
  | { readonly first: number; readonly second: number; readonly weight: number; readonly a: number; readonly b: number };

/**
 * Cells of several parts at once, in the order of a walk that begins with every choice of one root each: a number opens that part's
 * cell, each of its open cells below in turn; rows close all; so does the ports rule where no two ports of these cells keep to it.
 */
export type JointEntry = number | readonly JointRow[] | 'ports';

/** Poses (a, b, spin) of a part whose z = 0 plane lies on the faceplate's inner face. */
export interface SeatedPoses {
  /** A place on that face and two directions in it, square to each other. */
  readonly origin: Vec;
  readonly u: Vec;
  readonly v: Vec;
  /** How far the part's origin is followed along u and along v from that place. */
  readonly slide: readonly [Span, Span];
  /** Which spins are looked at, in so many equal parts: all of them stand for themselves, half of them for a part that half a turn leaves as it is. */
  readonly spin: { readonly range: 'none' | 'half' | 'whole'; readonly parts: number };
}

/** Half turns about the axes, and none. */
export const BASES = ['1', 'i', 'j', 'k'] as const;
export type Base = (typeof BASES)[number];

/** Poses (place, a, b, c): turned by start * base * (a, b, c, 1) / its length, a, b, c in -1..1; one root for each base. */
export interface FreePoses {
  readonly box: readonly [Span, Span, Span];
  readonly start: readonly [number, number, number, number];
  readonly bases: readonly Base[];
}

/** One of the parts, where it may be, and what is shown of it alone. */
export interface PartCells {
  readonly id: string;
  readonly name: string;
  readonly margin: number;
  readonly seat: Exclude<Part['seat'], { readonly at: 'shell' }>;
  readonly primitives: readonly Omit<Primitive, 'kind'>[]; // the solid ones
  readonly poses: SeatedPoses | FreePoses;
  readonly points: readonly Vec[];
  readonly balls: readonly (readonly [x: number, y: number, z: number, radius: number])[];
  /** A walk from the roots; every cell above others is then taken no larger than what is open of it. */
  readonly cells: readonly Entry[];
  /** Walks from each open end of the first one, in its order; empty where there is none. */
  readonly finer: readonly Entry[];
}

export interface Certificate {
  readonly style: StyleName;
  readonly side: Side;
  /** Where the cuts went instead of where the style puts them. */
  readonly cuts?: StyleCuts;
  /** What was set by hand in the survey. */
  readonly corrections?: EarOverrides;
  /** What was ordered: the parts must be of its kit. Left out by files of the first version. */
  readonly order?: OrderRequest;
  readonly rules: Omit<Rules, 'tolerance'>;
  /** What is claimed: no poses of these parts have more to spare together. */
  readonly ceiling: number;
  readonly parts: readonly PartCells[];
  /** The ports rule, where both of its parts are among these. */
  readonly ports?: PortRule;
  readonly witnesses: readonly Vec[];
  /** Empty for one part. */
  readonly joint: readonly JointEntry[];
}

export const isSeated = (poses: SeatedPoses | FreePoses): poses is SeatedPoses => 'slide' in poses;

/** Entries of all walks together: a file holds no more, and none that would is written. */
export const MOST_ENTRIES = 400_000;

/** "Battery 10", "Battery 10 and Receiver", "Battery 10, Front microphone and Receiver". */
export function partsInWords({ parts }: Pick<Certificate, 'parts'>): string {
  const names = parts.map((p) => p.name);
  return names.length < 2 ? names.join() : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}
