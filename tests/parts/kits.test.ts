import { describe, expect, test } from 'vitest';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { GENERIC_FILE, IEC_CELLS, kitFor, RULES, STYLE_TABLE, styleNamed } from '../../src/parts/index.ts';

const kit = (style: Parameters<typeof styleNamed>[0], order = {}) => kitFor(styleNamed(style), { ...DEFAULT_ORDER, ...order }, RULES);
const ids = (style: Parameters<typeof styleNamed>[0], order = {}): string[] => {
  const k = kit(style, order);
  return k.kind === 'kit' ? k.kit.parts.map((p) => p.id) : [k.text];
};

describe('cells are the standard maxima', () => {
  // IEC 60086-2 maxima, diameter x height: PR41 7.9 x 3.6, PR48 7.9 x 5.4, PR44 11.6 x 5.4 (Linden's Handbook of Batteries, table 4.9a, rows
  // R41, R48 and R44); PR70 5.8 x 3.6: from memory, its row was not seen.
  test.each([
    ['PR70', 5.8, 3.6],
    ['PR41', 7.9, 3.6],
    ['PR48', 7.9, 5.4],
    ['PR44', 11.6, 5.4],
  ] as const)('%s, %f x %f', (iec, diameter, height) => {
    expect(IEC_CELLS[iec]).toMatchObject({ diameter, height });
  });

  test('every drawer of ours adds to its cell on every side and never takes away', () => {
    const cells = (GENERIC_FILE.parts ?? []).filter((p) => p.kind === 'cell');
    expect(cells.length).toBeGreaterThanOrEqual(5);
    for (const { id, holds, primitives } of cells) {
      const iec = IEC_CELLS[holds?.cell ?? ''];
      expect(holds, id).toMatchObject({ diameter: iec?.diameter, height: iec?.height });
      expect(primitives[0]?.size[0], id).toBeCloseTo((iec?.diameter ?? 0) + 0.3, 9);
      expect(primitives[0]?.size[2], id).toBeCloseTo((iec?.height ?? 0) + 0.3, 9);
      expect(primitives[0]?.along, id).toBe('x'); // on edge
      // Its hinge fills a corner beside the round cell, within the square that holds it.
      const [hinge] = primitives.filter((p) => p.position?.[1] !== undefined && p.position[1] < 0);
      const [half, wide] = [(primitives[0]?.size[0] ?? 0) / 2, hinge?.size[1] ?? 0];
      expect((hinge?.position?.[1] ?? 0) - wide / 2, id).toBeCloseTo(-half, 6);
      expect((hinge?.position?.[2] ?? 0) + wide / 2, id).toBeCloseTo(0, 6);
    }
  });
});

describe('kits', () => {
  test('an IIC carries one microphone, no controls, and a removal cord', () => {
    expect(ids('IIC')).toEqual(['cell', 'receiver', 'chip', 'microphone', 'removal-cord']);
  });

  test('two microphones when ordered or when the style always has two', () => {
    expect(ids('ITC')).toEqual(['cell', 'receiver', 'chip', 'microphone']);
    expect(ids('ITC', { microphones: 2 })).toEqual(['cell', 'receiver', 'chip', 'front-microphone', 'rear-microphone']);
    expect(ids('ITE')).toContain('rear-microphone');
  });

  test('a wish that a style cannot carry rules it out in words', () => {
    expect(kit('IIC', { pushButton: true })).toMatchObject({ kind: 'excluded', text: expect.stringContaining('push button') });
    expect(kit('CIC', { microphones: 2 })).toMatchObject({ kind: 'excluded', text: expect.stringContaining('two microphones') });
    expect(kit('ITC', { receiver: 'extra-large' })).toMatchObject({ kind: 'excluded', text: expect.stringContaining('extra-large') });
    expect(kit('ITE', { receiver: 'extra-large', pushButton: true, volumeWheel: true, telecoil: true, radio: true }).kind).toBe('kit');
  });

  test('the ports rule is 4-12 mm within 20 degrees (common practice, no published source)', () => {
    const k = kit('HS');
    expect(k.kind === 'kit' && k.kit.pairRules[0]).toMatchObject({ least: 4, most: 12, tilt: (20 * Math.PI) / 180 });
  });

  test('every part says where its sizes come from, and mirrors onto itself about x = 0', () => {
    for (const style of STYLE_TABLE) {
      const k = kitFor(style, { ...DEFAULT_ORDER, microphones: 1 }, RULES);
      if (k.kind !== 'kit') throw new Error(k.text);
      for (const part of k.kit.parts) {
        expect(part.source).not.toBe('');
        for (const p of part.primitives) expect(p.position[0]).toBeCloseTo(0, 12);
      }
    }
  });

  test('a receiver is hung in the suspension that the rules ask for, and its spout ends where its seat says', () => {
    for (const receiver of ['small', 'medium', 'large', 'extra-large'] as const) {
      const k = kitFor(styleNamed('ITE'), { ...DEFAULT_ORDER, receiver }, { ...RULES, suspension: 0.31 });
      const r = k.kind === 'kit' ? k.kit.parts[1] : undefined;
      const [body, spout] = r?.primitives ?? [];
      expect(r).toMatchObject({ id: 'receiver', margin: 0.31 });
      expect(r?.seat).toMatchObject({ at: 'tip', cone: (30 * Math.PI) / 180 });
      const end = (spout?.position[2] ?? 0) + (spout?.size[2] ?? 0) / 2;
      expect(r?.seat.at === 'tip' && r.seat.spout[2]).toBeCloseTo(end, 9);
      expect((spout?.position[2] ?? 0) - (spout?.size[2] ?? 0) / 2).toBeCloseTo((body?.size[2] ?? 0) / 2, 9);
    }
  });

  test('a rechargeable cell takes the place of the cell where the style has one, and rules the style out where not', () => {
    const ite = kit('ITE', { rechargeable: true });
    expect(ite.kind === 'kit' && ite.kit.parts[0]).toMatchObject({ id: 'cell', name: 'Rechargeable 13' });
    expect(kit('IIC', { rechargeable: true })).toEqual({
      kind: 'excluded',
      text: 'the order asks for a rechargeable cell; this style carries none',
    });
  });

  test('an order may name one of the parts that a style offers, and no other', () => {
    const hs = kit('HS', { parts: { cell: 'cell-13' } });
    expect(hs.kind === 'kit' && hs.kit.parts[0]).toMatchObject({ id: 'cell', name: 'Battery 13' });
    expect(kit('IIC', { parts: { cell: 'cell-13' } })).toMatchObject({
      text: 'the order asks for the part cell-13; this style takes cell-10',
    });
    expect(kit('ITE', { parts: { telecoil: 'telecoil' } })).toMatchObject({
      kind: 'excluded',
      text: expect.stringContaining('no telecoil for this order'),
    });
    expect(kit('ITE', { telecoil: true, parts: { telecoil: 'telecoil' } }).kind).toBe('kit');
    expect(kit('ITE', { rechargeable: true, parts: { cell: 'cell-13' } })).toMatchObject({
      text: expect.stringContaining('which is none'),
    });
  });

  test('ids are unique in every kit', () => {
    const all = { pushButton: true, telecoil: true };
    for (const { name } of STYLE_TABLE) {
      const found = ids(name, name === 'ITC' || name === 'HS' || name === 'ITE' ? all : {});
      expect(new Set(found).size).toBe(found.length);
      expect(found.length).toBeGreaterThan(4);
    }
  });
});
