/** Sections of solids whose cuts are known exactly: areas, perimeters, sense of turning, loops always closed. */
import { describe, expect, test } from 'vitest';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { outlineHolds, sectionOf } from '../../src/geometry/section.ts';
import { cross, dot, length, normalize, type Plane, type Point, pt } from '../../src/geometry/vec.ts';
import { ball, both, box, moved, octahedron, PLUG, plug, type Solid, torus, turnedOver } from '../support/solids.ts';

type P = Point<'scan'>;
const meshOf = (s: Solid): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flat()),
  indices: Uint32Array.from(s.triangles.flat()),
});
const at = (point: number[], normal: number[]): Plane<'scan'> => ({
  point: pt(...(point as [number, number, number])),
  normal: normalize(pt(...(normal as [number, number, number]))),
});
const areaIn = (m: Mesh<'scan'>, plane: Plane<'scan'>): number => sectionOf(m, plane).outlines.reduce((s, o) => s + o.area, 0);

describe('known cuts', () => {
  test('a box across: a rectangle, counter-clockwise round material', () => {
    const s = sectionOf(meshOf(box([0, 0, 0], [20, 16, 24])), at([1, 2, 10], [0, 0, 1]));
    expect(s.outlines).toHaveLength(1);
    expect(s.outlines[0]?.closed).toBe(true);
    expect(s.outlines[0]?.area).toBeCloseTo(320, 12);
    expect(s.outlines[0]?.perimeter).toBeCloseTo(72, 12);
    expect(areaIn(meshOf(box([0, 0, 0], [20, 16, 24])), at([1, 2, 10], [0, 0, -1]))).toBeCloseTo(320, 12);
  });

  test('a cube square to its diagonal: the regular hexagon, area 3 sqrt 3 / 4 of the side squared', () => {
    const area = areaIn(meshOf(box([0, 0, 0], [10, 10, 10])), at([5, 5, 5], [1, 1, 1]));
    expect(area).toBeCloseTo((3 * Math.sqrt(3) * 100) / 4, 9);
  });

  test('an octahedron at height h: a square of diagonal 2 (r - h)', () => {
    for (const h of [0.001, 1, 5, 9.5]) expect(areaIn(meshOf(octahedron(10)), at([0, 0, h], [0, 0, 1]))).toBeCloseTo(2 * (10 - h) ** 2, 9);
  });

  test('the plug at any height: the similar polygon between its levels', () => {
    const n = 24;
    for (let k = 0; k + 1 < PLUG.length; k++) {
      for (const s of [0.1, 0.5, 0.83]) {
        const [lo, hi] = [PLUG[k], PLUG[k + 1]] as [(typeof PLUG)[number], (typeof PLUG)[number]];
        const z = lo.z + s * (hi.z - lo.z);
        const f = lo.scale + s * (hi.scale - lo.scale);
        expect(areaIn(meshOf(plug(n)), at([0, 0, z], [0, 0, 1]))).toBeCloseTo((n / 2) * Math.sin((2 * Math.PI) / n) * 37.5 * f * f, 9);
      }
    }
  });

  test('a torus lengthwise: an annulus, the hole negative; across: two discs', () => {
    const m = meshOf(torus(10, 3, 180, 90));
    const flat = sectionOf(m, at([0, 0, 0.01], [0, 0, 1])).outlines;
    expect(flat.map((o) => Math.sign(o.area)).sort()).toEqual([-1, 1]);
    expect(Math.abs(flat.reduce((s, o) => s + o.area, 0) / (Math.PI * (169 - 49)) - 1)).toBeLessThan(0.002);
    const across = sectionOf(m, at([0.001, 0.002, 0], [0, 1, 0])).outlines;
    expect(across).toHaveLength(2);
    for (const o of across) expect(Math.abs(o.area / (Math.PI * 9) - 1)).toBeLessThan(0.002);
  });

  test('a hollow block: the cavity counts against it', () => {
    const hollow = both(
      box([0, 0, 0], [20, 16, 24]),
      moved(turnedOver(box([0, 0, 0], [12, 8, 12])), (p) => [(p[0] as number) + 4, (p[1] as number) + 4, (p[2] as number) + 6]),
    );
    expect(areaIn(meshOf(hollow), at([0, 0, 12], [0, 0, 1]))).toBeCloseTo(320 - 96, 12);
  });

  test('a plane that misses gives nothing', () => {
    expect(sectionOf(meshOf(octahedron(10)), at([0, 0, 11], [0, 0, 1])).outlines).toEqual([]);
  });
});

