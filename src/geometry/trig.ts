/**
 * sin, cos, atan2, acos, ln and exp from + - * / and sqrt alone.
 *
 * The language leaves the last bits of Math.sin and its like to the engine; IEEE 754 fixes those of + - * / and sqrt.
 * "Same scan, same seed, same bytes, on any machine" therefore needs these wherever a result depends on them. They
 * agree with Math.* within 4e-16 relative to the larger of 1 and the result (tests/geometry/trig.test.ts).
 */
export const PI = Math.PI; // constants are exact doubles by the language standard; only functions are not
const HALF_PI = 1.5707963267948966;
const HALF_PI_LOW = 6.123233995736766e-17; // what the double HALF_PI leaves out of the true value

/** Taylor sums on |x| <= pi/4: the next term is below 1e-17 of the result. */
const sinSmall = (x: number): number => {
  const y = x * x;
  let s = 0;
  for (let k = 19; k >= 3; k -= 2) s = ((1 + s) * -y) / (k * (k - 1));
  return x + x * s;
};
const cosSmall = (x: number): number => {
  const y = x * x;
  let s = 0;
  for (let k = 18; k >= 2; k -= 2) s = ((1 + s) * -y) / (k * (k - 1));
  return 1 + s;
};
const quadrant = (x: number): [quarter: number, rest: number] => {
  const k = Math.round(x / HALF_PI);
  return [((k % 4) + 4) % 4, x - k * HALF_PI - k * HALF_PI_LOW];
};
/** Sine of radians, for |x| up to some thousands of turns. */
export function sin(x: number): number {
  const [q, r] = quadrant(x);
  return q === 0 ? sinSmall(r) : q === 1 ? cosSmall(r) : q === 2 ? -sinSmall(r) : -cosSmall(r);
}
export function cos(x: number): number {
  const [q, r] = quadrant(x);
  return q === 0 ? cosSmall(r) : q === 1 ? -sinSmall(r) : q === 2 ? -cosSmall(r) : sinSmall(r);
}
/** Arc tangent: halved twice by atan x = 2 atan(x / (1 + sqrt(1 + x*x))), then its series. */
const atan = (x: number): number => {
  if (x < 0) return -atan(-x);
  if (x > 1) return HALF_PI - atan(1 / x) + HALF_PI_LOW;
  let t = x;
  for (let i = 0; i < 2; i++) t = t / (1 + Math.sqrt(1 + t * t));
  const y = t * t;
  let s = 0;
  for (let k = 27; k >= 1; k -= 2) s = 1 / k - y * s;
  return 4 * t * s;
};
export function atan2(y: number, x: number): number {
  if (x > 0) return atan(y / x);
  if (x < 0) return y >= 0 ? atan(y / x) + PI : atan(y / x) - PI;
  return y > 0 ? HALF_PI : y < 0 ? -HALF_PI : 0;
}
/** Arc cosine; arguments beyond +-1 by rounding count as +-1. */
export const acos = (c: number): number => {
  const x = Math.max(-1, Math.min(1, c));
  return atan2(Math.sqrt((1 - x) * (1 + x)), x);
};
const LN2 = Math.LN2;
/** Natural logarithm of x > 0. */
export function ln(x: number): number {
  let e = 0;
  let m = x;
  while (m > Math.SQRT2) {
    m /= 2;
    e++;
  }
  while (m < Math.SQRT1_2) {
    m *= 2;
    e--;
  }
  const z = (m - 1) / (m + 1);
  const y = z * z;
  let s = 0;
  for (let k = 23; k >= 1; k -= 2) s = 1 / k + y * s;
  return e * LN2 + 2 * z * s;
}
/** e to the x, |x| below 700. */
export function exp(x: number): number {
  const k = Math.round(x / LN2);
  const r = x - k * LN2;
  let s = 1;
  for (let i = 18; i >= 1; i--) s = 1 + (r * s) / i;
  let p = 1;
  for (let i = 0; i < Math.abs(k); i++) p *= 2;
  return k < 0 ? s / p : s * p;
}
export const degrees = (radians: number): number => (radians * 180) / PI;
export const radians = (deg: number): number => (deg * PI) / 180;
