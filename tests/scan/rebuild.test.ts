/**
 * Bodies made anew from their winding number: against closed forms (two balls, two cubes), the fast field against the
 * plain sum of solid angles, and a folded cast. The sum is van Oosterom and Strackee's formula; a lens of two balls of
 * radius r whose centres lie d apart has pi (4 r + d) (2 r - d)^2 / 12 (elementary: two spherical caps).
 */
import { describe, expect, test } from 'vitest';
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { readScan } from '../../src/scan/index.ts';
import { findCrossings } from '../../src/scan/judge/crossings.ts';
import { crossesDeeply, rebuildSurface } from '../../src/scan/rebuild/index.ts';
import { WindingTree } from '../../src/scan/rebuild/winding.ts';
import { drawEar, makeEar } from '../../src/synth/index.ts';
import { ball, both, box, moved, plug, type Solid, textFile, without } from '../support/solids.ts';
import { faultsOf } from '../support/validate.ts';

const meshOf = (s: Solid): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flat()),
  indices: Uint32Array.from(s.triangles.flat()),
});
const shifted = (s: Solid, x: number, y = 0, z = 0): Solid =>
  moved(s, ([a, b, c]) => [(a as number) + x, (b as number) + y, (c as number) + z]);

describe('winding numbers', () => {
  /** Slow and obvious: the solid angle of every triangle, by the language's own atan2. */
  function slow({ positions: p, indices: ix }: Mesh<'scan'>, q: readonly number[]): number {
    let sum = 0;
    for (let t = 0; t < ix.length; t += 3) {
      const [a, b, c] = [0, 1, 2].map((k) => [0, 1, 2].map((d) => (p[3 * (ix[t + k] as number) + d] as number) - (q[d] as number))) as [
        number[],
        number[],
        number[],
      ];
      const dot = (u: number[], v: number[]): number => u.reduce((s, x, k) => s + x * (v[k] as number), 0);
      const [la, lb, lc] = [a, b, c].map((v) => Math.sqrt(dot(v, v))) as [number, number, number];
      const cross = [0, 1, 2].map(
        (k) => (b[(k + 1) % 3] as number) * (c[(k + 2) % 3] as number) - (b[(k + 2) % 3] as number) * (c[(k + 1) % 3] as number),
      );
      sum += 2 * Math.atan2(dot(a, cross), la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb);
    }
    return sum / (4 * Math.PI);
  }

  test.each<[string, Solid]>([
    ['a ball', ball(10, 4)],
    ['a plug with holes', without(plug(40), (t) => t % 11 === 0)],
    ['two balls through each other', both(ball(10, 3), shifted(ball(8, 3), 7))],
  ])('%s: the tree against the plain sum', (_name, solid) => {
    const mesh = meshOf(solid);
    const tree = new WindingTree(mesh);
    const rng = seeded(7);
    for (let k = 0; k < 400; k++) {
      const q = [0, 1, 2].map(() => rng.between(-16, 22)) as [number, number, number];
      expect(Math.abs(tree.at(...q) - slow(mesh, q))).toBeLessThan(0.1);
    }
  });
});

