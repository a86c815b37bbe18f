/**
 * How often a "no" is a proof: synthetic ears, every style. Of what lacks more than 0.3 mm, the share that is proved impossible,
 * what the proofs took, and how near the ceiling comes to the best arrangement found.
 * EARS=40 SEED=1 STYLES=IIC,CIC RECEIVER=medium npm run bench -- prove. Times are printed, never asserted.
 */
import { expect, test } from 'vitest';
import { check } from '../../src/engine/index.ts';
import type { CheckEvent } from '../../src/model/case.ts';
import type { Rung } from '../../src/model/fit.ts';
import { STYLES, type StyleName } from '../../src/model/parts.ts';
import { DEFAULT_ORDER, readOrder } from '../../src/order/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';

const EARS = Number(process.env['EARS'] ?? 8);
const FIRST = Number(process.env['SEED'] ?? 1);
const ASKED = STYLES.filter((s) => (process.env['STYLES'] ?? STYLES.join()).split(',').includes(s));
const ORDER = readOrder(
  JSON.stringify({ format: 'cavum-order', version: 1, receiver: process.env['RECEIVER'] ?? DEFAULT_ORDER.receiver }),
  'order of the bench',
);
/** Beyond doubt a misfit, mm. */
const CLEAR = 0.3;

interface Row {
  readonly rung: Rung;
  /** Of all steps in which something was to be proved, ms. */
  readonly proving: number;
}

test(`proofs over ${EARS} ears from seed ${FIRST}`, async () => {
  const rows: Row[] = [];
  const open: string[] = [];
  const contradictions: string[] = [];
  for (let seed = FIRST; seed < FIRST + EARS; seed++) {
    for (const row of await judged(seed)) {
      rows.push(row);
      const { style, verdict, found = Number.NaN, ceiling } = row.rung;
      if (verdict === 'unsettled') open.push(`seed ${seed} ${style}: found ${found.toFixed(2)}, ${row.proving.toFixed(0)} ms of proving`);
      if (ceiling < found - 1e-3) contradictions.push(`seed ${seed} ${style}: found ${found}, yet the ceiling is ${ceiling}`);
    }
  }
  console.log([...ASKED.map((s) => lineOf(s, rows)), lineOf(undefined, rows), '', ...open].join('\n'));
  expect(contradictions).toEqual([]);
});

async function judged(seed: number): Promise<Row[]> {
  const ear = makeEar(drawEar(seed, { resolution: 0.45 }), seed);
  const proving = new Map<StyleName, number>();
  let since: { readonly style: StyleName; readonly at: number } | undefined;
  const onEvent = (event: CheckEvent): void => {
    if (since) proving.set(since.style, (proving.get(since.style) ?? 0) + performance.now() - since.at);
    const now = event.type === 'working' && event.stage === 'prove' ? event.style : undefined;
    since = now && { style: now, at: performance.now() };
  };
  const bytes = encodeStl(ear.mesh);
  const result = await check({ bytes, name: 'synthetic.stl', side: ear.truth.side, order: ORDER, styles: ASKED }, { onEvent });
  return result.rungs.map((rung) => ({ rung, proving: proving.get(rung.style) ?? 0 }));
}

function lineOf(style: StyleName | undefined, all: readonly Row[]): string {
  const rows = all.filter((r) => !style || r.rung.style === style);
  const count = (v: Rung['verdict']): string => `${v} ${rows.filter((r) => r.rung.verdict === v).length}`;
  // Without any arrangement found the style lacks more than can be said.
  const clear = rows.filter((r) => r.rung.verdict !== 'not-judged' && (r.rung.found ?? -Infinity) < -CLEAR);
  const proved = clear.filter((r) => r.rung.verdict === 'does-not-fit');
  const gaps = rows
    .filter((r) => Number.isFinite(r.rung.ceiling) && r.rung.found !== undefined)
    .map((r) => r.rung.ceiling - (r.rung.found ?? 0));
  const share = clear.length === 0 ? '-' : `${((100 * proved.length) / clear.length).toFixed(0)} %`;
  return [
    (style ?? 'all').padEnd(4),
    ...(['fits', 'tight', 'does-not-fit', 'unsettled', 'not-judged'] as const).map(count),
    `| lacking > ${CLEAR}: ${clear.length}, proved ${share}`,
    `| ms of proving: ${spread(proved.map((r) => r.proving))}`,
    `| ceiling - found: ${spread(gaps, 2)}`,
  ].join('  ');
}

function spread(values: readonly number[], digits = 0): string {
  const v = [...values].sort((a, b) => a - b);
  const at = (share: number): string => (v[Math.min(v.length - 1, Math.floor(share * v.length))] ?? Number.NaN).toFixed(digits);
  return v.length === 0 ? '-' : `median ${at(0.5)}, 90 % ${at(0.9)}, most ${at(1)}`;
}
