/**
 * The concha part of a cast as one implicit solid, in concha coordinates: origin at the cavum's centre in the rim
 * plane, X anterior and Y superior in that plane, W out of the ear along its normal. A cast is a positive: the bowls
 * of the ear stand out medially, the crus leaves a groove, the tragus a hollow.
 */

import { cos, sin } from '../geometry/trig.ts';
import { add, addScaled, cross, dot, normalize, type Point, pt, scale, sub } from '../geometry/vec.ts';
import { ellipsoid, join, meet, smoothstep, without } from './blend.ts';
import type { EarParameters } from './parameters.ts';

export interface ConchaFrame {
  readonly origin: Point<'ear'>;
  readonly x: Point<'ear'>;
  readonly y: Point<'ear'>;
  readonly w: Point<'ear'>;
}

export const toConcha = (f: ConchaFrame, p: Point<'ear'>): [number, number, number] => {
  const q = sub(p, f.origin);
  return [dot(q, f.x), dot(q, f.y), dot(q, f.w)];
};
export const fromConcha = (f: ConchaFrame, x: number, y: number, w: number): Point<'ear'> =>
  add(f.origin, add(add(scale(f.x, x), scale(f.y, y)), scale(f.w, w)));

/** `lift`: height of the cavum's centre in the rim plane over the aperture, along the canal axis. */
export function conchaFrame(p: EarParameters, aperture: { readonly major: number; readonly minor: number }, lift: number): ConchaFrame {
  const w = normalize(pt<'ear'>(sin(p.rimTurn), sin(p.rimLean), cos(p.rimTurn) * cos(p.rimLean)));
  const x = normalize(addScaled(pt<'ear'>(1, 0, 0), w, -w[0]));
  // The canal opens behind the tragus and below the crus: flush with the cavum's anterior and upper walls.
  const ax = Math.max(0, p.cavumWidth / 2 - aperture.minor - 0.2);
  const ay = Math.max(0, p.cavumHeight / 2 - aperture.major - 0.3);
  return { origin: pt(-ax, -ay, lift), x, y: cross(w, x), w };
}

/** Where the parts lie, in concha coordinates. */
export interface ConchaPlan {
  readonly apertureY: number;
  readonly crusY: number;
  readonly crusFrom: readonly [number, number, number];
  readonly crusTo: readonly [number, number, number];
  readonly notch: readonly [number, number];
  readonly tragus: readonly [number, number, number];
}

const ROOF = 1;

export function conchaPlan(p: EarParameters, aperture: { readonly major: number }): ConchaPlan {
  const ax = p.cavumWidth / 2;
  const ay = p.cavumHeight / 2;
  const crusY = ay + p.crusWidth / 2 - 0.4;
  return {
    apertureY: Math.max(0, ay - aperture.major - 0.3),
    crusY,
    crusFrom: [ax + 3, crusY + 0.8, -0.5],
    crusTo: [ax - p.crusReach * p.cavumWidth, crusY - 1.2, -p.cavumDepth * 0.78],
    notch: [0.72 * ax, -1.06 * ay],
    tragus: [ax + 3.4 - p.tragusOverhang, Math.max(0, ay - aperture.major - 0.3) - 1.2, -1.6],
  };
}

export type Solid = (x: number, y: number, w: number) => number;

export interface Concha {
  /** Up to the rim plane and a little over it (`ROOF`). */
  readonly solid: Solid;
  /** Distance to the outline in the rim plane of what the material covers there: notches of the rim bridged. */
  readonly cover: (x: number, y: number) => number;
}

