import { describe, expect, test } from 'vitest';
import type { Thresholds } from '../../src/model/order.ts';
import { nalR, nalRp } from '../../src/order/gain.ts';
import {
  airBoneGaps,
  clarkClass,
  fourFrequencyAverage,
  lowFrequencyAverage,
  threeFrequencyAverage,
  whoGrade,
} from '../../src/order/hearing.ts';

const flat = (db: number): Thresholds => ({ 250: db, 500: db, 1000: db, 1500: db, 2000: db, 3000: db, 4000: db, 6000: db });
const SLOPE: Thresholds = { 250: 20, 500: 30, 1000: 40, 1500: 45, 2000: 50, 3000: 60, 4000: 65, 6000: 70 };

describe('averages and grades', () => {
  // WHO, World Report on Hearing, 2021, table 1.3: half-open, 35.0 is moderate and 34.9 mild; "complete" from memory.
  test.each([
    [-10, 'normal'],
    [19.9, 'normal'],
    [20, 'mild'],
    [34.9, 'mild'],
    [35, 'moderate'],
    [49.9, 'moderate'],
    [50, 'moderately severe'],
    [65, 'severe'],
    [80, 'profound'],
    [94.9, 'profound'],
    [95, 'complete'],
    [130, 'complete'],
  ] as const)('%f dB HL is %s by WHO', (average, grade) => {
    expect(whoGrade(average)).toBe(grade);
  });

  // Clark 1981 as asha.org/public/hearing/Degree-of-Hearing-Loss gives it: -10 to 15, 16-25, 26-40, 41-55, 56-70, 71-90, 91+. That a half
  // goes up is our own choice: the source has whole decibels only.
  test.each([
    [15, 'normal'],
    [15.4, 'normal'],
    [15.5, 'slight'],
    [16, 'slight'],
    [25, 'slight'],
    [26, 'mild'],
    [40, 'mild'],
    [40.4, 'mild'],
    [40.5, 'moderate'],
    [41, 'moderate'],
    [55, 'moderate'],
    [56, 'moderately severe'],
    [70, 'moderately severe'],
    [71, 'severe'],
    [90, 'severe'],
    [91, 'profound'],
  ] as const)('%f dB HL is %s by Clark', (average, grade) => {
    expect(clarkClass(average)).toBe(grade);
  });

  // The same worked by hand from the two tables.
  test.each([
    [{ 500: 30, 1000: 40, 2000: 50, 4000: 65 }, 46.25, 'moderate', 'moderate'],
    [{ 500: 20, 1000: 30, 2000: 40, 4000: 50 }, 35, 'moderate', 'mild'],
  ] as const)('%j', (h, average, who, clark) => {
    expect(fourFrequencyAverage(h)).toBe(average);
    expect(whoGrade(average)).toBe(who);
    expect(clarkClass(average)).toBe(clark);
  });

  test('no average where a frequency was not measured', () => {
    expect(fourFrequencyAverage({ 500: 30, 1000: 40, 2000: 50 })).toBeUndefined();
    expect(threeFrequencyAverage({ 500: 30, 1000: 40, 2000: 50 })).toBe(40);
    expect(lowFrequencyAverage({ 500: 30 })).toBeUndefined();
    expect(nalR({ 500: 30, 2000: 50 })).toEqual({});
  });

  test('air less bone, only where both were measured', () => {
    expect(airBoneGaps({ air: { 500: 40, 1000: 40, 2000: 50 }, bone: { 500: 10, 1000: 30 } })).toEqual([
      { frequency: 500, gap: 30 },
      { frequency: 1000, gap: 10 },
    ]);
  });
});

describe('NAL gains', () => {
  // Worked from the formula of Byrne & Dillon 1986: X = 0.15 H3FA, G = X + 0.31 H + k, none below 0.
  const at = [250, 500, 1000, 1500, 2000, 3000, 4000, 6000] as const;
  test.each<[string, Thresholds, readonly number[]]>([
    ['a slope', SLOPE, [0, 7.3, 19.4, 20.95, 20.5, 22.6, 24.15, 25.7]],
    ['flat 40', flat(40), [1.4, 10.4, 19.4, 19.4, 17.4, 16.4, 16.4, 16.4]],
  ])('NAL-R, %s', (_name, h, gains) => {
    for (const [k, f] of at.entries()) expect(nalR(h)[f]).toBeCloseTo(gains[k] as number, 9);
    expect(nalRp(h)).toEqual(nalR(h)); // below 60 on average and 95 at 2 kHz they are the same
  });

  // Byrne, Parkinson & Newall 1991: 0.2 (H3FA - 60) more.
  test('NAL-RP, flat 80', () => {
    const gains = [23.8, 32.8, 41.8, 41.8, 39.8, 38.8, 38.8, 38.8];
    for (const [k, f] of at.entries()) expect(nalRp(flat(80))[f]).toBeCloseTo(gains[k] as number, 9);
  });

  test('NAL-RP at a profound 2 kHz: on a row of its table, between two, and past the last', () => {
    // By hand for flat 100: X = 15 + 8 = 23, + 31 = 54; row 100 adds 6, 4, 0, -2, -3, -3, -3, -3.
    const hundred = [43, 50, 55, 53, 50, 49, 49, 49];
    for (const [k, f] of at.entries()) expect(nalRp(flat(100))[f]).toBeCloseTo(hundred[k] as number, 9);
    const slope = (at2k: number): Thresholds => ({ ...flat(60), 2000: at2k });
    const added = (h: Thresholds): number =>
      (nalRp(h)[250] ?? 0) - (nalRp({ ...h, 2000: 94 })[250] ?? 0) - ((h[2000] ?? 0) - 94) * (0.05 + 0.2 / 3);
    expect(added(slope(95))).toBeCloseTo(4, 9);
    expect(added(slope(97.5))).toBeCloseTo(5, 9); // half-way between 4 and 6
    expect(added(slope(120))).toBeCloseTo(15, 9);
    expect(added(slope(130))).toBeCloseTo(15, 9);
  });

  test('more loss never asks for less gain at its own frequency', () => {
    for (let db = 0; db < 115; db += 5)
      expect(nalRp({ ...SLOPE, 1000: db + 5 })[1000]).toBeGreaterThanOrEqual(nalRp({ ...SLOPE, 1000: db })[1000] ?? 0);
  });
});
