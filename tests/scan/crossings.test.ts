/** Where a surface passes through itself: against all pairs in exact whole numbers, known solids, and sound casts. */
import { describe, expect, test } from 'vitest';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import type { Finding } from '../../src/model/scan.ts';
import { readScan } from '../../src/scan/index.ts';
import { findCrossings, nameCrossings } from '../../src/scan/judge/crossings.ts';
import { sampleBytes, samples } from '../support/samples.ts';
import { ball, both, box, cubes, moved, plug, type Solid, torus } from '../support/solids.ts';

const meshOf = (s: Solid): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flat()),
  indices: Uint32Array.from(s.triangles.flat()),
});

type P = readonly [bigint, bigint, bigint];
const det = (a: P, b: P, c: P, d: P): bigint => {
  const [u, v, w] = [b, c, d].map((q) => q.map((x, k) => x - (a[k] as bigint))) as [bigint[], bigint[], bigint[]];
  const m = (i: number, j: number): bigint => (v[i] as bigint) * (w[j] as bigint) - (v[j] as bigint) * (w[i] as bigint);
  return (u[0] as bigint) * m(1, 2) - (u[1] as bigint) * m(0, 2) + (u[2] as bigint) * m(0, 1);
};
const sign = (x: bigint): number => (x > 0n ? 1 : x < 0n ? -1 : 0);

