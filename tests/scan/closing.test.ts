/** Open loops: the base capped flat, holes filled so that they follow the ground; against exact solids. */
import { describe, expect, test } from 'vitest';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { clipEars, crossingPoints } from '../../src/scan/close/earclip.ts';
import { flipToDelaunay, leastArea } from '../../src/scan/close/patch.ts';
import { ball, PLUG as LEVELS, moved, openPlug, plug, plugVolume, type Solid, textFile, torus, without } from '../support/solids.ts';
import { changesOf, readSound, textsOf, warningsOf } from './helpers.ts';

const close = (a: number, b: number, relative = 1e-9): void => expect(Math.abs(a / b - 1)).toBeLessThan(relative);
const distance = (a: readonly number[], b: readonly number[]): number =>
  Math.sqrt(a.reduce((s, x, k) => s + (x - (b[k] as number)) ** 2, 0));

/** How many triangles have their three corners in the same places as another: a cap that lies on a tooth of the rim, back to back. */
function coinciding(mesh: Mesh<'scan'>): number {
  const at = (v: number): string => mesh.positions.subarray(3 * v, 3 * v + 3).join();
  const seen = new Set<string>();
  for (let t = 0; t < mesh.indices.length; t += 3) seen.add([...mesh.indices.subarray(t, t + 3)].map(at).sort().join(' '));
  return mesh.indices.length / 3 - seen.size;
}

describe('the base', () => {
  test.each([6, 24, 97, 400])('a flat loop of %i edges: exact volume, every cap triangle in the plane', (n) => {
    const scan = readSound(textFile(openPlug(n)));
    close(scan.volume, plugVolume(n));
    expect(scan.read.openLoops).toHaveLength(1);
    const loop = scan.read.openLoops[0];
    expect(loop?.role).toBe('base');
    expect(loop?.edges).toBe(n);
    // Perimeter of the n-gon in the ellipse, summed from its corners.
    const ring = plug(n).points.slice(0, n);
    close(
      loop?.length ?? 0,
      ring.reduce((s, p, i) => s + distance(p, ring[(i + 1) % n] as number[]), 0),
    );
    expect(scan.base?.plane.normal[2]).toBeCloseTo(-1, 12);
    expect(scan.base?.plane.point[2]).toBeCloseTo(0, 12);
    expect(scan.base?.cap.reduce((s, c) => s + c, 0)).toBe(n - 2);
    expect(changesOf(scan)).toEqual(['scan/base']);
    expect(warningsOf(scan)).toEqual([]);
  });

  test('turned and moved: plane, volume and cap go along', () => {
    // A rotation by the 3-4-5 triangle about x, then about z, exact to the last digits.
    const turn = (p: readonly number[]): number[] => {
      const [x, y, z] = p as [number, number, number];
      const [y1, z1] = [0.6 * y - 0.8 * z, 0.8 * y + 0.6 * z];
      return [0.8 * x - 0.6 * y1 + 40, 0.6 * x + 0.8 * y1 - 7, z1 + 3];
    };
    const scan = readSound(textFile(moved(openPlug(), turn)));
    close(scan.volume, plugVolume());
    const n = scan.base?.plane.normal as readonly number[];
    // The base's normal (0, 0, -1) turned the same way.
    [-0.48, 0.64, -0.6].forEach((c, k) => {
      expect(n[k]).toBeCloseTo(c, 9);
    });
  });

  test('an inside-out open plug is turned and capped', () => {
    const open = openPlug();
    const scan = readSound(textFile({ points: open.points, triangles: open.triangles.map((t) => [t[0], t[2], t[1]] as number[]) }));
    close(scan.volume, plugVolume());
    expect(changesOf(scan)).toEqual(['scan/turned', 'scan/base']);
    expect(scan.base?.plane.normal[2]).toBeCloseTo(-1, 9);
  });

  /** A fine plug whose lowest triangles are missing in a ragged way. */
  const ragged = (n: number, seed: number): Solid => {
    const levels = Array.from({ length: 40 }, (_, k) => ({ z: k * 0.5, scale: 1 - k / 90, x: 0.02 * k, y: 0 }));
    const rng = seeded(seed);
    const depth = Array.from({ length: n }, () => rng.between(0, 2.5));
    return without(openPlug(n, levels), (_t, m) => {
      const k = Math.floor(((Math.atan2((m[1] as number) / 5, (m[0] as number) / 7.5) / (2 * Math.PI) + 1) % 1) * n);
      return (m[2] as number) < (depth[k] as number);
    });
  };

  test.each([1, 2, 3])('a ragged edge: closed, cap flat where it can be, volume near (seed %i)', (seed) => {
    const scan = readSound(textFile(ragged(90, seed)));
    const base = scan.read.openLoops.filter((l) => l.role === 'base');
    expect(base).toHaveLength(1);
    expect(base[0]?.edges).toBeGreaterThan(120);
    // Between the plug cut at the deepest and at the highest tooth, as exact frusta.
    const whole = Array.from({ length: 40 }, (_, k) => ({ z: k * 0.5, scale: 1 - k / 90, x: 0.02 * k, y: 0 }));
    expect(scan.volume).toBeLessThan(plugVolume(90, whole));
    expect(scan.volume).toBeGreaterThan(plugVolume(90, whole.slice(6)));
    expect(scan.base?.plane.normal[2]).toBeLessThan(-0.99);
    expect(coinciding(scan.mesh)).toBe(0);
  });

  test('thousands of ragged edges', () => {
    const scan = readSound(textFile(ragged(1500, 9)));
    expect(scan.read.openLoops.find((l) => l.role === 'base')?.edges).toBeGreaterThan(3000);
    expect(scan.base?.cap.reduce((s, c) => s + c, 0)).toBeGreaterThan(2000);
    expect(coinciding(scan.mesh)).toBe(0);
  });

  test('a loop that crosses itself as seen along its normal is still closed', () => {
    // Base points pulled in and out past their neighbours, alternately up and down.
    const n = 48;
    const open = openPlug(n);
    const points = open.points.map((p, i) => {
      if (i >= n || i % 3 !== 0) return p;
      const q = open.points[(i + 2) % n] as number[];
      return [q[0] as number, (q[1] as number) + 0.3, -0.8];
    });
    const scan = readSound(textFile({ points, triangles: open.triangles }));
    expect(scan.read.openLoops.map((l) => l.role)).toEqual(['base']);
    close(scan.volume, plugVolume(n), 0.05);
  });
});

