/**
 * A population of synthetic ears, every style: how many take each, how long it takes, and how many of the reported fits the referee
 * refutes (to be 0). EARS=200 SEED=1 npm run bench -- population; VENT=1.5 orders a vent of so many mm with each. Times are printed,
 * never asserted.
 */
import { expect, test } from 'vitest';
import { check, verdictDocument } from '../../src/engine/index.ts';
import { STYLES } from '../../src/model/parts.ts';
import { GENERIC_FILE } from '../../src/parts/generic.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { type Judged, referee } from '../support/referee.ts';

const EARS = Number(process.env['EARS'] ?? 10);
const FIRST = Number(process.env['SEED'] ?? 1);
const VENT = Number(process.env['VENT'] ?? 0);
const VERDICTS = ['fits', 'tight', 'does-not-fit', 'unsettled', 'not-judged'];

interface Of {
  readonly seed: number;
  readonly judged: Judged;
}

test(`population of ${EARS} ears from seed ${FIRST}${VENT ? `, vent ${VENT} mm` : ''}`, async () => {
  const count = new Map<string, number>();
  const times: number[] = [];
  const all: Of[] = [];
  let checksum = 7;
  let refereeing = 0;
  for (let seed = FIRST; seed < FIRST + EARS; seed++) {
    const ear = makeEar(drawEar(seed, { resolution: 0.45 }), seed);
    const bytes = encodeStl(ear.mesh);
    const start = performance.now();
    const result = await check({ bytes, name: 'synthetic.stl', side: ear.truth.side, order: { vent: VENT } });
    times.push(performance.now() - start);
    const document = JSON.parse(JSON.stringify(verdictDocument(result)));
    for (const style of document.styles) {
      const key = `${style.style} ${style.verdict}`;
      count.set(key, (count.get(key) ?? 0) + 1);
      checksum = (Math.imul(checksum, 31) + Math.round(1000 * (style.found ?? 0))) >>> 0;
    }
    const from = performance.now();
    const judged = referee(bytes, document, GENERIC_FILE);
    refereeing += performance.now() - from;
    all.push(...judged.map((j) => ({ seed, judged: j })));
    // At once: a long run may be broken off.
    console.log(
      `seed ${seed}: ${judged.length} refereed`,
      ...judged.flatMap((j) => j.refuted.map((r) => `\n  ${j.style} ${j.verdict}: ${r}`)),
    );
  }
  times.sort((a, b) => a - b);
  const told = (what: (j: Judged) => readonly string[]): string[] =>
    all.flatMap(({ seed, judged }) => what(judged).map((text) => `seed ${seed} ${judged.style} ${judged.verdict}: ${text}`));
  const refuted = told((j) => j.refuted);
  const most = (of: (j: Judged) => number): string => Math.max(0, ...all.map(({ judged }) => of(judged))).toFixed(5);
  const row = (style: string): string => VERDICTS.map((v) => String(count.get(`${style} ${v}`) ?? 0).padStart(13)).join('');
  const seconds = (ms = 0): string => (ms / 1000).toFixed(2);
  console.log(
    [
      `${EARS} ears from seed ${FIRST}${VENT ? `, vent ${VENT} mm` : ''}, checksum ${checksum}`,
      `     ${VERDICTS.map((v) => v.padStart(13)).join('')}`,
      ...STYLES.map((s) => `${s.padEnd(5)}${row(s)}`),
      `whole ladder: median ${seconds(times[times.length >> 1])} s, longest ${seconds(times.at(-1))} s; the referee ${seconds(refereeing)} s in all`,
      `${all.length} fits and tight ones refereed, ${all.reduce((n, { judged }) => n + judged.poses, 0)} poses of ways in, ${refuted.length} refuted`,
      `the referee's error at most ${most((j) => j.error)} mm; a spare understated by at most ${most((j) => j.understated)} mm`,
      ...refuted,
      ...told((j) => j.doubts),
    ].join('\n'),
  );
  expect(refuted).toEqual([]);
});
