/** The referee's own measures, against closed forms and dense sampling: who judges is judged first. */
import { describe, expect, test } from 'vitest';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { add, addScaled, cross, distance, dot, length, normalize, sub, type Vec3 } from '../../src/geometry/vec.ts';
import { cuboid } from '../support/referee-blocks.ts';
import { pieceAtTip } from '../support/referee-piece.ts';
import {
  clip,
  distanceTo,
  FINE,
  goesRound,
  lids,
  middleOfRing,
  ringsOf,
  surfaceOf,
  type Triangle,
  windingAt,
} from '../support/referee-scan.ts';
import {
  axesOf,
  bottomOver,
  type Cut,
  type FourNumbers,
  farthest,
  gapOf,
  into,
  nearest,
  nearestBehind,
  outOf,
  over,
  type Solid,
  topBehind,
} from '../support/referee-solids.ts';
import { gapBehind } from '../support/referee-vent.ts';

const SHAPES = ['box', 'cylinder', 'capsule'] as const;

const vector = (r: Random, s: number): Vec3 => [r.between(-s, s), r.between(-s, s), r.between(-s, s)];

function turn(r: Random): FourNumbers {
  const q = [r.normal(), r.normal(), r.normal(), r.normal()] as const;
  const l = Math.sqrt(q.reduce((s, x) => s + x * x, 0));
  return [q[0] / l, q[1] / l, q[2] / l, q[3] / l];
}

function solid(r: Random, shape: Solid['shape'], at: Vec3): Solid {
  const d = r.between(0.8, 3);
  const size: Vec3 = shape === 'box' ? [d, r.between(0.8, 3), r.between(0.8, 4)] : [d, d, d + r.between(0.1, 3)];
  return { part: 'x', shape, size, kind: 'solid', at, axes: axesOf(turn(r)) };
}

/** Membership by the definition of the shapes, shared with nothing. */
function holds(s: Solid, p: Vec3): boolean {
  const [x, y, z] = into(s.axes, sub(p, s.at));
  const e = 1e-9;
  if (s.shape === 'box') return Math.abs(x) <= s.size[0] / 2 + e && Math.abs(y) <= s.size[1] / 2 + e && Math.abs(z) <= s.size[2] / 2 + e;
  const r = s.size[0] / 2;
  if (s.shape === 'cylinder') return x * x + y * y <= (r + e) ** 2 && Math.abs(z) <= s.size[2] / 2 + e;
  const over = Math.max(0, Math.abs(z) - (s.size[2] / 2 - r));
  return x * x + y * y + over * over <= (r + e) ** 2;
}

/** Points of a solid on a grid of 31 a side over its box, so its faces are among them. */
function points(s: Solid, n = 31): Vec3[] {
  const out: Vec3[] = [];
  const step = (k: number, i: number): number => (s.size[k] as number) * (i / (n - 1) - 0.5);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++)
      for (let k = 0; k < n; k++) {
        const p = add(s.at, outOf(s.axes, [step(0, i), step(1, j), step(2, k)]));
        if (holds(s, p)) out.push(p);
      }
  return out;
}
/** No point of a solid is farther from one of `points` than this. */
const spacing = (s: Solid, n = 31): number => (2 * length(s.size)) / (n - 1);

const least = (list: readonly Vec3[], of: (p: Vec3) => number): number => list.reduce((m, p) => Math.min(m, of(p)), Infinity);

