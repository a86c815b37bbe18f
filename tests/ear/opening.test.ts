/** Where a tube opens, from rows of wall shares and areas whose answer is plain. */
import { describe, expect, test } from 'vitest';
import { findOpening } from '../../src/ear/opening.ts';

const STEP = 0.5;
/** A tube of 60 mm2, open from place k on. */
const areas = (n: number, k: number): number[] => Array.from({ length: n }, (_, i) => (i <= k ? 60 : 60 + 20 * (i - k)));
/** Upright walls that fall away between places k and k + 1: two thirds are crossed half-way. */
const walls = (n: number, k: number): number[] => Array.from({ length: n }, (_, i) => (i <= k ? 1 : 1 / 3));

describe('a tube with upright walls that end all at once', () => {
  test.each([8, 15, 22.5])('at %f mm', (at) => {
    const k = Math.floor(at / STEP);
    const found = findOpening(walls(80, k), areas(80, k), STEP, 2);
    expect(found.at).toBeCloseTo((k + 0.5) * STEP, 9);
    expect(found.seen).toBe(true);
    expect(found.before).toBe(false);
  });

  test('known to beyond its opening: it opens there or before', () => {
    const found = findOpening(walls(80, 20), areas(80, 20), STEP, 30);
    expect(found.at).toBeCloseTo((30 + 4) * STEP, 9);
    expect(found.before).toBe(true);
  });

  test('that opens right where the looking begins: not before', () => {
    const found = findOpening(walls(80, 24), areas(80, 24), STEP, 20);
    expect(found.at).toBeCloseTo(24.5 * STEP, 9);
    expect(found.before).toBe(false);
  });
});

test('a funnel whose walls never part: where it is too steep, and before if it is so from the start', () => {
  const upright = Array.from({ length: 40 }, () => 1);
  // A cone: the radius grows by 0.8 mm a mm from place 20 on, looked at 2 mm ahead.
  const cone = Array.from({ length: 40 }, (_, i) => Math.PI * (4 + 0.8 * STEP * Math.max(0, i - 20)) ** 2);
  const found = findOpening(upright, cone, STEP, 2);
  expect(found.at).toBeGreaterThanOrEqual(18 * STEP);
  expect(found.at).toBeLessThanOrEqual(20 * STEP);
  expect(found.before).toBe(false);
  expect(findOpening(upright, cone, STEP, 22).before).toBe(true);
});

test('a tube that ends without opening is not seen to open', () => {
  const ends = Array.from({ length: 40 }, (_, i) => (i < 30 ? 60 : 0));
  const found = findOpening(
    ends.map((a) => (a > 0 ? 1 : 0.9)),
    ends,
    STEP,
    2,
  );
  expect(found).toEqual({ at: 29 * STEP, confidence: 0, seen: false, before: false });
});

test('places far beyond the opening are never asked for: cutting them takes longest', () => {
  const w = walls(200, 40);
  const a = areas(200, 40);
  let farthest = 0;
  const asked = (row: readonly number[]) => ({
    length: row.length,
    at: (k: number): number | undefined => {
      farthest = Math.max(farthest, k);
      return row[k];
    },
  });
  expect(findOpening(asked(w), asked(a), STEP, 2)).toEqual(findOpening(w, a, STEP, 2));
  expect(farthest).toBeLessThan(40 + 12); // 5 mm ahead to see it widen, and 1
});
