/** Is a point, or a ball, within a part's solids, and do they stay so when the part is turned by half? */
import { conjugate, rotate } from '../geometry/rotation.ts';
import type { PartCells, Vec } from './format.ts';

/** Rounding of coordinates, mm. */
const ROUNDING = 1e-9;

type Solid = PartCells['primitives'][number];

/** Wholly within one of the solids? */
export const isOfPart = ({ primitives }: PartCells, p: Vec, radius = 0): boolean => primitives.some((s) => isWithin(s, p, radius));

function isWithin({ shape, size, position, quaternion }: Solid, p: Vec, radius: number): boolean {
  const [x, y, z] = rotate(conjugate(quaternion), [p[0] - position[0], p[1] - position[1], p[2] - position[2]]);
  const by = ROUNDING - radius;
  const [a, b, c] = [size[0] / 2 + by, size[1] / 2 + by, size[2] / 2 + by];
  if (shape === 'box') return Math.abs(x) <= a && Math.abs(y) <= b && Math.abs(z) <= c;
  const flat = Math.sqrt(x * x + y * y);
  if (shape === 'cylinder') return flat <= a && Math.abs(z) <= c;
  const over = Math.max(0, Math.abs(z) - Math.max(0, (size[2] - size[0]) / 2));
  return Math.sqrt(flat * flat + over * over) <= a;
}

const HALF_TURNS: Readonly<Record<'i' | 'j' | 'k', Vec>> = { i: [1, -1, -1], j: [-1, 1, -1], k: [-1, -1, 1] };

/**
 * Do all points and balls that are named stay within the part when it turns by half about an axis? Then what they show of a
 * pose they show of the half-turned one, where other points of the part lie just where these did.
 */
export function isHalfTurned(part: PartCells, about: 'i' | 'j' | 'k'): boolean {
  const [sx, sy, sz] = HALF_TURNS[about];
  const turned = (p: readonly number[]): Vec => [sx * (p[0] as number), sy * (p[1] as number), sz * (p[2] as number)];
  return part.points.every((p) => isOfPart(part, turned(p))) && part.balls.every((b) => isOfPart(part, turned(b), b[3]));
}

/** Is every solid round about the part's own z axis? */
export const isRound = ({ primitives }: PartCells): boolean =>
  primitives.every((s) => isAlong(s.position) && s.shape !== 'box' && s.size[0] === s.size[1] && isAlong(rotate(s.quaternion, [0, 0, 1])));

const isAlong = ([x, y]: Vec): boolean => Math.sqrt(x * x + y * y) < ROUNDING;

export function isTurn(q: Solid['quaternion']): boolean {
  return Math.abs(Math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]) - 1) < ROUNDING;
}
