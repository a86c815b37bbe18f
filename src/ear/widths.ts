/** Widths of a flat outline, by its convex hull (Toussaint, rotating calipers; here in its plain all-pairs form: hulls are small). */

export interface Widths {
  readonly major: number; // the hull's diameter, mm
  readonly minor: number; // the least distance of two parallel lines that hold the outline, mm
  /** Unit, in the plane; the sign says nothing. */
  readonly majorDirection: readonly [number, number];
  readonly minorDirection: readonly [number, number];
  readonly hullArea: number; // mm2
}

/** The convex hull of u v pairs, counter-clockwise, no three in line. (Andrew's monotone chain.) */
export function hullOf(points: Float64Array): Float64Array {
  const n = points.length / 2;
  const order = Array.from({ length: n }, (_, i) => i);
  const x = (i: number): number => points[2 * i] as number;
  const y = (i: number): number => points[2 * i + 1] as number;
  order.sort((a, b) => x(a) - x(b) || y(a) - y(b));
  const hull: number[] = [];
  const chain = (run: number[]): void => {
    const base = hull.length;
    for (const i of run) {
      while (hull.length >= base + 2) {
        const b = hull[hull.length - 1] as number;
        const a = hull[hull.length - 2] as number;
        if ((x(b) - x(a)) * (y(i) - y(a)) - (y(b) - y(a)) * (x(i) - x(a)) > 0) break;
        hull.pop();
      }
      hull.push(i);
    }
    hull.pop();
  };
  chain(order);
  chain(order.reverse());
  const out = new Float64Array(2 * hull.length);
  hull.forEach((i, k) => {
    out[2 * k] = x(i);
    out[2 * k + 1] = y(i);
  });
  return out;
}

/** Widths of the outline given as u v pairs. */
export const widthsOf = (points: Float64Array): Widths => widthsOfHull(hullOf(points));

/** The same of a hull that is known. */
export function widthsOfHull(h: Float64Array): Widths {
  const n = h.length / 2;
  let far = -1;
  let major: [number, number] = [1, 0];
  let least = Infinity;
  let minor: [number, number] = [0, 1];
  let twice = 0;
  for (let i = 0; i < n; i++) {
    const ax = h[2 * i] as number;
    const ay = h[2 * i + 1] as number;
    const j = (i + 1) % n;
    const ex = (h[2 * j] as number) - ax;
    const ey = (h[2 * j + 1] as number) - ay;
    twice += ax * (ay + ey) - (ax + ex) * ay;
    const l = Math.sqrt(ex * ex + ey * ey);
    let high = 0;
    for (let k = 0; k < n; k++) {
      const dx = (h[2 * k] as number) - ax;
      const dy = (h[2 * k + 1] as number) - ay;
      const d = dx * dx + dy * dy;
      if (k > i && d > far) {
        far = d;
        major = [dx, dy];
      }
      const over = (ex * dy - ey * dx) / l;
      if (over > high) high = over;
    }
    if (high < least) {
      least = high;
      minor = [-ey / l, ex / l];
    }
  }
  const length = Math.sqrt(far);
  return {
    major: length,
    minor: least,
    majorDirection: [major[0] / length, major[1] / length],
    minorDirection: minor,
    hullArea: twice / 2,
  };
}
