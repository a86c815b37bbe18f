import type { Mesh } from '../geometry/mesh.ts';
import type { Plane, Point, Pose } from '../geometry/vec.ts';
import type { Kit, StyleName } from './parts.ts';

/** One of the planes that bound a shell. Its normal points out of the body. */
export interface Cut {
  readonly name: 'outer' | 'tip' | 'upper';
  readonly plane: Plane<'ear'>;
}

/** The cast between its cuts: closed, the outside of the shell; the piece that holds the canal where the cuts leave several. */
export interface Body {
  readonly style: StyleName;
  readonly cuts: readonly Cut[];
  readonly mesh: Mesh<'ear'>;
  /** Of each triangle of the mesh: 0 for the cast's own surface, 1 + the index of the cut whose face it is. */
  readonly face: Uint8Array;
  readonly volume: number; // mm3
  /** Centre of the tip cut's section and the centreline's direction there (medial): where a spout must aim. */
  readonly tip: { readonly at: Point<'ear'>; readonly tangent: Point<'ear'> };
  /** A point well inside the body, on the centreline. */
  readonly seed: Point<'ear'>;
}

/** A pose for every part of a kit, in the kit's order. */
export interface Arrangement {
  readonly poses: readonly Pose<'ear'>[];
  /** By the search's own measure, mm. Only verifyArrangement's figure may be reported. */
  readonly spare: number;
}

/**
 * What each clearance asks. One reading for search, verification and proof:
 *
 * wall      a solid primitive to the body's cast surface, tip face or upper face: wall + gap + the part's margin
 * faceplate a solid primitive of a part that is not seated there, to the outer cut: faceplate + gap + margin.
 *           A part seated at the faceplate touches its inner face: its z = 0 plane lies `faceplate` behind the outer cut
 *           and nothing more is asked of that side; every other side of it obeys the rest.
 * parts     solid to solid of two parts, and solid to service room: partGap + both margins (service against service:
 *           nothing is asked). A margin counts for the primitives of kind solid only.
 * service   service room to the wall or cuts: nothing is asked beyond staying inside the cast's surface (distance >= 0);
 *           it may pass the tip cut.
 * spare of one clearance = what there is - what is asked. Below zero distance, "what there is" is minus the depth: for
 * two parts minus the least move that parts them; for wall and cuts minus how far the deepest point lies outside.
 *
 * The ports rule is a yes or no within 1e-6 mm / rad, not a clearance; so are the seats' reach and cone.
 */
export interface Clearance {
  readonly wall: number; // distance that there is, mm (least over the part's solid primitives): cast surface, tip and upper faces
  readonly parts: number; // to the nearest other part; +Infinity in a kit of one
  readonly faceplate: number; // to the outer cut
}

/** One measured clearance with what the rules ask of it. */
export interface Measured {
  readonly kind: 'wall' | 'faceplate' | 'tip' | 'upper' | 'parts' | 'service';
  readonly part: string;
  readonly other?: string; // the second part
  readonly has: number;
  readonly asked: number;
  readonly spare: number; // has - asked
  readonly at: Point<'ear'>; // on the part, where it is measured
}

export interface Evidence {
  /** True when every check that is not a length holds too: seats, ports, no overlap volume, closed body. */
  readonly sound: boolean;
  /** The least spare over every clearance asked, mm: a certified lower bound, at most 0.002 mm below the true value when positive. */
  readonly spare: number;
  readonly tightest: Measured;
  readonly measured: readonly Measured[];
  readonly clearance: readonly Clearance[]; // one a part, in the kit's order
  /** By boolean intersection with the body and between parts: volume of parts outside the body and of overlaps, mm3. */
  readonly overlapVolume: number;
  /** In words, everything that makes it unsound. Empty when sound. */
  readonly faults: readonly string[];
}

/** A ceiling and the sentence that proves it. */
export interface Ceiling {
  readonly ceiling: number; // mm; +Infinity where nothing is proved
  readonly parts: readonly string[]; // the smallest set that already cannot be arranged; empty when nothing is proved
  readonly text: string;
}

/**
 * The search stops improving an arrangement once every clearance has this much to spare, mm: no modeller asks for more,
 * and how far beyond it a search happens to land says nothing of the ear. A reported spare of this much means "at least".
 */
export const ENOUGH = 0.5;

export type Verdict = 'fits' | 'tight' | 'does-not-fit' | 'unsettled' | 'not-judged';

export interface Reason {
  readonly code: string;
  readonly text: string;
  readonly parts: readonly string[];
  readonly needs?: number; // mm
  readonly has?: number; // mm
  readonly at?: Point<'ear'>;
}

export type Effort = 'quick' | 'normal' | 'thorough';

/** One rung of the ladder. Everything in the ear frame; `report` turns it into scan coordinates. */
export interface Rung {
  readonly style: StyleName;
  readonly verdict: Verdict;
  readonly found?: number; // verified, mm; at most ENOUGH, which means "at least" (the evidence holds what was measured)
  readonly ceiling: number; // +Infinity where nothing is proved
  readonly body?: Body;
  readonly kit?: Kit;
  readonly arrangement?: Arrangement;
  readonly evidence?: Evidence;
  readonly reasons: readonly Reason[];
  readonly cautions: readonly string[];
}
