/**
 * Between scan coordinates and the ear frame.
 *
 * Ear coordinates are [anterior, superior, lateral] on both sides. For a right ear those axes are right-handed and the map is a turn; for a
 * left ear they are left-handed and it is a reflection, so windings swap and orientations need the care of `poseToScan`.
 */
import type { Mesh } from '../geometry/mesh.ts';
import { quatFromAxes, rotate } from '../geometry/rotation.ts';
import { dot, type Plane, type Point, type Pose, pt, type Quat, sub, type Vec3 } from '../geometry/vec.ts';
import type { EarFrame } from '../model/ear.ts';

const columns = (f: EarFrame, v: Vec3): [number, number, number] => [
  f.anterior[0] * v[0] + f.superior[0] * v[1] + f.lateral[0] * v[2],
  f.anterior[1] * v[0] + f.superior[1] * v[1] + f.lateral[1] * v[2],
  f.anterior[2] * v[0] + f.superior[2] * v[1] + f.lateral[2] * v[2],
];

/** A place, scan to ear, mm. */
export function pointToEar(frame: EarFrame, p: Point<'scan'>): Point<'ear'> {
  return directionToEar(frame, sub(p, frame.origin));
}

/** A place, ear to scan, mm. */
export function pointToScan(frame: EarFrame, p: Point<'ear'>): Point<'scan'> {
  const [x, y, z] = columns(frame, p);
  const o = frame.origin;
  return pt(x + o[0], y + o[1], z + o[2]);
}

/** A direction, scan to ear; its length stays. */
export const directionToEar = (frame: EarFrame, d: Point<'scan'>): Point<'ear'> =>
  pt(dot(frame.anterior, d), dot(frame.superior, d), dot(frame.lateral, d));

/** A direction, ear to scan; its length stays. */
export const directionToScan = (frame: EarFrame, d: Point<'ear'>): Point<'scan'> => pt(...columns(frame, d));

export const planeToEar = (frame: EarFrame, plane: Plane<'scan'>): Plane<'ear'> => ({
  point: pointToEar(frame, plane.point),
  normal: directionToEar(frame, plane.normal),
});

export const planeToScan = (frame: EarFrame, plane: Plane<'ear'>): Plane<'scan'> => ({
  point: pointToScan(frame, plane.point),
  normal: directionToScan(frame, plane.normal),
});

const OWN_AXES: readonly [Vec3, Vec3, Vec3] = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];

/**
 * The scan pose of a solid that stands at `pose` in the ear frame.
 *
 * For a left ear the map reflects, and no turn of a solid equals its reflection unless the solid is its own mirror image. Boxes, cylinders
 * and capsules about their own centre are (in each of their own axes), and so is a part (in its own x = 0 plane). The own x axis is
 * therefore reflected once more beforehand: the two reflections make a turn, and the solid fills the same place.
 */
export function poseToScan(frame: EarFrame, pose: Pose<'ear'>): Pose<'scan'> {
  return { position: pointToScan(frame, pose.position), quaternion: mapTurn(frame, pose.quaternion, (v) => columns(frame, v)) };
}

/** The inverse of `poseToScan`, for the same kind of solids. */
export function poseToEar(frame: EarFrame, pose: Pose<'scan'>): Pose<'ear'> {
  const into = (v: Vec3): Vec3 => [dot(frame.anterior, v), dot(frame.superior, v), dot(frame.lateral, v)];
  return { position: pointToEar(frame, pose.position), quaternion: mapTurn(frame, pose.quaternion, into) };
}

function mapTurn(frame: EarFrame, q: Quat, map: (v: Vec3) => Vec3): Quat {
  const [x, y, z] = OWN_AXES.map((axis) => map(rotate(q, axis))) as [Vec3, Vec3, Vec3];
  const own: Vec3 = frame.side === 'left' ? [-x[0], -x[1], -x[2]] : x;
  return quatFromAxes(own, y, z);
}

/** The mesh in ear coordinates, outward as before: a left ear's triangles are turned round, since the map reflects. */
export function meshToEar(frame: EarFrame, mesh: Mesh<'scan'>): Mesh<'ear'> {
  return {
    frame: 'ear',
    positions: mapAll(mesh.positions, (p) => pointToEar(frame, p as Point<'scan'>)),
    indices: wound(frame, mesh.indices),
  };
}

/** The mesh in scan coordinates, outward as before. */
export function meshToScan(frame: EarFrame, mesh: Mesh<'ear'>): Mesh<'scan'> {
  return {
    frame: 'scan',
    positions: mapAll(mesh.positions, (p) => pointToScan(frame, p as Point<'ear'>)),
    indices: wound(frame, mesh.indices),
  };
}

function mapAll(flat: Float64Array, map: (p: Vec3) => Vec3): Float64Array {
  const out = new Float64Array(flat.length);
  for (let i = 0; i < flat.length; i += 3) {
    const q = map([flat[i] as number, flat[i + 1] as number, flat[i + 2] as number]);
    out[i] = q[0];
    out[i + 1] = q[1];
    out[i + 2] = q[2];
  }
  return out;
}

function wound(frame: EarFrame, indices: Uint32Array): Uint32Array {
  const out = indices.slice();
  if (frame.side === 'right') return out;
  for (let i = 0; i < out.length; i += 3) {
    out[i + 1] = indices[i + 2] as number;
    out[i + 2] = indices[i + 1] as number;
  }
  return out;
}
