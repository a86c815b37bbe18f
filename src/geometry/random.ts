/** A seeded stream of numbers: same seed, same numbers, on any machine. */
export interface Random {
  /** Uniform in [0, 1). */
  next(): number;
  /** Uniform in [lo, hi). */
  between(lo: number, hi: number): number;
  /** Whole number in [0, n). */
  below(n: number): number;
  /** Standard normal, by the polar method (sqrt and a log of our own, see trig.ts). */
  normal(): number;
  /** An independent stream named by a number, so that tasks can be shared out without sharing a stream. */
  fork(task: number): Random;
}

import { ln } from './trig.ts';

/** sfc32 (C. Doty-Humphrey, PractRand, public domain), seeded by mixing the seed words and discarding 15 outputs. */
export function seeded(seed: number, task = 0): Random {
  let a = seed >>> 0;
  let b = (task ^ 0x9e3779b9) >>> 0;
  let c = (Math.imul(seed, 0x85ebca6b) ^ Math.imul(task + 1, 0xc2b2ae35)) >>> 0;
  let d = 1;
  const word = (): number => {
    const t = (((a + b) >>> 0) + d) >>> 0;
    d = (d + 1) >>> 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) >>> 0;
    c = ((c << 21) | (c >>> 11)) >>> 0;
    c = (c + t) >>> 0;
    return t;
  };
  for (let i = 0; i < 15; i++) word();
  const next = (): number => word() / 4294967296;
  let spare: number | undefined;
  return {
    next,
    between: (lo, hi) => lo + (hi - lo) * next(),
    below: (n) => Math.floor(next() * n),
    normal() {
      if (spare !== undefined) {
        const s = spare;
        spare = undefined;
        return s;
      }
      for (;;) {
        const u = 2 * next() - 1;
        const v = 2 * next() - 1;
        const r = u * u + v * v;
        if (r > 0 && r < 1) {
          const f = Math.sqrt((-2 * ln(r)) / r);
          spare = v * f;
          return u * f;
        }
      }
    },
    fork: (k) => seeded((seed ^ Math.imul(k + 1, 0x27d4eb2f)) >>> 0, task + k + 1),
  };
}