describe('holes', () => {
  const R = 12;
  /** A ball without the triangles within `radius` mm of the pole, and with a flat base so that only one loop can be the base. */
  const holed = (depth: number, radius: number): Solid => without(ball(R, depth), (_t, m) => distance(m, [0, 0, R]) < radius);

  test.each([
    [4, 1.2],
    [5, 1.5],
    [5, 3],
    [6, 2],
  ])('a round hole in a ball (depth %i, radius %f): the patch follows the sphere', (depth, radius) => {
    const solid = holed(depth, radius);
    const scan = readSound(textFile(solid));
    const whole = readSound(textFile(ball(R, depth)));
    expect(scan.read.openLoops.map((l) => l.role)).toEqual(['hole']);
    expect(scan.base).toBeUndefined();
    // New points: a flat patch would lie radius^2 / 2R below the sphere; the plate stays within a fifth of that, or within
    // 0.03 mm where the hole is only a few triangles wide.
    const sag = (radius * radius) / (2 * R);
    let worst = 0;
    const first = scan.read.vertices;
    for (let v = first; v < scan.mesh.positions.length / 3; v++) {
      worst = Math.max(worst, Math.abs(distance([...scan.mesh.positions.subarray(3 * v, 3 * v + 3)], [0, 0, 0]) - R));
    }
    expect(worst).toBeLessThan(Math.max(0.2 * sag, 0.03));
    close(scan.volume, whole.volume, 0.0005);
  });

  test('refinement brings the patch to the density round it', () => {
    const scan = readSound(textFile(holed(5, 3)));
    const whole = readSound(textFile(ball(R, 5)));
    const patch = scan.mesh.indices.length / 3 - scan.read.triangles;
    const gone = whole.read.triangles - scan.read.triangles;
    expect(patch / gone).toBeGreaterThan(0.4);
    expect(patch / gone).toBeLessThan(2.5);
  });

  test('a saddle: a hole on the inner side of a torus', () => {
    const whole = torus(10, 4, 120, 60);
    const solid = without(whole, (_t, m) => distance(m, [6, 0, 0]) < 1.5);
    const scan = readSound(textFile(solid));
    close(scan.volume, readSound(textFile(whole)).volume, 0.0005);
    let worst = 0;
    for (let v = scan.read.vertices; v < scan.mesh.positions.length / 3; v++) {
      const [x, y, z] = scan.mesh.positions.subarray(3 * v, 3 * v + 3) as unknown as [number, number, number];
      worst = Math.max(worst, Math.abs(Math.sqrt((Math.sqrt(x * x + y * y) - 10) ** 2 + z * z) - 4));
    }
    expect(worst).toBeLessThan(0.1);
  });

  test('single triangles, pairs and holes that touch in a vertex', () => {
    const whole = ball(R, 4);
    const volume = readSound(textFile(whole)).volume;
    const cases: [string, number[]][] = [
      ['one triangle', [100]],
      ['two neighbours', [100, 101]],
      ['two that touch', [whole.triangles.findIndex((t) => t.includes(3)), whole.triangles.findLastIndex((t) => t.includes(3))]],
      ['many', Array.from({ length: 40 }, (_, k) => 50 * k + 7)],
    ];
    for (const [, gone] of cases) {
      const scan = readSound(textFile(without(whole, (t) => gone.includes(t))));
      expect(scan.read.openLoops.every((l) => l.role === 'hole')).toBe(true);
      close(scan.volume, volume, 0.002);
      expect(scan.mesh.indices.length / 3).toBe(whole.triangles.length);
    }
  });

  test('random holes anywhere, many seeds: always closed, volume near, vertices kept', () => {
    const whole = ball(R, 4);
    const volume = readSound(textFile(whole)).volume;
    for (let seed = 1; seed <= 25; seed++) {
      const rng = seeded(seed);
      const spots = Array.from({ length: 1 + rng.below(5) }, () => {
        const p = [rng.normal(), rng.normal(), rng.normal()];
        const l = distance(p, [0, 0, 0]);
        return { at: p.map((c) => (c / l) * R), size: rng.between(0.5, 2.2) };
      });
      const loose = rng.between(0, 0.02);
      const solid = without(whole, (_t, m) => rng.next() < loose || spots.some((s) => distance(m, s.at) < s.size));
      const scan = readSound(textFile(solid));
      close(scan.volume, volume, 0.004);
      expect(scan.findings.filter((f) => f.code === 'scan/hole' || f.code === 'scan/holes').length).toBeGreaterThan(0);
    }
  });

  test('base and holes together, each told with its size and place', () => {
    const fine = Array.from({ length: 60 }, (_, k) => ({ z: k / 3, scale: 1 - k / 100, x: 0, y: 0 }));
    const solid = without(openPlug(60, fine), (_t, m) => distance(m, [7.5 * 0.7, 0, 10]) < 1.6);
    const scan = readSound(textFile(solid));
    const [base, hole] = [...scan.read.openLoops].sort((a, b) => b.length - a.length);
    expect(base?.role).toBe('base');
    expect(hole?.role).toBe('hole');
    expect(Math.abs((hole?.at[2] ?? 0) - 10)).toBeLessThan(1);
    close(scan.volume, plugVolume(60, fine), 0.003);
    expect(textsOf(scan)).toMatch(/The open base \(60 edges, \d+\.\d+ mm round\) closed with a flat cap of 58 triangles/);
    expect(textsOf(scan)).toMatch(/Hole of \d+ edges, \d+\.\d+ mm round, at \(/);
    // The hole's new triangles are scanned-side surface, not cap.
    expect(scan.base?.cap.reduce((s, c) => s + c, 0)).toBe(58);
  });

  test('an open tube: the longer end is the base, the other is filled with a warning', () => {
    const tube = without(openPlug(36), (_t, m) => Math.abs((m[2] as number) - 20) < 1e-9);
    const scan = readSound(textFile(tube));
    expect(scan.read.openLoops.map((l) => l.role).sort()).toEqual(['base', 'hole']);
    expect(scan.base?.plane.normal[2]).toBeCloseTo(-1, 9);
    expect(warningsOf(scan)).toEqual(['scan/hole']);
    expect(textsOf(scan)).toMatch(/nothing was scanned there/);
    close(scan.volume, plugVolume(36), 0.03);
  });

  test('the bulge is bounded: a hole with a noisy edge stays near its loop', () => {
    const rng = seeded(8);
    const solid = holed(5, 3);
    const noisy = moved(solid, (p) => p.map((c) => c + (distance(p, [0, 0, R]) < 3.6 ? rng.between(-0.15, 0.15) : 0)));
    const scan = readSound(textFile(noisy));
    for (let v = scan.read.vertices; v < scan.mesh.positions.length / 3; v++) {
      expect(distance([...scan.mesh.positions.subarray(3 * v, 3 * v + 3)], [0, 0, R])).toBeLessThan(3.6);
    }
  });
});

describe('plane polygons', () => {
  const area = (u: Float64Array, v: Float64Array): number => {
    let s = 0;
    for (let i = 0; i < u.length; i++) {
      const j = (i + 1) % u.length;
      s += (u[i] as number) * (v[j] as number) - (u[j] as number) * (v[i] as number);
    }
    return s / 2;
  };
  const parts = (u: Float64Array, v: Float64Array, t: number[]): number[] =>
    Array.from({ length: t.length / 3 }, (_, k) => {
      const [a, b, c] = t.slice(3 * k, 3 * k + 3) as [number, number, number];
      return area(
        Float64Array.of(u[a] as number, u[b] as number, u[c] as number),
        Float64Array.of(v[a] as number, v[b] as number, v[c] as number),
      );
    });

  /** Star-shaped loops with radii that jump: simple by construction. */
  const star = (n: number, seed: number): { u: Float64Array; v: Float64Array } => {
    const rng = seeded(seed);
    const radius = Array.from({ length: n }, () => rng.between(1, 6));
    return {
      u: Float64Array.from(radius, (r, i) => r * Math.cos((2 * Math.PI * i) / n)),
      v: Float64Array.from(radius, (r, i) => r * Math.sin((2 * Math.PI * i) / n)),
    };
  };

  test.each([3, 4, 5, 8, 33, 250, 4000])('%i corners: n - 2 triangles, all counter-clockwise, areas add up', (n) => {
    for (let seed = 1; seed <= (n > 1000 ? 2 : 20); seed++) {
      const g = star(n, seed);
      expect(crossingPoints(g).size).toBe(0);
      const t = clipEars(g, () => false) as number[];
      expect(t.length / 3).toBe(n - 2);
      expect(Math.min(...parts(g.u, g.v, t))).toBeGreaterThan(0);
      expect(parts(g.u, g.v, t).reduce((a, b) => a + b, 0)).toBeCloseTo(area(g.u, g.v), 8);
      const flat = Array.from({ length: 3 * n }, (_, i) => (i % 3 === 0 ? g.u[i / 3] : i % 3 === 1 ? g.v[(i - 1) / 3] : 0) as number);
      flipToDelaunay(flat, t, n, n, () => false);
      expect(Math.min(...parts(g.u, g.v, t))).toBeGreaterThan(0);
      expect(parts(g.u, g.v, t).reduce((a, b) => a + b, 0)).toBeCloseTo(area(g.u, g.v), 8);
    }
  });

  test('points in a row along straight sides give no flat triangle', () => {
    const u: number[] = [];
    const v: number[] = [];
    for (let k = 0; k < 10; k++) [u.push(k), v.push(0)];
    for (let k = 0; k < 10; k++) [u.push(10), v.push(k)];
    for (let k = 0; k < 10; k++) [u.push(10 - k), v.push(10)];
    for (let k = 0; k < 10; k++) [u.push(0), v.push(10 - k)];
    const g = { u: Float64Array.from(u), v: Float64Array.from(v) };
    const t = clipEars(g, () => false) as number[];
    expect(Math.min(...parts(g.u, g.v, t))).toBeGreaterThan(0);
    expect(parts(g.u, g.v, t).reduce((a, b) => a + b, 0)).toBeCloseTo(100, 12);
  });

  test('a crossing is found where there is one', () => {
    expect(crossingPoints({ u: Float64Array.of(0, 1, 1, 0), v: Float64Array.of(0, 1, 0, 1) }).size).toBeGreaterThan(0);
    for (let seed = 1; seed <= 20; seed++) {
      const g = star(200, seed);
      const k = 3 + seed * 7;
      [g.u[k], g.u[k + 40]] = [g.u[k + 40] as number, g.u[k] as number];
      [g.v[k], g.v[k + 40]] = [g.v[k + 40] as number, g.v[k] as number];
      expect(crossingPoints(g).size > 0).toBe(bruteCrossing(g));
    }
  });

  test('no taken chord is used', () => {
    for (let seed = 1; seed <= 30; seed++) {
      const g = star(40, seed);
      const rng = seeded(seed);
      const no = new Set(Array.from({ length: 120 }, () => [rng.below(40), rng.below(40)].sort((a, b) => a - b).join()));
      const taken = (i: number, j: number): boolean =>
        no.has([i, j].sort((a, b) => a - b).join()) && Math.abs(i - j) > 1 && Math.abs(i - j) < 39;
      const t = clipEars(g, taken);
      if (!t) continue;
      for (let k = 0; k < t.length; k++) expect(taken(t[k] as number, t[k % 3 === 2 ? k - 2 : k + 1] as number)).toBe(false);
    }
  });
});

function bruteCrossing(g: { u: Float64Array; v: Float64Array }): boolean {
  const n = g.u.length;
  const side = (a: number, b: number, c: number): number =>
    Math.sign(
      ((g.u[b] as number) - (g.u[a] as number)) * ((g.v[c] as number) - (g.v[a] as number)) -
        ((g.v[b] as number) - (g.v[a] as number)) * ((g.u[c] as number) - (g.u[a] as number)),
    );
  for (let i = 0; i < n; i++) {
    for (let j = i + 2; j < n; j++) {
      const [a, b, c, d] = [i, (i + 1) % n, j, (j + 1) % n];
      if (a === d) continue;
      if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) return true;
    }
  }
  return false;
}