/** The flange is put on by `castShape`. */
export function conchaSolid(p: EarParameters, plan: ConchaPlan): Concha {
  const ax = p.cavumWidth / 2;
  const ay = p.cavumHeight / 2;
  const depth = p.cavumDepth;
  const arm = cymbaArm(p, plan);
  const notch = notchSpout(p, plan);
  const crus = crusRidge(p, plan);
  const [tx, ty, tw] = plan.tragus;
  const solid: Solid = (x, y, w) => {
    if (w < -depth - 7) return -w - depth;
    const cavum = bowl(x, y, w, ax, ay, depth);
    let f = join(cavum, arm(x, y, w), 2.2);
    f = join(f, notch(x, y, w), 1.6);
    f = without(f, crus(x, y, w), 1.4);
    f = without(f, ellipsoid(x - tx, y - ty, w - tw, 3.4, 4.6, 4.2), 1.6);
    f = without(f, ellipsoid(x + 0.3 * ax, y + ay + 2.1, w + 0.6, 4.2, 3.2, 3.4), 1.4);
    return meet(f, w - ROOF, 0.4);
  };
  const cover = (x: number, y: number): number => join(join(bowl(x, y, 0, ax, ay, depth), arm(x, y, 0), 6), notch(x, y, 0), 7);
  return { solid, cover };
}

/** A boxy bowl: an ellipse at the rim, a flat floor, steep walls. Straight up above the rim. */
function bowl(x: number, y: number, w: number, ax: number, ay: number, depth: number): number {
  const px = x / ax;
  const py = y / ay;
  const rho2 = px * px + py * py;
  const o = w < 0 ? w / depth : 0;
  const o2 = o * o;
  const g4 = rho2 * rho2 + o2 * o2;
  const g = Math.sqrt(Math.sqrt(g4));
  if (g < 0.05) return -Math.min(ax, ay, depth);
  const gx = (rho2 * px) / ax;
  const gy = (rho2 * py) / ay;
  const gw = (o2 * o) / depth;
  const slope = Math.sqrt(gx * gx + gy * gy + gw * gw) / (g * g * g);
  return (g - 1) / slope;
}

/** A tube along a curve in the rim plane, filled upward to a roof: the cymba, ending in the hook below the helix. */
function cymbaArm(p: EarParameters, plan: ConchaPlan): Solid {
  const ax = p.cavumWidth / 2;
  const ay = p.cavumHeight / 2;
  const r = p.cymbaHeight / 2;
  const mid = plan.crusY + p.crusWidth / 2 + r - 0.4;
  const deep = -0.66 * p.cavumDepth;
  // x, y, radius, axis height, roof
  const knots = [
    [-0.42 * ax, 0.2 * ay, 4.2, deep + 4.2, ROOF],
    [-0.6 * ax, 0.68 * ay, 4.4, deep + 4.2, ROOF],
    [-0.5 * ax, (plan.crusY + mid) / 2, r + 0.7, deep + r + 0.6, ROOF],
    [-0.14 * ax, mid - 0.2, r + 0.15, deep + r + 0.9, ROOF],
    [0.3 * ax, mid + 0.25 * p.hookRise, 0.9 * r, deep + r + 1.3, 0.2],
    [0.68 * ax, mid + 0.6 * p.hookRise, 0.66 * r, deep + r + 1.6, -1.6],
    [0.7 * ax + p.hookLength, mid - 0.5 + p.hookRise, 0.36 * r, deep + r + 1.9, deep + r + 1.9],
  ] as const;
  return sweptTube(spline(knots, PIECES));
}

/** Straight pieces a span of the spline: fewer show as ribs. */
const PIECES = 9;

/** The tube along a flat path of x, y, radius, axis height, roof. */
function sweptTube(path: Float64Array): Solid {
  const spans = spansOf(path);
  return (x, y, w) => {
    let best = Infinity;
    for (const span of spans) {
      const gx = x - span.x;
      const gy = y - span.y;
      // No point of the span is nearer than this: most spans need no closer look.
      if (Math.sqrt(gx * gx + gy * gy) - span.reach >= best) continue;
      for (let o = span.from; o < span.to; o += 5) {
        const d = pieceDistance(path, o, x, y, w);
        if (d < best) best = d;
      }
    }
    return best;
  };
}

