/** How the ear stands about its canal's axis, by all that the cast shows of it. */

import { radians } from '../geometry/trig.ts';
import { addScaled, distance, pt, sub } from '../geometry/vec.ts';
import type { EarFrame, Side } from '../model/ear.ts';
import { along, type Ground } from './ground.ts';
import { type Cue, EXPECTED, shapeOf, uprightOf } from './orient.ts';
import { axisMeets, CONCHA_REACH } from './rim.ts';

/** The ear frame of a cast, taken for that side. */
export function standing(ground: Ground, side: Side): EarFrame {
  const { axis } = ground;
  const { anterior, superior } = uprightOf(axis.lateral, axis.across, side, cuesOf(ground));
  return { side, origin: axis.origin, anterior, superior, lateral: axis.lateral };
}

/** Medially of the rim, where the outline shows cavum, cymba and hook but no flange, mm. */
const OUTLINE_BELOW = 3;

/** Every cue that this cast gives of which way is up. */
function cuesOf(ground: Ground): Cue[] {
  const { slicer, axis, rim } = ground;
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
  cues.push(...canalCues(ground));
  return cues;
}

function canalCues({ slicer, axis, spine, turns }: Ground): Cue[] {
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
    const sharp = first.angle / (first.angle + radians(6)); // a slight turn's way is read less well
    // Going medially the line turns from -lateral towards this.
    const before = along(spine.line, first.s + 3).tangent;
    const after = along(spine.line, first.s - 3).tangent;
    cues.push({
      direction: sub(before, after),
      expected: EXPECTED.bend.angle,
      spread: EXPECTED.bend.spread / (sharp * sharp),
      line: false,
    });
  }
  return cues;
}
