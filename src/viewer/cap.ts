/** The section's outlines and the wall between them, set into the scene. */
import { BufferAttribute, BufferGeometry, Path, Shape, ShapeGeometry, Vector2 } from 'three';
import { type Outline, outlineHolds } from '../geometry/section.ts';
import type { Slice } from './slice.ts';

/** Lifts plane coordinates into the ear frame. */
function lift(slice: Slice, flat: ArrayLike<number>, stride: number): Float32Array {
  const { plane, u, v } = slice;
  const n = flat.length / stride;
  const out = new Float32Array(3 * n);
  for (let i = 0; i < n; i++) {
    const x = flat[stride * i] as number;
    const y = flat[stride * i + 1] as number;
    for (let k = 0; k < 3; k++) out[3 * i + k] = (plane.point[k] as number) + x * (u[k] as number) + y * (v[k] as number);
  }
  return out;
}

export function loopsOf(slice: Slice, outlines: readonly Outline[]): BufferGeometry[] {
  return outlines.map((o) => new BufferGeometry().setAttribute('position', new BufferAttribute(lift(slice, o.points, 2), 3)));
}

/** A cut face: the outlines of the material less those of the room within it. Undefined where nothing is cut. */
export function capOf(slice: Slice, material: readonly Outline[], room: readonly Outline[]): BufferGeometry | undefined {
  const solids = material.filter((o) => o.area > 0);
  if (solids.length === 0) return undefined;
  const holes = [...room.filter((o) => o.area > 0), ...material.filter((o) => o.area < 0)];
  const shapes = solids.map((o) => {
    const shape = new Shape(vectors(o));
    shape.holes = holes
      .filter((hole) => outlineHolds(o, hole.points[0] as number, hole.points[1] as number))
      .map((hole) => new Path(vectors(hole)));
    return shape;
  });
  const geometry = new ShapeGeometry(shapes);
  const flat = geometry.getAttribute('position').array;
  geometry.setAttribute('position', new BufferAttribute(lift(slice, flat, 3), 3));
  return geometry;
}

function vectors({ points }: Outline): Vector2[] {
  const out: Vector2[] = [];
  for (let i = 0; i < points.length; i += 2) out.push(new Vector2(points[i], points[i + 1]));
  return out;
}
