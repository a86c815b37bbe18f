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

export interface Landmark {
  readonly at: Point<'ear'>;
  readonly depth: number; // mm along the centreline, positive medially
  readonly confidence: number; // 0..1
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
  readonly rim: { readonly plane: Plane<'ear'>; readonly confidence: number };
  /** Undefined when the cast shows no concha. `at` is in the groove's middle. */
  readonly crus?: { readonly at: Point<'ear'>; readonly confidence: number };
}
