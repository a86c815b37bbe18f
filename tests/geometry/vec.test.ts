/** Vectors, turns and poses against identities that hold exactly, and against matrices written out. */
import { describe, expect, test } from 'vitest';
import { areaOf, boundsOf, type Mesh, triangleCount, volumeOf } from '../../src/geometry/mesh.ts';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { compose, conjugate, multiply, place, quatBetween, quatFromAxes, rotate, unitQuat } from '../../src/geometry/rotation.ts';
import {
  add,
  addScaled,
  cross,
  distance,
  dot,
  heightOver,
  length,
  lerp,
  normalize,
  type Point,
  perpendicular,
  pointAt,
  pt,
  type Quat,
  scale,
  sub,
  type Vec3,
} from '../../src/geometry/vec.ts';
import { ball, box, moved, octahedron, plug, plugVolume, type Solid, torus } from '../support/solids.ts';

type P = Point<'scan'>;
const random = (rng: Random): P => pt(rng.between(-5, 5), rng.between(-5, 5), rng.between(-5, 5));
const randomTurn = (rng: Random): Quat => unitQuat([rng.normal(), rng.normal(), rng.normal(), rng.normal()]);
const near = (a: Vec3, b: Vec3, within = 1e-12): void => expect(distance(a, b)).toBeLessThan(within);
const each = (n: number, body: (rng: Random) => void): void => {
  for (let seed = 1; seed <= n; seed++) body(seeded(seed));
};

describe('vectors', () => {
  test('cross product: square to both, right-handed, length = area', () => {
    near(cross(pt(1, 0, 0), pt(0, 1, 0)), [0, 0, 1]);
    near(cross(pt(0, 1, 0), pt(0, 0, 1)), [1, 0, 0]);
    each(200, (rng) => {
      const [a, b] = [random(rng), random(rng)];
      const c = cross(a, b);
      expect(Math.abs(dot(a, c))).toBeLessThan(1e-12);
      expect(Math.abs(dot(b, c))).toBeLessThan(1e-12);
      // Lagrange's identity.
      expect(dot(c, c)).toBeCloseTo(dot(a, a) * dot(b, b) - dot(a, b) * dot(a, b), 8);
    });
  });
  test('sums, scales, mixtures', () => {
    each(50, (rng) => {
      const [a, b] = [random(rng), random(rng)];
      near(sub(add(a, b), b), a);
      near(addScaled(a, b, 2), add(a, scale(b, 2)));
      near(lerp(a, b, 0), a);
      near(lerp(a, b, 1), b);
      expect(distance(a, b)).toBeCloseTo(length(sub(a, b)), 14);
    });
    near(pointAt(Float64Array.of(9, 9, 9, 1, 2, 3), 1), [1, 2, 3]);
  });
  test('unit vectors; a zero vector gives one, not NaN', () => {
    each(100, (rng) => {
      const n = normalize(random(rng));
      expect(length(n)).toBeCloseTo(1, 14);
      const p = perpendicular(n);
      expect(length(p)).toBeCloseTo(1, 14);
      expect(Math.abs(dot(n, p))).toBeLessThan(1e-14);
    });
    expect(normalize(pt<'scan'>(0, 0, 0))).toEqual([0, 0, 1]);
    for (const n of [pt<'scan'>(1, 0, 0), pt<'scan'>(0, 1, 0), pt<'scan'>(0, 0, 1)]) expect(dot(n, perpendicular(n))).toBe(0);
  });
  test('height over a plane is negative on the side that is kept', () => {
    const plane = { point: pt<'scan'>(0, 0, 2), normal: pt<'scan'>(0, 0, 1) };
    expect(heightOver(plane, pt(7, -3, 5))).toBe(3);
    expect(heightOver(plane, pt(7, -3, 0))).toBe(-2);
  });
});

