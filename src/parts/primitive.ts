/** A primitive as a file writes it -> as the engine takes it, and how far it reaches along the part's axes. */
import { multiply, rotate } from '../geometry/rotation.ts';
import { cos, radians, sin } from '../geometry/trig.ts';
import type { Quat, Vec3 } from '../geometry/vec.ts';
import type { Primitive } from '../model/parts.ts';
import type { PrimitiveFile } from './schema.ts';

/** Brings a primitive's own z axis onto an axis of the part. */
const ALONG: Readonly<Record<'x' | 'y' | 'z', Quat>> = {
  x: [0, Math.SQRT1_2, 0, Math.SQRT1_2],
  y: [-Math.SQRT1_2, 0, 0, Math.SQRT1_2],
  z: [0, 0, 0, 1],
};

/** What a file leaves out is: at the part's origin, along z, not tilted, solid. */
export function primitiveOf({ shape, size, position = [0, 0, 0], along = 'z', tilt = 0, kind = 'solid' }: PrimitiveFile): Primitive {
  const half = radians(tilt) / 2;
  const quaternion = tilt === 0 ? ALONG[along] : multiply([sin(half), 0, 0, cos(half)], ALONG[along]);
  return { shape, size, position, quaternion, kind };
}

/** Least and greatest coordinate along the part's x, y and z, mm. */
export function extentOf(primitive: Primitive): readonly (readonly [least: number, greatest: number])[] {
  const half = halfExtents(primitive);
  return [0, 1, 2].map((k) => {
    const at = primitive.position[k] as number;
    return [at - (half[k] as number), at + (half[k] as number)] as const;
  });
}

function halfExtents({ shape, size, quaternion }: Primitive): number[] {
  const axes = (
    [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ] as const
  ).map((axis: Vec3) => rotate(quaternion, axis));
  return [0, 1, 2].map((k) => {
    const [x, y, z] = axes.map((a) => Math.abs(a[k] as number)) as [number, number, number];
    if (shape === 'box') return (x * size[0] + y * size[1] + z * size[2]) / 2;
    if (shape === 'capsule') return size[0] / 2 + z * (size[2] / 2 - size[0] / 2);
    return (z * size[2] + Math.sqrt(Math.max(0, 1 - z * z)) * size[0]) / 2;
  });
}
