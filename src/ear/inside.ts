/** A section of the canal inside the shell's wall: what of the outline's inside lies at least the wall from it, measured like the section itself. */
import { cos, PI, sin } from '../geometry/trig.ts';
import type { CanalSection } from '../model/ear.ts';
import { circumscribedAbout } from './circles.ts';
import { hullOf, widthsOfHull } from './widths.ts';

/** What is left of a section inside a wall. Lengths mm, areas mm2. */
export interface InsideSection {
  readonly area: number;
  /** Largest width, and least width between parallel lines, of all that is left. */
  readonly major: number;
  readonly minor: number;
  readonly perimeter: number;
  /** Diameters of the largest circle within and the smallest round it. */
  readonly inscribed: number;
  readonly circumscribed: number;
}

/**
 * A section inside a wall: the points of the outline's inside that lie at least `wall` from the outline. Undefined where nothing is left, and
 * for a section without its outline.
 *
 * Its border is found exactly but for the arcs about inward corners, whose chords lie at most 0.001 mm inside: every piece of the outline,
 * moved inwards by the wall, less what comes nearer than that to any other piece.
 *
 * @param wall mm, not below 0.
 */
export function insideWall(section: CanalSection, wall: number): InsideSection | undefined {
  const { outline, inscribed } = section;
  if (!outline || inscribed === undefined || !(wall >= 0) || inscribed <= 2 * wall) return undefined;
  const pieces = insetOf(outline, wall);
  if (pieces.length === 0) return undefined;
  let twice = 0;
  let perimeter = 0;
  for (let i = 0; i < pieces.length; i += 4) {
    const [ax, ay, bx, by] = [pieces[i], pieces[i + 1], pieces[i + 2], pieces[i + 3]] as [number, number, number, number];
    twice += ax * by - bx * ay;
    perimeter += Math.sqrt((bx - ax) * (bx - ax) + (by - ay) * (by - ay));
  }
  const hull = hullOf(pieces);
  const { major, minor } = widthsOfHull(hull);
  return {
    area: twice / 2,
    major,
    minor,
    perimeter,
    inscribed: inscribed - 2 * wall,
    circumscribed: 2 * circumscribedAbout(hull).radius,
  };
}

/** The border of what lies at least `wall` inside a counter-clockwise outline: directed pieces of four numbers, in no order. */
export function insetOf(outline: Float64Array, wall: number): Float64Array {
  if (wall === 0) return loopOf(outline);
  const out: number[] = [];
  for (const { piece, sag } of movedIn(outline, wall)) {
    const [ax, ay, bx, by] = piece;
    for (const [from, to] of keptOf(piece, outline, wall - sag - HAIR)) {
      out.push(ax + from * (bx - ax), ay + from * (by - ay), ax + to * (bx - ax), ay + to * (by - ay));
    }
  }
  return Float64Array.from(out);
}

type Piece = readonly [number, number, number, number];

/** A piece of border that may stay; `sag`: how much nearer than the wall it lies to the corner that it goes about, being a chord, mm. */
interface Moved {
  readonly piece: Piece;
  readonly sag: number;
}

function loopOf(outline: Float64Array): Float64Array {
  const out = new Float64Array(2 * outline.length);
  for (let i = 0; i < outline.length; i += 2) {
    const j = i + 2 < outline.length ? i + 2 : 0;
    out.set([outline[i] as number, outline[i + 1] as number, outline[j] as number, outline[j + 1] as number], 2 * i);
  }
  return out;
}

/** Arcs about inward corners are given in chords of this angle at most, radians: the chord of a 0.8 mm wall lies 0.001 mm inside. */
const CHORD = 0.1;

/** Each side moved inwards (to its left) by the wall, and about each inward corner the arc between. */
function movedIn(outline: Float64Array, wall: number): Moved[] {
  const n = outline.length / 2;
  const out: Moved[] = [];
  const sides: { ax: number; ay: number; bx: number; by: number; nx: number; ny: number }[] = [];
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    const [ax, ay, bx, by] = [outline[2 * i], outline[2 * i + 1], outline[2 * j], outline[2 * j + 1]] as [number, number, number, number];
    const l = Math.sqrt((bx - ax) * (bx - ax) + (by - ay) * (by - ay));
    if (l > 1e-9) sides.push({ ax, ay, bx, by, nx: -(by - ay) / l, ny: (bx - ax) / l });
  }
  sides.forEach((s, i) => {
    out.push({ piece: [s.ax + wall * s.nx, s.ay + wall * s.ny, s.bx + wall * s.nx, s.by + wall * s.ny], sag: 0 });
    const next = sides[(i + 1) % sides.length] as typeof s;
    // An inward corner turns to the right: the outline runs counter-clockwise.
    const turn = s.nx * next.ny - s.ny * next.nx;
    if (turn < 0) out.push(...arcOf(s.bx, s.by, [s.nx, s.ny], [next.nx, next.ny], wall));
  });
  return out;
}

