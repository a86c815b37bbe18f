/** The motion between two poses of one thing, and how far it takes its points: what a listed motion means. */
import { unitQuat } from '../geometry/rotation.ts';
import { distance, type Frame, lerp, type Pose, type Quat } from '../geometry/vec.ts';

/** The same turn with the sign that lies nearer to `to`. */
const towards = (to: Quat, q: Quat): Quat => (cosine(to, q) < 0 ? [-q[0], -q[1], -q[2], -q[3]] : q);
const cosine = (a: Quat, b: Quat): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3];

/** The pose a share `t` (0 to 1) of the way from a to b: the position runs straight, the turn about one axis, the shorter way. */
export function poseBetween<F extends Frame>(a: Pose<F>, b: Pose<F>, t: number): Pose<F> {
  if (t <= 0) return a;
  if (t >= 1) return b;
  const p = a.quaternion;
  const q = towards(p, b.quaternion);
  const mix = (k: 0 | 1 | 2 | 3): number => (1 - t) * p[k] + t * q[k];
  return { position: lerp(a.position, b.position, t), quaternion: unitQuat([mix(0), mix(1), mix(2), mix(3)]) };
}

/** Half of a turn's cosine below which one step turns too far for `travel` to hold: 60 degrees. */
const WIDE_TURN = 0.8661;

/** Does the step from a to b turn by no more than 60 degrees? */
export const turnsLittle = <F extends Frame>(a: Pose<F>, b: Pose<F>): boolean => Math.abs(cosine(a.quaternion, b.quaternion)) >= WIDE_TURN;

/**
 * How far a point within `reach` mm of the pose's position travels at most on the way from a to b, mm.
 * The way is |shift| + reach * angle; with c the chord between the two unit quaternions, angle <= 2.03 c up to 60 degrees.
 */
export function travel<F extends Frame>(a: Pose<F>, b: Pose<F>, reach: number): number {
  const p = a.quaternion;
  const q = towards(p, b.quaternion);
  const chord = Math.sqrt((p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2 + (p[3] - q[3]) ** 2);
  return distance(a.position, b.position) + 2.03 * reach * chord;
}
