import { describe, expect, test } from 'vitest';
import { degrees } from '../../src/geometry/trig.ts';
import { areaBeyondBend, drawEar, drawPair, type EarParameters } from '../../src/synth/parameters.ts';
import { correlation, mean, sd } from './support.ts';

const MANY = 200;
const ears = Array.from({ length: MANY }, (_, i) => drawEar(1000 + i));
const of = (f: (p: EarParameters) => number): number[] => ears.map(f);

// Published means and SDs, written here again so that a slip in the table of src/synth/parameters.ts shows.
const PUBLISHED: readonly (readonly [name: string, f: (p: EarParameters) => number, mean: number, sd: number, source: string])[] = [
  ['entrance area', (p) => p.areaAperture, 97, 24, 'Voss et al. 2023, Hearing Research, CT, 66 ears (abstract)'],
  ['first bend area', (p) => p.areaFirstBend, 63.4, 13.5, 'Voss et al. 2020, JASA 147:3042, silicone moulds, 169 people (abstract)'],
  ['area at 12 mm', (p) => areaBeyondBend(p, 12), 61.6, 13.5, 'Voss et al. 2020, JASA 147:3042, silicone moulds, 169 people (abstract)'],
  ['cavum height', (p) => p.cavumHeight, 19.1, 1.8, 'Algazi et al. 2001, CIPIC; numbers from memory'],
  ['cavum width', (p) => p.cavumWidth, 15.8, 2.8, 'Algazi et al. 2001, CIPIC; numbers from memory'],
  [
    'cavum depth',
    (p) => p.cavumDepth,
    12.5,
    1.8,
    'middle of 9-16.8, means of several adult studies: Staab 2017, Human ear concha dimensions part 4; spread ours',
  ],
  ['cymba height', (p) => p.cymbaHeight, 6.8, 1.2, 'Algazi et al. 2001, CIPIC; numbers from memory'],
  ['intertragal notch width', (p) => p.notchWidth, 5.3, 1.4, 'Algazi et al. 2001, CIPIC; numbers from memory'],
];

describe('drawn sizes', () => {
  // 200 draws: the mean's standard error is sd/14.1, the SD's 5 %. Limits: three standard errors; for the SD two more
  // points downward, because sizes beyond plausible limits are folded back.
  test.each(PUBLISHED)('%s has the published mean and spread', (_name, f, wantMean, wantSd) => {
    const v = of(f);
    expect(Math.abs(mean(v) - wantMean)).toBeLessThan((3 * wantSd) / Math.sqrt(MANY));
    expect(sd(v) / wantSd).toBeGreaterThan(0.8);
    expect(sd(v) / wantSd).toBeLessThan(1.15);
  });

  test('areas grow with age (Voss 2020: each decade; Voss 2023: first bend 44 at 18-30, 69 at 61-90)', () => {
    const age = of((p) => p.age);
    expect(
      correlation(
        age,
        of((p) => p.areaFirstBend),
      ),
    ).toBeGreaterThan(0.2);
    expect(
      correlation(
        age,
        of((p) => p.areaAperture),
      ),
    ).toBeGreaterThan(0.15);
  });

  test('canal and concha sizes go together', () => {
    expect(
      correlation(
        of((p) => p.cavumHeight),
        of((p) => p.areaFirstBend),
      ),
    ).toBeGreaterThan(0.15);
  });

  // No published source: the placeholders of the trade, from memory.
  test('bends lie where they are said to: 8-12 and 14-18 mm from the aperture, turning 15-50 degrees', () => {
    for (const p of ears) {
      expect(p.firstBendDepth).toBeGreaterThanOrEqual(8);
      expect(p.firstBendDepth).toBeLessThanOrEqual(12);
      expect(p.secondBendDepth).toBeGreaterThanOrEqual(14);
      expect(p.secondBendDepth).toBeLessThanOrEqual(18);
      for (const a of [p.firstBendAngle, p.secondBendAngle]) {
        expect(degrees(a)).toBeGreaterThanOrEqual(15);
        expect(degrees(a)).toBeLessThanOrEqual(50);
      }
      expect(p.pastSecondBend).toBeGreaterThanOrEqual(2);
      expect(p.pastSecondBend).toBeLessThanOrEqual(6);
    }
  });

  test('the canal narrows to its first bend: entrance sizes exceed those at the bends (Fan et al. 2021, Ergonomics 64:640)', () => {
    for (const p of ears) expect(p.areaAperture).toBeGreaterThan(p.areaFirstBend);
  });

  test('same seed, same sizes; overrides win; sides both occur', () => {
    expect(drawEar(5)).toEqual(drawEar(5));
    expect(drawEar(5)).not.toEqual(drawEar(6));
    expect(drawEar(5, { areaFirstBend: 50 }).areaFirstBend).toBe(50);
    expect(new Set(ears.map((p) => p.side)).size).toBe(2);
  });
});

describe('two ears of one person', () => {
  const pairs = Array.from({ length: 100 }, (_, i) => drawPair(2000 + i));
  test('are alike but not equal: areas of one person are close, those of two people differ 2-3 times (Voss 2023)', () => {
    const left = pairs.map((p) => p.left.areaFirstBend);
    const right = pairs.map((p) => p.right.areaFirstBend);
    expect(correlation(left, right)).toBeGreaterThan(0.85);
    for (const [i, l] of left.entries()) expect(l).not.toBe(right[i]);
    expect(Math.max(...left) / Math.min(...left)).toBeGreaterThan(2);
  });
  test('differ in concha sizes by less than 1 mm on the average (Zhu et al., Int J Morphol, 310 people)', () => {
    for (const f of ['cavumHeight', 'cavumWidth', 'cavumDepth', 'cymbaHeight'] as const) {
      expect(Math.abs(mean(pairs.map((p) => p.left[f] - p.right[f])))).toBeLessThan(1);
    }
  });
  test('have their own sides and one age', () => {
    for (const { left, right } of pairs) {
      expect(left.side).toBe('left');
      expect(right.side).toBe('right');
      expect(left.age).toBe(right.age);
    }
  });
});
