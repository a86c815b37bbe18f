/** The survey of a cast: its frame, centreline, sections and landmarks, from its shape and the side alone. */

import { boundsOf, type Mesh, triangleCount } from '../geometry/mesh.ts';
import { addScaled, distance, dot, normalize, type Point, pt, scale, sub } from '../geometry/vec.ts';
import type { Bend, CanalSection, Centreline, Ear, EarFrame, Landmark, Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Scan } from '../model/scan.ts';
import { bendsOf, type Turn } from './bends.ts';
import { exitOf, type Line, type Spine, spineOf } from './centreline.ts';
import { type Groove, grooveOf, lateralOf } from './crus.ts';
import { directionToEar, meshToEar, planeToEar, pointToEar } from './frame.ts';
import { type Cue, EXPECTED, shapeOf, uprightOf } from './orient.ts';
import { type Axis, axisMeets, CONCHA_REACH, type Rim, rimOf } from './rim.ts';
import { type Slice, Slicer } from './slicer.ts';
import { acrossOf, centroidOf, fansOf, tipsOf } from './tips.ts';
import { type Rod, STEP, traceByWalls, traceRod } from './trace.ts';
import { widthsOf } from './widths.ts';

/** The depth between two sections of the survey, mm. */
const SECTION_STEP = 0.25;
/** Sections are given from this far lateral of the aperture, mm. */
const SECTIONS_FROM = 3;
/** A canal shorter than this cannot be told from a bump, mm. */
const SHORTEST = 4;
/** One that is longer need not be looked for twice, mm. */
const SURE = 8;
/** An impression's longest side, mm. Common practice, no published source. */
const SIZES = { least: 12, most: 80 } as const;

/**
 * Surveys a cast.
 *
 * @param scan a closed, outward mesh in mm, in any pose; with the base where the scan was open there.
 * @param side which ear it is of: a shape and its mirror image are equally good ears, so this cannot be told from the shape.
 * @returns the ear in its own frame (see `src/model/ear.ts` for the definitions).
 * @throws Fault ear/size, ear/no-canal, ear/no-concha
 */
export function surveyEar(scan: Pick<Scan, 'mesh' | 'base'>, side: Side): Ear {
  const ground = groundOf(scan);
  const frame = standing(ground, side);
  return compose(ground, frame);
}

export { judgeEar, sideContradicted } from './quality.ts';

/**
 * Surveys a cast and says which ear its shape speaks for: by where the crus's groove lies, above the canal if the side is
 * right, else below it, where only the notch could pass for one. `confidence` 0..1; 0 where no groove is seen either way.
 *
 * @throws Fault as surveyEar
 */
export function surveyWithSide(
  scan: Pick<Scan, 'mesh' | 'base'>,
  side: Side,
): { readonly ear: Ear; readonly guess: { readonly side: Side; readonly confidence: number } } {
  const ground = groundOf(scan);
  const seen = (s: Side): number => grooveIn(ground, standing(ground, s))?.confidence ?? 0;
  const [left, right] = [seen('left'), seen('right')];
  return {
    ear: compose(ground, standing(ground, side)),
    guess: { side: left > right ? 'left' : 'right', confidence: Math.abs(left - right) },
  };
}

/** Which ear a cast is of: a hint for a person, not a decision. @throws Fault as surveyEar */
export const guessSide = (scan: Pick<Scan, 'mesh' | 'base'>): { readonly side: Side; readonly confidence: number } =>
  surveyWithSide(scan, 'right').guess;

/** All that the shape tells whichever ear it is of. */
interface Ground {
  readonly slicer: Slicer<'scan'>;
  readonly spine: Spine<'scan'>;
  readonly axis: Axis;
  readonly turns: readonly Turn[];
  readonly rim: Rim;
}

function groundOf({ mesh, base }: Pick<Scan, 'mesh' | 'base'>): Ground {
  checkSize(mesh);
  const slicer = new Slicer(mesh);
  const spine = spineOf(slicer, findCanal(slicer, mesh, base));
  if (!spine.opening.seen) throw noConcha(spine);
  const axis = axisAt(spine, centroidOf(mesh));
  return { slicer, spine, axis, turns: bendsOf(spine.line, spine.opening.at), rim: rimOf(slicer, axis, base?.plane) };
}

function standing(ground: Ground, side: Side): EarFrame {
  const { axis } = ground;
  const { anterior, superior } = uprightOf(axis.lateral, axis.across, side, cuesOf(ground));
  return { side, origin: axis.origin, anterior, superior, lateral: axis.lateral };
}

function grooveIn({ slicer, axis, rim }: Ground, frame: EarFrame): Groove | undefined {
  return grooveOf(slicer, frame, lateralOf(frame, axisMeets(axis, rim.plane)));
}

function checkSize(mesh: Mesh<'scan'>): void {
  const { min, max } = boundsOf<'scan'>(mesh.positions);
  const size = distance(min, max);
  if (triangleCount(mesh) >= 100 && size >= SIZES.least && size <= SIZES.most * Math.sqrt(3)) return;
  throw new Fault(
    'ear/size',
    `the shape measures ${size.toFixed(1)} mm across and has ${triangleCount(mesh)} triangles; an ear impression measures 20 to 60 mm`,
    'the whole mesh',
    'Check the unit of the file, and that it is a scan of an ear impression.',
  );
}

