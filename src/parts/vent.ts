/** The vent as a part: a bore with a wall round it, grown into the shell along a line of points. */
import { quatFromAxes, rotate, unitQuat } from '../geometry/rotation.ts';
import { cross, distance, normalize, type Point, type Pose, perpendicular, pt, type Quat, sub } from '../geometry/vec.ts';
import type { Part, Primitive, Rules } from '../model/parts.ts';

/** Where a part that is grown into the shell stands: its own frame is the ear's. */
export const GROWN: Pose<'ear'> = { position: pt(0, 0, 0), quaternion: [0, 0, 0, 1] };

/** From the middle of the bore to the outside of the wall round it, mm: that wall is as thick as the shell's. */
export const tubeRadius = (diameter: number, rules: Pick<Rules, 'wall'>): number => diameter / 2 + rules.wall;

/** A vent of `diameter` (mm) whose bore runs straight from point to point, from the outer cut to the tip cut (ear frame). */
export function ventAlong(line: readonly Point<'ear'>[], diameter: number, rules: Pick<Rules, 'wall'>): Part {
  const width = 2 * tubeRadius(diameter, rules);
  const primitives = line.slice(1).map((to, k): Primitive => {
    const from = line[k] as Point<'ear'>;
    const along = distance(from, to);
    return {
      shape: 'capsule',
      size: [width, width, along + width],
      position: [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2, (from[2] + to[2]) / 2],
      quaternion: along > 1e-9 ? turnTo(normalize(sub(to, from))) : [0, 0, 0, 1],
      kind: 'solid',
    };
  });
  return {
    id: 'vent',
    kind: 'vent',
    name: `Vent of ${diameter.toFixed(1)} mm`,
    primitives,
    seat: { at: 'shell' },
    margin: 0,
    source: "the order's diameter; the wall round the bore is the rules'",
  };
}

/** A turn that brings z to unit d, whatever it does to x and y: from the axes, which is exact for every d. */
function turnTo(d: Point<'ear'>): Quat {
  const x = perpendicular(d);
  return unitQuat(quatFromAxes(x, cross(d, x), d));
}

/** One piece of a vent without the wall round it. */
export const boreOf = (piece: Primitive, { wall }: Pick<Rules, 'wall'>): Primitive => ({
  ...piece,
  size: [piece.size[0] - 2 * wall, piece.size[1] - 2 * wall, piece.size[2] - 2 * wall],
});

/** The points that a vent's bore runs through, from outside in: the line that it was made along. */
export function lineOf(vent: Part): Point<'ear'>[] {
  const end = ({ position, quaternion, size }: Primitive, sign: number): Point<'ear'> => {
    const z = rotate(quaternion, [0, 0, 1]);
    const half = (sign * (size[2] - size[0])) / 2;
    return pt(position[0] + half * z[0], position[1] + half * z[1], position[2] + half * z[2]);
  };
  const first = vent.primitives[0];
  return first ? [end(first, -1), ...vent.primitives.map((p) => end(p, 1))] : [];
}