/** Each span's circle in the rim plane, tube included. */
function spansOf(
  path: Float64Array,
): { readonly x: number; readonly y: number; readonly reach: number; readonly from: number; readonly to: number }[] {
  const spans = [];
  for (let from = 0; from + 5 < path.length; from += 5 * PIECES) {
    const to = from + 5 * PIECES;
    const x = ((path[from] as number) + (path[to] as number)) / 2;
    const y = ((path[from + 1] as number) + (path[to + 1] as number)) / 2;
    let reach = 0;
    for (let o = from; o <= to; o += 5) {
      const dx = (path[o] as number) - x;
      const dy = (path[o + 1] as number) - y;
      reach = Math.max(reach, Math.sqrt(dx * dx + dy * dy) + (path[o + 2] as number));
    }
    spans.push({ x, y, reach: reach + 0.5, from, to });
  }
  return spans;
}

function pieceDistance(path: Float64Array, o: number, x: number, y: number, w: number): number {
  const x0 = path[o] as number;
  const y0 = path[o + 1] as number;
  const dx = (path[o + 5] as number) - x0;
  const dy = (path[o + 6] as number) - y0;
  const t = Math.max(0, Math.min(1, ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy)));
  const ex = x - x0 - t * dx;
  const ey = y - y0 - t * dy;
  const low = (path[o + 3] as number) + t * ((path[o + 8] as number) - (path[o + 3] as number));
  const high = (path[o + 4] as number) + t * ((path[o + 9] as number) - (path[o + 4] as number));
  const ew = w < low ? low - w : w > high ? w - high : 0;
  return Math.sqrt(ex * ex + ey * ey + ew * ew) - ((path[o + 2] as number) + t * ((path[o + 7] as number) - (path[o + 2] as number)));
}

/** Catmull-Rom through the knots, `per` pieces a span, flat. */
function spline(knots: readonly (readonly number[])[], per: number): Float64Array {
  const n = knots.length;
  const wide = (knots[0] as readonly number[]).length;
  const out = new Float64Array(((n - 1) * per + 1) * wide);
  for (let i = 0; i <= (n - 1) * per; i++) {
    const s = Math.min(n - 2, Math.floor(i / per));
    const t = i / per - s;
    for (let k = 0; k < wide; k++) {
      const at = (j: number): number => (knots[Math.max(0, Math.min(n - 1, j))] as readonly number[])[k] as number;
      const [a, b, c, e] = [at(s - 1), at(s), at(s + 1), at(s + 2)];
      out[i * wide + k] = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - e) * t * t + (3 * b - a - 3 * c + e) * t * t * t);
    }
  }
  return out;
}

/** The spout that the intertragal notch leaves, open upward. */
function notchSpout(p: EarParameters, plan: ConchaPlan): Solid {
  const r = p.notchWidth / 2;
  const [nx, ny] = plan.notch;
  const x0 = 0.1 * nx;
  const y0 = 0.4 * ny;
  const dx = nx - x0;
  const dy = ny - y0;
  return (x, y, w) => {
    const t = Math.max(0, Math.min(1, ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy)));
    const ex = x - x0 - t * dx;
    const ey = y - y0 - t * dy;
    const low = -0.55 * p.cavumDepth + r + t * 0.25 * p.cavumDepth;
    const ew = w < low ? low - w : 0;
    return Math.sqrt(ex * ex + ey * ey + ew * ew) - r;
  };
}

/** The ridge of the crus: high in front, where it is the helix's root, and fading on the floor behind. Open medially. */
function crusRidge(p: EarParameters, plan: ConchaPlan): Solid {
  const [x0, y0, w0] = plan.crusFrom;
  const [x1, y1, w1] = plan.crusTo;
  const dx = x1 - x0;
  const dy = y1 - y0;
  return (x, y, w) => {
    const t = Math.max(0, Math.min(1, ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy)));
    const ex = x - x0 - t * dx;
    const ey = y - y0 - t * dy;
    const radius = (p.crusWidth / 2) * (1.12 - 0.3 * t);
    const top = w0 + (w1 - w0) * smoothstep(0, 1, t) - radius;
    const ew = w > top ? w - top : 0;
    return Math.sqrt(ex * ex + ey * ey + ew * ew) - radius;
  };
}
