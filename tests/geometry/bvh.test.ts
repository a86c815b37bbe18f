/** The tree of triangles against looking at every triangle, and against distances known from exact geometry. */
import { describe, expect, test } from 'vitest';
import { closestOnTriangle, TriangleTree } from '../../src/geometry/bvh.ts';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { type Point, pt } from '../../src/geometry/vec.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { ball, box, moved, octahedron, plug, type Solid, torus } from '../support/solids.ts';

type P = Point<'scan'>;
const meshOf = (s: Solid): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flat()),
  indices: Uint32Array.from(s.triangles.flat()),
});
const corner = (m: Mesh<'scan'>, t: number, k: number): number[] => [
  ...m.positions.subarray(3 * (m.indices[3 * t + k] as number), 3 * (m.indices[3 * t + k] as number) + 3),
];
const norm = (a: readonly number[]): number => Math.sqrt(a.reduce((s, x) => s + x * x, 0));
const minus = (a: readonly number[], b: readonly number[]): number[] => a.map((x, k) => x - (b[k] as number));
const inner = (a: readonly number[], b: readonly number[]): number => a.reduce((s, x, k) => s + x * (b[k] as number), 0);
const outer = (a: readonly number[], b: readonly number[]): number[] => {
  const [ax, ay, az] = a as [number, number, number];
  const [bx, by, bz] = b as [number, number, number];
  return [ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx];
};

/** Distance from a point to a triangle the long way: inside its prism the height, else the nearest of its three sides. */
function slowDistance(p: readonly number[], a: number[], b: number[], c: number[]): number {
  const toSegment = (s: number[], e: number[]): number => {
    const d = minus(e, s);
    const t = Math.max(0, Math.min(1, inner(minus(p, s), d) / inner(d, d)));
    return norm(
      minus(
        p,
        s.map((x, k) => x + t * (d[k] as number)),
      ),
    );
  };
  const n = outer(minus(b, a), minus(c, a));
  const sides = [
    [a, b],
    [b, c],
    [c, a],
  ] as [number[], number[]][];
  const within = sides.every(([s, e]) => inner(outer(minus(e, s), minus(p, s)), n) >= 0);
  return within ? Math.abs(inner(minus(p, a), n)) / norm(n) : Math.min(...sides.map(([s, e]) => toSegment(s, e)));
}

/** Solid angle of the mesh at p over 4 pi (van Oosterom and Strackee 1983): 1 inside, 0 outside. No rays, no tree. */
function windingAt(m: Mesh<'scan'>, p: readonly number[]): number {
  let sum = 0;
  for (let t = 0; t < m.indices.length / 3; t++) {
    const [a, b, c] = [0, 1, 2].map((k) => minus(corner(m, t, k), p)) as [number[], number[], number[]];
    const [la, lb, lc] = [norm(a), norm(b), norm(c)];
    sum += 2 * Math.atan2(inner(a, outer(b, c)), la * lb * lc + inner(a, b) * lc + inner(b, c) * la + inner(c, a) * lb);
  }
  return sum / (4 * Math.PI);
}

const SOLIDS: [string, Mesh<'scan'>][] = [
  ['plug', meshOf(plug())],
  ['ball', meshOf(ball(6, 3))],
  ['torus', meshOf(torus(6, 2, 24, 12))],
  ['block of 12 triangles', meshOf(box([-3, -4, -5], [3, 4, 5]))],
  ['one triangle', { frame: 'scan', positions: Float64Array.of(0, 0, 0, 3, 0, 0, 0, 4, 1), indices: Uint32Array.of(0, 1, 2) }],
  ['far away', meshOf(moved(plug(12), (p) => p.map((c) => c + 1e5)))],
];

const probe = (m: Mesh<'scan'>, rng: Random): P => {
  const c = corner(m, rng.below(m.indices.length / 3), rng.below(3)) as [number, number, number];
  const reach = [0.01, 1, 8][rng.below(3)] as number;
  return pt(c[0] + rng.between(-reach, reach), c[1] + rng.between(-reach, reach), c[2] + rng.between(-reach, reach));
};

