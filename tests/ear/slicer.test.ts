/** Sections by the tree against cuts known exactly, and against geometry/section.ts, which measures every vertex. */
import { describe, expect, test } from 'vitest';
import { Slicer } from '../../src/ear/slicer.ts';
import { faceNormals, type Mesh } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { type Outline, outlineHolds, sectionOf } from '../../src/geometry/section.ts';
import { cross, distance, dot, normalize, type Point, perpendicular, pt, sub } from '../../src/geometry/vec.ts';
import { drawEar, makeEar } from '../../src/synth/index.ts';
import { ball, both, box, cubes, halved, moved, plug, type Solid, torus } from '../support/solids.ts';
import { closed } from './close.ts';

type P = Point<'scan'>;
const meshOf = (s: Solid): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flat()),
  indices: Uint32Array.from(s.triangles.flat()),
});
const UP = pt<'scan'>(0, 0, 1);
const FAR = 1000;

/** By the slow section: of the outlines round the point the smallest, else the nearest. The margin to 1e-9 by its own formula. */
function slowly(mesh: Mesh<'scan'>, p: P, n: P): { outline: Outline; holds: boolean; margin: number } | undefined {
  const rows = sectionOf(mesh, { point: p, normal: n }, perpendicular(n))
    .outlines.filter((o) => o.closed && o.area > 0 && o.points.length >= 6)
    .map((outline) => ({ outline, holds: outlineHolds(outline, 0, 0), margin: marginOf(outline.points) }));
  const round = rows.filter((r) => r.holds).sort((a, b) => a.outline.area - b.outline.area);
  return round[0] ?? rows.sort((a, b) => a.margin - b.margin)[0];
}

function marginOf(points: Float64Array): number {
  const m = points.length / 2;
  let least = Infinity;
  for (let i = 0; i < m; i++) {
    const a = pt<'scan'>(points[2 * i] as number, points[2 * i + 1] as number, 0);
    const b = pt<'scan'>(points[2 * ((i + 1) % m)] as number, points[2 * ((i + 1) % m) + 1] as number, 0);
    const e = sub(b, a);
    const t = Math.max(0, Math.min(1, -dot(a, e) / (dot(e, e) || 1)));
    least = Math.min(least, distance(pt(a[0] + t * e[0], a[1] + t * e[1], 0), pt(0, 0, 0)));
  }
  return least;
}

describe('cuts known exactly', () => {
  test('a box: a rectangle with upright walls, its middle and edge', () => {
    // In triangles as small as a scan's, so that no wall's slant is a mean with the lid's.
    let solid = box([0, 0, 0], [20, 16, 24]);
    for (let k = 0; k < 4; k++) solid = halved(solid);
    const s = new Slicer(meshOf(solid)).outline(pt(5, 6, 10), UP, FAR);
    expect(s?.area).toBeCloseTo(320, 10);
    expect(s?.perimeter).toBeCloseTo(72, 10);
    expect(s?.holds).toBe(true);
    expect(s?.margin).toBeCloseTo(5, 10);
    expect(distance(s?.centroid as P, pt(10, 8, 10))).toBeLessThan(1e-9);
    for (const tilt of s?.tilts ?? [1]) expect(tilt).toBeCloseTo(0, 12);
  });

  test('a plane through vertices: they count as above it, and the outline stays closed', () => {
    // The octant's corners of a fine ball lie in the plane z = 0.
    const s = new Slicer(meshOf(ball(10, 5))).outline(pt(0, 0, 0), UP, FAR);
    expect(s?.area).toBeGreaterThan(0.99 * Math.PI * 100);
    expect(s?.area).toBeLessThan(Math.PI * 100);
  });

  test('a ball at height h: its walls slant by h / r', () => {
    const slicer = new Slicer(meshOf(ball(10, 6)));
    for (const h of [-6, -2, 0.3, 3, 7]) {
      const { tilts } = slicer.outline(pt(0, 0, h), UP, FAR) as { tilts: Float64Array };
      for (const tilt of tilts) expect(Math.abs(tilt - h / 10)).toBeLessThan(0.02);
    }
  });

  test('a noisy wall: slants scatter by less than half as much as those of its single triangles, SEED=5', () => {
    const random = seeded(5);
    const mesh = meshOf(moved(ball(10, 5), (p) => p.map((x) => x * (1 + (0.05 / 10) * random.normal()))));
    const { tilts } = new Slicer(mesh).outline(pt(0, 0, 0.4), UP, FAR) as { tilts: Float64Array };
    const faces = faceNormals(mesh);
    const cut: number[] = [];
    for (let t = 0; 3 * t < mesh.indices.length; t++) {
      const heights = [0, 1, 2].map((k) => mesh.positions[3 * (mesh.indices[3 * t + k] as number) + 2] as number);
      if (Math.min(...heights) < 0.4 && Math.max(...heights) >= 0.4) cut.push(faces[4 * t + 2] as number);
    }
    const scatter = (v: ArrayLike<number>): number => Math.sqrt(Array.from(v).reduce((s, x) => s + (x - 0.04) ** 2, 0) / v.length);
    expect(cut).toHaveLength(tilts.length);
    expect(scatter(cut)).toBeGreaterThan(0.1);
    expect(scatter(tilts)).toBeLessThan(0.5 * scatter(cut));
  });

  test('what leaves the ball of reach is no outline; what stays within it is', () => {
    const slicer = new Slicer(meshOf(plug()));
    const small = new Slicer(meshOf(ball(3, 4)));
    expect(slicer.outline(pt(0, 0, 3), UP, 1)).toBeUndefined();
    expect(slicer.outline(pt(0, 0, 3), UP, FAR)).toBeDefined();
    expect(small.outline(pt(0, 0, 1), UP, 3.1)?.holds).toBe(true);
    expect(small.outline(pt(0, 0, 9), UP, FAR)).toBeUndefined();
  });

  test('cubes that share edges: every outline is closed, whichever pairing is taken', () => {
    const mesh = meshOf(
      cubes(
        [
          [0, 0, 0],
          [1, 1, 0],
          [2, 0, 0],
        ],
        4,
      ),
    );
    for (const p of [pt<'scan'>(2, 2, 1), pt<'scan'>(6, 6, 1), pt<'scan'>(10, 2, 1)]) {
      const s = new Slicer(mesh).outline(p, UP, FAR);
      expect(s?.holds).toBe(true);
      expect([16, 32, 48].some((area) => Math.abs((s?.area ?? 0) - area) < 1e-9)).toBe(true);
    }
  });
});

