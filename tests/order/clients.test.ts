/** From a client's hearing to a recommendation: the same ear, two orders. */
import { describe, expect, test } from 'vitest';
import { check } from '../../src/engine/index.ts';
import type { OrderRequest } from '../../src/model/order.ts';
import { STYLES, type StyleName } from '../../src/model/parts.ts';
import { sampleBytes, samples } from '../support/samples.ts';

const mild = { hearing: { air: { 250: 20, 500: 25, 1000: 30, 2000: 35, 4000: 40 } } };
const severe = { hearing: { air: { 250: 60, 500: 65, 1000: 75, 2000: 80, 4000: 85 } }, directional: true, volumeWheel: true };

/** Two are enough to show it, and a whole ladder takes its time. */
const ears = samples().filter((s) => /wide|average/.test(s.file));

describe.each(ears)('$file', ({ file }) => {
  test('a mild loss without wishes takes a smaller style than a severe one with two microphones and a wheel', async () => {
    const ask = (order: OrderRequest, styles: readonly StyleName[]) =>
      check({ bytes: sampleBytes(file), name: file, effort: 'quick', order, styles });
    const light = await ask(mild, ['IIC', 'CIC', 'ITC']);
    const heavy = await ask(severe, STYLES);
    expect(light.order.receiver).toBe('small');
    expect(heavy.order).toMatchObject({ receiver: 'large', microphones: 2 });
    // Only the largest style carries a wheel: the smaller ones are ruled out in words, before any geometry.
    for (const rung of heavy.rungs.slice(0, 4)) {
      expect(rung.verdict).toBe('not-judged');
      expect(rung.reasons[0]).toMatchObject({ code: 'order/excludes', text: expect.stringMatching(/^the order asks for /) });
    }
    const size = (style: StyleName | undefined): number => (style ? STYLES.indexOf(style) : STYLES.length);
    expect(size(light.recommended.style)).toBeLessThan(STYLES.length);
    expect(size(light.recommended.style)).toBeLessThan(size(heavy.recommended.style));
    if (file.includes('wide')) {
      expect(heavy.recommended.style).toBe('ITE');
      expect(heavy.recommended.why).toMatch(
        /^the smallest that fits, with .* to spare, and carries a receiver of size large, two microphones and a volume wheel\. Invisible in canal, .*Half shell: ruled out, the order asks for a volume wheel$/,
      );
    }
    expect(light.recommended.why).toMatch(/carries a receiver of size small/);
  });
});
