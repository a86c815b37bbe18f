/**
 * A population of synthetic ears, every style: how many take each, how long it takes, and how many of the reported fits an independent
 * check refutes (to be 0). EARS=200 SEED=1 npm run bench -- population. Times are printed, never asserted.
 */
import { expect, test } from 'vitest';
import { check, readScan, verdictDocument } from '../../src/engine/index.ts';
import { STYLES } from '../../src/model/parts.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { recheck } from '../support/recheck.ts';

const EARS = Number(process.env['EARS'] ?? 12);
const FIRST = Number(process.env['SEED'] ?? 1);

test(`population of ${EARS} ears from seed ${FIRST}`, async () => {
  const count = new Map<string, number>();
  const times: number[] = [];
  const refuted: string[] = [];
  let checksum = 7;
  let fits = 0;
  for (let seed = FIRST; seed < FIRST + EARS; seed++) {
    const ear = makeEar(drawEar(seed, { resolution: 0.45 }), seed);
    const bytes = encodeStl(ear.mesh);
    const start = performance.now();
    const result = await check({ bytes, name: 'synthetic.stl', side: ear.truth.side });
    times.push(performance.now() - start);
    const document = JSON.parse(JSON.stringify(verdictDocument(result)));
    const closed = encodeStl(readScan(bytes, 'synthetic.stl').mesh);
    for (const style of document.styles) {
      const key = `${style.style} ${style.verdict}`;
      count.set(key, (count.get(key) ?? 0) + 1);
      checksum = (Math.imul(checksum, 31) + Math.round(1000 * (style.found ?? 0))) >>> 0;
      if (style.verdict !== 'fits') continue;
      fits++;
      for (const checked of recheck(closed, { ...document, styles: [style] })) {
        for (const what of checked.refuted) refuted.push(`seed ${seed} ${style.style}: ${what}`);
      }
    }
  }
  times.sort((a, b) => a - b);
  const row = (style: string): string =>
    ['fits', 'tight', 'does-not-fit', 'unsettled', 'not-judged'].map((v) => String(count.get(`${style} ${v}`) ?? 0).padStart(13)).join('');
  console.log(
    [
      `${EARS} ears from seed ${FIRST}, checksum ${checksum}`,
      `     ${['fits', 'tight', 'does-not-fit', 'unsettled', 'not-judged'].map((v) => v.padStart(13)).join('')}`,
      ...STYLES.map((s) => `${s.padEnd(5)}${row(s)}`),
      `whole ladder: median ${((times[times.length >> 1] ?? 0) / 1000).toFixed(2)} s, longest ${((times.at(-1) ?? 0) / 1000).toFixed(2)} s`,
      `${fits} fits re-checked, ${refuted.length} refuted`,
      ...refuted,
    ].join('\n'),
  );
  expect(refuted).toEqual([]);
});
