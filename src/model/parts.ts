import type { Quat, Vec3 } from '../geometry/vec.ts';
import type { ReceiverSize, Wish } from './order.ts';

export const STYLES = ['IIC', 'CIC', 'ITC', 'HS', 'ITE'] as const;
export type StyleName = (typeof STYLES)[number];

export type Shape = 'box' | 'cylinder' | 'capsule';

/**
 * One convex solid. `size` is its extent along its own x, y, z, mm: a cylinder or capsule runs along z, so its size is
 * [diameter, diameter, length], a capsule's length counting both round ends.
 */
export interface Primitive {
  readonly shape: Shape;
  readonly size: Vec3;
  /** In the part's frame. */
  readonly position: Vec3;
  readonly quaternion: Quat;
  /** solid: matter. service: room that must stay free of other parts (a tube, a swing), but may pass an opening. */
  readonly kind: 'solid' | 'service';
}

/**
 * How a part may sit.
 * faceplate: the part's z = 0 plane lies on the faceplate's inner face, its +z points out through it; it may slide on
 *   the faceplate and turn about its z. 3 degrees of freedom.
 * tip: the part's +z runs medially; `spout` (a point of the part) lies within `reach` mm of the tip opening's centre and
 *   +z within `cone` radians of the centreline's direction there. 6 degrees of freedom.
 * free: anywhere. 6 degrees of freedom.
 * shell: grown into the shell, as a vent is: its own frame is the ear's, and it stays where it is.
 */
export type Seat =
  | { readonly at: 'faceplate' }
  | { readonly at: 'tip'; readonly spout: Vec3; readonly reach: number; readonly cone: number }
  | { readonly at: 'free' }
  | { readonly at: 'shell' };

export const PART_KINDS = [
  'cell',
  'receiver',
  'chip',
  'microphone',
  'push-button',
  'volume-wheel',
  'telecoil',
  'radio',
  'removal-cord',
] as const;
/** What a catalogue lists, and the vent, which every shell grows for itself. */
export type PartKind = (typeof PART_KINDS)[number] | 'vent';

/** A component as an envelope. Mirror-symmetric about its own x = 0 plane, so that one part serves both ears. */
export interface Part {
  readonly id: string; // unique in its kit: "cell", "receiver", "front-microphone" ...
  readonly kind: PartKind;
  readonly name: string; // for people: "Battery 10"
  readonly primitives: readonly Primitive[];
  readonly seat: Seat;
  /** Extra room asked all round beyond the gaps (a receiver's suspension), mm. */
  readonly margin: number;
  /** Where the sizes come from, or "editable default, from memory". */
  readonly source: string;
}

/** Two ports (the parts' own origins): their spacing, mm, and their line's largest angle to the horizontal, radians. */
export interface PortRule {
  readonly rule: 'ports';
  readonly front: string; // id of the anterior one
  readonly rear: string;
  readonly least: number;
  readonly most: number;
  readonly tilt: number;
}

/** Two parts whose solids keep at least this much between them, mm, in place of the part gap and margins where those are less. */
export interface ApartRule {
  readonly between: readonly [string, string]; // ids
  readonly least: number;
}

export interface Kit {
  readonly style: StyleName;
  readonly parts: readonly Part[];
  readonly pairRules: readonly PortRule[];
  readonly apart?: readonly ApartRule[];
  /** Diameter of the vent that is asked for, mm. Where it runs is found with the arrangement; it is then one of the parts. */
  readonly vent?: number;
}

/** Lengths, mm. */
export interface Rules {
  readonly wall: number;
  readonly faceplate: number;
  /** Between a part and the wall's or faceplate's inner face. */
  readonly gap: number;
  /** Between two parts. */
  readonly partGap: number;
  /** Free room on every side of a receiver, so that it touches nothing. */
  readonly suspension: number;
  /** Tolerance of a verdict: scan plus print. */
  readonly tolerance: number;
}

/** A part as a catalogue lists it, before a kit gives it its name and its rules a margin. */
export interface ListedPart {
  readonly id: string; // unique in its catalogue: "cell-312"
  readonly kind: PartKind;
  readonly name: string;
  readonly primitives: readonly Primitive[];
  readonly seat: Seat;
  /** mm, or the rule that says it. */
  readonly margin: number | 'suspension';
  readonly source: string;
}

/** One place in a style's kit and what may take it. Every kit has one cell, one receiver and one or two microphones. */
export type Slot =
  | {
      readonly takes: 'cell';
      readonly part: ListedPart;
      /** For an order that asks for charging; without it the style cannot be had with that. */
      readonly rechargeable?: ListedPart;
      /** Parts that an order may ask for by name instead. */
      readonly alternatives: readonly ListedPart[];
    }
  | { readonly takes: 'receiver'; readonly sizes: Readonly<Partial<Record<ReceiverSize, ListedPart>>> }
  | { readonly takes: 'microphones'; readonly part: ListedPart; readonly least: 1 | 2; readonly most: 1 | 2 }
  | { readonly takes: 'wish'; readonly wish: Wish; readonly part: ListedPart; readonly alternatives: readonly ListedPart[] }
  | { readonly takes: 'part'; readonly part: ListedPart; readonly alternatives: readonly ListedPart[] };

/** How far a faceplate's normal is turned towards superior and towards anterior, radians; negative: the other way. */
export interface Tilt {
  readonly superior: number;
  readonly anterior: number;
}

/** A style as a catalogue has it: where it is cut, and its kit with the parts themselves, so that it stands alone. */
export interface Style {
  readonly name: StyleName;
  readonly title: string;
  /** Where the faceplate goes: so far lateral of the aperture, or medial of the concha's rim, mm. */
  readonly outer:
    | {
        readonly from: 'aperture';
        readonly lateral: number;
        readonly range: readonly [number, number];
        readonly facing: 'axis' | 'half-way' | 'rim';
        /** How far the faceplate is turned away from that; not at all unless said. */
        readonly tilt?: Tilt;
      }
    | { readonly from: 'rim'; readonly medial: number };
  /** Where the shell ends: so far medial of a bend; never nearer to the impression's end than `leave`, mm. */
  readonly tip: { readonly bend: 'first' | 'second'; readonly beyond: number; readonly leave: number };
  /** A third cut that leaves the cymba out: so far below the crus's groove, mm. */
  readonly upper?: { readonly belowCrus: number };
  /** In the order in which the kit lists its parts. */
  readonly slots: readonly Slot[];
  /** For two ports under one faceplate, mm and radians. */
  readonly ports: Pick<PortRule, 'least' | 'most' | 'tilt'>;
  readonly apart: readonly KindsApart[];
  readonly source: string;
}

/** Kinds of parts that keep apart more than others do, mm. */
export interface KindsApart {
  readonly between: readonly [PartKind, PartKind];
  readonly least: number;
  readonly source: string;
}

/** Up to which loss something serves, or which vent, in ascending order of `upTo`, dB HL. */
export interface ReceiverClass {
  readonly size: ReceiverSize;
  readonly upTo: number; // four-frequency average, dB HL
}
export interface VentClass {
  readonly diameter: number; // mm
  readonly upTo: number; // mean of 250 and 500 Hz, dB HL
}

/** Everything of a check that is neither geometry nor the client's. Lengths mm, angles radians. */
export interface Catalogue {
  readonly name: string;
  readonly rules: Rules;
  /** From the smallest to the largest. */
  readonly styles: readonly Style[];
  readonly receiverClasses: { readonly classes: readonly ReceiverClass[]; readonly source: string };
  readonly vents: { readonly classes: readonly VentClass[]; readonly source: string };
}