describe('made anew', () => {
  test('two balls: their union, and no crossing is left', () => {
    const [r, d] = [10, 12];
    const mesh = meshOf(both(ball(r, 4), shifted(ball(r, 4), d)));
    const made = rebuildSurface(mesh);
    if (!made) throw new Error('no net');
    const whole = (8 / 3) * Math.PI * r ** 3 - (Math.PI * (4 * r + d) * (2 * r - d) ** 2) / 12;
    expect(Math.abs(volumeOf(made.mesh) / whole - 1)).toBeLessThan(0.02); // 2048 flat triangles a ball hold 0.8 % less
    expect(faultsOf(made.mesh)).toEqual([]);
    expect(findCrossings(made.mesh).pairs).toBe(0);
    // Vertices lie on one of the two balls.
    const { positions: p } = made.mesh;
    for (let i = 0; i < p.length; i += 3) {
      const far = [0, d].map((x) => Math.abs(Math.hypot((p[i] as number) - x, p[i + 1] as number, p[i + 2] as number) - r));
      expect(Math.min(...far)).toBeLessThan(made.step / 2);
    }
    expect(made.p95).toBeLessThan(0.02);
  });

  test('the same bytes each time', () => {
    const mesh = meshOf(both(ball(3, 3), shifted(ball(3, 3), 2, 1, 1)));
    expect(rebuildSurface(mesh)).toEqual(rebuildSurface(mesh));
  });

  test('read: overlapping pieces become one body, and it is said how near', () => {
    const scan = readScan(textFile(both(ball(10, 4), shifted(ball(7, 4), 9))), 'two.stl');
    const texts = scan.findings.map((f) => f.text).join('\n');
    expect(scan.findings.map((f) => f.code)).toContain('scan/rebuilt');
    expect(texts).toMatch(/95 % of the scan's outer points lie within 0\.0\d\d mm/);
    expect(faultsOf(scan.mesh)).toEqual([]);
    expect(scan.volume).toBeGreaterThan((4 / 3) * Math.PI * 1000);
    expect(scan.bounds.max[0]).toBeCloseTo(16, 1);
  });

  test('a cast with a spike pushed in at one side and out at the other', () => {
    const { mesh } = makeEar(drawEar(3, { resolution: 0.6 }), 3);
    const sound: Mesh<'scan'> = { frame: 'scan', positions: mesh.positions, indices: mesh.indices };
    const volume = readScan(textFile(solidOf(sound)), 'ear.stl').volume;
    const tip = 17;
    const p = sound.positions.slice();
    const middle = [0, 1, 2].map((k) => p.reduce((s, x, i) => (i % 3 === k ? s + x : s), 0) / (p.length / 3));
    // One vertex drawn through the middle and as far again on the other side.
    for (let k = 0; k < 3; k++) p[3 * tip + k] = 2.4 * (middle[k] as number) - 1.4 * (p[3 * tip + k] as number);
    const scan = readScan(textFile(solidOf({ ...sound, positions: p })), 'spiked.stl');
    expect(scan.findings.map((f) => f.code)).toContain('scan/crossing');
    expect(faultsOf(scan.mesh)).toEqual([]);
    expect(Math.abs(scan.volume / volume - 1)).toBeLessThan(0.02);
  });

  test('sound casts and bodies that only touch are never made anew', () => {
    for (const seed of [1, 2, 4]) {
      const { mesh } = makeEar(drawEar(seed, { resolution: 0.6 }), seed);
      const scan = readScan(textFile(solidOf(mesh)), 'ear.stl');
      expect(scan.findings.map((f) => f.code)).not.toContain('scan/rebuilt');
      expect(scan.findings.map((f) => f.code)).not.toContain('scan/crossing');
    }
    const touching = both(box([0, 0, 0], [10, 10, 10]), box([10, 0, 0], [20, 10, 10]));
    expect(readScan(textFile(touching), 'touching.stl').findings.map((f) => f.code)).not.toContain('scan/rebuilt');
  });

  test('a graze is no deep crossing, a passage is', () => {
    const deep = meshOf(both(ball(10, 4), shifted(ball(10, 4), 15)));
    expect(crossesDeeply(deep, findCrossings(deep))).toBe(true);
    const graze = meshOf(both(ball(10, 4), shifted(ball(10, 4), 19.9)));
    expect(crossesDeeply(graze, findCrossings(graze))).toBe(false);
  });
});

const solidOf = ({ positions, indices }: Pick<Mesh<'scan'>, 'positions' | 'indices'>): Solid => ({
  points: Array.from({ length: positions.length / 3 }, (_, v) => [...positions.subarray(3 * v, 3 * v + 3)]),
  triangles: Array.from({ length: indices.length / 3 }, (_, t) => [...indices.subarray(3 * t, 3 * t + 3)]),
});
