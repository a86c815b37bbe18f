import { describe, expect, test } from 'vitest';
import { volumeOf } from '../../src/geometry/mesh.ts';
import { sectionOf } from '../../src/geometry/section.ts';
import { normalize, type Pose, pt, type Quat } from '../../src/geometry/vec.ts';
import type { Primitive, Shape } from '../../src/model/parts.ts';
import { meshOfPrimitive } from '../../src/viewer/solids.ts';

const turned: Quat = [0.182574, 0.365148, 0.547723, 0.730297];
const pose: Pose<'ear'> = { position: pt(3, -2, 5), quaternion: turned };
const primitive = (shape: Shape, size: Primitive['size']): Primitive => ({
  shape,
  size,
  position: [1, 0.5, -0.25],
  quaternion: [0, 0.6, 0, 0.8],
  kind: 'solid',
});

/** Every edge is walked once each way: closed and of one orientation. */
function isClosed(indices: Uint32Array): boolean {
  const seen = new Set<string>();
  for (let i = 0; i < indices.length; i += 3) {
    for (let k = 0; k < 3; k++) {
      const edge = `${indices[i + k]},${indices[i + ((k + 1) % 3)]}`;
      if (seen.has(edge)) return false;
      seen.add(edge);
    }
  }
  return [...seen].every((edge) => seen.has(edge.split(',').reverse().join(',')));
}

describe('meshOfPrimitive', () => {
  // Volumes: textbook formulas. A 96-gon inscribed in a circle has (96/2) sin(2 pi/96) r2 = 0.99929 of its area.
  const polygon = 48 * Math.sin(Math.PI / 48);
  test.each([
    ['box', [2, 3, 4], 24, 1e-12],
    ['cylinder', [5.8, 5.8, 3.6], polygon * 2.9 * 2.9 * 3.6, 1e-9],
    ['capsule', [2, 2, 6], Math.PI * 4 + (4 / 3) * Math.PI, 0.08],
    ['capsule', [2, 2, 2], (4 / 3) * Math.PI, 0.06],
  ] as const)('%s %j is closed, points outward and has its volume', (shape, size, volume, within) => {
    const mesh = meshOfPrimitive(primitive(shape, size), pose, 'ear');
    expect(isClosed(mesh.indices)).toBe(true);
    expect(Math.abs(volumeOf(mesh) - volume)).toBeLessThanOrEqual(within);
  });

  test('a box cut through its middle, square to an axis, gives that face', () => {
    const mesh = meshOfPrimitive(
      { ...primitive('box', [2, 3, 4]), position: [0, 0, 0], quaternion: [0, 0, 0, 1] },
      { position: pt(0, 0, 0), quaternion: [0, 0, 0, 1] },
      'ear',
    );
    const { outlines } = sectionOf(mesh, { point: pt<'ear'>(0, 0, 0.3), normal: pt<'ear'>(0, 0, 1) });
    expect(outlines).toHaveLength(1);
    expect(outlines[0]?.area).toBeCloseTo(6, 12);
    expect(outlines[0]?.perimeter).toBeCloseTo(10, 12);
  });

  test('a cylinder cut aslant gives the ellipse of the textbook: area over the cosine', () => {
    const upright = { ...primitive('cylinder', [4, 4, 10]), position: [0, 0, 0], quaternion: [0, 0, 0, 1] } as const;
    const mesh = meshOfPrimitive(upright, { position: pt(0, 0, 0), quaternion: [0, 0, 0, 1] }, 'ear');
    const normal = normalize(pt<'ear'>(0, 1, 2));
    const { outlines } = sectionOf(mesh, { point: pt<'ear'>(0, 0, 0), normal });
    expect(outlines[0]?.area).toBeCloseTo((polygon * 4) / (normal[2] as number), 9);
  });
});
