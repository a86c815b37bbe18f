/**
 * The referee's solids: boxes, cylinders and capsules where a document puts them, with exact nearest points. Nothing here comes from
 * the engine but the sums of three numbers: a turn, a nearest point or a distance that is wrong there is not wrong here too.
 */
import { add, addScaled, cross, distance, dot, scale, sub, type Vec3 } from '../../src/geometry/vec.ts';

export type Axes = readonly [Vec3, Vec3, Vec3];
export type FourNumbers = readonly [number, number, number, number];

export interface Solid {
  readonly part: string;
  readonly shape: 'box' | 'cylinder' | 'capsule';
  readonly size: Vec3;
  readonly kind: 'solid' | 'service';
  readonly at: Vec3;
  /** Its own x, y, z in scan coordinates. */
  readonly axes: Axes;
}

/** A plane in scan coordinates; its normal, length 1, points out of the body. */
export interface Cut {
  readonly point: Vec3;
  readonly normal: Vec3;
}

/** The own axes of what a quaternion [x, y, z, w] turns: v + 2 w (u x v) + 2 u x (u x v) for each of them. */
export function axesOf([x, y, z, w]: FourNumbers): Axes {
  const u: Vec3 = [x, y, z];
  const turn = (v: Vec3): Vec3 => {
    const once = cross(u, v);
    return add(add(v, scale(once, 2 * w)), scale(cross(u, once), 2));
  };
  return [turn([1, 0, 0]), turn([0, 1, 0]), turn([0, 0, 1])];
}

/** Own coordinates -> scan. */
export const outOf = (axes: Axes, v: Vec3): Vec3 => addScaled(addScaled(scale(axes[0], v[0]), axes[1], v[1]), axes[2], v[2]);
/** Scan direction -> own coordinates. */
export const into = (axes: Axes, v: Vec3): Vec3 => [dot(axes[0], v), dot(axes[1], v), dot(axes[2], v)];

/** Signed height over a cut, mm: negative inside the body. */
export const over = (cut: Cut, p: Vec3): number => dot(cut.normal, sub(p, cut.point));

const clamp = (x: number, half: number): number => Math.max(-half, Math.min(half, x));

function nearestOwn({ shape, size }: Solid, v: Vec3): Vec3 {
  if (shape === 'box') return [clamp(v[0], size[0] / 2), clamp(v[1], size[1] / 2), clamp(v[2], size[2] / 2)];
  const radius = size[0] / 2;
  if (shape === 'cylinder') {
    const r = Math.sqrt(v[0] * v[0] + v[1] * v[1]);
    const s = r > radius ? radius / r : 1;
    return [v[0] * s, v[1] * s, clamp(v[2], size[2] / 2)];
  }
  const onAxis: Vec3 = [0, 0, clamp(v[2], size[2] / 2 - radius)];
  const off = sub(v, onAxis);
  const r = Math.sqrt(dot(off, off));
  return r <= radius ? v : addScaled(onAxis, off, radius / r);
}

/** The point of a solid nearest to p; p itself, to rounding, where it lies inside. */
export const nearest = (s: Solid, p: Vec3): Vec3 => add(s.at, outOf(s.axes, nearestOwn(s, into(s.axes, sub(p, s.at)))));

/** The point of a solid that lies farthest along d. */
export function farthest({ shape, size, at, axes }: Solid, d: Vec3): Vec3 {
  const v = into(axes, d);
  const end = (k: 0 | 1 | 2, half: number): number => (v[k] >= 0 ? half : -half);
  if (shape === 'box') return add(at, outOf(axes, [end(0, size[0] / 2), end(1, size[1] / 2), end(2, size[2] / 2)]));
  const radius = size[0] / 2;
  if (shape === 'cylinder') {
    const r = Math.sqrt(v[0] * v[0] + v[1] * v[1]);
    const s = r > 0 ? radius / r : 0;
    return add(at, outOf(axes, [v[0] * s, v[1] * s, end(2, size[2] / 2)]));
  }
  const l = Math.sqrt(dot(v, v));
  return add(at, outOf(axes, addScaled([0, 0, end(2, size[2] / 2 - radius)], v, l > 0 ? radius / l : 0)));
}

/** How far a solid reaches over a cut at most and at least, mm. */
export const topOver = (cut: Cut, s: Solid): number => over(cut, farthest(s, cut.normal));
export const bottomOver = (cut: Cut, s: Solid): number => over(cut, farthest(s, scale(cut.normal, -1)));

