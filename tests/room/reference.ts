/**
 * Slow and obvious geometry to hold the fast kernels against: closed forms for a point and a solid, nested search over
 * triangles, sampled directions. Shares nothing with src/room.
 */
import type { Mesh } from '../../src/geometry/mesh.ts';
import type { seeded } from '../../src/geometry/random.ts';
import { conjugate, rotate, unitQuat } from '../../src/geometry/rotation.ts';
import { type Pose, pt, type Quat, type Vec3 } from '../../src/geometry/vec.ts';
import type { Primitive } from '../../src/model/parts.ts';

/** Distance from a point (in the solid's own frame) to the solid, 0 inside: textbook closed forms. */
export function pointToSolid(p: Primitive, [x, y, z]: Vec3): number {
  const [a, b, c] = p.size;
  if (p.shape === 'box')
    return Math.hypot(Math.max(0, Math.abs(x) - a / 2), Math.max(0, Math.abs(y) - b / 2), Math.max(0, Math.abs(z) - c / 2));
  const r = Math.hypot(x, y);
  if (p.shape === 'cylinder') return Math.hypot(Math.max(0, r - a / 2), Math.max(0, Math.abs(z) - c / 2));
  return Math.max(0, Math.hypot(r, Math.max(0, Math.abs(z) - (c - a) / 2)) - a / 2);
}

export const toLocal = (pose: Pose<'ear'>, v: Vec3): Vec3 =>
  rotate(conjugate(pose.quaternion), [v[0] - pose.position[0], v[1] - pose.position[1], v[2] - pose.position[2]]);
export const toWorld = (pose: Pose<'ear'>, v: Vec3): Vec3 => {
  const r = rotate(pose.quaternion, v);
  return [r[0] + pose.position[0], r[1] + pose.position[1], r[2] + pose.position[2]];
};

/** Least of a convex function on [0, 1], by golden section. */
function least(f: (t: number) => number): number {
  let lo = 0;
  let hi = 1;
  const g = (Math.sqrt(5) - 1) / 2;
  let a = hi - g * (hi - lo);
  let b = lo + g * (hi - lo);
  let fa = f(a);
  let fb = f(b);
  for (let i = 0; i < 44; i++) {
    if (fa < fb) {
      hi = b;
      b = a;
      fb = fa;
      a = hi - g * (hi - lo);
      fa = f(a);
    } else {
      lo = a;
      a = b;
      fa = fb;
      b = lo + g * (hi - lo);
      fb = f(b);
    }
  }
  return Math.min(fa, fb, f(0), f(1));
}

/** Distance solid to triangle: the point's distance is convex over the triangle, so two nested line searches find the least. */
export function triangleToSolid(p: Primitive, a: Vec3, b: Vec3, c: Vec3): number {
  return least((s) => {
    const u: Vec3 = [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1]), a[2] + s * (b[2] - a[2])];
    const v: Vec3 = [a[0] + s * (c[0] - a[0]), a[1] + s * (c[1] - a[1]), a[2] + s * (c[2] - a[2])];
    return least((t) => pointToSolid(p, [u[0] + t * (v[0] - u[0]), u[1] + t * (v[1] - u[1]), u[2] + t * (v[2] - u[2])]));
  });
}

/** Distance of a posed solid to a mesh, triangle by triangle; those provably farther (by their corners) than the best are left out. */
export function meshToSolid(mesh: Mesh<'ear'>, p: Primitive, pose: Pose<'ear'>): number {
  const local: Vec3[] = [];
  for (let i = 0; i < mesh.positions.length; i += 3) {
    local.push(toLocal(pose, [mesh.positions[i] as number, mesh.positions[i + 1] as number, mesh.positions[i + 2] as number]));
  }
  let best = Infinity;
  for (const v of local) best = Math.min(best, pointToSolid(p, v));
  for (let t = 0; t < mesh.indices.length; t += 3) {
    const [a, b, c] = [0, 1, 2].map((k) => local[mesh.indices[t + k] as number] as Vec3) as [Vec3, Vec3, Vec3];
    const size = Math.max(Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]), Math.hypot(a[0] - c[0], a[1] - c[1], a[2] - c[2]));
    if (pointToSolid(p, a) - size > best) continue;
    best = Math.min(best, triangleToSolid(p, a, b, c));
  }
  return best;
}

