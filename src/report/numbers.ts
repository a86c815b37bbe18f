/** Numbers as documents write them. */
import type { Vec3 } from '../geometry/vec.ts';

/** Rounded to a tenth of a nanometre: far below any meaning, and it keeps the text short. */
export const round = (x: number): number => {
  const r = Math.round(x * 1e7) / 1e7;
  return r === 0 ? 0 : r;
};

export const triple = (p: Vec3): [number, number, number] => [round(p[0]), round(p[1]), round(p[2])];
