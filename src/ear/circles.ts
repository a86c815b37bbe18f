/** The largest circle within a flat outline, and the smallest round it. Outlines are u v pairs, closed, mm. */

export interface Circle {
  readonly u: number;
  readonly v: number;
  readonly radius: number;
}

interface Place {
  readonly margin: number;
  readonly holds: boolean;
}

/** Looks up places about one outline. */
class Placing {
  readonly #points: Float64Array;
  /** The segment, by where it ends, that was nearest last time. */
  #near = 0;

  constructor(points: Float64Array) {
    this.#points = points;
  }

  /** Undefined as soon as a segment is found nearer than `least`. */
  place(u: number, v: number, least: number): Place | undefined {
    const p = this.#points;
    const enough = least > 0 ? least * least : -1;
    let nearest = Infinity;
    if (enough > 0) {
      const before = this.#near > 0 ? this.#near - 2 : p.length - 2;
      nearest = toSegment(
        (p[before] as number) - u,
        (p[before + 1] as number) - v,
        (p[this.#near] as number) - u,
        (p[this.#near + 1] as number) - v,
      );
      if (nearest < enough) return undefined;
    }
    let holds = false;
    let ax = (p[p.length - 2] as number) - u;
    let ay = (p[p.length - 1] as number) - v;
    for (let i = 0; i < p.length; i += 2) {
      const bx = (p[i] as number) - u;
      const by = (p[i + 1] as number) - v;
      const d = toSegment(ax, ay, bx, by);
      if (d < nearest) {
        nearest = d;
        this.#near = i;
        if (d < enough) return undefined;
      }
      if (ay > 0 !== by > 0 && ax - (ay / (by - ay)) * (bx - ax) > 0) holds = !holds;
      ax = bx;
      ay = by;
    }
    return { margin: Math.sqrt(nearest), holds };
  }
}

/** Squared distance from the origin to the segment from a to b. */
function toSegment(ax: number, ay: number, bx: number, by: number): number {
  const dx = bx - ax;
  const dy = by - ay;
  const l = dx * dx + dy * dy;
  const s = l > 0 ? Math.max(0, Math.min(1, -(ax * dx + ay * dy) / l)) : 0;
  const x = ax + s * dx;
  const y = ay + s * dy;
  return x * x + y * y;
}

/** Distance from a point to an outline, and whether the outline goes round it (even-odd rule). */
export const placeIn = (points: Float64Array, u: number, v: number): Place => new Placing(points).place(u, v, 0) as Place;

/** The same as one number, below 0 outside. */
export function within(points: Float64Array, u: number, v: number): number {
  const { margin, holds } = placeIn(points, u, v);
  return holds ? margin : -margin;
}

/** The inscribed circle is found to this, mm: a tenth of what a scanner sees. */
const CLOSE = 0.01;
const MOST_CELLS = 4000;
/** More than rounding does to a length in an outline, mm. */
const ROUNDING = 1e-9;

/**
 * The largest circle within an outline, its radius short by CLOSE at most. Branch and bound over squares: no point of a square is farther
 * within than its middle by more than half its diagonal.
 */
export function inscribedIn(points: Float64Array): Circle {
  let [lu, lv, hu, hv] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; i += 2) {
    lu = Math.min(lu, points[i] as number);
    hu = Math.max(hu, points[i] as number);
    lv = Math.min(lv, points[i + 1] as number);
    hv = Math.max(hv, points[i + 1] as number);
  }
  const half = Math.min(hu - lu, hv - lv) / 2;
  let best: Circle = { u: (lu + hu) / 2, v: (lv + hv) / 2, radius: -Infinity };
  const placing = new Placing(points);
  const look = (u: number, v: number, h: number): Square => {
    // A place with a segment nearer than this neither is better than the best nor has one near it that is.
    const least = Math.min(best.radius, best.radius + CLOSE - h * Math.SQRT2) - ROUNDING;
    const place = placing.place(u, v, least);
    if (!place) return { u, v, h, bound: -Infinity };
    const radius = place.holds ? place.margin : -place.margin;
    if (radius > best.radius) best = { u, v, radius };
    return { u, v, h, bound: radius + h * Math.SQRT2 };
  };
  look(best.u, best.v, 0);
  // A climb first, so that most squares fall away at once.
  for (let step = half / 2; step > CLOSE / 2; ) {
    const { u, v, radius } = best;
    for (const [du, dv] of WAYS) look(u + du * step, v + dv * step, 0);
    if (best.radius === radius) step /= 2;
  }
  let open: Square[] = [];
  if (half > 0)
    for (let u = lu + half; u < hu + half; u += 2 * half) for (let v = lv + half; v < hv + half; v += 2 * half) open.push(look(u, v, half));
  for (let cells = open.length; open.length > 0 && cells < MOST_CELLS; ) {
    // Breadth first: a whole level is looked at before the next, so that the best is soon near the truth and most squares fall away.
    const next: Square[] = [];
    for (const s of open) {
      if (s.bound <= best.radius + CLOSE) continue;
      const h = s.h / 2;
      for (const [du, dv] of CORNERS) next.push(look(s.u + du * h, s.v + dv * h, h));
    }
    cells += next.length;
    open = next.filter((s) => s.bound > best.radius + CLOSE);
  }
  return { ...best, radius: Math.max(0, best.radius) };
}

interface Square {
  readonly u: number;
  readonly v: number;
  readonly h: number; // half its side
  readonly bound: number;
}
const WAYS = [
  [-1, 0],
  [1, 0],
  [0, -1],
  [0, 1],
] as const;
const CORNERS = [
  [-1, -1],
  [1, -1],
  [-1, 1],
  [1, 1],
] as const;

/** The smallest circle round points, those of their convex hull being enough. (Welzl's, with the points in the order given.) */
export function circumscribedAbout(points: Float64Array): Circle {
  let c: Circle = { u: points[0] ?? 0, v: points[1] ?? 0, radius: 0 };
  for (let i = 2; i < points.length; i += 2) {
    if (holds(c, points, i)) continue;
    c = { u: points[i] as number, v: points[i + 1] as number, radius: 0 };
    for (let j = 0; j < i; j += 2) {
      if (holds(c, points, j)) continue;
      c = onTwo(points, i, j);
      for (let k = 0; k < j; k += 2) if (!holds(c, points, k)) c = onThree(points, i, j, k) ?? c;
    }
  }
  return c;
}

/** Is the point that begins at place i within the circle? */
function holds(c: Circle, points: Float64Array, i: number): boolean {
  const dx = (points[i] as number) - c.u;
  const dy = (points[i + 1] as number) - c.v;
  return dx * dx + dy * dy <= c.radius * c.radius * (1 + 1e-12) + 1e-18;
}

function onTwo(p: Float64Array, i: number, j: number): Circle {
  const [ax, ay, bx, by] = [p[i] as number, p[i + 1] as number, p[j] as number, p[j + 1] as number];
  const dx = bx - ax;
  const dy = by - ay;
  return { u: (ax + bx) / 2, v: (ay + by) / 2, radius: Math.sqrt(dx * dx + dy * dy) / 2 };
}

/** Undefined: the three lie in line. */
function onThree(p: Float64Array, i: number, j: number, k: number): Circle | undefined {
  const [ax, ay] = [p[i] as number, p[i + 1] as number];
  const [bx, by, cx, cy] = [(p[j] as number) - ax, (p[j + 1] as number) - ay, (p[k] as number) - ax, (p[k + 1] as number) - ay];
  const twice = 2 * (bx * cy - by * cx);
  if (!(Math.abs(twice) > 1e-12)) return undefined;
  const bb = bx * bx + by * by;
  const cc = cx * cx + cy * cy;
  const u = (cy * bb - by * cc) / twice;
  const v = (bx * cc - cx * bb) / twice;
  return { u: ax + u, v: ay + v, radius: Math.sqrt(u * u + v * v) };
}
