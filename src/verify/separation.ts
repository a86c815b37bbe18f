/**
 * Signed separation of two convex solids: the greatest over all unit u of (least u.b over B - greatest u.a over A).
 * That is their distance when apart, and minus the least move that parts them when not.
 *
 * Every direction gives a lower bound that holds whatever found it, so the answer is never too large. Directions come
 * from the closest points of the two (Gilbert, Johnson & Keerthi 1988) when apart; otherwise from faces, edge pairs and
 * centre lines, improved by a search on the sphere. A capsule is its core segment less its radius.
 */
import { addScaled, cross, dot, length, normalize, type Point, perpendicular, pt, scale, sub, type Vec3 } from '../geometry/vec.ts';
import type { Solid } from './solid.ts';

export interface Separation {
  /** Certified lower bound, mm. */
  readonly least: number;
  /** The point of A that faces B. */
  readonly at: Point<'ear'>;
}

const CLOSE_ENOUGH = 1e-7;

const roundOf = (s: Solid): number => (s.shape === 'capsule' ? s.radius : 0);

/** Least u.b over B's core minus greatest u.a over A's core. */
function gapAlong(a: Solid, b: Solid, u: Point<'ear'>): number {
  return dot(u, b.support(scale(u, -1), true)) - dot(u, a.support(u, true));
}

export function separation(a: Solid, b: Solid): Separation {
  const round = roundOf(a) + roundOf(b);
  let best = { gap: -Infinity, u: pt<'ear'>(0, 0, 1) };
  const consider = (u: Point<'ear'>): number => {
    const gap = gapAlong(a, b, u);
    if (gap > best.gap) best = { gap, u };
    return gap;
  };
  const distance = closestDirection(a, b, consider);
  if (best.gap <= 0 || distance - best.gap > 10 * CLOSE_ENOUGH) {
    const starts = directions(a, b).map((u) => ({ u, gap: consider(u) }));
    starts.sort((p, q) => q.gap - p.gap);
    for (const s of starts.slice(0, 4)) climb(s.u, s.gap, consider);
  }
  return { least: best.gap - round - 1e-10, at: a.support(best.u) };
}

/** Gilbert, Johnson & Keerthi on the cores' difference; offers every direction met to `consider`. Returns an attained distance. */
function closestDirection(a: Solid, b: Solid, consider: (u: Point<'ear'>) => number): number {
  let simplex: Point<'ear'>[] = [];
  let v = sub(b.centre, a.centre);
  let l = length(v);
  if (l === 0) return 0;
  for (let turn = 0; turn < 80; turn++) {
    l = length(v);
    if (l < 1e-9) return 0;
    const u = scale(v, 1 / l);
    const gap = consider(u);
    if (turn > 0 && l - gap < CLOSE_ENOUGH) break;
    const w = sub(b.support(scale(u, -1), true), a.support(u, true));
    if (simplex.some((s) => s[0] === w[0] && s[1] === w[1] && s[2] === w[2])) break;
    const near = nearestOfSimplex([...simplex, w]);
    if (near.inside) return 0;
    simplex = near.corners;
    v = near.point;
  }
  return l;
}

interface Corner {
  readonly point: Point<'ear'>;
  readonly corners: Point<'ear'>[];
  readonly inside?: true;
}

/** The point of a simplex (1 to 4 corners) nearest to the origin, with the corners that carry it. */
function nearestOfSimplex(s: readonly Point<'ear'>[]): Corner {
  const [p, q, r, t] = s as readonly [Point<'ear'>, Point<'ear'>, Point<'ear'>, Point<'ear'>];
  if (s.length === 1) return { point: p, corners: [p] };
  if (s.length === 2) return onSegment(p, q);
  if (s.length === 3) return onTriangle(p, q, r);
  const faces = [
    [p, q, r, t],
    [p, q, t, r],
    [p, r, t, q],
    [q, r, t, p],
  ] as const;
  let best: Corner | undefined;
  for (const [i, j, k, other] of faces) {
    const n = cross(sub(j, i), sub(k, i));
    const origin = -dot(n, i);
    const opposite = dot(n, sub(other, i));
    if (origin * opposite > 0) continue; // the origin lies on the tetrahedron's side of this face
    const c = onTriangle(i, j, k);
    if (!best || length(c.point) < length(best.point)) best = c;
  }
  return best ?? { point: pt<'ear'>(0, 0, 0), corners: [...s], inside: true };
}