describe('turns', () => {
  test('a quarter turn about each axis', () => {
    const h = Math.SQRT1_2;
    near(rotate([0, 0, h, h], [1, 0, 0]), [0, 1, 0]);
    near(rotate([h, 0, 0, h], [0, 1, 0]), [0, 0, 1]);
    near(rotate([0, h, 0, h], [0, 0, 1]), [1, 0, 0]);
  });
  test('keep lengths and angles, undo each other, multiply as said', () => {
    each(200, (rng) => {
      const [q, r, a, b] = [randomTurn(rng), randomTurn(rng), random(rng), random(rng)];
      expect(length(rotate(q, a))).toBeCloseTo(length(a), 12);
      expect(dot(rotate(q, a), rotate(q, b))).toBeCloseTo(dot(a, b), 11);
      near(rotate(conjugate(q), rotate(q, a)), a);
      near(rotate(multiply(q, r), a), rotate(q, rotate(r, a)));
      // Right-handed: turning commutes with the cross product.
      near(rotate(q, cross(a, b)), cross(pt(...rotate(q, a)), pt(...rotate(q, b))), 1e-11);
    });
  });
  test('from axes and back, in all four branches', () => {
    each(400, (rng) => {
      const q = randomTurn(rng);
      const r = quatFromAxes(rotate(q, [1, 0, 0]), rotate(q, [0, 1, 0]), rotate(q, [0, 0, 1]));
      // q and -q are the same turn.
      expect(Math.abs(q[0] * r[0] + q[1] * r[1] + q[2] * r[2] + q[3] * r[3])).toBeCloseTo(1, 12);
    });
    for (const half of [
      [1, 0, 0, 0],
      [0, 1, 0, 0],
      [0, 0, 1, 0],
    ] as Quat[]) {
      const r = quatFromAxes(rotate(half, [1, 0, 0]), rotate(half, [0, 1, 0]), rotate(half, [0, 0, 1]));
      near(rotate(r, [1, 2, 3]), rotate(half, [1, 2, 3]));
    }
  });
  test('the shortest turn from one direction to another, opposite ones too', () => {
    each(200, (rng) => {
      const a = normalize(random(rng));
      const b = rng.below(4) === 0 ? scale(a, -1) : normalize(random(rng));
      const q = quatBetween(a, b);
      near(rotate(q, a), b, 1e-6);
      expect(Math.abs(length([q[0], q[1], q[2]]) ** 2 + q[3] * q[3] - 1)).toBeLessThan(1e-12);
      // Shortest: by the angle between them, cos(angle / 2) = w.
      expect(q[3]).toBeCloseTo(Math.sqrt(Math.max(0, (1 + dot(a, b)) / 2)), 6);
    });
    near(rotate(quatBetween([0, 0, 1], [0, 0, -1]), [0, 0, 1]), [0, 0, -1]);
  });
  test('poses: place, then compose', () => {
    each(100, (rng) => {
      const outer = { position: random(rng), quaternion: randomTurn(rng) };
      const inner = { position: random(rng), quaternion: randomTurn(rng) };
      const p = random(rng);
      near(place(compose(outer, inner), p), place(outer, place(inner as typeof outer, p)), 1e-11);
    });
  });
});

const meshOf = (s: Solid): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flat()),
  indices: Uint32Array.from(s.triangles.flat()),
});

describe('meshes of known size', () => {
  test('volume and area: box, octahedron, frusta, and far away', () => {
    expect(volumeOf(meshOf(box([1, 2, 3], [4, 6, 8])))).toBeCloseTo(60, 12);
    expect(areaOf(meshOf(box([1, 2, 3], [4, 6, 8])))).toBeCloseTo(94, 12);
    expect(volumeOf(meshOf(octahedron(3)))).toBeCloseTo(36, 12);
    expect(areaOf(meshOf(octahedron(3)))).toBeCloseTo(36 * Math.sqrt(3), 12);
    expect(volumeOf(meshOf(plug()))).toBeCloseTo(plugVolume(), 9);
    const far = moved(box([0, 0, 0], [4, 4, 4]), (p) => p.map((c) => c + 2 ** 30));
    expect(volumeOf(meshOf(far))).toBe(64);
  });
  test('a ball and a torus approach 4/3 pi r³ and 2 pi² R r² from below, error falling with the square of the step', () => {
    const ballError = [3, 4, 5].map((d) => (4 / 3) * Math.PI * 1000 - volumeOf(meshOf(ball(10, d))));
    const torusError = [20, 40, 80].map((n) => 2 * Math.PI ** 2 * 10 * 9 - volumeOf(meshOf(torus(10, 3, n, n))));
    for (const [a, b, c] of [ballError, torusError] as [number, number, number][]) {
      expect(c).toBeGreaterThan(0);
      expect(Math.abs(a / b - 4)).toBeLessThan(0.2);
      expect(Math.abs(b / c - 4)).toBeLessThan(0.1);
    }
  });
  test('bounds and counts', () => {
    expect(boundsOf(meshOf(box([1, -2, 3], [4, 6, 8])).positions)).toEqual({ min: [1, -2, 3], max: [4, 6, 8] });
    expect(boundsOf(new Float64Array())).toEqual({ min: [0, 0, 0], max: [0, 0, 0] });
    expect(triangleCount(meshOf(octahedron(1)))).toBe(8);
    expect(volumeOf({ frame: 'scan', positions: new Float64Array(), indices: new Uint32Array() })).toBe(0);
  });
});