describe('least-area patches', () => {
  test('the least of all triangulations, by trying every one', () => {
    // All ways to triangulate a loop of n points: Catalan numbers, 132 for n = 8.
    const all = (i: number, j: number): number[][] => {
      if (j - i < 2) return [[]];
      const out: number[][] = [];
      for (let m = i + 1; m < j; m++) for (const a of all(i, m)) for (const b of all(m, j)) out.push([i, m, j, ...a, ...b]);
      return out;
    };
    for (let seed = 1; seed <= 30; seed++) {
      const rng = seeded(seed);
      const points = Array.from({ length: 24 }, () => rng.between(-5, 5));
      const cost = (t: number[]): number => {
        let sum = 0;
        for (let k = 0; k < t.length; k += 3) {
          const [a, b, c] = [0, 1, 2].map((x) => points.slice(3 * (t[k + x] as number), 3 * (t[k + x] as number) + 3)) as [
            number[],
            number[],
            number[],
          ];
          const [p, q, r] = [distance(a, b), distance(b, c), distance(c, a)];
          const half = (p + q + r) / 2;
          sum += Math.sqrt(Math.max(0, half * (half - p) * (half - q) * (half - r))) + 0.02 * (p * p + q * q + r * r);
        }
        return sum;
      };
      const best = Math.min(...all(0, 7).map(cost));
      expect(cost(leastArea(points, 8, () => false) as number[])).toBeCloseTo(best, 6);
    }
  });

  test('gives up where every chord is taken', () => {
    expect(leastArea([0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 1, 0], 4, () => true)).toBeUndefined();
  });
});

test('levels of the test plug are as its volume formula takes them', () => {
  // Guard for the fixture itself: the mesh's own volume, summed tetrahedron by tetrahedron, equals the frustum formula.
  close(readSound(textFile(plug(24, LEVELS))).volume, plugVolume(24, LEVELS), 1e-12);
});
