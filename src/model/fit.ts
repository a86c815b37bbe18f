import type { Mesh } from '../geometry/mesh.ts';
import type { Plane, Point, Pose } from '../geometry/vec.ts';
import type { Order } from './order.ts';
import type { Kit, Rules, StyleName } from './parts.ts';
import type { Steadiness } from './steady.ts';

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
 * parts     solid to solid of two parts: partGap + both margins, or what the kit keeps them apart by where that is more; solid to
 *           service room: partGap + margin (service against service: nothing is asked). A margin counts for the primitives of kind solid only.
 * vent      what is grown into the shell (seat 'shell': a bore with a wall of the shell's own thickness all round): its bore
 *           keeps `wall` from the cast's surface and the upper face, and passes the outer and the tip cut. To another part it is
 *           wall: gap + that part's margin, of its service room gap.
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

/**
 * One thing that goes into the shell: a part, or several that move as one (what the faceplate carries). `poses` holds, from
 * outside to where it stands in the arrangement, the pose of each of its parts (own frames, in the order of `parts`).
 * Between two of them positions run straight and turns along the shorter way (verify/between.ts, which defines it).
 */
export interface Move {
  readonly parts: readonly string[];
  readonly poses: readonly (readonly Pose<'ear'>[])[];
}

/**
 * Whether an arrangement's parts can be brought in through the open outer cut, one thing after the other.
 *
 * The shell is what lies behind the outer cut within `wall` of the cast's surface, the tip face or the upper face. A part's
 * solids may touch neither it nor a part that is already in (0 mm asked all the way, or what the arrangement itself leaves
 * where that is less); service room, which flexible things take up, is not asked for. The faceplate goes on last with all
 * that is seated at it, as one body whose plate stays in front of the shell's edge, except where it tilts clear of the wall (common practice, no published source).
 */
export type Assembly =
  | {
      readonly kind: 'way-in';
      /** In the order in which they go in. */
      readonly moves: readonly Move[];
      /** The least clearance all along the verified motions, certified from below, mm: at least -0.001, what certifying may lose on a touch. */
      readonly least: number;
    }
  | {
      /** No way in was found: no proof that there is none. */
      readonly kind: 'stuck';
      readonly parts: readonly string[];
      /** The middle of what sticks, where it came nearest to the outside, and how far inside the aperture that is, mm. */
      readonly at: Point<'ear'>;
      readonly depth: number;
      /** What a plain step outwards from there lacks to the shell, mm; 0 where that is not what stops it. */
      readonly lacks: number;
    };

export type Verdict = 'fits' | 'tight' | 'does-not-fit' | 'unsettled' | 'not-judged';

export interface Reason {
  readonly code: string;
  readonly text: string;
  readonly parts: readonly string[];
  readonly needs?: number; // mm
  readonly has?: number; // mm
  readonly at?: Point<'ear'>;
  /** Where `has` is a width straight across: where it begins, inside the wall, and its direction (unit). `needs` is laid about its middle. */
  readonly across?: { readonly from: Point<'ear'>; readonly along: Point<'ear'> };
}

/** Where the cuts of a style go instead of where its table puts them, mm and degrees. */
export interface StyleCuts {
  /** The faceplate so far lateral of the aperture, within the style's range. */
  readonly outer?: number;
  /** The faceplate's normal turned so far towards superior and towards anterior, degrees (src/trim/planes.ts); 0 unless said. */
  readonly tilt?: { readonly superior?: number; readonly anterior?: number };
  /** The tip so far medial of the style's bend. */
  readonly tip?: number;
}

/** What a case would say differently. Merged into it key by key. */
export interface Change {
  readonly cuts?: Readonly<Partial<Record<StyleName, StyleCuts>>>;
  readonly rules?: Partial<Rules>;
  readonly order?: Partial<Order>;
}

/** A change after which the same check was run again, with what it gave. */
export interface Remedy {
  readonly code: string;
  readonly text: string;
  readonly change: Change;
  /** The style that the change is of: the rung's own, or a larger one. */
  readonly style: StyleName;
  readonly verdict: Verdict;
  readonly found: number; // mm, as a rung's
}

/**
 * How far one figure alone would have to go for a style to fit, all else as it was; mm. `outer` and `tip` are cuts (further out,
 * deeper), the others rules (less of them).
 */
export interface Shift {
  readonly limit: 'outer' | 'tip' | Exclude<keyof Rules, 'tolerance'>;
  /** As far as it may go: to the end of the style's range, of what the cast shows, of what a rule may be set to. */
  readonly most: number;
  /** The least shift that was seen to be enough, with what it gave. Undefined: none was. */
  readonly enough?: { readonly by: number; readonly change: Change; readonly found: number };
  /** The most that is known not to be enough: seen, or proved. */
  readonly short: number;
  readonly text: string;
}

/** How much is missing for a style to fit. Every figure was judged by a real run. */
export interface Missing {
  /**
   * The least ear of the same shape, larger by so many per cent in every direction and cut in proportion, that was seen to take the
   * style's kit. `width`: what that makes of the narrowest width between the cuts, mm. Undefined: none up to half as large again.
   */
  readonly larger?: { readonly percent: number; readonly found: number; readonly width?: { readonly has: number; readonly needs: number } };
  /** So far out would the cast's surface have to lie everywhere, its tip with it, mm. Undefined: not seen, more than the wall, or with a vent. */
  readonly allRound?: { readonly by: number; readonly found: number };
  readonly shifts: readonly Shift[];
  /** Of a tight style: with a tenth of a millimetre less of the rule that is tightest, its verdict and spare, mm. */
  readonly tenth?: { readonly limit: Shift['limit']; readonly verdict: Verdict; readonly found: number };
  /** All of it in sentences. */
  readonly lines: readonly string[];
  /** How many runs it took. */
  readonly runs: number;
}

export type Effort = 'quick' | 'normal' | 'thorough';

/** One rung of the ladder. Everything in the ear frame; `report` turns it into scan coordinates. */
export interface Rung {
  readonly style: StyleName;
  readonly verdict: Verdict;
  readonly found?: number; // verified, mm; at most ENOUGH, which means "at least" (the evidence holds what was measured)
  readonly ceiling: number; // +Infinity where nothing is proved
  /** The parts, alone or together, by which the ceiling was proved. */
  readonly proved?: readonly string[];
  readonly body?: Body;
  readonly kit?: Kit;
  readonly arrangement?: Arrangement;
  readonly evidence?: Evidence;
  /** Of an arrangement that fits or is tight; where it is stuck the verdict is `unsettled`. */
  readonly assembly?: Assembly;
  readonly reasons: readonly Reason[];
  /** Changes that help, the cheapest for the client first. Undefined where none were looked for. */
  readonly remedies?: readonly Remedy[];
  /** Undefined where it was not asked for. */
  readonly missing?: Missing;
  readonly steady?: Steadiness;
  readonly cautions: readonly string[];
}
