/** Parts as triangles, for drawing and for cutting by a plane. Exact for boxes; round shapes have vertices on the surface. */
import type { Mesh } from '../geometry/mesh.ts';
import { compose, place } from '../geometry/rotation.ts';
import type { Frame, Pose, Vec3 } from '../geometry/vec.ts';
import type { Primitive, Shape } from '../model/parts.ts';

/** Chords of 1/96 turn leave the circle by 0.05 % of its radius: 0.002 mm on the largest cell. */
const AROUND = 96;
const RINGS = 12;

interface Local {
  readonly points: Vec3[];
  readonly indices: number[];
}

/** The closed surface of one primitive of a part that stands at `pose`, in the pose's frame. */
export function meshOfPrimitive<F extends Frame>(primitive: Primitive, pose: Pose<F>, frame: F): Mesh<F> {
  const local = LOCAL[primitive.shape](primitive.size);
  const at = compose(pose, primitive);
  const positions = new Float64Array(3 * local.points.length);
  for (const [i, p] of local.points.entries()) positions.set(place(at, p), 3 * i);
  return { frame, positions, indices: Uint32Array.from(local.indices) };
}

const LOCAL: Record<Shape, (size: Vec3) => Local> = {
  box: boxOf,
  cylinder: ([d, , l]) =>
    lathe([
      [d / 2, -l / 2],
      [d / 2, l / 2],
    ]),
  capsule: ([d, , l]) => lathe(capsuleProfile(d / 2, l)),
};

function boxOf([x, y, z]: Vec3): Local {
  const points: Vec3[] = [];
  for (let i = 0; i < 8; i++) points.push([(i & 1 ? x : -x) / 2, (i & 2 ? y : -y) / 2, (i & 4 ? z : -z) / 2]);
  const quads = [
    [0, 2, 3, 1],
    [4, 5, 7, 6],
    [0, 1, 5, 4],
    [2, 6, 7, 3],
    [0, 4, 6, 2],
    [1, 3, 7, 5],
  ];
  return { points, indices: quads.flatMap(([a, b, c, d]) => [a, b, c, a, c, d] as number[]) };
}

function capsuleProfile(r: number, length: number): [radius: number, z: number][] {
  const half = Math.max(0, length / 2 - r);
  const profile: [number, number][] = [];
  for (let i = 1; i <= RINGS; i++) {
    const a = (i * Math.PI) / (2 * RINGS);
    profile.push([r * Math.sin(a), -half - r * Math.cos(a)]);
  }
  for (let i = RINGS; i >= 1; i--) {
    const a = (i * Math.PI) / (2 * RINGS);
    profile.push([r * Math.sin(a), half + r * Math.cos(a)]);
  }
  const first = profile[0] as [number, number];
  const last = profile.at(-1) as [number, number];
  return [[0, -half - r], first, ...profile.slice(1, -1), last, [0, half + r]];
}

/** Turns a profile (radius, z; z ascending) about z; ends off the axis are closed by a fan. */
function lathe(profile: [radius: number, z: number][]): Local {
  const rings = profile.filter(([r]) => r > 0);
  const points: Vec3[] = [];
  const indices: number[] = [];
  for (const [r, z] of rings) {
    for (let k = 0; k < AROUND; k++) {
      const a = (2 * Math.PI * k) / AROUND;
      points.push([r * Math.cos(a), r * Math.sin(a), z]);
    }
  }
  for (let ring = 0; ring + 1 < rings.length; ring++) {
    for (let k = 0; k < AROUND; k++) {
      const a = ring * AROUND + k;
      const b = ring * AROUND + ((k + 1) % AROUND);
      indices.push(a, b, b + AROUND, a, b + AROUND, a + AROUND);
    }
  }
  const bottom = points.push([0, 0, (profile[0] as [number, number])[1]]) - 1;
  const top = points.push([0, 0, (profile.at(-1) as [number, number])[1]]) - 1;
  const last = (rings.length - 1) * AROUND;
  for (let k = 0; k < AROUND; k++) {
    const n = (k + 1) % AROUND;
    indices.push(bottom, n, k, top, last + k, last + n);
  }
  return { points, indices };
}