describe.each(SHAPES)('a %s', (shape) => {
  test('its nearest and farthest points are its own, and none of its points is nearer or farther', () => {
    const r = seeded(11);
    for (let k = 0; k < 20; k++) {
      const s = solid(r, shape, vector(r, 3));
      const all = points(s);
      const p = vector(r, 7);
      const q = nearest(s, p);
      expect(holds(s, q)).toBe(true);
      const sampled = least(all, (x) => distance(x, p));
      expect(distance(q, p)).toBeLessThanOrEqual(sampled + 1e-9);
      expect(distance(q, p)).toBeGreaterThan(sampled - spacing(s));
      const d = normalize(vector(r, 1));
      const far = farthest(s, d);
      expect(holds(s, far)).toBe(true);
      expect(dot(d, far)).toBeGreaterThanOrEqual(-least(all, (x) => -dot(d, x)) - 1e-9);
    }
  });

  test('what of it lies behind a cut', () => {
    const r = seeded(12);
    let crossed = 0;
    for (let k = 0; k < 40; k++) {
      const s = solid(r, shape, vector(r, 1));
      const cut: Cut = { point: vector(r, 1), normal: normalize(vector(r, 1)) };
      const second: Cut = { point: vector(r, 1), normal: normalize(vector(r, 1)) };
      const all = points(s).filter((x) => over(cut, x) <= 0);
      const p = addScaled(vector(r, 3), cut.normal, 1);
      const q = nearestBehind(s, p, cut);
      if (!q) {
        expect(bottomOver(cut, s)).toBeGreaterThan(-1e-5);
        continue;
      }
      if (all.length === 0) continue;
      crossed++;
      expect(holds(s, q)).toBe(true);
      expect(over(cut, q)).toBeLessThan(1e-6);
      expect(distance(q, p)).toBeLessThanOrEqual(least(all, (x) => distance(x, p)) + 1e-6);
      const top = topBehind(second, cut, s);
      const sampled = -least(all, (x) => -over(second, x));
      expect(top).toBeGreaterThanOrEqual(sampled - 1e-6);
    }
    expect(crossed).toBeGreaterThan(15);
  });

  test('its distance to triangles, whole and behind a cut, brackets every point of theirs', () => {
    const r = seeded(13);
    for (let k = 0; k < 8; k++) {
      const s = solid(r, shape, vector(r, 1));
      const around = normalize(vector(r, 1));
      const triangles = Array.from({ length: 25 }, (): Triangle => {
        const at = add(addScaled(s.at, around, 4.5), vector(r, 1.5));
        return [add(at, vector(r, 1)), add(at, vector(r, 1)), add(at, vector(r, 1))];
      });
      const cut: Cut = { point: add(s.at, vector(r, 0.3)), normal: normalize(vector(r, 1)) };
      const n = 15;
      const sampled = triangles.flatMap(([a, b, c]) =>
        Array.from({ length: n * n }, (_, i) => [(i % n) / (n - 1), Math.floor(i / n) / (n - 1)] as const)
          .filter(([u, v]) => u + v <= 1)
          .map(([u, v]) => addScaled(addScaled(a, sub(b, a), u), sub(c, a), v)),
      );
      const whole = distanceTo(surfaceOf(triangles), s);
      const brute = least(sampled, (p) => distance(nearest(s, p), p));
      expect(whole.most - whole.least).toBeLessThanOrEqual(FINE + 1e-9);
      expect(whole.least).toBeLessThanOrEqual(brute + 1e-9);
      expect(whole.most).toBeGreaterThan(brute - 0.3); // sampled every 0.2 mm
      const part = distanceTo(surfaceOf(triangles), s, Infinity, cut);
      const bruteBehind = least(sampled, (p) => {
        const q = nearestBehind(s, p, cut);
        return q ? distance(q, p) : Infinity;
      });
      expect(part.least).toBeLessThanOrEqual(bruteBehind + 1e-9);
      expect(part.most).toBeGreaterThan(bruteBehind - 0.3);
      expect(part.most).toBeGreaterThanOrEqual(whole.least);
    }
  });

  test.each(SHAPES)('its gap to a %s brackets that of all their points', (other) => {
    const r = seeded(14);
    for (let k = 0; k < 8; k++) {
      const a = solid(r, shape, [0, 0, 0]);
      const b = solid(r, other, addScaled(vector(r, 0.5), normalize(vector(r, 1)), r.between(1, 6)));
      const gap = gapOf(a, b);
      const brute = least(points(a, 15), (p) => distance(nearest(b, p), p));
      expect(gap.least).toBeLessThanOrEqual(brute + 1e-9);
      expect(gap.most).toBeGreaterThan(brute - spacing(a, 15));
      if (gap.most > 1e-5) expect(gap.most - gap.least).toBeLessThan(FINE);
    }
  });
});

const upright = (shape: Solid['shape'], size: Vec3, at: Vec3): Solid => ({
  part: 'x',
  shape,
  size,
  kind: 'solid',
  at,
  axes: axesOf([0, 0, 0, 1]),
});

test('gaps that can be told by hand', () => {
  const box = upright('box', [2, 2, 2], [0, 0, 0]);
  const lying: Solid = { ...upright('cylinder', [2, 2, 6], [0, 0, 3]), axes: axesOf([Math.SQRT1_2, 0, 0, Math.SQRT1_2]) };
  const gaps: [Solid, Solid, number][] = [
    [box, upright('box', [2, 2, 2], [2.3, 0, 0]), 0.3], // face to face
    [box, upright('box', [2, 2, 2], [3, 4, 0]), Math.sqrt(1 + 4)], // edge to edge
    [box, upright('box', [2, 2, 2], [3, 4, 5]), Math.sqrt(1 + 4 + 9)], // corner to corner
    [box, upright('cylinder', [1, 1, 4], [2, 0, 0]), 0.5],
    [box, lying, 1], // 3 - 1 - 1
    [box, upright('capsule', [1, 1, 3], [0, 0, 4]), 1.5],
    [box, upright('box', [1, 1, 1], [1.2, 0, 0]), 0],
  ];
  for (const [a, b, is] of gaps) {
    expect(gapOf(a, b).most).toBeCloseTo(is, 4);
    expect(gapOf(b, a).least).toBeCloseTo(is, 4);
  }
});

