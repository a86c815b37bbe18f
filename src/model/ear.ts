import type { Mesh } from '../geometry/mesh.ts';
import type { Plane, Point } from '../geometry/vec.ts';

export type Side = 'left' | 'right';

/** Where the ear frame stands in the scan. Unit vectors, square to each other. */
export interface EarFrame {
  readonly side: Side;
  readonly origin: Point<'scan'>; // the aperture's centre
  readonly anterior: Point<'scan'>;
  readonly superior: Point<'scan'>;
  readonly lateral: Point<'scan'>;
}

/** Found by the survey, or set by a person. Missing in an ear that no survey made: as found. */
export type SetBy = 'auto' | 'by hand';

export interface Landmark {
  readonly at: Point<'ear'>;
  readonly depth: number; // mm along the centreline, positive medially
  /** 0..1: the chance that it lies within its tolerance (aperture and end 1.0 mm, bends 1.5 mm); 1 where a person set it. */
  readonly confidence: number;
  readonly set?: SetBy;
}

/** A place on the centreline: mm medial of the aperture that the survey finds, or a point of the scan, moved to the centreline's nearest place. */
export type OnLine = number | Point<'scan'>;

/**
 * What a person sets in place of what the survey finds. Everything downstream follows; what is left out stays as found. Depths count from the
 * aperture that the survey finds, also where another is set.
 */
export interface EarOverrides {
  readonly aperture?: OnLine;
  /** 'none': there is no such bend, whatever the survey finds. */
  readonly firstBend?: OnLine | 'none';
  readonly secondBend?: OnLine | 'none';
  /** The canal is used no further than this. */
  readonly end?: OnLine;
  /** Directions in the scan; need not be of length 1. Superior need not be square to lateral. */
  readonly lateral?: Point<'scan'>;
  readonly superior?: Point<'scan'>;
  /** In the middle of the groove. */
  readonly crus?: Point<'scan'> | 'none';
  /** The concha's rim; the normal may point either way. */
  readonly rim?: Plane<'scan'>;
}

/** A bend of the canal: the place of greatest curvature, and how far the centreline turns through it. */
export interface Bend extends Landmark {
  readonly angle: number; // radians
}

/** A cut through the canal square to its centreline. */
export interface CanalSection {
  readonly depth: number;
  readonly at: Point<'ear'>; // on the centreline: the section's centroid
  readonly tangent: Point<'ear'>; // medially
  readonly area: number; // mm2
  readonly major: number; // largest width, mm
  readonly minor: number; // least width (between parallel lines), mm
  readonly perimeter: number;
  readonly majorDirection: Point<'ear'>;
  readonly minorDirection: Point<'ear'>;
  /** Diameters of the largest circle within the outline and the smallest round it, mm. Every survey gives them; a hand-made ear may not. */
  readonly inscribed?: number;
  readonly circumscribed?: number;
  /** The outline about `at`, counter-clockwise: pairs along majorDirection and tangent x majorDirection, mm. */
  readonly outline?: Float64Array;
}

/** The centreline, from lateral of the aperture (negative depths) to the end of the impression. */
export interface Centreline {
  readonly points: Float64Array; // x y z in the ear frame
  readonly tangents: Float64Array; // unit, medially
  readonly depths: Float64Array; // ascending
}

/**
 * The survey of one cast. Definitions:
 * aperture: the canal's mouth, where the cast stops being a tube: going laterally, the place where the section square
 *   to the centreline begins to open into the concha.
 * bends: places of greatest curvature of the centreline medial of the aperture.
 * end: where the impression stops, on the centreline.
 * rim plane: the plane that the concha's rim lies in (cavum and cymba bounded by antihelix, antitragus and tragus).
 * crus: the groove that the crus of the helix leaves in the cast, between cymba and cavum.
 */
export interface Ear {
  readonly frame: EarFrame;
  readonly cast: Mesh<'ear'>; // winding corrected: outward whichever side
  readonly centreline: Centreline;
  readonly sections: readonly CanalSection[];
  readonly aperture: Landmark;
  readonly firstBend?: Bend; // undefined: the impression ends before it
  readonly secondBend?: Bend;
  readonly end: Landmark;
  /** Normal lateral. */
  readonly rim: { readonly plane: Plane<'ear'>; readonly confidence: number; readonly set?: SetBy };
  /** Undefined when the cast shows no concha. `at` is in the groove's middle. */
  readonly crus?: { readonly at: Point<'ear'>; readonly confidence: number; readonly set?: SetBy };
  /** Who set the frame's directions. */
  readonly directions?: { readonly lateral: SetBy; readonly superior: SetBy };
  /** The narrowest section medial of the first bend and clear of the tip; undefined where the cast shows no such stretch. */
  readonly isthmus?: { readonly at: Point<'ear'>; readonly depth: number; readonly area: number }; // depth mm, area mm2
  /** The cavum's floor: its deepest place below the rim plane, beside the canal. */
  readonly floor?: { readonly at: Point<'ear'>; readonly depth: number }; // depth: mm below the rim plane
}

/** Undefined where there are no sections at all. */
export const nearestSection = (sections: readonly CanalSection[], depth: number): CanalSection | undefined =>
  sections.reduce<CanalSection | undefined>((a, b) => (a && Math.abs(a.depth - depth) <= Math.abs(b.depth - depth) ? a : b), undefined);
