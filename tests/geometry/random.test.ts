/** The seeded stream: the same on any machine, evenly spread, and streams of tasks apart. */
import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';

const draw = (n: number, next: () => number): number[] => Array.from({ length: n }, next);

/** sfc32 written from its definition once more, on whole numbers without 32-bit tricks. */
function slowWords(state: [bigint, bigint, bigint, bigint], n: number): bigint[] {
  const M = (1n << 32n) - 1n;
  let [a, b, c, d] = state;
  const out: bigint[] = [];
  for (let i = 0; i < n; i++) {
    const t = (a + b + d) & M;
    d = (d + 1n) & M;
    a = b ^ (b >> 9n);
    b = (c + (c << 3n)) & M;
    c = (((c << 21n) | (c >> 11n)) & M) + t;
    c &= M;
    out.push(t);
  }
  return out;
}

describe('seeded', () => {
  test('sfc32 as defined, after 15 words', () => {
    for (const seed of [0, 1, 42, 0xffffffff]) {
      const M = 0xffffffffn;
      const c = BigInt(Math.imul(seed, 0x85ebca6b) ^ Math.imul(1, 0xc2b2ae35)) & M;
      const words = slowWords([BigInt(seed >>> 0), 0x9e3779b9n, c, 1n], 115).slice(15);
      expect(draw(100, seeded(seed).next)).toEqual(words.map((w) => Number(w) / 4294967296));
    }
  });

  test('same seed, same numbers; other seed, other numbers; forks are repeatable and apart', () => {
    expect(draw(20, seeded(7).next)).toEqual(draw(20, seeded(7).next));
    expect(draw(20, seeded(7).next)).not.toEqual(draw(20, seeded(8).next));
    const streams = [seeded(7), ...Array.from({ length: 200 }, (_, k) => seeded(7).fork(k))].map((r) => draw(3, r.next).join());
    expect(new Set(streams).size).toBe(201);
    const one = seeded(7);
    one.next();
    expect(draw(5, one.fork(3).next)).toEqual(draw(5, seeded(7).fork(3).next));
  });

  test('uniform: mean, variance, all bins, chi square', () => {
    const n = 200_000;
    const xs = draw(n, seeded(1).next);
    expect(Math.min(...xs.slice(0, 1000))).toBeGreaterThanOrEqual(0);
    expect(xs.every((x) => x >= 0 && x < 1)).toBe(true);
    const mean = xs.reduce((s, x) => s + x, 0) / n;
    expect(Math.abs(mean - 0.5)).toBeLessThan(4 * Math.sqrt(1 / 12 / n));
    const bins = new Array<number>(100).fill(0);
    for (const x of xs) bins[Math.floor(100 * x)] = (bins[Math.floor(100 * x)] as number) + 1;
    const chi = bins.reduce((s, b) => s + (b - n / 100) ** 2 / (n / 100), 0);
    // 99 degrees of freedom: below 149 in all but 1 of 1000 streams (standard table); and not suspiciously even.
    expect(chi).toBeLessThan(149);
    expect(chi).toBeGreaterThan(60);
  });

  test('between and below keep their ranges', () => {
    const rng = seeded(2);
    for (let i = 0; i < 5000; i++) {
      const x = rng.between(-3, 7);
      expect(x >= -3 && x < 7).toBe(true);
      const k = rng.below(6);
      expect(Number.isInteger(k) && k >= 0 && k < 6).toBe(true);
    }
    const faces = new Set(draw(200, () => rng.below(6)));
    expect([...faces].sort()).toEqual([0, 1, 2, 3, 4, 5]);
  });

  test('normal: mean 0, variance 1, kurtosis 3, 68 % within 1', () => {
    const n = 100_000;
    const xs = draw(n, seeded(3).normal);
    const moment = (k: number): number => xs.reduce((s, x) => s + x ** k, 0) / n;
    expect(Math.abs(moment(1))).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(moment(2) - 1)).toBeLessThan(0.02);
    expect(Math.abs(moment(3))).toBeLessThan(0.04);
    expect(Math.abs(moment(4) - 3)).toBeLessThan(0.12);
    expect(Math.abs(xs.filter((x) => Math.abs(x) < 1).length / n - 0.6827)).toBeLessThan(0.006);
  });
});
