/** Circles in and round an outline, and a section inside its wall: closed forms, brute force, and what must not change. */
import { describe, expect, test } from 'vitest';
import { circumscribedAbout, inscribedIn, within } from '../../src/ear/circles.ts';
import { insetOf, insideWall } from '../../src/ear/inside.ts';
import { seeded } from '../../src/geometry/random.ts';
import { pt } from '../../src/geometry/vec.ts';
import type { CanalSection } from '../../src/model/ear.ts';

const flat = (...points: readonly (readonly [number, number])[]): Float64Array => Float64Array.from(points.flat());
const circle = (r: number, n: number, x = 0, y = 0): Float64Array =>
  Float64Array.from({ length: 2 * n }, (_, i) => {
    const a = (2 * Math.PI * (i >> 1)) / n;
    return i % 2 === 0 ? x + r * Math.cos(a) : y + r * Math.sin(a);
  });
const box = (w: number, h: number): Float64Array => flat([0, 0], [w, 0], [w, h], [0, h]);
/** Ten by ten less its upper right quarter: one inward corner, at (5, 5). */
const ell = flat([0, 0], [10, 0], [10, 5], [5, 5], [5, 10], [0, 10]);
/** A star-like outline, wavy but never crossing itself. */
const wavy = (seed: number, n = 90): Float64Array => {
  const r = seeded(seed);
  const waves = Array.from({ length: 4 }, (_, k) => [k + 2, r.between(0, 0.12), r.between(0, 6.28)] as const);
  return Float64Array.from({ length: 2 * n }, (_, i) => {
    const a = (2 * Math.PI * (i >> 1)) / n;
    const radius = 4 * (1 + waves.reduce((s, [k, h, p]) => s + h * Math.cos(k * a + p), 0));
    return radius * (i % 2 === 0 ? 1.3 * Math.cos(a) : Math.sin(a));
  });
};
const section = (outline: Float64Array): CanalSection => ({
  depth: 3,
  at: pt(0, 0, 0),
  tangent: pt(0, 0, -1),
  area: 1,
  major: 1,
  minor: 1,
  perimeter: 1,
  majorDirection: pt(0, 1, 0),
  minorDirection: pt(1, 0, 0),
  inscribed: 2 * inscribedIn(outline).radius,
  circumscribed: 2 * circumscribedAbout(outline).radius,
  outline,
});

describe('circles', () => {
  test.each([
    ['a box 8 x 5', box(8, 5), 2.5, Math.sqrt(64 + 25) / 2],
    // The largest circle of the ell touches the two outer walls and the inward corner: r (1 + sqrt 1/2) sqrt 2 = 5 sqrt 2.
    ['an ell', ell, (5 * Math.SQRT2) / (1 + Math.SQRT2), Math.sqrt(50)],
    ['a right triangle 3 4 5 (inradius 1, Thales)', flat([0, 0], [4, 0], [0, 3]), 1, 2.5],
    ['a flat triangle: the circle on its longest side', flat([0, 0], [10, 0], [5, 1]), (10 * 1) / (10 + 2 * Math.sqrt(26)), 5],
  ])('%s', (_name, outline, inner, outer) => {
    const inside = inscribedIn(outline).radius;
    expect(inside).toBeLessThanOrEqual(inner + 1e-9);
    expect(inside).toBeGreaterThan(inner - 0.011);
    expect(circumscribedAbout(outline).radius).toBeCloseTo(outer, 9);
  });

  test.each([1, 2, 3, 4, 5, 6])('wavy outlines against brute force, SEED=%i', (seed) => {
    const outline = wavy(seed);
    let best = 0;
    for (let u = -6; u <= 6; u += 0.04) for (let v = -6; v <= 6; v += 0.04) best = Math.max(best, within(outline, u, v));
    const found = inscribedIn(outline);
    expect(found.radius).toBeGreaterThan(best - 0.01);
    expect(within(outline, found.u, found.v)).toBeCloseTo(found.radius, 12);
    const round = circumscribedAbout(outline);
    const reach = (x: number, y: number): number => {
      let most = 0;
      for (let i = 0; i < outline.length; i += 2)
        most = Math.max(most, Math.hypot((outline[i] as number) - x, (outline[i + 1] as number) - y));
      return most;
    };
    expect(reach(round.u, round.v)).toBeCloseTo(round.radius, 9);
    for (let k = 0; k < 12; k++) expect(reach(round.u + 0.05 * Math.cos(k), round.v + 0.05 * Math.sin(k))).toBeGreaterThan(round.radius);
  });
});

