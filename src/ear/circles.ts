/** The largest circle within a flat outline, and the smallest round it. Outlines are u v pairs, closed, mm. */

export interface Circle {
  readonly u: number;
  readonly v: number;
  readonly radius: number;
}

/** Distance from a point to an outline, and whether the outline goes round it (even-odd rule). */
export function placeIn(points: Float64Array, u: number, v: number): { readonly margin: number; readonly holds: boolean } {
  let least = Infinity;
  let holds = false;
  for (let i = 0, j = points.length - 2; i < points.length; j = i, i += 2) {
    const ax = (points[j] as number) - u;
    const ay = (points[j + 1] as number) - v;
    const bx = (points[i] as number) - u;
    const by = (points[i + 1] as number) - v;
    const dx = bx - ax;
    const dy = by - ay;
    const l = dx * dx + dy * dy;
    const s = l > 0 ? Math.max(0, Math.min(1, -(ax * dx + ay * dy) / l)) : 0;
    const x = ax + s * dx;
    const y = ay + s * dy;
    const d = x * x + y * y;
    if (d < least) least = d;
    if (ay > 0 !== by > 0 && ax - (ay / (by - ay)) * dx > 0) holds = !holds;
  }
  return { margin: Math.sqrt(least), holds };
}

/** The same as one number, below 0 outside. */
export function within(points: Float64Array, u: number, v: number): number {
  const { margin, holds } = placeIn(points, u, v);
  return holds ? margin : -margin;
}

/** The inscribed circle is found to this, mm: a tenth of what a scanner sees. */
const CLOSE = 0.01;
const MOST_CELLS = 4000;

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
  const look = (u: number, v: number, h: number): Square => {
    const radius = within(points, u, v);
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
  const n = points.length / 2;
  const at = (i: number): readonly [number, number] => [points[2 * i] as number, points[2 * i + 1] as number];
  let c: Circle = { u: points[0] ?? 0, v: points[1] ?? 0, radius: 0 };
  for (let i = 1; i < n; i++) {
    if (holds(c, at(i))) continue;
    c = { u: at(i)[0], v: at(i)[1], radius: 0 };
    for (let j = 0; j < i; j++) {
      if (holds(c, at(j))) continue;
      c = onTwo(at(i), at(j));
      for (let k = 0; k < j; k++) if (!holds(c, at(k))) c = onThree(at(i), at(j), at(k)) ?? c;
    }
  }
  return c;
}

const holds = (c: Circle, [x, y]: readonly [number, number]): boolean => {
  const dx = x - c.u;
  const dy = y - c.v;
  return dx * dx + dy * dy <= c.radius * c.radius * (1 + 1e-12) + 1e-18;
};

function onTwo([ax, ay]: readonly [number, number], [bx, by]: readonly [number, number]): Circle {
  const dx = bx - ax;
  const dy = by - ay;
  return { u: (ax + bx) / 2, v: (ay + by) / 2, radius: Math.sqrt(dx * dx + dy * dy) / 2 };
}

/** Undefined: the three lie in line. */
function onThree(a: readonly [number, number], b: readonly [number, number], c: readonly [number, number]): Circle | undefined {
  const [bx, by, cx, cy] = [b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]];
  const twice = 2 * (bx * cy - by * cx);
  if (!(Math.abs(twice) > 1e-12)) return undefined;
  const bb = bx * bx + by * by;
  const cc = cx * cx + cy * cy;
  const u = (cy * bb - by * cc) / twice;
  const v = (bx * cc - cx * bb) / twice;
  return { u: a[0] + u, v: a[1] + v, radius: Math.sqrt(u * u + v * v) };
}
