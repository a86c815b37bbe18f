/**
 * Ways in: for the sample scans and a population of synthetic ears, of the arrangements that fit or are tight how many can
 * be put together, and what finding and verifying that takes. EARS=20 SEED=1 npm run bench -- assemble. Times are printed,
 * never asserted.
 */
import { expect, test } from 'vitest';
import { assembleKit } from '../../src/assemble/index.ts';
import { check } from '../../src/engine/index.ts';
import type { CaseResult } from '../../src/engine/types.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { verifyMoves } from '../../src/verify/motion.ts';
import { sampleBytes, samples } from '../support/samples.ts';

const EARS = Number(process.env['EARS'] ?? 20);
const FIRST = Number(process.env['SEED'] ?? 1);

interface Tally {
  readonly count: Map<string, number>;
  readonly times: number[];
  readonly verifying: number[];
  readonly stuck: string[];
  readonly refuted: string[];
  checksum: number;
}

const tally: Tally = { count: new Map(), times: [], verifying: [], stuck: [], refuted: [], checksum: 7 };

const quantile = (a: readonly number[], q: number): string =>
  ([...a].sort((x, y) => x - y)[Math.min(a.length - 1, Math.floor(q * a.length))] ?? Number.NaN).toFixed(0);

function measure(name: string, { rungs, ear, rules, seed, effort }: CaseResult): void {
  const field = measureCast(ear.cast);
  for (const { style, verdict, body, kit, arrangement, assembly, found } of rungs) {
    if (!body || !kit || !arrangement || !assembly) continue;
    const key = `${style} ${verdict} ${assembly.kind}`;
    tally.count.set(key, (tally.count.get(key) ?? 0) + 1);
    if (assembly.kind === 'stuck')
      tally.stuck.push(`${name} ${style}, spare ${found?.toFixed(2)}: ${assembly.parts.join('+')} lacks ${assembly.lacks.toFixed(2)}`);
    const room = carveRoom(field, body, rules);
    const start = performance.now();
    const again = assembleKit(room, kit, arrangement.poses, ear.centreline, { seed, effort });
    tally.times.push(performance.now() - start);
    if (again?.kind !== 'way-in') continue;
    const middle = performance.now();
    const evidence = verifyMoves(body, rules, kit, arrangement.poses, again.moves);
    tally.verifying.push(performance.now() - middle);
    if (!evidence.sound) tally.refuted.push(`${name} ${style}: ${evidence.faults.join()}`);
    tally.checksum = (Math.imul(tally.checksum, 31) + evidence.poses) >>> 0;
  }
}

test(`ways in: sample scans and ${EARS} ears from seed ${FIRST}`, async () => {
  for (const s of samples()) measure(s.file, await check({ bytes: sampleBytes(s.file), name: s.file, side: s.side }));
  for (let seed = FIRST; seed < FIRST + EARS; seed++) {
    const ear = makeEar(drawEar(seed, { resolution: 0.45 }), seed);
    measure(`ear ${seed}`, await check({ bytes: encodeStl(ear.mesh), name: 'synthetic.stl', side: ear.truth.side }));
  }
  const { count, times, verifying, stuck, refuted, checksum } = tally;
  console.log(
    [
      `${times.length} arrangements, checksum ${checksum}`,
      ...[...count].sort().map(([key, n]) => `${String(n).padStart(5)}  ${key}`),
      `finding and verifying: median ${quantile(times, 0.5)} ms, 95 % within ${quantile(times, 0.95)} ms, longest ${quantile(times, 1)} ms`,
      `of that verifying: median ${quantile(verifying, 0.5)} ms`,
      ...stuck,
      ...refuted,
    ].join('\n'),
  );
  expect(refuted).toEqual([]);
});
