/** What a person sets in place of what the survey found. */

import { acos } from '../geometry/trig.ts';
import { addScaled, cross, distance, dot, length, normalize, type Plane, type Point, scale, sub } from '../geometry/vec.ts';
import type { EarFrame, EarOverrides, OnLine, Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Turn } from './bends.ts';
import { along, type Ground, groundAlong } from './ground.ts';
import { axisMeets } from './rim.ts';
import { STEP } from './trace.ts';

/** The aperture is set no farther than this lateral of where it is found, nor nearer than LEAST to the end, mm. */
const LATERAL = 8;
const LEAST = 3;
/** A point is moved to the centreline from no farther than this, mm: the canal's wall and a little. */
const SNAP = 8;
/** Marks keep this distance from each other, mm. */
const APART = 0.5;
/** A bend's angle is read this far to either side of it, mm. */
const ARM = 3;
/** Directions may be turned from those found by no more than this: cosine of 60 degrees. More is another ear. */
const TURNED = 0.5;
/** The crus lies no farther than this from the surface, mm. */
const OFF_SURFACE = 5;
/** The rim crosses the canal's axis at least this far lateral of the aperture, mm, and leans from it by less than 70 degrees. */
const RIM_LEAST = 1;
const RIM_LEAN = 0.34;

const NAMES = {
  aperture: 'the aperture',
  firstBend: 'the first bend',
  secondBend: 'the second bend',
  end: 'the end',
  lateral: 'the lateral direction',
  superior: 'the superior direction',
  crus: 'the crus',
  rim: 'the rim plane',
} as const;
type Name = keyof typeof NAMES;

const refuse = (name: Name, found: string, next: string): Fault => new Fault('ear/override', `${NAMES[name]} was set ${found}`, name, next);

const finite = (p: readonly number[]): boolean => p.length === 3 && p.every((x) => Number.isFinite(x));

/** The ground as corrected: the aperture first, since bends, axis and rim are found from it; then each mark. @throws Fault ear/override */
export function corrected(found: Ground, base: Plane<'scan'> | undefined, set: EarOverrides): Ground {
  const at = (name: Name, where: OnLine): number => lineAt(found, name, where);
  const auto = found.spine.opening.at;
  let ground = found;
  if (set.aperture !== undefined) {
    const s = at('aperture', set.aperture);
    between(found, 'aperture', s, auto + LATERAL, found.tip + LEAST);
    const { spine } = found;
    ground = groundAlong(found.slicer, { ...spine, opening: { ...spine.opening, at: s, confidence: 1 } }, base);
  }
  const aperture = ground.spine.opening.at;
  if (set.end !== undefined) {
    const s = at('end', set.end);
    between(found, 'end', s, aperture - LEAST, found.tip);
    ground = { ...ground, tip: s };
  }
  ground = { ...ground, ...bendsSet(found, ground, set) };
  if (set.lateral) ground = { ...ground, axis: { ...ground.axis, lateral: lateralSet(ground, set.lateral) } };
  return set.rim ? { ...ground, rim: { plane: rimSet(ground, set.rim), confidence: 1 } } : ground;
}

/** Place on the line, mm along it, of what a person set. */
function lineAt(found: Ground, name: Name, where: OnLine): number {
  const auto = found.spine.opening.at;
  if (typeof where === 'number') {
    if (!Number.isFinite(where)) throw refuse(name, `at ${where} mm`, 'Set it at a number of millimetres.');
    return auto - where;
  }
  if (!finite(where)) throw refuse(name, `at [${where.join(', ')}]`, 'Set it at three numbers, mm in the coordinates of the scan.');
  const { points } = found.spine.line;
  let best = { s: 0, far: Infinity };
  for (let s = Math.min(0, found.tip); s <= (points.length - 1) * STEP; s += STEP / 5) {
    const far = distance(along(found.spine.line, s).at, where);
    if (far < best.far) best = { s, far };
  }
  if (best.far > SNAP) {
    throw refuse(
      name,
      `${best.far.toFixed(1)} mm off the canal's centreline`,
      `Set it within ${SNAP} mm of the centreline, or as a depth in millimetres.`,
    );
  }
  return best.s;
}

/** Refuses a place that is not between the two, both counted along the line. */
function between(found: Ground, name: Name, s: number, lateral: number, medial: number): void {
  if (s <= lateral + 1e-9 && s >= medial - 1e-9) return;
  const depth = (x: number): string => (found.spine.opening.at - x).toFixed(1);
  const room =
    lateral < medial
      ? 'There is no room left for it between the other marks.'
      : `Set it from ${depth(lateral)} to ${depth(medial)} mm inside the aperture that the survey finds.`;
  throw refuse(name, `${depth(s)} mm inside the aperture that the survey finds`, room);
}

