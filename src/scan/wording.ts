/** Numbers and places as people read them. Everything here is exact string work: the same text on any machine. */
import type { Vec3 } from '../geometry/vec.ts';

/** "1 hole", "3 holes"; with `plural` where an s is not enough. */
export const counted = (n: number, one: string, plural = `${one}s`): string => `${grouped(n)} ${n === 1 ? one : plural}`;

/** Whole numbers with blanks between thousands: "24 084"; "1.00e+21" from where the language writes no digits out. */
export function grouped(n: number): string {
  if (Math.abs(n) >= 1e21) return n.toExponential(2);
  const digits = n.toFixed(0);
  return digits.replace(/\B(?=(\d{3})+(?!\d))/g, ' ');
}

/** A fixed number of decimals, without a minus before a zero. */
export function fixed(x: number, decimals: number): string {
  const s = x.toFixed(decimals);
  return /^-0(\.0*)?$/.test(s) ? s.slice(1) : s;
}

/** As few digits as tell the size of a length: "18.6", "0.0186", "18 600". */
export function short(x: number): string {
  const size = Math.abs(x);
  if (size === 0) return '0';
  if (size >= 1e9 || size < 1e-4) return x.toExponential(2);
  if (size >= 1000) return grouped(x);
  return String(Number(x.toPrecision(3)));
}

/** "(10, 10.5, -3)": coordinates to a hundredth of a millimetre at most. */
export const place = (p: Vec3): string => `(${p.map((c) => String(Number(fixed(c, 2)))).join(', ')})`;