function onSegment(p: Point<'ear'>, q: Point<'ear'>): Corner {
  const d = sub(q, p);
  const dd = dot(d, d);
  const t = dd > 0 ? -dot(p, d) / dd : 0;
  if (t <= 0) return { point: p, corners: [p] };
  if (t >= 1) return { point: q, corners: [q] };
  return { point: addScaled(p, d, t), corners: [p, q] };
}

function onTriangle(p: Point<'ear'>, q: Point<'ear'>, r: Point<'ear'>): Corner {
  const n = cross(sub(q, p), sub(r, p));
  const nn = dot(n, n);
  if (nn > 0) {
    const a = dot(n, cross(q, r));
    const b = dot(n, cross(r, p));
    const c = dot(n, cross(p, q));
    if (a >= 0 && b >= 0 && c >= 0) return { point: scale(n, dot(n, p) / nn), corners: [p, q, r] };
  }
  const sides = [onSegment(p, q), onSegment(q, r), onSegment(r, p)];
  return sides.reduce((m, s) => (length(s.point) < length(m.point) ? s : m));
}

/** Where a best direction of two overlapping solids may lie: face normals, edge pairs, centre line, radial ones. */
function directions(a: Solid, b: Solid): Point<'ear'>[] {
  const out: Point<'ear'>[] = [];
  const both = (v: Point<'ear'>): void => {
    if (length(v) < 1e-9) return;
    const u = normalize(v);
    out.push(u, scale(u, -1));
  };
  const line = sub(b.centre, a.centre);
  both(line);
  for (const s of [a, b]) for (const x of s.axes) both(x);
  for (const x of a.axes) for (const y of b.axes) both(cross(x, y));
  for (const s of [a, b]) if (s.shape !== 'box') radial(s, s === a ? b : a, both);
  return out;
}

/** From a round solid's axis to the other's centre and corners, square to the axis. */
function radial(round: Solid, other: Solid, both: (v: Point<'ear'>) => void): void {
  const axis = round.axes[2];
  for (const sx of [-1, 0, 1]) {
    for (const sy of [-1, 0, 1]) {
      for (const sz of [-1, 0, 1]) {
        let p = other.centre;
        for (const [k, s] of [sx, sy, sz].entries()) p = addScaled(p, other.axes[k as 0 | 1 | 2], s * (other.half[k] as number));
        const v = sub(p, round.centre);
        both(addScaled(v, axis, -dot(v, axis)));
      }
    }
  }
}

/** Local search on the sphere: eight neighbours, the step halved when none is better. */
function climb(start: Point<'ear'>, value: number, consider: (u: Point<'ear'>) => number): void {
  let u = start;
  let gap = value;
  for (let step = 0.2; step > 2e-6; step /= 2) {
    for (let turn = 0; turn < 40; turn++) {
      const x = perpendicular(u);
      const y = cross(u, x);
      let better = u;
      for (const [i, j] of AROUND) {
        const w = normalize(addScaled(addScaled(u, x, step * i), y, step * j));
        const g = consider(w);
        if (g > gap) {
          gap = g;
          better = w;
        }
      }
      if (better === u) break;
      u = better;
    }
  }
}

const H = Math.SQRT1_2;
const AROUND: readonly (readonly [number, number])[] = [
  [1, 0],
  [0, 1],
  [-1, 0],
  [0, -1],
  [H, H],
  [-H, H],
  [-H, -H],
  [H, -H],
];

/** Far apart for certain? Balls about the centres. Only to spare the kernel work. */
export const ballsApart = (a: Solid, b: Solid): boolean => length(sub(a.centre, b.centre) as Vec3) > a.reach + b.reach;