describe.each(SOLIDS)('%s', (name, mesh) => {
  const tree = new TriangleTree(mesh);
  const many = mesh.indices.length / 3;
  const slack = name === 'far away' ? 1e-6 : 1e-9;
  const slowNearest = (p: P): number => {
    let best = Infinity;
    for (let t = 0; t < many; t++) best = Math.min(best, slowDistance(p, corner(mesh, t, 0), corner(mesh, t, 1), corner(mesh, t, 2)));
    return best;
  };

  test('every triangle is in the tree once', () => {
    expect([...tree.order].sort((a, b) => a - b)).toEqual(Array.from({ length: many }, (_, i) => i));
  });

  test('the nearest point: distance as by hand, on its triangle, hints and limits change nothing', () => {
    const rng = seeded(1);
    for (let i = 0; i < 300; i++) {
      const p = probe(mesh, rng);
      const slow = slowNearest(p);
      const near = tree.nearest(p);
      expect(near).toBeDefined();
      if (!near) return;
      expect(Math.abs(near.distance - slow)).toBeLessThan(slack);
      expect(Math.abs(norm(minus(p, near.point)) - near.distance)).toBeLessThan(slack);
      expect(
        slowDistance(near.point, corner(mesh, near.triangle, 0), corner(mesh, near.triangle, 1), corner(mesh, near.triangle, 2)),
      ).toBeLessThan(slack);
      expect(tree.nearest(p, Infinity, rng.below(many))?.distance).toBe(near.distance);
      expect(tree.nearest(p, near.distance * 1.01 + 1e-9)?.distance).toBe(near.distance);
      if (near.distance > 1e-6) expect(tree.nearest(p, near.distance * 0.99)).toBeUndefined();
    }
  });

  test('triangles in a box: none missed, each whose own box meets it', () => {
    const rng = seeded(2);
    for (let i = 0; i < 100; i++) {
      const p = probe(mesh, rng);
      const size = rng.between(0, 3);
      const [lo, hi] = [p.map((c) => c - size), p.map((c) => c + size)] as [number, number, number][] as [
        [number, number, number],
        [number, number, number],
      ];
      const got: number[] = [];
      tree.inBox(lo, hi, (t) => got.push(t));
      const meets = (t: number): boolean =>
        [0, 1, 2].every((k) => {
          const xs = [0, 1, 2].map((v) => corner(mesh, t, v)[k] as number);
          return Math.min(...xs) <= (hi[k] as number) && Math.max(...xs) >= (lo[k] as number);
        });
      for (let t = 0; t < many; t++) if (meets(t)) expect(got).toContain(t);
      expect(new Set(got).size).toBe(got.length);
    }
  });

  if (many > 1) {
    test('inside or outside as by solid angles', () => {
      const rng = seeded(3);
      let inside = 0;
      for (let i = 0; i < 400; i++) {
        const p = probe(mesh, rng);
        if (slowNearest(p) < 1e-6) continue;
        const truth = windingAt(mesh, p) > 0.5;
        expect(tree.contains(p)).toBe(truth);
        const d = tree.signedDistance(p);
        expect(Math.abs(Math.abs(d) - slowNearest(p))).toBeLessThan(slack);
        expect(d > 0).toBe(truth);
        inside += truth ? 1 : 0;
      }
      expect(inside).toBeGreaterThan(20);
    });

    test('crossings along a ray alternate, and their lengths add up to chords', () => {
      const rng = seeded(4);
      for (let i = 0; i < 200; i++) {
        const p = probe(mesh, rng);
        const v = [rng.normal(), rng.normal(), rng.normal()];
        const d = v.map((c) => c / norm(v)) as [number, number, number];
        const hits: [number, number][] = [];
        tree.alongRay(p, d, (_t, at, facing) => hits.push([at, facing]));
        hits.sort((a, b) => a[0] - b[0]);
        const slow: number[] = [];
        for (let t = 0; t < many; t++) {
          const [a, b, c] = [0, 1, 2].map((k) => corner(mesh, t, k)) as [number[], number[], number[]];
          const n = outer(minus(b, a), minus(c, a));
          const at = inner(minus(a, p), n) / inner(d, n);
          const q = p.map((x, k) => x + at * (d[k] as number));
          const in3 = [
            [a, b],
            [b, c],
            [c, a],
          ].every(([s, e]) => inner(outer(minus(e as number[], s as number[]), minus(q, s as number[])), n) >= 0);
          if (at >= 0 && in3) slow.push(at);
        }
        slow.sort((a, b) => a - b);
        expect(hits.length).toBe(slow.length);
        hits.forEach(([at], k) => {
          expect(Math.abs(at - (slow[k] as number))).toBeLessThan(1e-4);
        });
        for (let k = 0; k + 1 < hits.length; k++) expect((hits[k] as [number, number])[1]).toBe(-(hits[k + 1] as [number, number])[1]);
        if (hits.length > 0) expect((hits[hits.length - 1] as [number, number])[1]).toBe(1);
      }
    });
  }
});

