import { dot, type Frame, normalize, type Point, type Pose, pt, type Quat, type Vec3 } from './vec.ts';

/** Turns v by unit quaternion q. */
export const rotate = (q: Quat, v: Vec3): [number, number, number] => {
  const [x, y, z, w] = q;
  const tx = 2 * (y * v[2] - z * v[1]);
  const ty = 2 * (z * v[0] - x * v[2]);
  const tz = 2 * (x * v[1] - y * v[0]);
  return [v[0] + w * tx + y * tz - z * ty, v[1] + w * ty + z * tx - x * tz, v[2] + w * tz + x * ty - y * tx];
};
export const conjugate = (q: Quat): Quat => [-q[0], -q[1], -q[2], q[3]];
/** First b, then a. */
export const multiply = (a: Quat, b: Quat): Quat => [
  a[3] * b[0] + a[0] * b[3] + a[1] * b[2] - a[2] * b[1],
  a[3] * b[1] - a[0] * b[2] + a[1] * b[3] + a[2] * b[0],
  a[3] * b[2] + a[0] * b[1] - a[1] * b[0] + a[2] * b[3],
  a[3] * b[3] - a[0] * b[0] - a[1] * b[1] - a[2] * b[2],
];
export const unitQuat = (q: Quat): Quat => {
  const l = Math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
  return l > 0 ? [q[0] / l, q[1] / l, q[2] / l, q[3] / l] : [0, 0, 0, 1];
};
/** The turn whose matrix has these orthonormal, right-handed columns. */
export function quatFromAxes(x: Vec3, y: Vec3, z: Vec3): Quat {
  const t = x[0] + y[1] + z[2];
  if (t > 0) {
    const s = 2 * Math.sqrt(1 + t);
    return unitQuat([(y[2] - z[1]) / s, (z[0] - x[2]) / s, (x[1] - y[0]) / s, s / 4]);
  }
  if (x[0] >= y[1] && x[0] >= z[2]) {
    const s = 2 * Math.sqrt(1 + x[0] - y[1] - z[2]);
    return unitQuat([s / 4, (y[0] + x[1]) / s, (z[0] + x[2]) / s, (y[2] - z[1]) / s]);
  }
  if (y[1] >= z[2]) {
    const s = 2 * Math.sqrt(1 - x[0] + y[1] - z[2]);
    return unitQuat([(y[0] + x[1]) / s, s / 4, (z[1] + y[2]) / s, (z[0] - x[2]) / s]);
  }
  const s = 2 * Math.sqrt(1 - x[0] - y[1] + z[2]);
  return unitQuat([(z[0] + x[2]) / s, (z[1] + y[2]) / s, s / 4, (x[1] - y[0]) / s]);
}
/** The shortest turn that brings unit a onto unit b. */
export function quatBetween(a: Vec3, b: Vec3): Quat {
  const c = dot(a, b);
  if (c < -0.9999999) {
    const p = normalize((Math.abs(a[0]) < 0.6 ? [0, -a[2], a[1]] : [a[2], 0, -a[0]]) as Vec3);
    return [p[0], p[1], p[2], 0];
  }
  return unitQuat([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0], 1 + c]);
}
/** A point of the part's own frame, seen in the frame of its pose. */
export const place = <F extends Frame>(pose: Pose<F>, local: Vec3): Point<F> => {
  const r = rotate(pose.quaternion, local);
  return pt<F>(r[0] + pose.position[0], r[1] + pose.position[1], r[2] + pose.position[2]);
};
/** The pose of something held at `inner` within a part that stands at `outer`. */
export const compose = <F extends Frame>(outer: Pose<F>, inner: { position: Vec3; quaternion: Quat }): Pose<F> => ({
  position: place(outer, inner.position),
  quaternion: unitQuat(multiply(outer.quaternion, inner.quaternion)),
});