test('how far a solid is from what of a tube lies behind a cut', () => {
  const r = seeded(16);
  let crossed = 0;
  for (let k = 0; k < 60; k++) {
    const tube = solid(r, 'capsule', vector(r, 0.5));
    const outer: Cut = { point: vector(r, 0.6), normal: normalize(vector(r, 1)) };
    const other = solid(r, SHAPES[k % 3] as Solid['shape'], addScaled(vector(r, 0.5), normalize(add(vector(r, 1), outer.normal)), 3.5));
    const behind = points(tube, 21).filter((p) => over(outer, p) <= 0);
    const gap = gapBehind(other, tube, outer, 10);
    if (bottomOver(outer, tube) >= 0) expect(gap).toBe(Infinity);
    if (behind.length < 30) continue;
    crossed += gap > gapOf(other, tube).most + 1e-3 ? 1 : 0;
    const brute = least(behind, (p) => distance(nearest(other, p), p));
    expect(gap).toBeLessThanOrEqual(brute + 1e-3);
    expect(gap).toBeGreaterThan(brute - spacing(tube, 21));
    expect(gap).toBeGreaterThanOrEqual(gapOf(other, tube).least);
  }
  expect(crossed).toBeGreaterThan(10);
});

test('inside and outside, with a face missing', () => {
  const open = cuboid([0, 0, 0], [4, 6, 8]).slice(2); // without its floor
  const closed = [...open, ...lids(open)];
  expect(windingAt(closed, [2, 3, 0.05])).toBeCloseTo(1, 9);
  expect(windingAt(closed, [2, 3, -0.05])).toBeCloseTo(0, 9);
  expect(windingAt(closed, [4.05, 3, 4])).toBeCloseTo(0, 9);
  expect(lids(closed)).toEqual([]);
});

test('a plane section has its ring, its area and its middle', () => {
  const cut: Cut = { point: [1, 1, 2.5], normal: [0, 0, 1] };
  const rings = ringsOf([...cuboid([0, 0, 0], [4, 6, 8]), ...cuboid([10, 0, 0], [12, 2, 8])], cut);
  expect(rings.length).toBe(2);
  const ring = rings.find((r) => goesRound(r, cut.point, cut.normal)) as Vec3[];
  const { area, at } = middleOfRing(ring, cut);
  expect(Math.abs(area)).toBeCloseTo(24, 9);
  expect(distance(at, [2, 3, 2.5])).toBeLessThan(1e-9);
});

test('what a cut takes from triangles and what it leaves make the whole', () => {
  const r = seeded(15);
  const area = (list: readonly Triangle[]): number => list.reduce((s, [a, b, c]) => s + length(cross(sub(b, a), sub(c, a))) / 2, 0);
  for (let k = 0; k < 50; k++) {
    const t: Triangle = [vector(r, 2), vector(r, 2), vector(r, 2)];
    const normal = normalize(vector(r, 1));
    const cut: Cut = { point: vector(r, 0.5), normal };
    const back: Cut = { point: cut.point, normal: [-normal[0], -normal[1], -normal[2]] };
    expect(area(clip(t, [cut])) + area(clip(t, [back]))).toBeCloseTo(area([t]), 9);
    for (const piece of clip(t, [cut])) for (const p of piece) expect(over(cut, p)).toBeLessThan(1e-9);
  }
});

test('a second piece behind the same cuts is not the body', () => {
  const cast = [...cuboid([0, 0, 0], [5, 5, 12]), ...cuboid([9, 0, 0], [13, 5, 12])];
  const tip: Cut = { point: [2.5, 2.5, 1], normal: [0, 0, -1] };
  const piece = pieceAtTip(cast, [tip, { point: [0, 0, 10], normal: [0, 0, 1] }], tip);
  expect(piece.holds([2, 3, 8])).toBe(true);
  expect(piece.holds([11, 3, 8])).toBe(false);
  expect(piece.holds([2, 3, 11.2])).toBe(false); // beyond the outer cut
});
