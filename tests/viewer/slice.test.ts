import { describe, expect, test } from 'vitest';
import type { Outline } from '../../src/geometry/section.ts';
import { pt } from '../../src/geometry/vec.ts';
import { between, toWall } from '../../src/viewer/flat.ts';
import { contour, sliceAt, widthsOf } from '../../src/viewer/slice.ts';
import { depthNear, planeAt } from '../../src/viewer/station.ts';
import { check } from '../support/standin.ts';

const outline = (...points: number[]): Outline => ({ points: Float64Array.from(points), closed: true, area: 1, perimeter: 1 });
const square = (x: number, y: number, half: number): Outline =>
  outline(x - half, y - half, x + half, y - half, x + half, y + half, x - half, y + half);

describe('distances in a plane', () => {
  test('square in square: the gap on the nearer side (exact geometry)', () => {
    expect(toWall([square(0.5, 0, 1)], [square(0, 0, 3)])?.distance).toBeCloseTo(1.5, 12);
  });
  test('a corner of the wall that points inward is found, not only the part’s own corners', () => {
    const notch = outline(-3, -3, 3, -3, 3, 3, 0, 1.25, -3, 3);
    expect(toWall([square(0, 0, 1)], [notch])?.distance).toBeCloseTo(0.25, 12);
  });
  test('what sticks out counts below zero, by how far', () => {
    expect(toWall([square(2.5, 0, 1)], [square(0, 0, 3)])?.distance).toBeCloseTo(-0.5, 12);
  });
  test('two parts: apart, and one into the other', () => {
    expect(between([square(0, 0, 1)], [square(3, 0, 1)])?.distance).toBeCloseTo(1, 12);
    expect(between([square(0, 0, 1)], [square(1.75, 0.5, 1)])?.distance).toBeCloseTo(-0.25, 12);
  });
  test('widths of a rectangle 6 by 2: the least is 2, the largest its diagonal (within the 2 degree steps)', () => {
    const { major, minor } = widthsOf(outline(-3, -1, 3, -1, 3, 1, -3, 1));
    expect(minor).toBeCloseTo(2, 9);
    expect(major).toBeGreaterThan(Math.sqrt(40) * Math.cos(Math.PI / 180));
    expect(major).toBeLessThanOrEqual(Math.sqrt(40));
  });
});

test('contour of the distance to a circle of radius 3, at 1 mm inside, is a circle of radius 2', () => {
  const field = new Float64Array(61 * 61);
  for (let row = 0; row < 61; row++)
    for (let col = 0; col < 61; col++) field[row * 61 + col] = 3 - Math.hypot((col - 30) * 0.15, (row - 30) * 0.15) - 1;
  const [only, ...none] = contour(field, 61, 61, -4.5, -4.5, 0.15);
  expect(none).toHaveLength(0);
  expect(only?.area).toBeCloseTo(Math.PI * 4, 1);
  const radii = Array.from({ length: (only?.points.length ?? 0) / 2 }, (_, i) =>
    Math.hypot(only?.points[2 * i] as number, only?.points[2 * i + 1] as number),
  );
  expect(Math.min(...radii)).toBeGreaterThan(1.995);
  expect(Math.max(...radii)).toBeLessThan(2.001);
});

describe('a section of the stand-in case', async () => {
  const { ear, rungs, rules } = await check({ bytes: new Uint8Array(84), name: 'a-right.stl' });
  const rung = rungs.find((r) => r.style === 'ITC');
  const thing = { ear, body: rung?.body, kit: rung?.kit, arrangement: rung?.arrangement, rules };

  test('the plane looks medially: its normal is lateral, its first axis anterior, its second superior', () => {
    const { plane, u } = planeAt(ear.centreline, 2);
    expect(plane.normal[2]).toBeGreaterThan(0.9);
    expect(u[0]).toBeGreaterThan(0.9);
    expect(depthNear(ear.centreline, plane.point)).toBeCloseTo(2, 6);
  });

  test('body and cast coincide within the canal, and the room keeps the wall from the outline', () => {
    const slice = sliceAt(thing, 5);
    expect(slice.body).toHaveLength(1);
    expect(slice.body[0]?.area).toBeCloseTo(slice.cast[0]?.area as number, 6);
    const room = slice.room[0] as Outline;
    const gap = toWall([room], slice.body)?.distance as number;
    // In-plane the wall reads no less than it is in space, and hardly more where the canal runs straight.
    expect(gap).toBeGreaterThan(rules.wall - 0.02);
    expect(gap).toBeLessThan(rules.wall + 0.15);
  });

  test('outside the body there is no room and no part', () => {
    const slice = sliceAt(thing, 17);
    expect([slice.body, slice.room, slice.parts].map((l) => l.length)).toEqual([0, 0, 0]);
  });

  test('the receiver is cut through where it lies', () => {
    const at = rung?.arrangement?.poses[1]?.position ?? pt<'ear'>(0, 0, 0);
    const slice = sliceAt(thing, depthNear(ear.centreline, at));
    const cut = slice.parts.find((p) => p.part.id === 'receiver');
    // A box 1.9 by 2.7 along z, cut nearly square to z: its area over the cosine of a few degrees.
    expect(cut?.solid[0]?.area).toBeGreaterThan(1.9 * 2.7 - 1e-9);
    expect(cut?.solid[0]?.area).toBeLessThan(1.9 * 2.7 * 1.1);
    expect(slice.wall?.distance).toBeGreaterThan(0);
  });
});
