/** A slice of the population bench: a few synthetic ears, a style each, with and without a vent, and nothing that the referee refutes. */
import { expect, test } from 'vitest';
import { check, verdictDocument } from '../../src/engine/index.ts';
import type { StyleName } from '../../src/model/parts.ts';
import { GENERIC_FILE } from '../../src/parts/generic.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { referee } from '../support/referee.ts';
import type { StyleDocument } from '../support/referee-document.ts';

test.each<[seed: number, style: StyleName, vent: number]>([
  [21, 'CIC', 0],
  [27, 'ITC', 0],
  [23, 'ITE', 0],
  [21, 'CIC', 0.8],
  [21, 'ITE', 1.5],
  [23, 'ITE', 1.5],
])('ear %i, %s, with a vent of %f mm', async (seed, style, vent) => {
  const ear = makeEar(drawEar(seed, { resolution: 0.6 }), seed);
  const bytes = encodeStl(ear.mesh);
  const result = await check({ bytes, name: 'synthetic.stl', side: ear.truth.side, styles: [style], effort: 'quick', order: { vent } });
  const document = JSON.parse(JSON.stringify(verdictDocument(result)));
  const judged = referee(bytes, document, GENERIC_FILE);
  expect(judged.map((j) => j.verdict)).toEqual(['fits']); // not a slice in which nothing is left to referee
  expect(judged.flatMap((j) => j.refuted)).toEqual([]);
  expect(document.styles.flatMap((s: StyleDocument) => s.vent?.diameter ?? [])).toEqual(vent ? [vent] : []);
});