describe('against the slow section', () => {
  const cast = closed(makeEar(drawEar(31, { resolution: 0.9 }), 31).mesh).mesh;
  const two = both(
    torus(12, 4, 40, 24),
    moved(ball(3, 4), (p) => [(p[0] as number) + 1, p[1] as number, (p[2] as number) + 0.5]),
  );
  test.each([
    ['a synthetic cast', cast],
    ['a ring with a ball in its hole', meshOf(two)],
  ])('%s, 400 planes, SEED=7', (_name, mesh) => {
    const random = seeded(7);
    const slicer = new Slicer(mesh);
    let found = 0;
    for (let k = 0; k < 400; k++) {
      const v = 3 * random.below(mesh.positions.length / 3);
      const p = pt<'scan'>(
        (mesh.positions[v] as number) + 2 * random.normal(),
        (mesh.positions[v + 1] as number) + 2 * random.normal(),
        (mesh.positions[v + 2] as number) + 2 * random.normal(),
      );
      const n = normalize(pt<'scan'>(random.normal(), random.normal(), random.normal()));
      const fast = slicer.outline(p, n, FAR);
      const slow = slowly(mesh, p, n);
      expect(fast === undefined, `plane ${k}`).toBe(slow === undefined);
      if (!fast || !slow) continue;
      found++;
      expect(fast.holds, `plane ${k}`).toBe(slow.holds);
      expect(fast.area).toBeCloseTo(slow.outline.area, 9);
      expect(fast.perimeter).toBeCloseTo(slow.outline.perimeter, 9);
      expect(fast.margin).toBeCloseTo(slow.margin, 9);
      expect(dot(cross(fast.u, fast.v), n)).toBeCloseTo(1, 12);
    }
    expect(found).toBeGreaterThan(300);
  });

  test('one slicer, asked in any order, says the same: nothing is left over from the cut before', () => {
    const a = new Slicer(cast);
    const random = seeded(8);
    const asks = Array.from({ length: 40 }, () => {
      const v = 3 * random.below(cast.positions.length / 3);
      const p = pt<'scan'>(cast.positions[v] as number, cast.positions[v + 1] as number, cast.positions[v + 2] as number);
      return [p, normalize(pt<'scan'>(random.normal(), random.normal(), random.normal())), random.between(3, 40)] as const;
    });
    const first = asks.map((ask) => a.outline(...ask));
    const back = [...asks].reverse().map((ask) => a.outline(...ask));
    expect(back.reverse()).toEqual(first);
    expect(asks.map((ask) => new Slicer(cast).outline(...ask))).toEqual(first);
  });
});
