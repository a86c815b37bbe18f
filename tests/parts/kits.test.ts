import { describe, expect, test } from 'vitest';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { cellPart, receiverPart } from '../../src/parts/catalogue.ts';
import { CELLS, kitFor, RULES, STYLE_TABLE, styleNamed } from '../../src/parts/index.ts';

const kit = (style: Parameters<typeof styleNamed>[0], order = {}) => kitFor(styleNamed(style), { ...DEFAULT_ORDER, ...order }, RULES);
const ids = (style: Parameters<typeof styleNamed>[0], order = {}): string[] => {
  const k = kit(style, order);
  return k.kind === 'kit' ? k.kit.parts.map((p) => p.id) : [k.text];
};

describe('cells are the standard maxima', () => {
  // IEC 60086-2 maxima: PR41 7.9 x 3.6 and PR48 7.9 x 5.4 (Linden's Handbook of Batteries, table 4.9a, rows R41 and R48);
  // PR70 5.8 x 3.6: from memory, its row was not seen.
  test.each([
    ['10', 'PR70', 5.8, 3.6],
    ['312', 'PR41', 7.9, 3.6],
    ['13', 'PR48', 7.9, 5.4],
  ] as const)('%s is %s, %f x %f', (size, iec, diameter, height) => {
    expect(CELLS[size]).toMatchObject({ iec, diameter, height });
  });

  test('the drawer adds to the cell on every side and never takes away', () => {
    for (const size of ['10', '312', '13'] as const) {
      const drawer = cellPart(size).primitives[0];
      expect(drawer?.size[0]).toBeGreaterThan(CELLS[size].diameter);
      expect(drawer?.size[2]).toBeGreaterThan(CELLS[size].height);
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

  test('a receiver is hung in its suspension and its spout ends where its seat says', () => {
    const r = receiverPart('medium', 0.25);
    const spout = r.primitives[1];
    expect(r.margin).toBe(0.25);
    expect(r.seat).toMatchObject({ at: 'tip', spout: [0, 0, (spout?.position[2] ?? 0) + (spout?.size[2] ?? 0) / 2] });
  });
});