/** About a corner from one unit normal to the other, the short way round, clockwise. */
function arcOf(x: number, y: number, [ax, ay]: readonly [number, number], [bx, by]: readonly [number, number], wall: number): Moved[] {
  const straight = ax * bx + ay * by;
  let steps = 1;
  while (cos(Math.min(PI, steps * CHORD)) > straight && steps * CHORD < PI) steps++;
  const points: [number, number][] = [];
  for (let k = 0; k <= steps; k++) points.push(k === 0 ? [ax, ay] : k === steps ? [bx, by] : blend(ax, ay, bx, by, straight, k / steps));
  return points.slice(1).map((b, k) => {
    const a = points[k] as [number, number];
    const half = Math.sqrt(Math.max(0, (1 + a[0] * b[0] + a[1] * b[1]) / 2)); // the cosine of half the angle between
    return { piece: [x + wall * a[0], y + wall * a[1], x + wall * b[0], y + wall * b[1]], sag: wall * (1 - half) };
  });
}

/** Between two unit vectors; by angle where they are far apart, else by chord. */
function blend(ax: number, ay: number, bx: number, by: number, straight: number, t: number): [number, number] {
  if (straight > -0.9) {
    const x = (1 - t) * ax + t * bx;
    const y = (1 - t) * ay + t * by;
    const l = Math.sqrt(x * x + y * y);
    return [x / l, y / l];
  }
  // Nearly turned back: a half circle, clockwise.
  const [c, s] = [cos(-PI * t), sin(-PI * t)];
  return [c * ax - s * ay, s * ax + c * ay];
}

/** A hair less than the wall still counts as the wall: a side's own neighbours touch it at exactly that, mm. */
const HAIR = 1e-7;

/** The stretches of a piece (0..1) that keep r from every side of the outline. */
function keptOf([ax, ay, bx, by]: Piece, outline: Float64Array, r: number): [number, number][] {
  const gone: [number, number][] = [];
  for (let i = 0, j = outline.length - 2; i < outline.length; j = i, i += 2) {
    const span = nearSpan(
      ax,
      ay,
      bx,
      by,
      outline[j] as number,
      outline[j + 1] as number,
      outline[i] as number,
      outline[i + 1] as number,
      r,
    );
    if (span) gone.push(span);
  }
  gone.sort((a, b) => a[0] - b[0]);
  const kept: [number, number][] = [];
  let at = 0;
  for (const [from, to] of gone) {
    if (from > at) kept.push([at, Math.min(1, from)]);
    at = Math.max(at, to);
    if (at >= 1) break;
  }
  if (at < 1) kept.push([at, 1]);
  return kept.filter(([from, to]) => to - from > 1e-12);
}

/** Where along a piece the distance to a side is below r. One stretch: what lies within r of a side is convex. */
function nearSpan(
  ax: number,
  ay: number,
  bx: number,
  by: number,
  px: number,
  py: number,
  qx: number,
  qy: number,
  r: number,
): [number, number] | undefined {
  if (Math.min(ax, bx) - r > Math.max(px, qx) || Math.max(ax, bx) + r < Math.min(px, qx)) return undefined;
  if (Math.min(ay, by) - r > Math.max(py, qy) || Math.max(ay, by) + r < Math.min(py, qy)) return undefined;
  const [dx, dy] = [bx - ax, by - ay];
  let [from, to] = [Infinity, -Infinity];
  const take = (lo: number, hi: number): void => {
    const [a, b] = [Math.max(0, lo), Math.min(1, hi)];
    if (a >= b) return;
    from = Math.min(from, a);
    to = Math.max(to, b);
  };
  for (const [cx, cy] of [
    [px, py],
    [qx, qy],
  ] as const) {
    const [ex, ey] = [ax - cx, ay - cy];
    const a = dx * dx + dy * dy;
    const b = ex * dx + ey * dy;
    const root = b * b - a * (ex * ex + ey * ey - r * r);
    if (root > 0 && a > 0) take((-b - Math.sqrt(root)) / a, (-b + Math.sqrt(root)) / a);
  }
  const [sx, sy] = [qx - px, qy - py];
  const l = Math.sqrt(sx * sx + sy * sy);
  if (l > 1e-12) {
    // The strip beside the side: along it between 0 and l, across it within r.
    const [u0, u1] = [((ax - px) * sx + (ay - py) * sy) / l, ((bx - px) * sx + (by - py) * sy) / l];
    const [v0, v1] = [((ay - py) * sx - (ax - px) * sy) / l, ((by - py) * sx - (bx - px) * sy) / l];
    const [a, b] = between(u0, u1, 0, l);
    const [c, d] = between(v0, v1, -r, r);
    take(Math.max(a, c), Math.min(b, d));
  }
  return from < to ? [from, to] : undefined;
}

/** Where along 0..1 a value that goes evenly from x0 to x1 lies between lo and hi; an empty stretch where nowhere. */
function between(x0: number, x1: number, lo: number, hi: number): [number, number] {
  const d = x1 - x0;
  if (Math.abs(d) < 1e-15) return x0 > lo && x0 < hi ? [-Infinity, Infinity] : [1, 0];
  const [a, b] = [(lo - x0) / d, (hi - x0) / d];
  return a < b ? [a, b] : [b, a];
}