/** The bends, by hand or as found, the first lateral of the second. A bend that was found gives way to one that was set. */
function bendsSet(found: Ground, ground: Ground, set: EarOverrides): Pick<Ground, 'turns' | 'second'> {
  const { line, opening } = ground.spine;
  const turn = (name: 'firstBend' | 'secondBend', where: OnLine): Turn => {
    const s = lineAt(found, name, where);
    between(found, name, s, opening.at - APART, ground.tip + APART);
    const angle = acos(dot(along(line, s + ARM).tangent, along(line, Math.max(line.told * STEP, s - ARM)).tangent));
    return { s, angle, confidence: 1 };
  };
  const hand1 = set.firstBend !== undefined && set.firstBend !== 'none' ? turn('firstBend', set.firstBend) : undefined;
  const hand2 = set.secondBend !== undefined && set.secondBend !== 'none' ? turn('secondBend', set.secondBend) : undefined;
  if (hand1 && hand2 && hand1.s < hand2.s + APART) between(found, 'firstBend', hand1.s, opening.at - APART, hand2.s + APART);
  const shown = ground.turns.filter((t) => t.s > ground.tip + APART);
  const [auto1, auto2] = ground.second ? [undefined, shown[0]] : [shown[0], shown[1]];
  const lateralOf = (t: Turn | undefined): Turn | undefined => (t && (!hand2 || t.s > hand2.s + 2 * APART) ? t : undefined);
  const medialOf = (t: Turn | undefined): Turn | undefined => (t && (!hand1 || t.s < hand1.s - 2 * APART) ? t : undefined);
  const first = hand1 ?? (set.firstBend === 'none' ? undefined : (lateralOf(auto1) ?? (hand2 ? lateralOf(auto2) : undefined)));
  const second = hand2 ?? (set.secondBend === 'none' ? undefined : medialOf(auto2));
  return second && !first ? { turns: [second], second: true } : { turns: [first, second].filter((t) => t !== undefined), second: false };
}

function lateralSet({ axis }: Ground, d: Point<'scan'>): Point<'scan'> {
  if (!finite(d) || !(length(d) > 1e-9))
    throw refuse('lateral', `to [${d.join(', ')}]`, 'Give a direction of three numbers that are not all 0.');
  const unit = normalize(d);
  const c = dot(unit, axis.lateral);
  if (c >= TURNED) return unit;
  throw refuse(
    'lateral',
    `${((acos(c) * 180) / Math.PI).toFixed(0)}° away from the canal's own direction`,
    'Set it within 60° of the canal at its aperture, out of the ear.',
  );
}

/** The frame turned about its lateral axis so that superior is as set. @throws Fault ear/override */
export function uprightSet(frame: EarFrame, d: Point<'scan'>): EarFrame {
  if (!finite(d) || !(length(d) > 1e-9))
    throw refuse('superior', `to [${d.join(', ')}]`, 'Give a direction of three numbers that are not all 0.');
  const square = addScaled(normalize(d), frame.lateral, -dot(normalize(d), frame.lateral));
  if (length(square) < 0.5) {
    throw refuse('superior', 'nearly along the lateral direction', 'Set it at 30° to it or more: superior is upwards as worn.');
  }
  const superior = normalize(square);
  return { ...frame, superior, anterior: anteriorTo(superior, frame.lateral, frame.side) };
}

/** Facing a right ear from its side the face is to the right: anterior = superior x lateral; a left ear is its mirror image. */
const anteriorTo = (superior: Point<'scan'>, lateral: Point<'scan'>, side: Side): Point<'scan'> =>
  side === 'right' ? cross(superior, lateral) : cross(lateral, superior);

function rimSet({ axis }: Ground, { point, normal }: Plane<'scan'>): Plane<'scan'> {
  if (!finite(point) || !finite(normal) || !(length(normal) > 1e-9)) {
    throw refuse('rim', 'without a point and a normal of three numbers each', 'Give both, in the coordinates of the scan.');
  }
  const unit = normalize(normal);
  const lean = dot(unit, axis.lateral);
  const plane = { point, normal: lean < 0 ? scale(unit, -1) : unit };
  if (Math.abs(lean) < RIM_LEAN)
    throw refuse('rim', 'nearly along the canal', 'Set it so that it leans from square to the canal by less than 70°.');
  const out = dot(sub(axisMeets(axis, plane), axis.origin), axis.lateral);
  if (out >= RIM_LEAST) return plane;
  throw refuse(
    'rim',
    `${out.toFixed(1)} mm lateral of the aperture`,
    `Set it at least ${RIM_LEAST} mm lateral of it: the rim bounds the concha.`,
  );
}

/** @throws Fault ear/override where it is nowhere near the cast. */
export function crusSet({ slicer }: Ground, at: Point<'scan'>): Point<'scan'> {
  if (!finite(at)) throw refuse('crus', `at [${at.join(', ')}]`, 'Set it at three numbers, mm in the coordinates of the scan.');
  if (slicer.tree.nearest(at, OFF_SURFACE)) return at;
  throw refuse('crus', `more than ${OFF_SURFACE} mm off the cast's surface`, 'Set it in the groove between cymba and cavum.');
}
