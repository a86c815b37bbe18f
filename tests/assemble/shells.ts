/** Casts with a known way in or none: tubes, bottles, a corridor with a square bend; each as room, body and centreline. */
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { type Plane, type Point, type Pose, pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { Centreline } from '../../src/model/ear.ts';
import type { Body, Cut } from '../../src/model/fit.ts';
import type { Rules } from '../../src/model/parts.ts';
import { carveRoom, measureCast, type Room } from '../../src/room/index.ts';
import { bodyOf, plane, tubeFromRings } from '../support/bodies.ts';

/** Only the wall is asked for, thinner than usual so that shapes stay simple. */
export const rulesOf = (wall: number): Rules => ({ wall, faceplate: 0, gap: 0, partGap: 0, suspension: 0, tolerance: 0.1 });

export interface ShellCase {
  readonly room: Room;
  readonly body: Body;
  readonly line: Centreline;
}

type Ring = readonly Point<'ear'>[];

/** Triangles turned so that they face outwards. */
function outward(made: { mesh: Mesh<'ear'>; face: Uint8Array }): { mesh: Mesh<'ear'>; face: Uint8Array } {
  if (volumeOf(made.mesh) > 0) return made;
  const indices = made.mesh.indices.map((_, k, all) => all[k % 3 === 0 ? k : k % 3 === 1 ? k + 1 : k - 1] as number);
  return { mesh: { ...made.mesh, indices }, face: made.face };
}

/** A shell from the body's rings (outer cut first, tip last) and the cast's, which go on past both cuts. */
function shellOf(
  bodyRings: readonly Ring[],
  castRings: readonly Ring[],
  tip: Plane<'ear'>,
  points: readonly Vec3[],
  wall: number,
): ShellCase {
  const made = outward(tubeFromRings(bodyRings));
  const cuts: Cut[] = [
    { name: 'outer', plane: plane([0, 0, 0], [0, 0, 1]) },
    { name: 'tip', plane: tip },
  ];
  const line = lineThrough(points);
  const middle = points[points.length >> 1] as Vec3;
  const body = bodyOf({ ...made, cuts, tip: { at: tip.point, tangent: tip.normal }, seed: pt(...middle) });
  const room = carveRoom(measureCast(outward(tubeFromRings(castRings)).mesh), body, rulesOf(wall));
  return { room, body, line };
}

/** A centreline through corners, every 0.25 mm, depths from the outer cut. */
function lineThrough(corners: readonly Vec3[]): Centreline {
  const points: number[] = [];
  const tangents: number[] = [];
  const depths: number[] = [];
  let depth = 0;
  for (let k = 0; k + 1 < corners.length; k++) {
    const [a, b] = [corners[k] as Vec3, corners[k + 1] as Vec3];
    const d = [0, 1, 2].map((c) => (b[c] as number) - (a[c] as number));
    const long = Math.sqrt((d[0] as number) ** 2 + (d[1] as number) ** 2 + (d[2] as number) ** 2);
    const steps = Math.round(long / 0.25);
    for (let i = 0; i < steps; i++) {
      for (let c = 0; c < 3; c++) points.push((a[c] as number) + ((d[c] as number) * i) / steps);
      tangents.push(...d.map((x) => x / long));
      depths.push(depth + (long * i) / steps);
    }
    depth += long;
  }
  return { points: Float64Array.from(points), tangents: Float64Array.from(tangents), depths: Float64Array.from(depths) };
}

const circle = (radius: number, z: number, n = 96): Ring =>
  Array.from({ length: n }, (_, i) => pt<'ear'>(radius * Math.cos((2 * Math.PI * i) / n), radius * Math.sin((2 * Math.PI * i) / n), z));

/** A vessel round the z axis: radius by height, from the opening at z = 0 down to -long. */
export function vessel(radius: (z: number) => number, long: number, wall: number): ShellCase {
  const heights = Array.from({ length: Math.round(long / 0.25) + 1 }, (_, k) => -0.25 * k);
  const rings = heights.map((z) => circle(radius(z), z));
  const cast = [circle(radius(0), 8), circle(radius(0), 4), ...rings, circle(radius(-long), -long - 3)];
  const points: Vec3[] = [
    [0, 0, 2],
    [0, 0, -long],
  ];
  const made = shellOf(rings, cast, plane([0, 0, -long], [0, 0, -1]), points, wall);
  return { ...made, line: { ...made.line, depths: made.line.depths.map((d) => d - 2) } };
}

/**
 * A corridor with a square bend: from the opening at z = 0 down to z = -deep, `wide` along x and z, `high` along y, then
 * along +x to x = long. Its outer edge is the line x = 0, z = -deep; its inner edge x = wide, z = wide - deep.
 */
export function bentCorridor(wide: number, high: number, deep: number, long: number, wall: number): ShellCase {
  const h = high / 2;
  const ring = (x0: number, z0: number, x1: number, z1: number): Ring => [pt(x0, -h, z0), pt(x1, -h, z1), pt(x1, h, z1), pt(x0, h, z0)];
  const bend = ring(0, -deep, wide, wide - deep);
  const end = (x: number): Ring => ring(x, -deep, x, wide - deep);
  const m = wide / 2;
  const points: Vec3[] = [
    [m, 0, 2],
    [m, 0, m - deep],
    [long, 0, m - deep],
  ];
  const top = (z: number): Ring => ring(0, z, wide, z);
  const made = shellOf([top(0), bend, end(long)], [top(8), bend, end(long + 3)], plane([long, 0, m - deep], [1, 0, 0]), points, wall);
  return { ...made, line: { ...made.line, depths: made.line.depths.map((d) => d - 2) } };
}

export const at = (x: number, y: number, z: number, quaternion: Pose<'ear'>['quaternion'] = [0, 0, 0, 1]): Pose<'ear'> => ({
  position: pt(x, y, z),
  quaternion,
});