describe('inside a wall', () => {
  test('a box 8 x 5 with a wall of 0.6: 6.8 x 3.8', () => {
    const inner = insideWall(section(box(8, 5)), 0.6);
    expect(inner?.area).toBeCloseTo(6.8 * 3.8, 5);
    expect(inner?.perimeter).toBeCloseTo(2 * (6.8 + 3.8), 5);
    expect(inner?.minor).toBeCloseTo(3.8, 6);
    expect(inner?.major).toBeCloseTo(Math.hypot(6.8, 3.8), 6);
    expect(inner?.inscribed).toBeCloseTo(3.8, 1);
    expect(inner?.circumscribed).toBeCloseTo(Math.hypot(6.8, 3.8), 6);
  });

  test('the ell with a wall of 1: two bars and, about the inward corner, a quarter circle less', () => {
    const inner = insideWall(section(ell), 1);
    // A bar 8 x 3 and one 3 x 5 over it; of the square of side 1 before the corner, what the quarter disc about the corner leaves.
    const exact = 8 * 3 + 3 * 5 + (1 - Math.PI / 4);
    expect(Math.abs((inner?.area ?? 0) - exact)).toBeLessThan(0.002);
  });

  test('a circle: radius less the wall', () => {
    const inner = insideWall(section(circle(4, 400)), 0.7);
    expect(Math.abs((inner?.area ?? 0) - Math.PI * 3.3 * 3.3)).toBeLessThan(0.01);
    expect(inner?.circumscribed).toBeCloseTo(6.6, 3);
  });

  test.each([11, 12, 13, 14])('wavy outlines: the area is that of all points that keep the wall, SEED=%i', (seed) => {
    const outline = wavy(seed);
    const wall = 0.9;
    const random = seeded(seed + 100);
    let held = 0;
    const tries = 60_000;
    for (let k = 0; k < tries; k++) if (within(outline, random.between(-9, 9), random.between(-7, 7)) >= wall) held++;
    const sampled = (held / tries) * 18 * 14;
    const sd = (Math.sqrt((held / tries) * (1 - held / tries)) / Math.sqrt(tries)) * 18 * 14;
    expect(Math.abs((insideWall(section(outline), wall)?.area ?? 0) - sampled)).toBeLessThan(4 * sd);
  });

  test.each([21, 22, 23])('every point of the border keeps exactly the wall, SEED=%i', (seed) => {
    const outline = wavy(seed);
    const pieces = insetOf(outline, 0.8);
    expect(pieces.length).toBeGreaterThan(100);
    for (let i = 0; i < pieces.length; i += 4) {
      const middle = within(
        outline,
        ((pieces[i] as number) + (pieces[i + 2] as number)) / 2,
        ((pieces[i + 1] as number) + (pieces[i + 3] as number)) / 2,
      );
      expect(middle).toBeGreaterThan(0.8 - 0.002);
      expect(middle).toBeLessThan(0.8 + 1e-6);
    }
  });

  test('a waist too narrow for its wall parts the section in two; the areas of both count', () => {
    const dumbbell = flat([0, 0], [4, 0], [4, 1.5], [6, 1.5], [6, 0], [10, 0], [10, 4], [6, 4], [6, 2.5], [4, 2.5], [4, 4], [0, 4]);
    // Two squares of side 2.8, and before each mouth what the quarter discs about its corners leave of the way out.
    const mouth = 2 * (0.6 * 0.5 - 0.5 * (0.5 * Math.sqrt(0.36 - 0.25) + 0.36 * Math.asin(0.5 / 0.6)));
    expect(Math.abs((insideWall(section(dumbbell), 0.6)?.area ?? 0) - 2 * (2.8 * 2.8 + mouth))).toBeLessThan(0.004);
  });

  test('nothing left, nothing to measure, no sense in the wall: undefined; no wall: the section itself', () => {
    expect(insideWall(section(box(8, 1.1)), 0.6)).toBeUndefined();
    const { outline, ...bare } = section(box(8, 5));
    expect(outline).toBeDefined();
    expect(insideWall(bare, 0.6)).toBeUndefined();
    expect(insideWall(section(box(8, 5)), -1)).toBeUndefined();
    expect(insideWall(section(box(8, 5)), Number.NaN)).toBeUndefined();
    expect(insideWall(section(box(8, 5)), 0)?.area).toBeCloseTo(40, 9);
  });
});
