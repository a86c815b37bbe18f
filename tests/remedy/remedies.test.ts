/** Remedies: which are offered for whom, and that each, said in a case file, gives the verdict that it promised. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readCase, writeCase } from '../../src/casefile/index.ts';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { type Bench, judgeStyle } from '../../src/ladder/index.ts';
import type { Change, Rung } from '../../src/model/fit.ts';
import { FREQUENCIES, type Order } from '../../src/model/order.ts';
import type { Style } from '../../src/model/parts.ts';
import { needsOf } from '../../src/order/index.ts';
import { adjustStyle } from '../../src/parts/adjust.ts';
import { GENERIC, styleNamed } from '../../src/parts/index.ts';
import { candidatesFor } from '../../src/remedy/candidates.ts';
import { findRemedies, howMuchIsMissing } from '../../src/remedy/index.ts';
import { tipRoom } from '../../src/remedy/limits.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { benchOfScan, END, roundEar } from './benches.ts';

/** The same threshold at every frequency, dB HL: that is then the average too. */
const loss = (db: number): Pick<Order, 'hearing'> => ({ hearing: { air: Object.fromEntries(FREQUENCIES.map((f) => [f, db])) } });

describe('what is offered', () => {
  const offered = (style: Style, order: Partial<Order>) =>
    candidatesFor(style, { ...needsOf({}, GENERIC).order, ...order }, GENERIC.rules, roundEar(4), GENERIC);
  const receiver = (order: Partial<Order>) => offered(styleNamed('ITC'), order).find((c) => c.code === 'receiver-smaller');

  test('a smaller receiver never below what the hearing needs; without hearing only where it allows it (classes: the catalogue)', () => {
    expect(receiver({ receiver: 'large' })).toMatchObject({
      cost: 'only where the hearing loss allows it',
      change: { order: { receiver: 'medium' } },
    });
    // Up to 60 dB the small one serves, up to 70 the medium, up to 80 the large (generic catalogue).
    expect(receiver({ receiver: 'large', ...loss(75) })).toBeUndefined();
    expect(receiver({ receiver: 'large', ...loss(65) })).toMatchObject({
      cost: expect.stringContaining('still serves'),
      change: { order: { receiver: 'medium' } },
    });
    expect(receiver({ receiver: 'medium', ...loss(65) })).toBeUndefined();
    expect(receiver({ receiver: 'medium', ...loss(60) })).toMatchObject({ change: { order: { receiver: 'small' } } });
    // What was ordered is below the need already: nothing smaller still.
    expect(receiver({ receiver: 'medium', ...loss(85) })).toBeUndefined();
    expect(receiver({ receiver: 'small', ...loss(30) })).toBeUndefined();
  });

  test('every need, every ordered size: what is offered is smaller than ordered and enough', () => {
    const sizes = ['small', 'medium', 'large', 'extra-large'] as const;
    for (let db = 0; db <= 100; db += 5) {
      const needed = sizes.indexOf(needsOf(loss(db), GENERIC).order.receiver);
      for (const ordered of sizes) {
        const size = receiver({ receiver: ordered, ...loss(db) })?.change.order?.receiver;
        if (size !== undefined) expect(sizes.indexOf(size)).toBeLessThan(sizes.indexOf(ordered));
        if (size !== undefined) expect(sizes.indexOf(size)).toBeGreaterThanOrEqual(needed);
      }
    }
  });

  test('a faceplate is tilted both ways by 6 and 12 degrees, the milder first; one that follows the rim is not', () => {
    const tilts = offered(styleNamed('CIC'), {}).flatMap(({ code, change }) =>
      code === 'faceplate-tilted' ? [change.cuts?.CIC?.tilt] : [],
    );
    expect(tilts).toEqual([6, 12].flatMap((a) => [{ superior: a }, { superior: -a }, { anterior: a }, { anterior: -a }]));
    expect(offered(styleNamed('ITE'), {}).some((c) => c.code.startsWith('faceplate'))).toBe(false);
  });

  test('a tip goes deeper only as far as the cast shows and 15 mm from the aperture allow, and no further than it may be put', () => {
    const cic = styleNamed('CIC'); // its tip at the second bend, 13 mm deep here
    const roomy = { ...roundEar(4), end: { at: roundEar(4).end.at, depth: 30, confidence: 1 } };
    expect(tipRoom(cic, roomy)).toBe(2);
    expect(tipRoom(cic, { ...roomy, end: { ...roomy.end, depth: 15.25 } })).toBe(1.25);
    expect(tipRoom(adjustStyle(cic, { tip: 8 }), roomy)).toBe(0);
    expect(tipRoom(adjustStyle(styleNamed('ITC'), { tip: 8 }), { ...roomy, firstBend: { ...roundEar(4).aperture, angle: 0.4 } })).toBe(0);
    const { secondBend: _none, ...bare } = roomy;
    expect(tipRoom(cic, bare)).toBe(0);
    expect(END - 1 - 13).toBeGreaterThan(2);
    expect(
      offered(cic, {})
        .filter((c) => c.code === 'tip-longer')
        .map((c) => c.change.cuts?.CIC?.tip),
    ).toEqual([1, 2]);
  });
});

