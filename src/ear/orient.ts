/**
 * Which way is up: the turn of the ear frame about the canal's axis.
 *
 * Four things tell it, each in a known direction of the ear (angles from anterior towards superior) and with a known spread:
 *   - the long axis of the concha's outline, a little medial of the rim: nearly superior, leaning back;
 *   - the long axis of the canal's section near the aperture: the same;
 *   - the way from the canal to the outline's middle: backwards, for the canal opens at the front of the concha;
 *   - the way the first bend turns the canal: backwards too.
 * The first two do not know their head from their foot; the last two tell them. The side settles the handedness.
 */
import { atan2, cos, PI, radians, sin } from '../geometry/trig.ts';
import { addScaled, cross, dot, normalize, type Point, scale, sub } from '../geometry/vec.ts';
import type { Side } from '../model/ear.ts';
import type { Slice } from './slicer.ts';

export interface Cue {
  /** Where it points, in the plane square to the axis; need not be exactly square or of length 1. */
  readonly direction: Point<'scan'>;
  /** Where it should point in the ear, radians from anterior towards superior. */
  readonly expected: number;
  /** How far it usually strays from that, radians. */
  readonly spread: number;
  /** A line without head and foot. */
  readonly line: boolean;
}

/** Common practice, no published source: the directions are read off textbook drawings of the concha and canal; the spreads are guesses. */
export const EXPECTED = {
  outline: { angle: radians(95), spread: radians(4) },
  section: { angle: radians(97), spread: radians(9) },
  middle: { angle: radians(163), spread: radians(22) },
  bend: { angle: radians(188), spread: radians(18) },
} as const;

export interface Upright {
  readonly anterior: Point<'scan'>;
  readonly superior: Point<'scan'>;
}

/** In-plane axes e1, e2 of which e1 towards e2 is anterior towards superior, for either side. */
function turned(lateral: Point<'scan'>, across: Point<'scan'>, side: Side): { e1: Point<'scan'>; e2: Point<'scan'> } {
  const e1 = normalize(addScaled(across, lateral, -dot(across, lateral)));
  // superior = lateral x anterior for a right ear; the other way round for a left one.
  const e2 = side === 'right' ? cross(lateral, e1) : cross(e1, lateral);
  return { e1, e2 };
}

/** The upright axes about `lateral`. `across`: any direction not along it. */
export function uprightOf(lateral: Point<'scan'>, across: Point<'scan'>, side: Side, cues: readonly Cue[]): Upright {
  const { e1, e2 } = turned(lateral, across, side);
  // Each cue's vote: the angle of anterior in (e1, e2), weighted by 1 / spread^2.
  const votes = cues.map((c) => ({
    angle: atan2(dot(c.direction, e2), dot(c.direction, e1)) - c.expected,
    weight: 1 / (c.spread * c.spread),
    line: c.line,
  }));
  const first = mean(votes.filter((v) => !v.line));
  const headed = votes.map((v) => (v.line && cos(v.angle - first) < 0 ? { ...v, angle: v.angle + PI } : v));
  const angle = mean(headed);
  const anterior = addScaled(scale(e1, cos(angle)), e2, sin(angle));
  const superior = addScaled(scale(e1, -sin(angle)), e2, cos(angle));
  return { anterior, superior };
}

function mean(votes: readonly { angle: number; weight: number }[]): number {
  let c = 0;
  let s = 0;
  for (const v of votes) {
    c += v.weight * cos(v.angle);
    s += v.weight * sin(v.angle);
  }
  return atan2(s, c);
}

/** Long axis (through the second moments of area) and middle of an outline, seen along the canal's axis. */
export function shapeOf(slice: Slice<'scan'>, at: Point<'scan'>, lateral: Point<'scan'>, across: Point<'scan'>) {
  const { e1, e2 } = turned(lateral, across, 'right');
  const p = slice.points;
  const x: number[] = [];
  const y: number[] = [];
  for (let k = 0; k < p.length; k += 2) {
    const q = addScaled(addScaled(at, slice.u, p[k] as number), slice.v, p[k + 1] as number);
    x.push(dot(sub(q, at), e1));
    y.push(dot(sub(q, at), e2));
  }
  const m = secondMoments(x, y);
  const half = Math.sqrt(((m.xx - m.yy) * (m.xx - m.yy)) / 4 + m.xy * m.xy);
  const centre = (m.xx + m.yy) / 2;
  const angle = atan2(2 * m.xy, m.xx - m.yy) / 2;
  return {
    axis: addScaled(scale(e1, cos(angle)), e2, sin(angle)),
    middle: addScaled(scale(e1, m.cx), e2, m.cy),
    /** Length to width of the ellipse with the same moments. */
    ratio: Math.sqrt((centre + half) / Math.max(1e-9, centre - half)),
  };
}

/** Area moments of a polygon about its centroid (Green's theorem), per area. */
function secondMoments(x: readonly number[], y: readonly number[]) {
  let area = 0;
  let cx = 0;
  let cy = 0;
  let xx = 0;
  let yy = 0;
  let xy = 0;
  for (let i = 0, j = x.length - 1; i < x.length; j = i++) {
    const [ax, ay, bx, by] = [x[j] as number, y[j] as number, x[i] as number, y[i] as number];
    const w = ax * by - bx * ay;
    area += w / 2;
    cx += ((ax + bx) * w) / 6;
    cy += ((ay + by) * w) / 6;
    xx += ((ax * ax + ax * bx + bx * bx) * w) / 12;
    yy += ((ay * ay + ay * by + by * by) * w) / 12;
    xy += ((ax * by + 2 * ax * ay + 2 * bx * by + bx * ay) * w) / 24;
  }
  cx /= area;
  cy /= area;
  return { cx, cy, xx: xx / area - cx * cx, yy: yy / area - cy * cy, xy: xy / area - cx * cy };
}
