import { describe, expect, test } from 'vitest';
import { pt } from '../../src/geometry/vec.ts';
import { someOf, thicknessAlong } from '../../src/ladder/explain.ts';
import type { Kit, Part } from '../../src/model/parts.ts';
import { CHIP, cellPart, microphonePart, PORTS } from '../../src/parts/catalogue.ts';

const rest = { position: pt<'ear'>(0, 0, 0), quaternion: [0, 0, 0, 1] } as const;

describe('thicknessAlong: chords of exact solids', () => {
  test('a box, straight and aslant: 3.6 mm, and 2.8 sqrt 2 along the diagonal of its 2.8 square', () => {
    expect(thicknessAlong(CHIP, rest, pt(-1.8, 0, 0), pt(1, 0, 0))).toBeCloseTo(3.6, 5);
    const cube: Part = { ...CHIP, primitives: [{ ...(CHIP.primitives[0] as Part['primitives'][number]), size: [2.8, 2.8, 2.8] }] };
    expect(thicknessAlong(cube, rest, pt(-1.4, -1.4, 0), pt(Math.SQRT1_2, Math.SQRT1_2, 0))).toBeCloseTo(2.8 * Math.SQRT2, 5);
  });

  test('a cell on edge: its diameter down, its height across', () => {
    const cell = cellPart('10');
    expect(thicknessAlong(cell, rest, pt(0, 0, 0), pt(0, 0, -1))).toBeCloseTo(6.1, 5);
    expect(thicknessAlong(cell, rest, pt(-1.95, 0, -3), pt(1, 0, 0))).toBeCloseTo(3.9, 5);
  });

  test('a line that only touches takes up nothing', () => {
    expect(thicknessAlong(CHIP, rest, pt(-1.8, 0, 0), pt(-1, 0, 0))).toBe(0);
  });
});

test('someOf keeps a pair rule only with both its parts', () => {
  const parts = [microphonePart('a', 'A', 'flat'), microphonePart('b', 'B', 'flat'), CHIP];
  const kit: Kit = { style: 'ITE', parts, pairRules: [{ rule: 'ports', front: 'a', rear: 'b', ...PORTS }] };
  expect(someOf(kit, ['a', 'b']).pairRules).toHaveLength(1);
  expect(someOf(kit, ['a', 'chip']).pairRules).toHaveLength(0);
  expect(someOf(kit, ['chip', 'a']).parts.map((p) => p.id)).toEqual(['a', 'chip']);
});
