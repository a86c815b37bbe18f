import type { Quat, Vec3 } from '../geometry/vec.ts';

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
 */
export type Seat =
  | { readonly at: 'faceplate' }
  | { readonly at: 'tip'; readonly spout: Vec3; readonly reach: number; readonly cone: number }
  | { readonly at: 'free' };

export type PartKind = 'cell' | 'receiver' | 'chip' | 'microphone' | 'push-button' | 'volume-wheel' | 'telecoil' | 'radio' | 'removal-cord';

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

export interface Kit {
  readonly style: StyleName;
  readonly parts: readonly Part[];
  readonly pairRules: readonly PortRule[];
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
