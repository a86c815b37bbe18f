/** The survey of a cast: its frame, centreline, sections and landmarks, from its shape, the side, and what a person sets. */

import { type Plane, pt } from '../geometry/vec.ts';
import type { Bend, CanalSection, Ear, EarFrame, EarOverrides, Landmark, SetBy, Side } from '../model/ear.ts';
import type { Scan } from '../model/scan.ts';
import type { Turn } from './bends.ts';
import { corrected, crusSet, uprightSet } from './corrections.ts';
import { type Groove, grooveOf } from './crus.ts';
import { standing } from './cues.ts';
import { floorOf } from './floor.ts';
import { meshToEar, planeToEar, pointToEar } from './frame.ts';
import { along, type Ground, groundOf } from './ground.ts';
import { centrelineOf, sectionsOf } from './sections.ts';
import { STEP } from './trace.ts';
import { apertureTrust, crusTrust, endTrust, rimTrust, sideTrust } from './trust.ts';

export { insideWall } from './inside.ts';
export { bandsFor, type PublishedRow } from './published.ts';
export { judgeEar, sideContradicted } from './quality.ts';

type Cast = Pick<Scan, 'mesh' | 'base'>;

/**
 * Surveys a cast.
 *
 * @param scan a closed, outward mesh in mm, in any pose; with the base where the scan was open there.
 * @param side which ear it is of: a shape and its mirror image are equally good ears, so a person must say it.
 * @param overrides what a person sets in place of what is found; each mark of the ear says which of the two it is.
 * @returns the ear in its own frame (see `src/model/ear.ts` for the definitions).
 * @throws Fault ear/size, ear/no-canal, ear/no-concha; ear/override for a mark where none can be
 */
export const surveyEar = (scan: Cast, side: Side, overrides: EarOverrides = {}): Ear =>
  surveyOf(groundOf(scan), scan.base?.plane, side, overrides);

/**
 * Surveys a cast and says which ear its shape speaks for: by where the crus's groove lies, above the canal if the side is
 * right, else below it, where only the notch could pass for one. `confidence` 0..1: the chance that it is so; 0 where no groove is seen.
 *
 * @throws Fault as surveyEar
 */
export function surveyWithSide(
  scan: Cast,
  side: Side,
  overrides: EarOverrides = {},
): { readonly ear: Ear; readonly guess: { readonly side: Side; readonly confidence: number } } {
  const ground = groundOf(scan);
  const felt = (s: Side): Felt => feltIn(ground, standing(ground, s));
  const both = { left: felt('left'), right: felt('right') };
  const [left, right] = [both.left.groove?.confidence ?? 0, both.right.groove?.confidence ?? 0];
  return {
    ear: surveyOf(ground, scan.base?.plane, side, overrides, both[side]),
    guess: { side: left > right ? 'left' : 'right', confidence: sideTrust(Math.abs(left - right), ground.spine) },
  };
}

/** Which ear a cast is of: a hint for a person, not a decision. @throws Fault as surveyEar */
export const guessSide = (scan: Cast): { readonly side: Side; readonly confidence: number } => surveyWithSide(scan, 'right').guess;

/** The crus's groove as felt in a frame, below a rim: feeling for it takes as long as a tenth of a survey. */
interface Felt {
  readonly frame: EarFrame;
  readonly rim: Plane<'scan'>;
  readonly groove: Groove | undefined;
}

const feltIn = ({ slicer, rim }: Ground, frame: EarFrame): Felt => ({
  frame,
  rim: rim.plane,
  groove: grooveOf(slicer, frame, rim.plane),
});

const feltSo = ({ frame: a, rim }: Felt, ground: Ground, b: EarFrame): boolean =>
  rim === ground.rim.plane && FRAME.every((name) => a[name].every((x, k) => x === b[name][k]));
const FRAME = ['origin', 'anterior', 'superior', 'lateral'] as const;

/** `felt`: the groove, where it was felt already; it is felt anew if the corrections turned the frame or moved the rim. */
function surveyOf(found: Ground, base: Plane<'scan'> | undefined, side: Side, set: EarOverrides, felt?: Felt): Ear {
  const ground = corrected(found, base, set);
  const upright = standing(ground, side);
  const frame = set.superior ? uprightSet(upright, set.superior) : upright;
  return compose(ground, frame, set, felt && feltSo(felt, ground, frame) ? felt : undefined);
}

const by = (x: unknown): SetBy => (x === undefined ? 'auto' : 'by hand');

function compose(ground: Ground, frame: EarFrame, set: EarOverrides, felt: Felt | undefined): Ear {
  const { slicer, spine, turns, rim, tip, second: onlySecond } = ground;
  const mark = (s: number, confidence: number, hand: unknown): Landmark => ({
    at: pointToEar(frame, along(spine.line, s).at),
    depth: spine.opening.at - s,
    confidence,
    set: by(hand),
  });
  const bend = (t: Turn, hand: unknown): Bend => ({ ...mark(t.s, t.confidence, hand), angle: t.angle });
  const [first, second] = onlySecond ? [undefined, turns[0]] : turns;
  const sections = sectionsOf(slicer, frame, spine, tip);
  const mouth = sections.find((s) => s.depth === 0);
  const floor = mouth && floorOf(slicer, frame, rim.plane, mouth.major / 2);
  return {
    frame,
    cast: meshToEar(frame, slicer.mesh),
    centreline: centrelineOf(frame, spine, tip),
    sections,
    aperture: { at: pt(0, 0, 0), depth: 0, confidence: set.aperture === undefined ? apertureTrust(spine) : 1, set: by(set.aperture) },
    ...(first ? { firstBend: bend(first, set.firstBend) } : {}),
    ...(second ? { secondBend: bend(second, set.secondBend) } : {}),
    end: mark(tip, set.end === undefined ? endTrust(spine) : 1, set.end),
    rim: { plane: planeToEar(frame, rim.plane), confidence: set.rim ? 1 : rimTrust(rim.confidence), set: by(set.rim) },
    ...crusOf(ground, frame, set.crus, felt),
    directions: { lateral: by(set.lateral), superior: by(set.superior) },
    ...isthmusOf(sections, first && spine.opening.at - first.s, spine.opening.at - Math.max(tip, spine.first * STEP)),
    ...(floor ? { floor: { at: pointToEar(frame, floor.at), depth: floor.depth } } : {}),
  };
}

function crusOf(ground: Ground, frame: EarFrame, set: EarOverrides['crus'], felt: Felt | undefined): Pick<Ear, 'crus'> {
  if (set === 'none') return {};
  if (set) return { crus: { at: pointToEar(frame, crusSet(ground, set)), confidence: 1, set: 'by hand' } };
  const { groove } = felt ?? feltIn(ground, frame);
  return groove ? { crus: { at: pointToEar(frame, groove.at), confidence: crusTrust(groove.confidence), set: 'auto' } } : {};
}

/** The narrowest section between two depths; sections that the end face cuts lie beyond `to`. */
function isthmusOf(sections: readonly CanalSection[], from: number | undefined, to: number): Pick<Ear, 'isthmus'> {
  if (from === undefined) return {};
  const among = sections.filter((s) => s.depth >= from && s.depth <= to);
  const least = among.reduce<CanalSection | undefined>((a, b) => (a && a.area <= b.area ? a : b), undefined);
  return least ? { isthmus: { at: least.at, depth: least.depth, area: least.area } } : {};
}
