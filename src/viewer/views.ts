/** The six named views and the words at the picture's edges, in the world of the scene: x anterior (mirrored for a left ear), y superior, z lateral. */
import type { Side } from '../model/ear.ts';

export const VIEWS = ['Lateral', 'Medial', 'Anterior', 'Posterior', 'Superior', 'Inferior'] as const;
export type ViewName = (typeof VIEWS)[number];

type Triple = readonly [number, number, number];

/** A left ear's anterior is the scene's -x: the scene is the ear as it is, never its mirror image. */
export const mirrorOf = (side: Side): 1 | -1 => (side === 'left' ? -1 : 1);

/** From where a view looks (unit, towards the eye). The slight tilt off the poles keeps "up" defined. */
export function eyeOf(view: ViewName, side: Side): Triple {
  const a = mirrorOf(side);
  const table: Record<ViewName, Triple> = {
    Lateral: [0, 0, 1],
    Medial: [0, 0, -1],
    Anterior: [a, 0, 0],
    Posterior: [-a, 0, 0],
    Superior: [0, 1, 1e-4],
    Inferior: [0, -1, 1e-4],
  };
  return table[view];
}

/** Where a case is first looked at from: from the front, a little from outside and above. */
export const startEye = (side: Side): Triple => [mirrorOf(side) * 0.86, 0.3, 0.42];

/** The anatomical word that a screen direction points to most. */
export function wordFor([x, y, z]: Triple, side: Side): ViewName {
  const a = mirrorOf(side) * x;
  const [ax, ay, az] = [Math.abs(a), Math.abs(y), Math.abs(z)];
  if (ax >= ay && ax >= az) return a > 0 ? 'Anterior' : 'Posterior';
  if (ay >= az) return y > 0 ? 'Superior' : 'Inferior';
  return z > 0 ? 'Lateral' : 'Medial';
}

/** The named view that the eye stands at, within a degree. */
export function viewAt(eye: Triple, side: Side): ViewName | undefined {
  const l = Math.sqrt(eye[0] ** 2 + eye[1] ** 2 + eye[2] ** 2) || 1;
  return VIEWS.find((view) => {
    const v = eyeOf(view, side);
    return (eye[0] * v[0] + eye[1] * v[1] + eye[2] * v[2]) / l > 0.99985;
  });
}
