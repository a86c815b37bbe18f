/** The drawings of parts: exact geometry of boxes and cylinders, and the cell's standard diameter with its drawer. */
import { expect, test } from 'vitest';
import type { Part, Primitive } from '../../src/model/parts.ts';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { GENERIC, kitFor } from '../../src/parts/index.ts';
import { shadowOf } from '../../src/viewer/shadows.ts';

const part = (...primitives: Primitive[]): Part => ({
  id: 'p',
  kind: 'chip',
  name: 'P',
  primitives,
  seat: { at: 'free' },
  margin: 0,
  source: '',
});
const upright: Primitive['quaternion'] = [0, 0, 0, 1];
const area = (loop: Float64Array): number => {
  let twice = 0;
  for (let i = 0, j = loop.length - 2; i < loop.length; j = i, i += 2)
    twice += (loop[j] as number) * (loop[i + 1] as number) - (loop[i] as number) * (loop[j + 1] as number);
  return twice / 2;
};

test('a box and its service room: sizes are those of the solid, bounds of both', () => {
  const p = part(
    { shape: 'box', size: [2, 3, 4], position: [1, 0, 0], quaternion: upright, kind: 'solid' },
    { shape: 'box', size: [1, 1, 2], position: [0, 0, 5], quaternion: upright, kind: 'service' },
  );
  expect(shadowOf(p, 'side').size).toEqual([2, 4]);
  expect(shadowOf(p, 'top').size).toEqual([2, 3]);
  expect(shadowOf(p, 'side').bounds).toEqual([-0.5, 2, -2, 6]);
  expect(area(shadowOf(p, 'side').solid[0] as Float64Array)).toBeCloseTo(8, 12);
});

test('a cylinder from its end is a circle: area pi r^2 less what chords of 1/96 turn leave off', () => {
  const p = part({ shape: 'cylinder', size: [5, 5, 2], position: [0, 0, 0], quaternion: upright, kind: 'solid' });
  // A regular polygon of n corners: n/2 r^2 sin(2 pi / n).
  expect(area(shadowOf(p, 'top').solid[0] as Float64Array)).toBeCloseTo(48 * 6.25 * Math.sin(Math.PI / 48), 9);
  expect(area(shadowOf(p, 'side').solid[0] as Float64Array)).toBeCloseTo(10, 2);
});

test("a cell's drawing is at least as large as the standard's maximum (IEC 60086-2 PR41: 7.9 by 3.6 mm, Linden's Handbook, table 4.9a)", () => {
  const style = GENERIC.styles.find((s) => s.name === 'HS');
  if (!style) throw new Error('no half shell');
  const result = kitFor(style, DEFAULT_ORDER, GENERIC.rules);
  const cell = result.kind === 'kit' ? result.kit.parts.find((p) => p.kind === 'cell') : undefined;
  if (!cell) throw new Error('no cell');
  const sizes = [...shadowOf(cell, 'side').size, ...shadowOf(cell, 'top').size].sort((a, b) => b - a);
  expect(sizes[0]).toBeGreaterThanOrEqual(7.9);
  expect(sizes[3]).toBeGreaterThanOrEqual(3.6);
});
