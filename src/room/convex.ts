/**
 * Boxes, cylinders and capsules as flat numbers, for the search's inner loops.
 *
 * A capsule is its axis with a radius round it: distances are taken to the axis and the radius is subtracted.
 */
import { compose } from '../geometry/rotation.ts';
import type { Frame, Pose, Quat } from '../geometry/vec.ts';
import type { Primitive } from '../model/parts.ts';

export const BOX = 0;
export const CYLINDER = 1;
export const CAPSULE = 2;

/** So many convex solids. `frame` holds twelve numbers each: a rotation, row by row, then the centre. */
export interface Solids {
  readonly count: number;
  readonly shape: Uint8Array;
  /** Half extents along x, y, z; of a capsule: 0, 0 and half the axis between the centres of its round ends. */
  readonly half: Float64Array;
  /** Radius round the core: a capsule's, else 0. */
  readonly round: Float64Array;
  readonly frame: Float64Array;
}

export function solidsOf(primitives: readonly Primitive[]): Solids {
  const count = primitives.length;
  const out: Solids = {
    count,
    shape: new Uint8Array(count),
    half: new Float64Array(3 * count),
    round: new Float64Array(count),
    frame: new Float64Array(12 * count),
  };
  primitives.forEach((p, i) => {
    const [x, y, z] = p.size;
    out.shape[i] = p.shape === 'box' ? BOX : p.shape === 'cylinder' ? CYLINDER : CAPSULE;
    out.round[i] = p.shape === 'capsule' ? x / 2 : 0;
    out.half.set(p.shape === 'capsule' ? [0, 0, Math.max(0, z - x) / 2] : [x / 2, y / 2, z / 2], 3 * i);
    setFrame(out.frame, 12 * i, p.quaternion, p.position);
  });
  return out;
}

/** Writes a rotation and a place as twelve numbers. */
export function setFrame(out: Float64Array, o: number, q: Quat, at: ArrayLike<number>): void {
  const [x, y, z, w] = q;
  out[o] = 1 - 2 * (y * y + z * z);
  out[o + 1] = 2 * (x * y - z * w);
  out[o + 2] = 2 * (x * z + y * w);
  out[o + 3] = 2 * (x * y + z * w);
  out[o + 4] = 1 - 2 * (x * x + z * z);
  out[o + 5] = 2 * (y * z - x * w);
  out[o + 6] = 2 * (x * z - y * w);
  out[o + 7] = 2 * (y * z + x * w);
  out[o + 8] = 1 - 2 * (x * x + y * y);
  out[o + 9] = at[0] as number;
  out[o + 10] = at[1] as number;
  out[o + 11] = at[2] as number;
}

/** The primitives of a part that stands at `pose`. */
export function posedSolids<F extends Frame>(primitives: readonly Primitive[], pose: Pose<F>): Solids {
  const out = solidsOf(primitives);
  primitives.forEach((p, i) => {
    const world = compose(pose, p);
    setFrame(out.frame, 12 * i, world.quaternion, world.position);
  });
  return out;
}

/** out = outer after inner, both twelve numbers. */
export function composeFrames(outer: Float64Array, o: number, inner: Float64Array, i: number, out: Float64Array, k: number): void {
  for (let r = 0; r < 3; r++) {
    const a = outer[o + 3 * r] as number;
    const b = outer[o + 3 * r + 1] as number;
    const c = outer[o + 3 * r + 2] as number;
    for (let j = 0; j < 3; j++) {
      out[k + 3 * r + j] = a * (inner[i + j] as number) + b * (inner[i + 3 + j] as number) + c * (inner[i + 6 + j] as number);
    }
    out[k + 9 + r] =
      a * (inner[i + 9] as number) + b * (inner[i + 10] as number) + c * (inner[i + 11] as number) + (outer[o + 9 + r] as number);
  }
}

/** Radius of the ball round a solid's centre that holds it. */
export function ballRadius(s: Solids, i: number): number {
  const x = s.half[3 * i] as number;
  const y = s.shape[i] === BOX ? (s.half[3 * i + 1] as number) : 0;
  const z = s.half[3 * i + 2] as number;
  return Math.sqrt(x * x + y * y + z * z) + (s.round[i] as number);
}

/** How far a solid reaches from its centre along unit u. */
export function reachAlong(s: Solids, i: number, ux: number, uy: number, uz: number): number {
  const f = s.frame;
  const o = 12 * i;
  const lx = (f[o] as number) * ux + (f[o + 3] as number) * uy + (f[o + 6] as number) * uz;
  const ly = (f[o + 1] as number) * ux + (f[o + 4] as number) * uy + (f[o + 7] as number) * uz;
  const lz = (f[o + 2] as number) * ux + (f[o + 5] as number) * uy + (f[o + 8] as number) * uz;
  const h = s.half;
  const axial = (h[3 * i + 2] as number) * Math.abs(lz) + (s.round[i] as number);
  if (s.shape[i] === BOX) return (h[3 * i] as number) * Math.abs(lx) + (h[3 * i + 1] as number) * Math.abs(ly) + axial;
  return (h[3 * i] as number) * Math.sqrt(lx * lx + ly * ly) + axial;
}

/** Highest coordinate of a solid along unit u. */
export const topAlong = (s: Solids, i: number, ux: number, uy: number, uz: number): number => {
  const f = s.frame;
  const o = 12 * i + 9;
  return (f[o] as number) * ux + (f[o + 1] as number) * uy + (f[o + 2] as number) * uz + reachAlong(s, i, ux, uy, uz);
};

/**
 * Closest point of a solid's core to a point, all in the solid's own frame: writes it to out[0..2]; returns the
 * distance, 0 inside.
 */
export function closestOfCore(s: Solids, i: number, x: number, y: number, z: number, out: Float64Array): number {
  const hx = s.half[3 * i] as number;
  const hz = s.half[3 * i + 2] as number;
  const cz = z > hz ? hz : Math.max(z, -hz);
  let cx: number;
  let cy: number;
  if (s.shape[i] === BOX) {
    const hy = s.half[3 * i + 1] as number;
    cx = x > hx ? hx : Math.max(x, -hx);
    cy = y > hy ? hy : Math.max(y, -hy);
  } else {
    const r2 = x * x + y * y;
    const k = r2 > hx * hx ? hx / Math.sqrt(r2) : 1;
    cx = x * k;
    cy = y * k;
  }
  out[0] = cx;
  out[1] = cy;
  out[2] = cz;
  const dx = x - cx;
  const dy = y - cy;
  const dz = z - cz;
  return Math.sqrt(dx * dx + dy * dy + dz * dz);
}
