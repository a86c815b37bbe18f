import { describe, expect, test } from 'vitest';
import type { OrderRequest, Thresholds } from '../../src/model/order.ts';
import { CELL_CAUTION, DEFAULT_ORDER, needLines, needsOf, REFERRAL_SIGNS } from '../../src/order/index.ts';
import { GENERIC, kitFor, readCatalogue } from '../../src/parts/index.ts';

const flat = (db: number): Thresholds => ({ 250: db, 500: db, 1000: db, 2000: db, 3000: db, 4000: db });
const settle = (said: OrderRequest) => needsOf(said, GENERIC);
const hearing = (db: number, rest: OrderRequest = {}) => settle({ hearing: { air: flat(db) }, ...rest });
const told = (s: ReturnType<typeof settle>, code: string) => s.needs.find((n) => n.code === code);

describe('an order is settled', () => {
  test('one that says nothing asks for nothing', () => {
    expect(settle({})).toEqual({ order: DEFAULT_ORDER, needs: [] });
  });

  test('one that is whole stands as it is', () => {
    const whole = {
      ...DEFAULT_ORDER,
      side: 'left',
      receiver: 'large',
      microphones: 2,
      telecoil: true,
      parts: { cell: 'cell-13' },
    } as const;
    expect(settle(whole).order).toEqual(whole);
    expect(settle(whole).needs.map((n) => n.code)).toEqual(['order/microphones', 'order/telecoil']);
  });

  test('directional hearing takes two microphones', () => {
    const s = settle({ directional: true });
    expect(s.order).toEqual({ ...DEFAULT_ORDER, microphones: 2 });
    expect(told(s, 'order/microphones')?.text).toContain('directional');
  });

  // Classes: common practice, no published source; each limit belongs to its class.
  test.each([
    [0, 'small'],
    [60, 'small'],
    [60.1, 'medium'],
    [70, 'medium'],
    [75, 'large'],
    [80, 'large'],
    [85, 'extra-large'],
    [90, 'extra-large'],
    [91, 'extra-large'],
  ] as const)('an average of %f dB HL takes a receiver of size %s', (db, receiver) => {
    const s = hearing(db);
    expect(s.order.receiver).toBe(receiver);
    expect(told(s, 'order/receiver')).toMatchObject({ level: 'need', text: expect.stringContaining(receiver) });
    expect(told(s, 'order/receiver')?.source).toContain('common practice');
    expect(told(s, 'order/receiver-beyond') !== undefined).toBe(db > 90);
  });

  test('what the order says outright wins; a warning where the hearing asks for more', () => {
    const less = hearing(75, { receiver: 'small' });
    expect(less.order.receiver).toBe('small');
    expect(told(less, 'order/receiver-below-need')).toMatchObject({
      level: 'warning',
      text: 'the order says a receiver of size small; an average loss of 75 dB HL asks for size large',
    });
    const more = hearing(30, { receiver: 'large' });
    expect(more.order.receiver).toBe('large');
    expect(more.needs.some((n) => n.level === 'warning' && n.code.startsWith('order/receiver'))).toBe(false);
  });

  test("the classes are the catalogue's: another file settles otherwise, with no change of code", () => {
    const own = readCatalogue(
      JSON.stringify({
        format: 'cavum-catalogue',
        version: 1,
        name: 'own',
        extends: 'generic',
        receiverClasses: {
          classes: [
            { size: 'small', upTo: 30 },
            { size: 'medium', upTo: 50 },
          ],
          source: 'our own',
        },
        vents: { classes: [{ diameter: 1.2, upTo: 130 }], source: 'our own' },
      }),
      'own.json',
    );
    const s = needsOf({ hearing: { air: flat(45) } }, own);
    expect(s.order.receiver).toBe('medium');
    expect(told(s, 'order/receiver')?.source).toBe('our own');
    expect(told(s, 'order/vent')?.text).toContain('a vent of 1.2 mm');
  });

  test('more loss never takes a smaller receiver', () => {
    const rank = ['small', 'medium', 'large', 'extra-large'];
    let last = 0;
    for (let db = -10; db <= 130; db++) {
      const now = rank.indexOf(hearing(db).order.receiver);
      expect(now).toBeGreaterThanOrEqual(last);
      last = now;
    }
    expect(last).toBe(3);
  });
});