describe('on a drawn ear', () => {
  let kernel: Kernel;
  const arena = new Arena();
  beforeAll(async () => {
    kernel = await loadKernel();
  });
  afterAll(() => arena.free());

  /** As the engine takes a case: its own cuts, and what it says on top of them. */
  function inCase(bench: Bench, cuts: NonNullable<Change['cuts']>, change: Change, name: 'CIC'): Promise<Rung> {
    const merged = { CIC: { ...cuts.CIC, ...change.cuts?.CIC } };
    const said = readCase(
      writeCase({
        scan: 'drawn.stl',
        cuts: merged,
        ...(change.rules ? { rules: change.rules } : {}),
        ...(change.order ? { order: change.order } : {}),
      }),
      'case',
    );
    const style = adjustStyle(styleNamed(name), said.cuts?.[name] ?? {});
    return judgeStyle({ ...bench, order: needsOf(said.order ?? {}, GENERIC).order, rules: { ...GENERIC.rules, ...said.rules } }, style);
  }

  test('each remedy and each shift, said in the case file, gives the verdict and the spare that were promised', async () => {
    const made = makeEar(drawEar(17, { resolution: 0.6 }), 17);
    const bench = benchOfScan(kernel, arena, encodeStl(made.mesh), made.truth.side, { effort: 'normal' });
    const cuts = { CIC: { outer: 2 } };
    const style = adjustStyle(styleNamed('CIC'), cuts.CIC);
    const rung = await inCase(bench, cuts, {}, 'CIC');
    expect(rung.verdict).toBe('tight');
    const remedies = await findRemedies(bench, style, rung, []);
    const missing = await howMuchIsMissing(bench, style, rung);
    expect(remedies.map((r) => r.code)).toContain('faceplate-tilted');
    const promised = [
      ...remedies.map((r) => ({ what: r.code, change: r.change, found: r.found })),
      ...(missing?.shifts ?? []).flatMap(({ limit, enough }) => (enough ? [{ what: limit, ...enough }] : [])),
    ];
    expect(promised.length).toBeGreaterThanOrEqual(2);
    for (const { what, change, found } of promised) {
      const again = await inCase(bench, cuts, change, 'CIC');
      expect(again.verdict, what).toBe('fits');
      expect(again.found, what).toBeGreaterThanOrEqual(found - 0.03);
    }
    // One step less of what is told to be the least was judged too.
    for (const s of missing?.shifts ?? []) if (s.enough) expect(s.short).toBeLessThan(s.enough.by);
    for (const line of missing?.lines ?? []) expect(line).not.toMatch(/NaN|undefined|Infinity/);
  });
});
