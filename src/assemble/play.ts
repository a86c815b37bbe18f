/** A move as it looks at some moment, for an animation. */
import type { Pose } from '../geometry/vec.ts';
import type { Move } from '../model/fit.ts';
import { poseBetween, travel } from '../verify/between.ts';

/** Points of a part count as this far from its own origin when turns are weighed against shifts, mm. */
const ARM = 3;

/**
 * The poses of a move's parts (ear frame, in the order of `move.parts`) at t from 0, outside, to 1, in place. Equal
 * times take things about equally far. Between two listed poses the motion is the verified one.
 */
export function moveAt(move: Move, t: number): readonly Pose<'ear'>[] {
  const { poses } = move;
  const last = poses.length - 1;
  if (last < 1 || t <= 0) return poses[0] ?? [];
  if (t >= 1) return poses[last] as readonly Pose<'ear'>[];
  const way = wayOf(move);
  const wanted = t * (way[last] as number);
  let k = 0;
  while (k < last - 1 && (way[k + 1] as number) <= wanted) k++;
  const from = way[k] as number;
  const to = way[k + 1] as number;
  const share = to > from ? (wanted - from) / (to - from) : 1;
  const a = poses[k] as readonly Pose<'ear'>[];
  const b = poses[k + 1] as readonly Pose<'ear'>[];
  return a.map((p, i) => poseBetween(p, b[i] as Pose<'ear'>, share));
}

/** How far the move has come at each of its poses, mm. */
function wayOf({ poses }: Move): number[] {
  const way = [0];
  for (let k = 1; k < poses.length; k++) {
    const a = poses[k - 1] as readonly Pose<'ear'>[];
    const b = poses[k] as readonly Pose<'ear'>[];
    way.push((way[k - 1] as number) + Math.max(0, ...a.map((p, i) => travel(p, b[i] as Pose<'ear'>, ARM))));
  }
  return way;
}