describe('what is told beside it', () => {
  test('the figures of the hearing, with their sources', () => {
    const s = settle({ hearing: { air: { 250: 20, 500: 30, 1000: 40, 2000: 50, 4000: 65 }, how: 'headphones' } });
    const note = told(s, 'order/hearing');
    expect(note?.text).toContain('46.3 dB HL (headphones): moderate');
    expect(note?.source).toMatch(/WHO.*2021.*Clark 1981/);
    expect(told(s, 'order/gain')?.text).toContain('7, 19, 21, 24 dB'); // 7.3, 19.4, 20.5, 24.15 by the formula of Byrne & Dillon 1986
    expect(told(hearing(80), 'order/gain')?.source).toBe('Byrne, Parkinson & Newall 1991');
    expect(told(s, 'order/vent')?.text).toBe(
      'a vent of 2 mm is usual for a loss of 25 dB HL at 250 and 500 Hz; 15 mm long into 0.6 cm³ it resonates at about 970 Hz. It is placed where the order asks for it',
    );
  });

  test('a vent that the order says is a need, beside the usual one; none said is none', () => {
    const air = { 250: 20, 500: 30, 1000: 40, 2000: 50, 4000: 65 };
    expect(told(settle({ vent: 1.5, hearing: { air } }), 'order/vent')).toMatchObject({
      level: 'need',
      text: 'a vent of 1.5 mm: 15 mm long into 0.6 cm³ it resonates at about 730 Hz; a vent of 2 mm is usual for a loss of 25 dB HL at 250 and 500 Hz',
    });
    expect(told(settle({ vent: 2, hearing: { air } }), 'order/vent')?.text).not.toContain('usual');
    expect(told(settle({ vent: 0.8 }), 'order/vent')?.level).toBe('need');
    expect(told(settle({ vent: 0, hearing: { air } }), 'order/vent')?.text).toMatch(/^no vent, as the order says; a vent of 2 mm is usual/);
    expect(settle({ vent: 1.5 }).order.vent).toBe(1.5);
    expect(told(settle({}), 'order/vent')).toBeUndefined();
  });

  test('a wide vent and much gain: said only where both meet', () => {
    const steep: Thresholds = { 250: 10, 500: 15, 1000: 50, 2000: 80, 3000: 90, 4000: 95 };
    expect(told(settle({ hearing: { air: steep } }), 'order/vent-gain')).toMatchObject({
      level: 'warning',
      text: expect.stringContaining('vent of 3 mm'),
    });
    expect(told(hearing(20), 'order/vent-gain')).toBeUndefined();
    expect(told(settle({ hearing: { air: { ...steep, 250: 60, 500: 60 } } }), 'order/vent-gain')).toBeUndefined();
  });

  // 21 CFR 801.420(c)(3), 2008 text: an air-bone gap of 15 dB or more at 500, 1000 and 2000 Hz.
  test.each([
    [[15, 15, 15], true],
    [[15, 14, 20], false],
    [[30, 30, 30], true],
  ])('air-bone gaps of %j dB', (gaps, sign) => {
    const bone = { 500: 40 - (gaps[0] as number), 1000: 40 - (gaps[1] as number), 2000: 40 - (gaps[2] as number) };
    const warning = told(settle({ hearing: { air: flat(40), bone } }), 'order/air-bone-gap');
    expect(warning !== undefined).toBe(sign);
    if (warning) expect(warning.source).toContain('21 CFR 801.420');
  });
  test('a gap that was not measured at all three is not judged', () => {
    expect(told(settle({ hearing: { air: flat(40), bone: { 500: 0, 1000: 0 } } }), 'order/air-bone-gap')).toBeUndefined();
  });

  test('the least visible is wished for: a note, which the recommendation answers', () => {
    const s = settle({ leastVisible: true });
    expect(told(s, 'order/least-visible')).toMatchObject({ level: 'note', source: 'the order' });
    expect(told(settle({ leastVisible: false }), 'order/least-visible')).toBeUndefined();
    expect(s.order.leastVisible).toBe(true);
  });

  test('hands and wax', () => {
    const s = settle({ dexterity: 'poor', wax: 'much' });
    expect(s.needs.map((n) => n.code)).toEqual(['order/dexterity', 'order/wax']);
    expect(settle({ dexterity: 'good', wax: 'little' }).needs).toEqual([]);
  });

  test('every need and caution has words and a source, and a line for people', () => {
    const s = settle({
      ...DEFAULT_ORDER,
      hearing: { air: flat(95), bone: flat(50) },
      pushButton: true,
      volumeWheel: true,
      telecoil: true,
      radio: true,
      rechargeable: true,
      directional: true,
      dexterity: 'poor',
      wax: 'much',
    });
    expect(s.needs.length).toBeGreaterThan(12);
    for (const { text, source } of [...s.needs, ...REFERRAL_SIGNS, CELL_CAUTION]) {
      expect(text).toMatch(/\w/);
      expect(source).toMatch(/\w/);
      expect(text).not.toMatch(/NaN|undefined|Infinity/);
    }
    expect(new Set(s.needs.map((n) => n.code)).size).toBe(s.needs.length);
    expect(needLines(s.needs).filter((l) => l.startsWith('  ! '))).toHaveLength(s.needs.filter((n) => n.level === 'warning').length);
  });
});

test('a needed receiver that no kit of the style carries rules it out before any geometry, in words', () => {
  const iic = GENERIC.styles[0];
  if (!iic) throw new Error('no style');
  expect(kitFor(iic, hearing(30).order, GENERIC.rules).kind).toBe('kit');
  expect(kitFor(iic, hearing(75).order, GENERIC.rules)).toEqual({
    kind: 'excluded',
    text: 'the order asks for a receiver of size large; this style carries small',
  });
});