/** Radius about the solid's centre that holds it, mm. */
export const reachOf = ({ shape, size }: Solid): number => {
  if (shape === 'capsule') return Math.max(size[0], size[2]) / 2;
  const [x, y, z] = size;
  return Math.sqrt(shape === 'box' ? x * x + y * y + z * z : x * x + z * z) / 2;
};

/** What something measures, from below and from above, mm. `most` is that of two points that are there, so it is beyond doubt. */
export interface Bracket {
  readonly least: number;
  readonly most: number;
}

/**
 * Distance of two solids: to and fro between their nearest points (von Neumann 1933), each time a little beyond in the direction of
 * travel, from anew when that leads away (Beck and Teboulle 2009; O'Donoghue and Candes 2015). The slab between the two supporting
 * planes bounds it from below. 0 where they touch or overlap.
 * @param upTo stops as soon as the distance is known to be at least this, mm.
 */
export function gapOf(a: Solid, b: Solid, upTo = Infinity): Bracket {
  const round = distance(a.at, b.at) - reachOf(a) - reachOf(b);
  if (round >= upTo) return { least: round, most: Infinity };
  let x = nearest(a, b.at);
  let ahead = x;
  let pace = 1;
  let before = Infinity;
  let least = 0;
  let most = Infinity;
  for (let k = 0; k < 20_000; k++) {
    const on = nearest(a, nearest(b, ahead));
    const between = sub(nearest(b, on), on);
    const d = Math.sqrt(dot(between, between));
    most = Math.min(most, d);
    if (d < 1e-9) return { least: 0, most: 0 };
    const u = scale(between, 1 / d);
    least = Math.max(least, dot(u, farthest(b, scale(u, -1))) - dot(u, farthest(a, u)));
    if (most - least < 1e-5 || least >= upTo) break;
    const faster = (1 + Math.sqrt(1 + 4 * pace * pace)) / 2;
    ahead = d > before ? on : addScaled(on, sub(on, x), (pace - 1) / faster);
    pace = d > before ? 1 : faster;
    before = d;
    x = on;
  }
  return { least, most };
}

/**
 * The point nearest to p of what of a solid lies behind a cut; undefined where nothing of it does. By Lagrange: it is the solid's
 * point nearest to p moved back along the normal by as much as brings that point onto the cut.
 */
export function nearestBehind(s: Solid, p: Vec3, cut: Cut): Vec3 | undefined {
  const free = nearest(s, p);
  if (over(cut, free) <= 0) return free;
  if (bottomOver(cut, s) > -1e-6) return undefined;
  const at = (back: number): Vec3 => nearest(s, addScaled(p, cut.normal, -back));
  let few = 0;
  let many = 1;
  while (over(cut, at(many)) > 0 && many < 1e6) many *= 2;
  for (let k = 0; k < 60; k++) {
    const mid = (few + many) / 2;
    if (over(cut, at(mid)) > 0) few = mid;
    else many = mid;
  }
  return at(many);
}

/** How far what of a solid lies behind `outer` reaches over `cut` at most, mm: the dual of that little linear programme, from above. */
export function topBehind(cut: Cut, outer: Cut, s: Solid): number {
  const bound = (l: number): number => {
    const d = addScaled(cut.normal, outer.normal, -l);
    return dot(d, farthest(s, d)) + l * dot(outer.normal, outer.point) - dot(cut.normal, cut.point);
  };
  let lo = 0;
  let hi = 64;
  for (let k = 0; k < 80; k++) {
    const a = lo + (hi - lo) / 3;
    const b = hi - (hi - lo) / 3;
    if (bound(a) < bound(b)) hi = b;
    else lo = a;
  }
  return Math.min(bound(0), bound((lo + hi) / 2));
}

/** A solid carried along by the rigid motion that takes one pose of its part to another. */
export interface Stand {
  readonly at: Vec3;
  readonly axes: Axes;
}

export const carried = (s: Solid, from: Stand, to: Stand): Solid => {
  const turn = (v: Vec3): Vec3 => outOf(to.axes, into(from.axes, v));
  return { ...s, at: add(to.at, turn(sub(s.at, from.at))), axes: [turn(s.axes[0]), turn(s.axes[1]), turn(s.axes[2])] };
};
