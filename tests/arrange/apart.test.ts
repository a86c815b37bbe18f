/** Parts that must keep apart: what a catalogue says of kinds becomes a rule of the kit, which search and verifier read alike. */
import { describe, expect, test } from 'vitest';
import { arrangeKit } from '../../src/arrange/index.ts';
import { loadKernel } from '../../src/geometry/kernel.ts';
import { pt } from '../../src/geometry/vec.ts';
import type { Kit } from '../../src/model/parts.ts';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { examineCatalogue, kitFor, RULES, readCatalogue, styleNamed } from '../../src/parts/index.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { verifyArrangement } from '../../src/verify/index.ts';
import { BARE, bodyOf, kitOf, part, solid, tube } from '../support/rooms.ts';

const lab = (apart: unknown): string => JSON.stringify({ format: 'cavum-catalogue', version: 1, name: 'a lab', extends: 'generic', apart });
const ask = (style: 'ITE' | 'HS', order: object, catalogue?: string): Kit => {
  const of = catalogue ? readCatalogue(catalogue, 'lab').styles.find((s) => s.name === style) : styleNamed(style);
  const k = kitFor(of ?? styleNamed(style), { ...DEFAULT_ORDER, ...order }, RULES);
  if (k.kind !== 'kit') throw new Error(k.text);
  return k.kit;
};

describe('in a catalogue', () => {
  test('ours keeps a telecoil off the receiver, and leaves a finger between button and wheel', () => {
    expect(ask('ITE', {})).not.toHaveProperty('apart');
    expect(ask('HS', { telecoil: true }).apart).toEqual([{ between: ['receiver', 'telecoil'], least: 2 }]);
    expect(ask('ITE', { pushButton: true, volumeWheel: true }).apart).toEqual([{ between: ['push-button', 'volume-wheel'], least: 2 }]);
  });

  test("a lab's own rules take the place of ours; several on one pair: the greatest; one on a kind with itself", () => {
    const own = lab([
      { between: ['microphone', 'microphone'], least: 5, source: 'ours' },
      { between: ['chip', 'cell'], least: 0.4, source: 'ours' },
      { between: ['cell', 'chip'], least: 0.3, source: 'ours' },
    ]);
    expect(ask('HS', { telecoil: true }, own).apart).toEqual([
      { between: ['cell', 'chip'], least: 0.4 },
      { between: ['front-microphone', 'rear-microphone'], least: 5 },
    ]);
  });

  test('a broken rule is explained with its path', () => {
    const told = (apart: unknown): string => {
      const e = examineCatalogue(lab(apart));
      return 'flaws' in e ? e.flaws.map((f) => `${f.at}: ${f.text}`).join('\n') : '';
    };
    expect(told([{ between: ['telecoil', 'receivr'], least: 2, source: 's' }])).toContain('/apart/0/between/1: found "receivr"');
    expect(told([{ between: ['telecoil', 'receivr'], least: 2, source: 's' }])).toContain('did you mean receiver?');
    expect(told([{ between: ['telecoil', 'receiver'], least: -1, source: 's' }])).toContain('/apart/0/least');
    expect(told([{ between: ['telecoil'], least: 1, source: 's' }])).toContain('/apart/0/between');
    expect(told([{ between: ['telecoil', 'receiver'], least: 1 }])).toContain('/apart/0/source: missing');
  });
});

// Two balls 2 mm wide in a round room of radius 2, 14 mm long, kept 8 mm apart, in opposite corners with s to spare all round:
// their centres are 12 - 2s along and 2 (1 - s) across from each other, 10 + s in all, so 7 s^2 - 76 s + 48 = 0. Without the
// rule the walls decide, 1 mm (elementary geometry).
test('the search finds, and the verifier measures, what is left beside it', async () => {
  const kernel = await loadKernel();
  const cast = tube(
    (s) => pt(0, 0, 10 - 20 * s),
    () => [2, 2],
    { steps: 24, around: 96, outside: true },
  );
  const body = bodyOf(cast, { point: pt(0, 0, 7), normal: pt(0, 0, 1) }, { point: pt(0, 0, -7), normal: pt(0, 0, -1) }, pt(0, 0, 0));
  const room = carveRoom(measureCast(cast), body, BARE);
  const ball = (id: string) => part(id, [solid('capsule', [2, 2, 2])]);
  const free = kitOf([ball('one'), ball('two')]);
  const kept: Kit = { ...free, apart: [{ between: ['two', 'one'], least: 8 }] };
  const best = (kit: Kit) => arrangeKit(room, kit, { seed: 1, effort: 'quick', enough: 3 }).best;
  expect(best(free)?.spare).toBeCloseTo(1, 2);
  const found = best(kept);
  const best8 = (76 - Math.sqrt(76 * 76 - 4 * 7 * 48)) / 14;
  expect(found?.spare).toBeLessThanOrEqual(best8 + 0.002);
  expect(found?.spare).toBeGreaterThan(best8 - 0.01);
  const { measured } = verifyArrangement(kernel, body, BARE, kept, found?.poses ?? []);
  const pair = measured.find((m) => m.kind === 'parts');
  expect(pair?.asked).toBe(8);
  expect(pair?.spare).toBeGreaterThanOrEqual((found?.spare ?? 0) - 1e-4);
});