const randomPlane = (rng: Random): Plane<'scan'> =>
  at([rng.between(-4, 4), rng.between(-4, 4), rng.between(2, 18)], [rng.normal(), rng.normal(), rng.normal()]);

test('random planes: always closed, points in the plane, axes right-handed, first axis as asked', () => {
  const m = meshOf(plug());
  const rng = seeded(5);
  for (let i = 0; i < 200; i++) {
    const plane = randomPlane(rng);
    const wish: P = pt(rng.normal(), rng.normal(), rng.normal());
    const s = sectionOf(m, plane, wish);
    expect(length(s.u)).toBeCloseTo(1, 12);
    expect(dot(s.u, plane.normal)).toBeCloseTo(0, 12);
    expect(dot(s.u, wish)).toBeGreaterThanOrEqual(0);
    expect(dot(cross(s.u, s.v), plane.normal)).toBeCloseTo(1, 12);
    for (const o of s.outlines) expect(o.closed).toBe(true);
  }
});

test('planes through vertices, edges and faces: no tolerance, still closed', () => {
  for (const m of [meshOf(octahedron(10)), meshOf(box([0, 0, 0], [10, 10, 10])), meshOf(plug()), meshOf(ball(6, 3))]) {
    for (let v = 0; v < m.positions.length / 3; v++) {
      const point = [...m.positions.subarray(3 * v, 3 * v + 3)];
      for (const normal of [
        [0, 0, 1],
        [1, 0, 0],
        [1, 1, 0],
        [1, 1, 1],
      ]) {
        for (const o of sectionOf(m, at(point, normal)).outlines) expect(o.closed).toBe(true);
      }
    }
  }
});

test('slices add up to the volume (Cavalieri, Simpson on each level is exact for frusta)', () => {
  const m = meshOf(plug());
  let sum = 0;
  for (let k = 0; k + 1 < PLUG.length; k++) {
    const [lo, hi] = [PLUG[k]?.z ?? 0, PLUG[k + 1]?.z ?? 0];
    const e = 1e-9;
    const area = (z: number): number => areaIn(m, at([0, 0, z], [0, 0, 1]));
    sum += ((hi - lo) / 6) * (area(lo + e) + 4 * area((lo + hi) / 2) + area(hi - e));
  }
  expect(Math.abs(sum / 1 - volume(m))).toBeLessThan(1e-6);
});

function volume(m: Mesh<'scan'>): number {
  let six = 0;
  for (let t = 0; t < m.indices.length; t += 3) {
    const [a, b, c] = [0, 1, 2].map((k) =>
      pt<'scan'>(
        ...([...m.positions.subarray(3 * (m.indices[t + k] as number), 3 * (m.indices[t + k] as number) + 3)] as [number, number, number]),
      ),
    ) as [P, P, P];
    six += dot(a, cross(b, c));
  }
  return six / 6;
}

test('which points an outline goes round', () => {
  const [outline] = sectionOf(meshOf(box([0, 0, 0], [20, 16, 24])), at([0, 0, 12], [0, 0, 1]), pt(1, 0, 0)).outlines;
  if (!outline) throw new Error('no outline');
  expect(outlineHolds(outline, 10, 8)).toBe(true);
  for (const [u, v] of [
    [-1, 8],
    [21, 8],
    [10, -1],
    [10, 17],
  ] as const) {
    expect(outlineHolds(outline, u, v)).toBe(false);
  }
});

test('an open mesh gives open outlines, and says so', () => {
  const open = meshOf(plug());
  const cut: Mesh<'scan'> = { ...open, indices: open.indices.slice(6) };
  const s = sectionOf(cut, at([0, 0, 1], [0, 0, 1]));
  expect(s.outlines.some((o) => !o.closed)).toBe(true);
});
