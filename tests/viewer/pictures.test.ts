import { describe, expect, test } from 'vitest';
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { pt } from '../../src/geometry/vec.ts';
import { placeLabels } from '../../src/viewer/labels.ts';
import { shade } from '../../src/viewer/shade.ts';
import { silhouette } from '../../src/viewer/silhouette.ts';
import { meshOfPrimitive } from '../../src/viewer/solids.ts';
import { thin } from '../../src/viewer/thin.ts';
import { eyeOf, VIEWS, viewAt, wordFor } from '../../src/viewer/views.ts';

const still = { position: pt<'ear'>(0, 0, 0), quaternion: [0, 0, 0, 1] } as const;
const box = (size: readonly [number, number, number]): Mesh<'ear'> =>
  meshOfPrimitive({ shape: 'box', size, position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' }, still, 'ear');

function area(loop: Float64Array): number {
  let twice = 0;
  for (let i = 0; i < loop.length; i += 2) {
    const j = (i + 2) % loop.length;
    twice += (loop[i] as number) * (loop[j + 1] as number) - (loop[j] as number) * (loop[i + 1] as number);
  }
  return twice / 2;
}

describe('silhouette', () => {
  test('of a box is the rectangle of its front, within the sampling step', () => {
    const loops = silhouette(box([10, 6, 8]), 2, 1);
    expect(loops).toHaveLength(1);
    expect(Math.abs(area(loops[0] as Float64Array) - 48)).toBeLessThan(0.15 * 28);
  });
  test('of a ring keeps its hole', () => {
    const parts = [
      [-3, 0, 2, 8],
      [3, 0, 2, 8],
      [0, 3, 8, 2],
      [0, -3, 8, 2],
    ].map(([x, y, w, h]) =>
      meshOfPrimitive(
        {
          shape: 'box',
          size: [w as number, h as number, 1],
          position: [x as number, y as number, 0],
          quaternion: [0, 0, 0, 1],
          kind: 'solid',
        },
        still,
        'ear',
      ),
    );
    const positions = Float64Array.from(parts.flatMap((p) => [...p.positions]));
    const indices = Uint32Array.from(parts.flatMap((p, k) => [...p.indices].map((i) => i + 8 * k)));
    const loops = silhouette({ frame: 'ear', positions, indices }, 0, 1);
    const areas = loops.map((l) => area(l)).sort((a, b) => b - a);
    expect(areas).toHaveLength(2);
    expect(areas[0]).toBeCloseTo(64, -1);
    expect(areas[1]).toBeLessThan(-10); // walked the other way round
  });
});

describe('shade', () => {
  test('a box keeps sharp edges: 24 corners, every normal along an axis', () => {
    const { positions, normals, indices } = shade(box([1, 2, 3]));
    // 12 triangles x 3 corners, split at every edge.
    expect(indices).toHaveLength(36);
    expect(normals.length).toBe(positions.length);
    for (let i = 0; i < normals.length; i += 3)
      expect(Math.max(...[0, 1, 2].map((k) => Math.abs(normals[i + k] as number)))).toBeCloseTo(1, 6);
  });
  test('a sphere is smooth: one vertex for all triangles that meet, normals along the radius', () => {
    const ball = meshOfPrimitive(
      { shape: 'capsule', size: [4, 4, 4], position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' },
      still,
      'ear',
    );
    const { positions, normals } = shade(ball);
    expect(positions.length).toBeLessThanOrEqual(ball.positions.length);
    for (let i = 0; i < positions.length; i += 3) {
      const radial = [0, 1, 2].reduce((s, k) => s + ((positions[i + k] as number) * (normals[i + k] as number)) / 2, 0);
      expect(radial).toBeGreaterThan(0.97);
    }
  });
});

describe('thin', () => {
  const ball = (n: number): Mesh<'ear'> => {
    // A latitude-longitude ball of radius 10; its poles are fans.
    const positions: number[] = [0, 0, 10, 0, 0, -10];
    const indices: number[] = [];
    const at = (i: number, k: number): number => 2 + i * n + (k % n);
    for (let i = 0; i + 1 < n; i++) {
      const polar = (Math.PI * (i + 1)) / n;
      for (let k = 0; k < n; k++)
        positions.push(
          10 * Math.sin(polar) * Math.cos((2 * Math.PI * k) / n),
          10 * Math.sin(polar) * Math.sin((2 * Math.PI * k) / n),
          10 * Math.cos(polar),
        );
    }
    for (let k = 0; k < n; k++) {
      indices.push(0, at(0, k), at(0, k + 1), 1, at(n - 2, k + 1), at(n - 2, k));
      for (let i = 0; i + 2 < n; i++) indices.push(at(i, k), at(i + 1, k), at(i + 1, k + 1), at(i, k), at(i + 1, k + 1), at(i, k + 1));
    }
    return { frame: 'ear', positions: Float64Array.from(positions), indices: Uint32Array.from(indices) };
  };
  test('leaves a small mesh alone', () => {
    const mesh = box([1, 2, 3]);
    expect(thin(mesh)).toBe(mesh);
  });
  test('a ball of 80 000 triangles thinned to about 10 000 keeps its volume (4/3 pi r3) within 1 % and its place within a cell', () => {
    const mesh = ball(200);
    const thinner = thin(mesh, 10_000);
    expect(thinner.indices.length / 3).toBeGreaterThan(5_000);
    expect(thinner.indices.length / 3).toBeLessThan(20_000);
    expect(Math.abs(volumeOf(thinner) / ((4 / 3) * Math.PI * 1000) - 1)).toBeLessThan(0.01);
    for (let i = 0; i < thinner.positions.length; i += 3)
      expect(Math.abs(Math.hypot(...thinner.positions.subarray(i, i + 3)) - 10)).toBeLessThan(0.3);
  });
});

describe('placeLabels', () => {
  test.each([1, 4, 9, 14])('%i labels on one spot lie within the picture and never over each other', (n) => {
    const anchors = Array.from({ length: n }, (_, i) => ({ x: 300 + i, y: 200 + (i % 3), width: 90 + 5 * i, height: 20 }));
    const placed = placeLabels(anchors, 640, 400);
    const boxes = placed.map((p, i) => ({ ...p, width: anchors[i]?.width as number, height: 20 }));
    for (const [i, a] of boxes.entries()) {
      expect(a.x).toBeGreaterThanOrEqual(0);
      expect(a.x + a.width).toBeLessThanOrEqual(640);
      expect(a.y).toBeGreaterThanOrEqual(0);
      expect(a.y + a.height).toBeLessThanOrEqual(400);
      for (const b of boxes.slice(i + 1))
        expect(a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y).toBe(true);
    }
  });
});

describe('named views', () => {
  test.each(VIEWS)('%s is recognised for both ears', (view) => {
    for (const side of ['left', 'right'] as const) expect(viewAt(eyeOf(view, side), side)).toBe(view);
  });
  test('seen from outside, a right ear looks to the right and a left ear to the left (anatomy: both face forward)', () => {
    expect(wordFor([1, 0, 0], 'right')).toBe('Anterior');
    expect(wordFor([1, 0, 0], 'left')).toBe('Posterior');
    expect(wordFor([0, 0, 1], 'left')).toBe('Lateral');
  });
});