/** Support of a solid in its own frame. */
export function supportOf(p: Primitive, [x, y, z]: Vec3): number {
  const [a, b, c] = p.size;
  if (p.shape === 'box') return (a / 2) * Math.abs(x) + (b / 2) * Math.abs(y) + (c / 2) * Math.abs(z);
  if (p.shape === 'cylinder') return (a / 2) * Math.hypot(x, y) + (c / 2) * Math.abs(z);
  return ((c - a) / 2) * Math.abs(z) + (a / 2) * Math.hypot(x, y, z);
}

/** Gap of two posed solids along the world direction u (from the second to the first): at most the true gap. */
export function gapAlong(p: Primitive, a: Pose<'ear'>, q: Primitive, b: Pose<'ear'>, u: Vec3): number {
  const d = u[0] * (a.position[0] - b.position[0]) + u[1] * (a.position[1] - b.position[1]) + u[2] * (a.position[2] - b.position[2]);
  return d - supportOf(p, rotate(conjugate(a.quaternion), u)) - supportOf(q, rotate(conjugate(b.quaternion), u));
}

/** The greatest gap over directions, from `many` spread ones, the best refined: a lower bound of the true gap, and near it. */
export function gapBySearch(p: Primitive, a: Pose<'ear'>, q: Primitive, b: Pose<'ear'>, many: number): number {
  const tries: { u: Vec3; g: number }[] = [];
  for (let k = 0; k < many; k++) {
    const z = 1 - (2 * k + 1) / many;
    const r = Math.sqrt(1 - z * z);
    const t = k * Math.PI * (3 - Math.sqrt(5));
    const u: Vec3 = [r * Math.cos(t), r * Math.sin(t), z];
    tries.push({ u, g: gapAlong(p, a, q, b, u) });
  }
  tries.sort((x, y) => y.g - x.g);
  let best = -Infinity;
  for (const { u, g } of tries.slice(0, 8)) best = Math.max(best, refine(p, a, q, b, u, g));
  return best;
}

/** Climbs among directions: steps of shrinking size, many ways round the present one. */
function refine(p: Primitive, a: Pose<'ear'>, q: Primitive, b: Pose<'ear'>, from: Vec3, start: number): number {
  let u = from;
  let g = start;
  for (let step = 0.1; step > 1e-8; ) {
    const e0: Vec3 = Math.abs(u[0]) < 0.6 ? [0, -u[2], u[1]] : [u[2], 0, -u[0]];
    const el = Math.hypot(...e0);
    const e: Vec3 = [e0[0] / el, e0[1] / el, e0[2] / el];
    const f: Vec3 = [u[1] * e[2] - u[2] * e[1], u[2] * e[0] - u[0] * e[2], u[0] * e[1] - u[1] * e[0]];
    const before = g;
    const at = u;
    for (let k = 0; k < 64; k++) {
      const c = step * Math.cos((k * Math.PI) / 32);
      const s = step * Math.sin((k * Math.PI) / 32);
      const v = [0, 1, 2].map((i) => (at[i] as number) + c * (e[i] as number) + s * (f[i] as number)) as [number, number, number];
      const l = Math.hypot(...v);
      const w: Vec3 = [v[0] / l, v[1] / l, v[2] / l];
      const h = gapAlong(p, a, q, b, w);
      if (h > g + 1e-11) {
        g = h;
        u = w;
      }
    }
    if (g <= before) step /= 2;
  }
  return g;
}

export function randomTurn(random: ReturnType<typeof seeded>): Quat {
  return unitQuat([random.normal(), random.normal(), random.normal(), random.normal()]);
}
export const randomPose = (random: ReturnType<typeof seeded>, reach: number): Pose<'ear'> => ({
  position: pt(random.between(-reach, reach), random.between(-reach, reach), random.between(-reach, reach)),
  quaternion: randomTurn(random),
});
