/** Thinning: a heavy scan becomes light, closed, and lies as near to the scan as is said. Ground truth: a sphere. */
import { expect, test } from 'vitest';
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { collapseEdges } from '../../src/scan/thin/collapse.ts';
import { LIGHT, thinScan } from '../../src/scan/thin/index.ts';
import { ball, box, halved, moved, type Solid } from '../support/solids.ts';
import { faultsOf, isClosed } from '../support/validate.ts';

const R = 12;

const meshOf = (s: Solid, shift: readonly number[]): Mesh<'scan'> => ({
  frame: 'scan',
  positions: Float64Array.from(s.points.flatMap((p) => p.map((c, k) => c + (shift[k] as number)))),
  indices: Uint32Array.from(s.triangles.flat()),
});

test('a ball of 524 288 triangles, far from the origin: light, closed, within the deviation that is said', () => {
  const shift = [4000, -9000, 2500];
  const heavy = meshOf(ball(R, 8), shift);
  const { mesh, deviation, findings } = thinScan({ mesh: heavy });
  expect(mesh.indices.length / 3).toBeLessThanOrEqual(LIGHT);
  expect(isClosed(mesh)).toBe(true);
  expect(findings).toHaveLength(1);
  expect(findings[0]?.text).toContain(deviation.toFixed(4));
  // All vertices of both meshes lie on the sphere, and flat triangles inside it: the scan's vertices lie outside the lighter
  // surface by no more than that surface lies inside the sphere.
  let sag = 0;
  for (const s of sagittas(mesh, shift)) sag = Math.max(sag, s);
  expect(deviation).toBeGreaterThan(0.0005);
  expect(deviation).toBeLessThanOrEqual(sag + 1e-4);
  expect(deviation).toBeGreaterThan(0.3 * sag);
  expect(Math.abs(volumeOf(mesh) / volumeOf(heavy) - 1)).toBeLessThan((3 * sag) / R);
});

test('a light scan is used as it is', () => {
  const mesh = meshOf(ball(R, 5), [0, 0, 0]);
  const thin = thinScan({ mesh });
  expect(thin.mesh).toBe(mesh);
  expect(thin.deviation).toBe(0);
  expect(thin.findings).toEqual([]);
});

/** How far the middles of each triangle and of its sides lie inside the sphere. (Its plane would not do: that of a needle cuts the sphere anywhere.) */
function* sagittas({ positions, indices }: Mesh<'scan'>, centre: readonly number[]): Generator<number> {
  const depth = (corners: readonly number[]): number => {
    const middle = [0, 1, 2].map(
      (k) => corners.reduce((s, v) => s + (positions[3 * v + k] as number), 0) / corners.length - (centre[k] as number),
    );
    return R - Math.sqrt(middle.reduce((s, x) => s + x * x, 0));
  };
  for (let t = 0; t < indices.length; t += 3) {
    const [a, b, c] = indices.subarray(t, t + 3) as unknown as [number, number, number];
    for (const corners of [
      [a, b],
      [b, c],
      [c, a],
      [a, b, c],
    ])
      yield depth(corners);
  }
}

test('folds, creases and needles: closed, nothing turned over, the volume kept', () => {
  // A dented cube whose faces are split very finely: creases must stay, flat faces may become almost empty.
  let solid: Solid = box([0, 0, 0], [20, 16, 24]);
  for (let k = 0; k < 7; k++) solid = halved(solid);
  const dented = moved(solid, ([x, y, z]) => [
    x as number,
    y as number,
    (z as number) - ((z as number) > 23.9 ? 4 * bump(x as number, y as number) : 0),
  ]);
  const heavy = meshOf(dented, [0, 0, 0]);
  const light: Mesh<'scan'> = { frame: 'scan', ...collapseEdges(heavy, [0.0005, 0.002], 0) };
  expect(light.indices.length).toBeLessThan(heavy.indices.length / 15);
  expect(faultsOf(light)).toEqual([]);
  expect(Math.abs(volumeOf(light) / volumeOf(heavy) - 1)).toBeLessThan(1e-3);
  const there = new Set(Array.from({ length: light.positions.length / 3 }, (_, v) => light.positions.slice(3 * v, 3 * v + 3).join()));
  for (const corner of box([0, 0, 0], [20, 16, 24]).points) expect(there).toContain(corner.join());
});

const bump = (x: number, y: number): number => Math.max(0, 1 - ((x - 10) / 6) ** 2) ** 2 * Math.max(0, 1 - ((y - 8) / 6) ** 2) ** 2;
