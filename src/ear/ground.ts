/** What a cast's shape tells whichever ear it is of: the canal and its line, its bends, the axis at the aperture, the rim. */

import { boundsOf, type Mesh, triangleCount } from '../geometry/mesh.ts';
import { addScaled, distance, dot, normalize, type Plane, type Point, scale, sub } from '../geometry/vec.ts';
import { Fault } from '../model/fault.ts';
import type { Scan } from '../model/scan.ts';
import { bendsOf, type Turn } from './bends.ts';
import { exitOf, type Line, type Spine, spineOf } from './centreline.ts';
import { SHORTEST_STRETCH } from './follow.ts';
import { type Axis, type Rim, rimOf } from './rim.ts';
import { Slicer } from './slicer.ts';
import { acrossOf, centroidOf, fansOf, tipsOf } from './tips.ts';
import { type Rod, STEP, traceByWalls, traceRod } from './trace.ts';

/** A canal shorter than this cannot be told from a bump, mm. */
const SHORTEST = 4;
/** One that is longer need not be looked for twice, mm. */
const SURE = 8;
/** An impression's longest side, mm. Common practice, no published source. */
const SIZES = { least: 12, most: 80 } as const;

/** All that the shape tells whichever ear it is of. */
export interface Ground {
  readonly slicer: Slicer<'scan'>;
  readonly spine: Spine<'scan'>;
  readonly axis: Axis;
  /** The lateral one first. */
  readonly turns: readonly Turn[];
  /** The only turn is the second bend: a person said that there is no first. */
  readonly second: boolean;
  readonly rim: Rim;
  /** Where the impression ends, mm along the line: below 0 where that is beyond its first place. */
  readonly tip: number;
}

/** @throws Fault ear/size, ear/no-canal, ear/no-concha */
export function groundOf({ mesh, base }: Pick<Scan, 'mesh' | 'base'>): Ground {
  checkSize(mesh);
  const slicer = new Slicer(mesh);
  const spine = spineOf(slicer, findCanal(slicer, mesh, base));
  if (!spine.opening.seen) throw noConcha(spine);
  return groundAlong(slicer, spine, base?.plane);
}

/** What follows from the canal's line and its opening. */
export function groundAlong(slicer: Slicer<'scan'>, spine: Spine<'scan'>, base: Plane<'scan'> | undefined): Ground {
  const axis = axisAt(spine, centroidOf(slicer.mesh));
  const turns = bendsOf(spine.line, spine.opening.at);
  return { slicer, spine, axis, turns, second: false, rim: rimOf(slicer, axis, base), tip: tipOf(slicer, spine) };
}

/** Where the line leaves the material at the tip, mm along it: just before its first place. */
const tipOf = (slicer: Slicer<'scan'>, spine: Spine<'scan'>): number => {
  const { at, tangent } = along(spine.line, 0);
  return -exitOf(slicer, at, scale(tangent, -1));
};

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
  const best = rods.find((r) => !base || goesLaterally(r, base.plane.normal)) ?? rods[0];
  if (best && best.tube >= SHORTEST && best.stations.length > SHORTEST_STRETCH) return best;
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

/** A canal leaves the ear within some 75 degrees of the way that the open base looks; a tube that lies along the base is a helix's hook. */
const LATERALLY = 0.25;

function goesLaterally({ stations, last }: Rod<'scan'>, lateral: Point<'scan'>): boolean {
  const station = stations[Math.min(last, stations.length - 1)];
  return station !== undefined && dot(station.along, lateral) > LATERALLY;
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
export function along(line: Line<'scan'>, s: number): { at: Point<'scan'>; tangent: Point<'scan'> } {
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
