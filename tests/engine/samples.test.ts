import { beforeAll, describe, expect, test } from 'vitest';
import { check, readScan, verdictDocument } from '../../src/engine/index.ts';
import type { CaseResult } from '../../src/engine/types.ts';
import type { StyleName } from '../../src/model/parts.ts';
import { encodeStl } from '../../src/synth/index.ts';
import { recheck } from '../support/recheck.ts';
import { sampleBytes, samples } from '../support/samples.ts';

/** What each sample was made to show (sample-scans/index.json says it in words). */
const MADE_FOR: readonly {
  readonly file: RegExp;
  readonly style: StyleName;
  readonly verdicts: readonly string[];
  readonly reason?: RegExp;
}[] = [
  { file: /wide/, style: 'IIC', verdicts: ['fits'] },
  { file: /narrow/, style: 'IIC', verdicts: ['does-not-fit', 'unsettled'], reason: /battery/i },
  { file: /short/, style: 'IIC', verdicts: ['not-judged'], reason: /impression/ },
  { file: /short/, style: 'CIC', verdicts: ['not-judged'], reason: /impression/ },
];

describe.each(samples())('$file', (sample) => {
  let result: CaseResult;
  beforeAll(async () => {
    result = await check({ bytes: sampleBytes(sample.file), name: sample.file });
  });

  test('has the five styles in order, each with a verdict and, unless it fits, a reason', () => {
    expect(result.rungs.map((r) => r.style)).toEqual(['IIC', 'CIC', 'ITC', 'HS', 'ITE']);
    for (const rung of result.rungs) if (rung.verdict !== 'fits') expect(rung.reasons[0]?.text ?? '').not.toBe('');
  });

  test('a reason that gives two lengths needs more than there is, and names its place', () => {
    for (const rung of result.rungs.filter((r) => r.verdict === 'does-not-fit' || r.verdict === 'unsettled')) {
      const { needs, has, at } = rung.reasons[0] ?? {};
      expect(needs, rung.style).toBeGreaterThan(has as number);
      expect(at).toHaveLength(3);
    }
  });

  test('shows what it was made for', () => {
    for (const made of MADE_FOR.filter((m) => m.file.test(sample.file))) {
      const rung = result.rungs.find((r) => r.style === made.style);
      expect(made.verdicts, `${made.style}: ${rung?.reasons[0]?.text}`).toContain(rung?.verdict);
      if (made.reason) expect(rung?.reasons[0]?.text).toMatch(made.reason);
    }
  });

  test('no arrangement that passes its clearances fails another check of the verification', () => {
    for (const rung of result.rungs) {
      if (rung.evidence && rung.evidence.spare >= 0) expect(rung.evidence.faults, rung.style).toEqual([]);
    }
  });

  // Three are enough here: tests/referee looks at many more.
  test.runIf(/wide|average|ragged/.test(sample.file))('every fit holds when it is re-checked from the scan and the document alone', () => {
    const closed = encodeStl(readScan(sampleBytes(sample.file), sample.file).mesh);
    const document = JSON.parse(JSON.stringify(verdictDocument(result)));
    for (const style of document.styles) {
      if (style.verdict !== 'fits' && style.verdict !== 'tight') continue;
      const [checked] = recheck(closed, { ...document, styles: [style] });
      expect(checked?.refuted, `${sample.file} ${style.style}`).toEqual([]);
    }
  });
});
