/** A way as a short list of poses: those are left out that the straight motion past them goes by closely enough. */
import { length, type Pose } from '../geometry/vec.ts';
import { poseBetween, travel } from '../verify/between.ts';

/** How far the straight motion may pass beside a pose that is left out, mm: this, and this share of the clearance there. */
const BESIDE = 0.03;
const SHARE = 0.35;
/** Most poses in a row that are left out. */
const MOST = 24;

/** One place of a way: the poses of the parts that move, and the clearance there, mm. */
export interface Stop {
  readonly poses: readonly Pose<'ear'>[];
  readonly clear: number;
}

/** `reaches`: of each part the farthest point from its own origin, mm. The first and the last stop stay. */
export function thinned(stops: readonly Stop[], reaches: readonly number[]): Stop[] {
  const out: Stop[] = [];
  for (let i = 0; i < stops.length; ) {
    out.push(stops[i] as Stop);
    let next = i + 1;
    while (next + 1 < stops.length && next - i < MOST && passes(stops, i, next + 1, reaches)) next++;
    i = next;
  }
  return out;
}

/** Does the straight motion from stop i to stop j go by all between them? */
function passes(stops: readonly Stop[], i: number, j: number, reaches: readonly number[]): boolean {
  const way = [0];
  for (let k = i; k < j; k++) way.push((way[k - i] as number) + apart(stops[k] as Stop, stops[k + 1] as Stop, reaches));
  const whole = way[j - i] as number;
  for (let k = i + 1; k < j; k++) {
    const stop = stops[k] as Stop;
    const t = whole > 0 ? (way[k - i] as number) / whole : 0;
    const allowed = Math.min(BESIDE, SHARE * Math.max(0, stop.clear));
    const beside = stop.poses.some((p, a) => {
      const from = (stops[i] as Stop).poses[a] as Pose<'ear'>;
      const to = (stops[j] as Stop).poses[a] as Pose<'ear'>;
      return travel(p, poseBetween(from, to, t), reaches[a] as number) > allowed;
    });
    if (beside) return false;
  }
  return true;
}

const apart = (a: Stop, b: Stop, reaches: readonly number[]): number =>
  Math.max(0, ...a.poses.map((p, k) => travel(p, b.poses[k] as Pose<'ear'>, reaches[k] as number)));

/** Farthest point of a part from its own origin, at most, mm. */
export const reachOf = (part: {
  readonly primitives: readonly { readonly position: Parameters<typeof length>[0]; readonly size: Parameters<typeof length>[0] }[];
}): number => Math.max(0, ...part.primitives.map((p) => length(p.position) + length(p.size) / 2));
