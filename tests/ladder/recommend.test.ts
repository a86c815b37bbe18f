import { expect, test } from 'vitest';
import { recommend } from '../../src/ladder/index.ts';
import type { Remedy, Rung } from '../../src/model/fit.ts';
import type { StyleName } from '../../src/model/parts.ts';
import { needsOf } from '../../src/order/index.ts';
import { GENERIC } from '../../src/parts/index.ts';

const rung = (style: StyleName, verdict: Rung['verdict'], more: Partial<Rung> = {}): Rung => ({
  style,
  verdict,
  ceiling: Infinity,
  ...(verdict === 'fits' ? { found: 0.3 } : {}),
  reasons: verdict === 'fits' ? [] : [{ code: 'kit', text: `${style} lacks 0.40 mm`, parts: [] }],
  cautions: [],
  ...more,
});
const help: Remedy = { code: 'wall-thinner', text: 'with a thinner wall it fits', change: {}, style: 'CIC', verdict: 'fits', found: 0.2 };
const ladder = [rung('IIC', 'does-not-fit'), rung('CIC', 'unsettled', { remedies: [help] }), rung('ITC', 'fits'), rung('HS', 'fits')];

test('who wishes for the least visible is told what each smaller style would take: a change that was tried, else what stands in its way', () => {
  const { needs } = needsOf({ leastVisible: true }, GENERIC);
  const { style, smaller, larger } = recommend(ladder, needs);
  expect(style).toBe('ITC');
  expect(smaller).toEqual([
    { style: 'IIC', takes: 'IIC lacks 0.40 mm' },
    { style: 'CIC', takes: 'with a thinner wall it fits' },
  ]);
  expect(larger.map((l) => l.style)).toEqual(['HS']);
  // Where none fits, of all of them.
  expect(recommend(ladder.slice(0, 2), needs).smaller?.map((s) => s.style)).toEqual(['IIC', 'CIC']);
});

test('otherwise nothing is said of them, and nothing where the smallest fits', () => {
  expect(recommend(ladder)).not.toHaveProperty('smaller');
  const { needs } = needsOf({ leastVisible: true }, GENERIC);
  expect(recommend(ladder.slice(2), needs)).not.toHaveProperty('smaller');
});