test('known distances from a ball: nearest point on the way to the middle', () => {
  const solid = ball(6, 5);
  const tree = new TriangleTree(meshOf(solid));
  // The mesh lies within the sphere by no more than its triangles' middles do.
  const sag = Math.max(
    ...solid.triangles.map(
      (t) => 6 - norm([0, 1, 2].map((k) => t.reduce((s, v) => s + ((solid.points[v] as number[])[k] as number), 0) / 3)),
    ),
  );
  expect(sag).toBeLessThan(0.01);
  const rng = seeded(6);
  for (let i = 0; i < 200; i++) {
    const v = [rng.normal(), rng.normal(), rng.normal()];
    const r = rng.between(1, 12);
    const p = pt<'scan'>(...(v.map((c) => (c / norm(v)) * r) as [number, number, number]));
    const d = tree.signedDistance(p) - (6 - r);
    expect(d).toBeLessThan(1e-9);
    expect(d).toBeGreaterThan(-1.5 * sag);
  }
});

test('closest point in all seven regions of a triangle', () => {
  const mesh: Mesh<'scan'> = { frame: 'scan', positions: Float64Array.of(0, 0, 0, 4, 0, 0, 0, 3, 0), indices: Uint32Array.of(0, 1, 2) };
  const out = new Float64Array(3);
  for (const [p, q] of [
    [
      [1, 1, 2],
      [1, 1, 0],
    ],
    [
      [-1, -1, 0],
      [0, 0, 0],
    ],
    [
      [6, -1, 1],
      [4, 0, 0],
    ],
    [
      [-1, 5, 0],
      [0, 3, 0],
    ],
    [
      [2, -2, 1],
      [2, 0, 0],
    ],
    [
      [-2, 1, 0],
      [0, 1, 0],
    ],
    [
      [3.2, 3.1, 0],
      [2, 1.5, 0],
    ],
  ] as [number[], number[]][]) {
    const d2 = closestOnTriangle(mesh, 0, p[0] as number, p[1] as number, p[2] as number, out);
    expect(norm(minus([...out], q))).toBeLessThan(1e-12);
    expect(d2).toBeCloseTo(inner(minus(p, q), minus(p, q)), 12);
  }
});

test('a degenerate triangle and an empty mesh answer without NaN', () => {
  const flat: Mesh<'scan'> = { frame: 'scan', positions: Float64Array.of(0, 0, 0, 2, 0, 0, 1, 0, 0), indices: Uint32Array.of(0, 1, 2) };
  expect(new TriangleTree(flat).nearest(pt(1, 1, 0))?.distance).toBeCloseTo(1, 12);
  const point: Mesh<'scan'> = { frame: 'scan', positions: Float64Array.of(1, 1, 1), indices: Uint32Array.of(0, 0, 0) };
  expect(new TriangleTree(point).nearest(pt(1, 1, 3))?.distance).toBeCloseTo(2, 12);
  const none = new TriangleTree<'scan'>({ frame: 'scan', positions: new Float64Array(), indices: new Uint32Array() });
  expect(none.nearest(pt(0, 0, 0))).toBeUndefined();
  expect(none.contains(pt(0, 0, 0))).toBe(false);
  expect(none.signedDistance(pt(0, 0, 0))).toBe(-Infinity);
});

test('points level with corners and edges of an octahedron, on a lattice through them', () => {
  const tree = new TriangleTree(meshOf(octahedron(10)));
  for (let x = -12; x <= 12; x += 2) {
    for (let y = -12; y <= 12; y += 2) {
      for (let z = -12; z <= 12; z += 2) {
        const size = Math.abs(x) + Math.abs(y) + Math.abs(z);
        if (size !== 10) expect(tree.contains(pt(x, y, z))).toBe(size < 10);
      }
    }
  }
});

describeShared('grazing points', 'bad-inputs', () => {
  test('every inside as written, also turned and nudged', () => {
    const { points } = JSON.parse(new TextDecoder().decode(sharedFile('bad-inputs/c24-grazing-points.json'))) as {
      points: Record<string, unknown>[];
    };
    const tree = new TriangleTree(meshOf(octahedron(10)));
    expect(points.length).toBeGreaterThan(10);
    for (const entry of points) {
      const p = Object.values(entry).find(Array.isArray) as [number, number, number];
      const inside = entry['inside'] as boolean;
      const variants = [
        p,
        [p[1], p[2], p[0]],
        [-p[1], p[0], p[2]],
        ...[1e-9, -1e-9].flatMap((e) => [0, 1, 2].map((k) => p.map((c, i) => (i === k ? c + e : c)))),
      ];
      for (const v of variants) expect(tree.contains(pt(...(v as [number, number, number])))).toBe(inside);
    }
  });
});