function findCanal(slicer: Slicer<'scan'>, mesh: Mesh<'scan'>, base: Scan['base']): Rod<'scan'> {
  const fans = fansOf(mesh);
  const centre = centroidOf(mesh);
  const tips = tipsOf(mesh, fans, centre, 1, 6).slice(0, 16);
  const open = tips.filter((t) => !base || dot(base.plane.normal, sub(t.at, base.plane.point)) < -SHORTEST);
  const byScore = (a: Rod<'scan'>, b: Rod<'scan'>): number => b.score - a.score;
  const rods = open.map((t) => traceRod(slicer, t, acrossOf(mesh, centre, t.at))).sort(byScore);
  if (!rods[0] || rods[0].tube < SURE) {
    rods.push(...open.slice(0, 4).map((t) => traceByWalls(slicer, t, acrossOf(mesh, centre, t.at), centre)));
    rods.sort(byScore);
  }
  const best = rods[0];
  if (best && best.tube >= SHORTEST) return best;
  throw new Fault(
    'ear/no-canal',
    best
      ? `the longest part that looks like a canal is ${best.tube.toFixed(1)} mm long (of ${tips.length} places that stick out)`
      : 'nothing sticks out of the shape that could be a canal',
    'the whole mesh',
    isWhole(mesh)
      ? 'It is larger than an impression: if it is a scan of the ear itself, the canal is a hole in it. Use a scan of an impression, where it stands out.'
      : `Use a scan of an impression that shows at least ${SHORTEST} mm of the canal, closed at the base.`,
  );
}

/** Larger than impressions are, mm across: an ear with what is about it. */
const WHOLE_EAR = 62;

function isWhole(mesh: Mesh<'scan'>): boolean {
  const { min, max } = boundsOf<'scan'>(mesh.positions);
  return distance(min, max) > WHOLE_EAR;
}

function noConcha(spine: Spine<'scan'>): Fault {
  return new Fault(
    'ear/no-concha',
    `the canal is ${spine.opening.at.toFixed(1)} mm long and never opens into a concha`,
    'the lateral end of the canal',
    'Use a scan that includes the concha.',
  );
}

/** The canal's axis at the aperture, with some direction across it that turns with the cast. */
function axisAt(spine: Spine<'scan'>, centre: Point<'scan'>): Axis {
  const { at, tangent } = along(spine.line, spine.opening.at);
  const out = sub(centre, at);
  const square = addScaled(out, tangent, -dot(out, tangent));
  return { origin: at, lateral: tangent, across: normalize(square) };
}

/** Place and lateral direction at s mm along the line; straight on beyond its ends. */
function along(line: Line<'scan'>, s: number): { at: Point<'scan'>; tangent: Point<'scan'> } {
  const last = line.points.length - 1;
  const k = Math.max(0, Math.min(last - 1, Math.floor(s / STEP)));
  const f = s / STEP - k;
  const a = line.points[k] as Point<'scan'>;
  const b = line.points[k + 1] as Point<'scan'>;
  const held = Math.max(0, Math.min(1, f));
  const ta = line.tangents[k] as Point<'scan'>;
  const tb = line.tangents[k + 1] as Point<'scan'>;
  return { at: addScaled(a, sub(b, a), f), tangent: normalize(addScaled(scale(ta, 1 - held), tb, held)) };
}

/** Medially of the rim, where the outline shows cavum, cymba and hook but no flange, mm. */
const OUTLINE_BELOW = 3;

/** Every cue that this cast gives of which way is up. */
function cuesOf({ slicer, axis, rim, spine, turns }: Ground): Cue[] {
  const cues: Cue[] = [];
  const { lateral, across } = axis;
  const n = rim.plane.normal;
  const at = axisMeets(axis, { point: addScaled(rim.plane.point, n, -OUTLINE_BELOW), normal: n });
  const outline = slicer.outline(at, n, CONCHA_REACH);
  if (outline) {
    const { axis: long, middle, ratio } = shapeOf(outline, at, lateral, across);
    // A nearly round concha has no long axis to speak of.
    const longer = Math.max(0.1, Math.min(1, ratio - 1));
    const round = 1 / (longer * longer);
    cues.push({ direction: long, expected: EXPECTED.outline.angle, spread: EXPECTED.outline.spread * round, line: true });
    const near = Math.max(0.3, 4 / Math.max(0.5, distance(middle, pt(0, 0, 0))));
    cues.push({ direction: middle, expected: EXPECTED.middle.angle, spread: EXPECTED.middle.spread * near, line: false });
  }
  cues.push(...canalCues(slicer, axis, spine, turns));
  return cues;
}

