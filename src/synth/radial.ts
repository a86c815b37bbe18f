/** Measures of a noise-free shape by rays: exact to the root finder, and to the trapezoid rule on a smooth periodic outline. */
import { cos, PI, sin } from '../geometry/trig.ts';
import type { Point } from '../geometry/vec.ts';

type Distance = (x: number, y: number, z: number) => number;

/** Distance from `c` (inside) along unit `d` to the first surface crossing, mm; `far` where there is none. */
export function rayOut(f: Distance, c: Point<'ear'>, d: readonly number[], far = 30): number {
  const at = (t: number): number => f(c[0] + t * (d[0] as number), c[1] + t * (d[1] as number), c[2] + t * (d[2] as number));
  let lo = 0;
  let hi = 0.5;
  while (at(hi) < 0) {
    lo = hi;
    hi += 0.5;
    if (hi > far) return far;
  }
  let flo = at(lo);
  let fhi = at(hi);
  // Regula falsi with halving (Illinois): about six evaluations to 1e-9.
  let kept = 0;
  for (let turn = 0; turn < 40; turn++) {
    const t = hi - (fhi * (hi - lo)) / (fhi - flo);
    const ft = at(t);
    if (Math.abs(ft) < 1e-9 || hi - lo < 1e-10) return t;
    if (ft > 0) {
      hi = t;
      fhi = ft;
      if (kept === 1) flo /= 2;
      kept = 1;
    } else {
      lo = t;
      flo = ft;
      if (kept === -1) fhi /= 2;
      kept = -1;
    }
  }
  return (lo + hi) / 2;
}

/** Area of the section through `c` in the plane of unit u and v, star-shaped about c, mm2. */
export function sectionArea(f: Distance, c: Point<'ear'>, u: Point<'ear'>, v: Point<'ear'>, rays: number): number {
  let twice = 0;
  for (let i = 0; i < rays; i++) {
    const a = (2 * PI * i) / rays;
    const ca = cos(a);
    const sa = sin(a);
    const r = rayOut(f, c, [ca * u[0] + sa * v[0], ca * u[1] + sa * v[1], ca * u[2] + sa * v[2]]);
    twice += r * r;
  }
  return (twice * PI) / rays;
}