/** A fraction of whole numbers, its denominator positive. */
type Share = readonly [bigint, bigint];
const share = (n: bigint, d: bigint): Share => (d < 0n ? [-n, -d] : [n, d]);
const lower = (a: Share, b: Share): boolean => a[0] * b[1] < b[0] * a[1];
const times = (a: P, b: P): bigint => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const normal = ([a, b, c]: P[]): P => {
  const [u, v] = [b, c].map((q) => (q as P).map((x, k) => x - ((a as P)[k] as bigint)) as unknown as P) as [P, P];
  return [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
};
const heights = (face: P[], of: P[]): bigint[] => of.map((q) => times(normal(face), q) - times(normal(face), face[0] as P));
const sides = (f: P[]): [P, P][] => [0, 1, 2].map((k) => [f[k] as P, f[(k + 1) % 3] as P]);

/** Where along direction d triangle t meets the plane of face: lowest and highest, as fractions. Its corners lie on both sides. */
function stretch(face: P[], t: P[], d: P): [Share, Share] {
  const h = heights(face, t);
  const cuts = [0, 1, 2].flatMap((k): Share[] => {
    const [p, q] = [t[k] as P, t[(k + 1) % 3] as P];
    const [g, f] = [h[k] as bigint, h[(k + 1) % 3] as bigint];
    if (g === 0n) return [[times(p, d), 1n]];
    return g * f < 0n ? [share(times(p, d) * f - times(q, d) * g, f - g)] : [];
  });
  const [a, b] = cuts as [Share, Share];
  return lower(a, b) ? [a, b] : [b, a];
}

/** Each has corners on both sides of the other, and the stretches in which they cut the common line overlap. */
function crossing(s: P[], t: P[]): boolean {
  const both = (h: bigint[]): boolean => h.some((x) => x > 0n) && h.some((x) => x < 0n);
  if (!both(heights(s, t)) || !both(heights(t, s))) return false;
  const d = normal([[0n, 0n, 0n], normal(s), normal(t)]);
  const [a, b] = stretch(t, s, d);
  const [e, f] = stretch(s, t, d);
  return lower(a, f) && lower(e, b);
}

/** Of two triangles in one plane, or a side and a triangle: what is left of the first, cut by each of the second's sides. Corners times their last number. */
function clipped(shape: P[], by: P[]): (readonly bigint[])[] {
  let left: (readonly bigint[])[] = shape.map((p) => [...p, 1n]);
  const up = normal(by);
  for (const [p, q] of sides(by)) {
    const inward = normal([[0n, 0n, 0n], up, q.map((c, k) => c - (p[k] as bigint)) as unknown as P]);
    const h = left.map((c) => times(inward, c as unknown as P) - times(inward, p) * (c[3] as bigint));
    left = left.flatMap((c, i) => {
      const j = (i + 1) % left.length;
      const [g, f] = [h[i] as bigint, h[j] as bigint];
      const cut = g * f < 0n ? [c.map((x, k) => (g < 0n ? -1n : 1n) * (x * -f + ((left[j] as readonly bigint[])[k] as bigint) * g))] : [];
      return [...(g >= 0n ? [c] : []), ...cut];
    });
  }
  return left;
}

/** Three corners of what is left span an area (of a side: two of them differ, and its middle lies on no side of the face). */
const spans = (left: (readonly bigint[])[]): boolean =>
  left.some((_, i) =>
    left.slice(i + 1).some((_b, j) => left.slice(i + j + 2).some((_c, k) => area(left[i], left[i + j + 1], left[i + j + k + 2]))),
  );
const area = (...c: (readonly bigint[] | undefined)[]): boolean => {
  const w = c.map((p) => p?.[3] as bigint) as [bigint, bigint, bigint];
  const at = c.map((p, i) => p?.slice(0, 3).map((x) => x * (w[(i + 1) % 3] as bigint) * (w[(i + 2) % 3] as bigint)) as unknown as P);
  return normal(at).some((x) => x !== 0n);
};

/** Does the open side pq, in the plane of the face, run through its inside? By the middle of what the face leaves of it. */
function runsWithin(p: P, q: P, face: P[]): boolean {
  const left = clipped([p, q], face);
  if (left.length < 2) return false;
  const middles = left.flatMap((a, i) =>
    left.slice(i + 1).map((b) => a.map((x, k) => x * (b[3] as bigint) + (b[k] as bigint) * (a[3] as bigint))),
  );
  const up = normal(face);
  return middles.some((m) =>
    sides(face).every(([c, d]) => {
      const inward = normal([[0n, 0n, 0n], up, d.map((x, k) => x - (c[k] as bigint)) as unknown as P]);
      return times(inward, m as unknown as P) - times(inward, c) * (m[3] as bigint) > 0n;
    }),
  );
}

/** The number of pairs by the words of findCrossings' own description, pair by pair, nothing left out early. */
function slowly(triangles: number[][], big: P[]): number {
  const faces = triangles.map((t) => t.map((v) => big[v] as P));
  const bare = faces.map((f) => normal(f).every((x) => x === 0n));
  let pairs = 0;
  const above = new Map<string, number[]>();
  for (const [i, s] of faces.entries()) {
    for (const [j, t] of faces.entries()) {
      if (i === j || bare[i] || bare[j]) continue;
      const h = heights(s, t);
      const off = h.findIndex((x) => x !== 0n);
      if (off >= 0 && h.filter((x) => x === 0n).length === 2) {
        const [a, b] = [(off + 1) % 3, (off + 2) % 3];
        const key = `${[triangles[j]?.[a], triangles[j]?.[b]].sort().join()} in ${i}`;
        if (runsWithin(t[a] as P, t[b] as P, s)) above.set(key, [...(above.get(key) ?? []), sign(h[off] as bigint)]);
      }
      if (j < i) continue;
      if (off >= 0) {
        pairs += crossing(s, t) ? 1 : 0;
        continue;
      }
      const common = (triangles[i] as number[]).filter((v) => triangles[j]?.includes(v)).length;
      const alike = times(normal(s), normal(t)) > 0n;
      if ((alike || common === 2) && spans(clipped(t, s))) pairs++;
    }
  }
  for (const seen of above.values()) if (seen.includes(1) && seen.includes(-1)) pairs += 2;
  return pairs;
}

/** Four corners in one plane bound nothing, and may have a side along which no plane is defined. */
const flat = (four: number[][]): boolean => det(...(four.map((p) => p.map(BigInt)) as unknown as [P, P, P, P])) === 0n;

/** Does the open segment pq pass strictly through the inside of triangle abc? */
const pierces = (p: P, q: P, a: P, b: P, c: P): boolean => {
  if (sign(det(a, b, c, p)) * sign(det(a, b, c, q)) >= 0) return false;
  const s = [sign(det(p, q, a, b)), sign(det(p, q, b, c)), sign(det(p, q, c, a))];
  return s.every((x) => x > 0) || s.every((x) => x < 0);
};

describe('against all pairs, in exact whole numbers', () => {
  /** Tetrahedra with corners on a small grid: general enough to cross in every way, coarse enough to touch often. */
  test.each([1, 2, 3, 4, 5, 6])('heaps of tetrahedra on a grid, SEED=%i', (seed) => {
    const rng = seeded(seed);
    for (let round = 0; round < 60; round++) {
      const points: number[][] = [];
      const triangles: number[][] = [];
      for (let k = 0; k < 4; k++) {
        const at = [0, 1, 2].map(() => rng.below(6));
        const base = points.length;
        do {
          points.length = base;
          for (let v = 0; v < 4; v++) points.push(at.map((c) => c + rng.below(7)));
        } while (flat(points.slice(base)));
        triangles.push([base, base + 2, base + 1], [base, base + 1, base + 3], [base + 1, base + 2, base + 3], [base + 2, base, base + 3]);
      }
      const big = points.map((p) => p.map(BigInt) as unknown as P);
      const through = new Set<string>();
      for (const [i, s] of triangles.entries()) {
        for (const [j, t] of triangles.entries()) {
          if (j <= i || Math.floor(i / 4) === Math.floor(j / 4)) continue;
          const [a, b] = [s, t].map((f) => f.map((v) => big[v] as P)) as [P[], P[]];
          const sides = (f: P[]): [P, P][] => [0, 1, 2].map((k) => [f[k] as P, f[(k + 1) % 3] as P]);
          const hit =
            sides(a).some(([p, q]) => pierces(p, q, b[0] as P, b[1] as P, b[2] as P)) ||
            sides(b).some(([p, q]) => pierces(p, q, a[0] as P, a[1] as P, a[2] as P));
          if (hit) through.add(`${i},${j}`);
        }
      }
      const mesh = meshOf({ points, triangles });
      const found = findCrossings(mesh);
      // A side that pierces a face's inside is a crossing for certain; the rest of what is counted needs a closer look.
      expect(found.pairs).toBeGreaterThanOrEqual(through.size);
      if (through.size === 0) continue;
      expect(found.places.length).toBeGreaterThan(0);
    }
  });

  /** Triangles over few corners of a small grid: they share corners and sides, lie in each other's planes, fold and overlap. */
  test.each([11, 12, 13, 14])('heaps of triangles with common corners: the very number of pairs, SEED=%i', (seed) => {
    const rng = seeded(seed);
    let seen = 0;
    for (let round = 0; round < 250; round++) {
      const size = 2 + rng.below(5);
      const points = Array.from({ length: 7 + rng.below(8) }, () => [rng.below(size), rng.below(size), rng.below(1 + rng.below(size))]);
      const places = [...new Set(points.map((p) => p.join()))].map((p) => p.split(',').map(Number));
      const triangles: number[][] = [];
      const sideUses = new Map<string, number>();
      for (let k = 0; k < 12; k++) {
        const t = [rng.below(places.length), rng.below(places.length), rng.below(places.length)];
        const keys = [0, 1, 2].map((i) => [t[i], t[(i + 1) % 3]].sort().join());
        // A surface: no side has more than two triangles.
        if (new Set(t).size < 3 || keys.some((key) => (sideUses.get(key) ?? 0) === 2)) continue;
        for (const key of keys) sideUses.set(key, (sideUses.get(key) ?? 0) + 1);
        triangles.push(t);
      }
      const pairs = slowly(
        triangles,
        places.map((p) => p.map(BigInt) as unknown as P),
      );
      seen += pairs;
      expect(findCrossings(meshOf({ points: places, triangles })).pairs, `round ${round}`).toBe(pairs);
    }
    expect(seen).toBeGreaterThan(500);
  });

  test('turned, moved and shuffled: as many pairs', () => {
    const solid = both(
      ball(10, 3),
      moved(plug(16), ([x, y, z]) => [(x as number) + 3, y as number, (z as number) - 4]),
    );
    const pairs = findCrossings(meshOf(solid)).pairs;
    expect(pairs).toBeGreaterThan(20);
    // A quarter turn and a swap of axes are exact.
    const turned = moved(solid, ([x, y, z]) => [-(y as number), x as number, z as number]);
    expect(findCrossings(meshOf(turned)).pairs).toBe(pairs);
    const rolled: Solid = { points: solid.points, triangles: solid.triangles.map((t) => [t[1], t[2], t[0]] as number[]).reverse() };
    expect(findCrossings(meshOf(rolled)).pairs).toBe(pairs);
  });
});

describe('known solids', () => {
  test.each<[string, Solid]>([
    ['a ball', ball(10, 4)],
    ['a ring', torus(10, 4, 40, 20)],
    ['a plug', plug(24)],
    ['cubes side by side', both(box([0, 0, 0], [5, 5, 5]), box([5, 0, 0], [10, 5, 5]))],
    ['cubes edge to edge', both(box([0, 0, 0], [5, 5, 5]), box([5, 5, 0], [10, 10, 5]))],
    ['cubes corner to corner', both(box([0, 0, 0], [5, 5, 5]), box([5, 5, 5], [10, 10, 10]))],
    ['a cube within a cube', both(box([0, 0, 0], [9, 9, 9]), box([3, 3, 3], [6, 6, 6]))],
    [
      'a heap of cubes',
      cubes(
        [
          [0, 0, 0],
          [1, 1, 0],
          [0, 0, 1],
          [1, 0, 1],
        ],
        5,
      ),
    ],
  ])('%s does not cross itself', (_name, solid) => {
    expect(findCrossings(meshOf(solid))).toEqual({ pairs: 0, places: [], more: false });
  });

  test('a spike through the floor: one place, at the hole that it makes', () => {
    const cube = box([-5, -5, 0], [5, 5, 10]);
    // Its top's middle drawn down through the floor.
    const top = cube.points.flatMap((p, v) => (p[2] === 10 ? [v] : []));
    const apex = cube.points.length;
    const ring = [top[0], top[1], top[3], top[2]] as number[];
    const solid: Solid = {
      points: [...cube.points, [0, 0, -5]],
      triangles: [
        ...cube.triangles.filter((t) => !t.every((v) => top.includes(v))),
        ...ring.map((v, k) => [v, ring[(k + 1) % 4] as number, apex]),
      ],
    };
    const { places } = findCrossings(meshOf(solid));
    expect(places).toHaveLength(1);
    for (const c of places[0]?.at ?? [1]) expect(Math.abs(c)).toBeLessThan(1e-9);
    const findings: Finding[] = [];
    nameCrossings(meshOf(solid), findings);
    expect(findings.map((f) => [f.code, f.level])).toEqual([['scan/crossing', 'warning']]);
    expect(findings[0]?.text).toMatch(/crosses itself near \(0, 0, 0\)/);
  });

  test('two balls: the circle where they meet, radius 8, at x = 6', () => {
    const { places } = findCrossings(
      meshOf(
        both(
          ball(10, 4),
          moved(ball(10, 4), ([x, y, z]) => [(x as number) + 12, y as number, z as number]),
        ),
      ),
    );
    expect(places).toHaveLength(1);
    expect(places[0]?.at[0]).toBeCloseTo(6, 1);
    expect(places[0]?.size).toBeGreaterThan(15.5);
    expect(places[0]?.size).toBeLessThan(16.1);
  });

  test('a heap of triangles without end is broken off, and it is said', () => {
    const rng = seeded(5);
    const points = Array.from({ length: 3000 }, () => [rng.between(0, 10), rng.between(0, 10), rng.between(0, 10)]);
    const triangles = Array.from({ length: 3000 }, () => [rng.below(3000), rng.below(3000), rng.below(3000)]).filter(
      (t) => new Set(t).size === 3,
    );
    const found = findCrossings(meshOf({ points, triangles }));
    expect(found.more).toBe(true);
    expect(found.pairs).toBe(100_000);
  });
});

test.each(samples().slice(0, 3))('no alarm on the sample $file', ({ file }) => {
  expect(readScan(sampleBytes(file), file).findings.map((f) => f.code)).not.toContain('scan/crossing');
});
