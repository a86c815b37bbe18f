/** The project's own functions against the language's, whose last bits may differ from engine to engine, and against exact values. */
import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { acos, atan2, cos, degrees, exp, ln, PI, radians, sin } from '../../src/geometry/trig.ts';

/** The bound that trig.ts promises: relative to the larger of 1 and the result. */
const BOUND = 4e-16;
const off = (mine: number, theirs: number): number => Math.abs(mine - theirs) / Math.max(1, Math.abs(theirs));

function worst(n: number, lo: number, hi: number, mine: (x: number) => number, theirs: (x: number) => number): number {
  const rng = seeded(17);
  let most = 0;
  for (let i = 0; i < n; i++) {
    const x = rng.between(lo, hi);
    most = Math.max(most, off(mine(x), theirs(x)));
  }
  return most;
}

describe('against Math', () => {
  test.each<[string, number, number, (x: number) => number, (x: number) => number]>([
    ['sin', -4, 4, sin, Math.sin],
    ['cos', -4, 4, cos, Math.cos],
    ['sin near 0', -1e-3, 1e-3, sin, Math.sin],
    ['acos', -1, 1, acos, Math.acos],
    ['ln below 1', 1e-12, 1, ln, Math.log],
    ['ln', 1, 1e6, ln, Math.log],
    ['exp below 0', -40, 0, exp, Math.exp],
    ['exp', 0, 1, exp, Math.exp],
    ['exp larger', 1, 40, exp, Math.exp],
  ])('%s', (name, lo, hi, mine, theirs) => {
    // exp promises the bound relative to the result; its argument's own rounding grows with its size.
    const allowed = name === 'exp larger' ? 40 * BOUND : name.startsWith('ln') || name.startsWith('acos') ? 2 * BOUND : BOUND;
    expect(worst(20_000, lo, hi, mine, theirs)).toBeLessThanOrEqual(allowed);
  });

  test('many turns: the error stays that of reducing the angle', () => {
    expect(worst(20_000, -6000, 6000, sin, Math.sin)).toBeLessThan(1e-12);
    expect(worst(20_000, -6000, 6000, cos, Math.cos)).toBeLessThan(1e-12);
  });

  test('atan2 in all quadrants and on the axes', () => {
    const rng = seeded(4);
    for (let i = 0; i < 20_000; i++) {
      const y = rng.between(-1, 1) * (i % 3 === 0 ? 1e-6 : 1);
      const x = rng.between(-1, 1) * (i % 5 === 0 ? 1e-6 : 1);
      expect(off(atan2(y, x), Math.atan2(y, x))).toBeLessThanOrEqual(2 * BOUND);
    }
    for (const [y, x] of [
      [0, 1],
      [1, 0],
      [0, -1],
      [-1, 0],
      [0, 0],
      [1, 1],
      [-1, -1],
      [1, -1],
      [-1, 1],
    ] as const) {
      expect(off(atan2(y, x), Math.atan2(y, x))).toBeLessThanOrEqual(BOUND);
    }
  });
});

describe('exact values and identities', () => {
  test('known angles', () => {
    for (const [x, s, c] of [
      [0, 0, 1],
      [PI / 6, 0.5, Math.sqrt(3) / 2],
      [PI / 4, Math.SQRT1_2, Math.SQRT1_2],
      [PI / 3, Math.sqrt(3) / 2, 0.5],
      [PI / 2, 1, 0],
      [PI, 0, -1],
    ] as const) {
      expect(Math.abs(sin(x) - s)).toBeLessThan(3e-16);
      expect(Math.abs(cos(x) - c)).toBeLessThan(3e-16);
    }
    expect(acos(1)).toBe(0);
    expect(acos(-1)).toBe(PI);
    expect(acos(2)).toBe(0);
    expect(acos(-2)).toBe(PI);
    expect(ln(1)).toBe(0);
    expect(exp(0)).toBe(1);
    expect(degrees(PI)).toBe(180);
    expect(radians(180)).toBe(PI);
  });

  test('sin² + cos² = 1, atan2 undoes sin and cos, ln undoes exp', () => {
    const rng = seeded(2);
    for (let i = 0; i < 5000; i++) {
      const a = rng.between(-PI, PI);
      expect(Math.abs(sin(a) * sin(a) + cos(a) * cos(a) - 1)).toBeLessThan(1e-15);
      expect(Math.abs(atan2(sin(a), cos(a)) - a)).toBeLessThan(2e-15);
      const x = rng.between(-30, 30);
      expect(Math.abs(ln(exp(x)) - x)).toBeLessThan(1e-13);
    }
  });

  test('odd and even to the bit', () => {
    const rng = seeded(3);
    for (let i = 0; i < 2000; i++) {
      const a = rng.between(0, 10);
      expect(sin(-a)).toBe(-sin(a));
      expect(cos(-a)).toBe(cos(a));
    }
  });
});