function canalCues(slicer: Slicer<'scan'>, axis: Axis, spine: Spine<'scan'>, turns: readonly Turn[]): Cue[] {
  const cues: Cue[] = [];
  const inside = along(spine.line, spine.opening.at - 1);
  const slice = slicer.outline(inside.at, inside.tangent, CONCHA_REACH);
  if (slice) {
    const { axis: long, ratio } = shapeOf(slice, inside.at, axis.lateral, axis.across);
    const round = 0.4 / Math.max(0.02, Math.min(0.8, ratio - 1));
    cues.push({ direction: long, expected: EXPECTED.section.angle, spread: EXPECTED.section.spread * Math.max(1, round), line: true });
  }
  const first = turns[0];
  if (first) {
    // Going medially the line turns from -lateral towards this.
    const before = along(spine.line, first.s + 3).tangent;
    const after = along(spine.line, first.s - 3).tangent;
    cues.push({
      direction: sub(before, after),
      expected: EXPECTED.bend.angle,
      spread: EXPECTED.bend.spread / (first.confidence * first.confidence),
      line: false,
    });
  }
  return cues;
}

function compose(ground: Ground, frame: EarFrame): Ear {
  const { slicer, spine, turns, rim } = ground;
  const aperture = spine.opening.at;
  const tip = tipOf(slicer, spine);
  const mark = (s: number, confidence: number): Landmark => ({
    at: pointToEar(frame, along(spine.line, s).at),
    depth: aperture - s,
    confidence,
  });
  const bend = (t: Turn): Bend => ({ ...mark(t.s, t.confidence), angle: t.angle });
  const [first, second] = turns;
  const groove = grooveIn(ground, frame);
  return {
    frame,
    cast: meshToEar(frame, slicer.mesh),
    centreline: centrelineOf(frame, spine, tip),
    sections: sectionsOf(slicer, frame, spine, tip),
    aperture: { at: pt(0, 0, 0), depth: 0, confidence: spine.opening.confidence },
    ...(first ? { firstBend: bend(first) } : {}),
    ...(second ? { secondBend: bend(second) } : {}),
    end: mark(tip, endTrust(spine)),
    rim: { plane: planeToEar(frame, rim.plane), confidence: rim.confidence },
    ...(groove ? { crus: { at: pointToEar(frame, groove.at), confidence: groove.confidence } } : {}),
  };
}

/** Where the line leaves the material at the tip, mm along it: just before its first place. */
const tipOf = (slicer: Slicer<'scan'>, spine: Spine<'scan'>): number => {
  const { at, tangent } = along(spine.line, 0);
  return -exitOf(slicer, at, scale(tangent, -1));
};

/** The less of the way to the tip is guessed (straight on from the last section that tells), the surer the end. */
const endTrust = (spine: Spine<'scan'>): number => 1 / (1 + (spine.line.told * STEP) / 10);

/** Lateral end first, in even steps of depth with one at the aperture. */
function depthsOf(spine: Spine<'scan'>, step: number, lateral: number, tip: number): number[] {
  const end = spine.opening.at - tip;
  const out: number[] = [];
  for (let k = -Math.floor(lateral / step); k * step < end - 1e-9; k++) out.push(k * step);
  return out;
}

function centrelineOf(frame: EarFrame, spine: Spine<'scan'>, tip: number): Centreline {
  const lateral = (spine.line.points.length - 1) * STEP - spine.opening.at;
  const depths = [...depthsOf(spine, SECTION_STEP, lateral, tip), spine.opening.at - tip];
  const points: number[] = [];
  const tangents: number[] = [];
  for (const depth of depths) {
    const { at, tangent } = along(spine.line, spine.opening.at - depth);
    points.push(...pointToEar(frame, at));
    tangents.push(...directionToEar(frame, scale(tangent, -1)));
  }
  return { points: Float64Array.from(points), tangents: Float64Array.from(tangents), depths: Float64Array.from(depths) };
}

function sectionsOf(slicer: Slicer<'scan'>, frame: EarFrame, spine: Spine<'scan'>, tip: number): CanalSection[] {
  const out: CanalSection[] = [];
  for (const depth of depthsOf(spine, SECTION_STEP, SECTIONS_FROM, tip)) {
    const { at, tangent } = along(spine.line, spine.opening.at - depth);
    const slice = slicer.outline(at, tangent, CONCHA_REACH);
    if (slice?.holds) out.push(sectionIn(frame, depth, at, tangent, slice));
  }
  return out;
}

function sectionIn(frame: EarFrame, depth: number, at: Point<'scan'>, tangent: Point<'scan'>, slice: Slice<'scan'>): CanalSection {
  const w = widthsOf(slice.points);
  const inScan = ([a, b]: readonly [number, number]): Point<'scan'> => addScaled(scale(slice.u, a), slice.v, b);
  return {
    depth,
    at: pointToEar(frame, at),
    tangent: directionToEar(frame, scale(tangent, -1)),
    area: slice.area,
    major: w.major,
    minor: w.minor,
    perimeter: slice.perimeter,
    majorDirection: pointing(directionToEar(frame, inScan(w.majorDirection)), 1),
    minorDirection: pointing(directionToEar(frame, inScan(w.minorDirection)), 0),
  };
}

/** A line's direction with that component positive. */
const pointing = (d: Point<'ear'>, k: 0 | 1): Point<'ear'> => (d[k] < 0 ? scale(d, -1) : d);
