/**
 * Points and directions that carry their frame in the type.
 *
 * scan: as the scanner wrote it, mm. Every result that leaves the engine is in it.
 * ear:  origin at the aperture's centre, coordinates [anterior, superior, lateral], mm. A left ear is thereby
 *       mirrored into the same anatomy as a right one, so that one search serves both sides and a mirrored scan gets
 *       the same answer (the design sketched a right-handed X = Y x Z instead; this is the better way, see
 *       DEVELOPERS.md "Frames").
 * part: a component's own frame.
 */
export type Frame = 'scan' | 'ear' | 'part';

declare const frameOf: unique symbol;

export type Vec3 = readonly [x: number, y: number, z: number];
/** A place, mm, or a direction (length 1 unless said), in frame F. */
export type Point<F extends Frame> = Vec3 & { readonly [frameOf]: F };

/** Unit quaternion [x, y, z, w]. */
export type Quat = readonly [x: number, y: number, z: number, w: number];

/** Where something is: first turned by `quaternion`, then moved to `position`. */
export interface Pose<F extends Frame> {
  readonly position: Point<F>;
  readonly quaternion: Quat;
}

/** The half-space behind `normal` is kept; the normal (length 1) points out of the body. */
export interface Plane<F extends Frame> {
  readonly point: Point<F>;
  readonly normal: Point<F>;
}

/** Names the frame of three numbers. The only way to make a `Point`, so that a search for it finds every border. */
export const pt = <F extends Frame>(x: number, y: number, z: number): Point<F> => [x, y, z] as unknown as Point<F>;

/** The k-th vertex of a flat xyz array. */
export const pointAt = <F extends Frame>(flat: ArrayLike<number>, k: number): Point<F> =>
  pt<F>(flat[3 * k] as number, flat[3 * k + 1] as number, flat[3 * k + 2] as number);

export const add = <P extends Vec3>(a: P, b: P): P => [a[0] + b[0], a[1] + b[1], a[2] + b[2]] as unknown as P;
export const sub = <P extends Vec3>(a: P, b: P): P => [a[0] - b[0], a[1] - b[1], a[2] - b[2]] as unknown as P;
export const scale = <P extends Vec3>(a: P, s: number): P => [a[0] * s, a[1] * s, a[2] * s] as unknown as P;
/** a + s*b */
export const addScaled = <P extends Vec3>(a: P, b: P, s: number): P => [a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2]] as unknown as P;
export const lerp = <P extends Vec3>(a: P, b: P, t: number): P => addScaled(scale(a, 1 - t), b, t);
export const dot = (a: Vec3, b: Vec3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = <P extends Vec3>(a: P, b: P): P =>
  [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]] as unknown as P;
/** Length by sqrt, which IEEE 754 rounds the same way everywhere (Math.hypot does not promise that). */
export const length = (a: Vec3): number => Math.sqrt(dot(a, a));
export const distance = (a: Vec3, b: Vec3): number => {
  const x = a[0] - b[0];
  const y = a[1] - b[1];
  const z = a[2] - b[2];
  return Math.sqrt(x * x + y * y + z * z);
};
/** Unit vector along a; [0, 0, 1] for a zero vector, so that no NaN is born here. */
export const normalize = <P extends Vec3>(a: P): P => {
  const l = length(a);
  return l > 0 ? scale(a, 1 / l) : ([0, 0, 1] as unknown as P);
};
/** Some unit vector square to unit `n`. */
export const perpendicular = <P extends Vec3>(n: P): P =>
  normalize(cross(n, (Math.abs(n[0]) < 0.6 ? [1, 0, 0] : [0, 1, 0]) as unknown as P));
/** Signed distance of p from the plane, mm: negative inside the body. */
export const heightOver = <F extends Frame>(plane: Plane<F>, p: Point<F>): number => dot(plane.normal, sub(p, plane.point));
