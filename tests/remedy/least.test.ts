/** The few questions that find a least number, against asking for every one. */
import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { firstOf, lessOf } from '../../src/remedy/least.ts';

async function search(truth: readonly boolean[], tries: readonly number[], stride: number, known = 0, runs = Infinity) {
  const asked: number[] = [];
  const passes = async (n: number): Promise<boolean | undefined> => {
    if (asked.length >= runs) return undefined;
    asked.push(n);
    return truth[n - 1] as boolean;
  };
  const first = await firstOf(tries, known, passes);
  return { ...(await lessOf(first, stride, passes)), asked };
}

describe('the least number that passes', () => {
  test('of every threshold, from every guess and stride: the one that asking for all finds, and none is asked for twice', async () => {
    for (const most of [1, 2, 3, 7, 30, 50]) {
      for (let least = 1; least <= most + 1; least++) {
        const truth = Array.from({ length: most }, (_, k) => k + 1 >= least);
        for (const guess of [1, 2, most >> 1, most].filter((g) => g >= 1 && g <= most)) {
          for (const stride of [0, 1, guess >> 2]) {
            const { enough, short, asked } = await search(truth, [guess, most], stride);
            expect(enough).toBe(least <= most ? least : undefined);
            expect(short).toBe(least - 1);
            expect(new Set(asked).size).toBe(asked.length);
            expect(asked.length).toBeLessThanOrEqual(4 + 2 * Math.ceil(Math.log2(most + 1)));
          }
        }
      }
    }
  });

  test('what is known not to pass is never asked for', async () => {
    for (let known = 0; known < 20; known++) {
      const { enough, asked } = await search(
        Array.from({ length: 30 }, (_, k) => k >= 20),
        [5, 30],
        1,
        known,
      );
      expect(enough).toBe(21);
      expect(Math.min(...asked)).toBeGreaterThan(known);
    }
  });

  test('whatever passes and however few may be asked: what is enough was seen to be, what is short was seen not to be', async () => {
    const random = seeded(20260722, 3);
    for (let k = 0; k < 3000; k++) {
      const most = 1 + random.below(40);
      const truth = Array.from({ length: most }, () => random.below(3) === 0);
      const tries = [1 + random.below(most), most, Math.max(1, most >> 1)];
      const { enough, short, asked } = await search(truth, tries, random.below(5), 0, random.below(9));
      if (enough !== undefined) expect(truth[enough - 1] && asked.includes(enough) && short < enough).toBe(true);
      if (short > 0) expect(!truth[short - 1] && asked.includes(short)).toBe(true);
    }
  });
});
