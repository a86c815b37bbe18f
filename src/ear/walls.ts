/** The axis of a tube from its walls: the direction that their normals are all nearly square to. */

import { faceNormals, type Mesh } from '../geometry/mesh.ts';
import { cross, dot, type Frame, normalize, type Point, pointAt, pt, scale, sub } from '../geometry/vec.ts';

/** Faces that look this much along the axis are an end face, not wall: cosine of 53 degrees. */
const END_FACE = 0.6;
const ROUNDS = 4;

/**
 * The tube's axis near a place, by the wall within `reach` mm of it: least squares of the cosines between axis and normals, by area; what
 * looks along the axis found so far is left out. Starts from `from`, and looks the same way.
 */
export function axisOfWalls<F extends Frame>(mesh: Mesh<F>, at: Point<F>, reach: number, from: Point<F>): Point<F> {
  const faces = facesNear(mesh, at, reach);
  let axis = from;
  for (let round = 0; round < ROUNDS; round++) {
    const next = squareTo(faces, axis);
    axis = dot(next, axis) < 0 ? scale(next, -1) : next;
  }
  return axis;
}

/** Normal and area of each triangle that begins within reach. */
function facesNear<F extends Frame>(mesh: Mesh<F>, at: Point<F>, reach: number): Float64Array {
  const all = faceNormals(mesh);
  const out: number[] = [];
  for (let f = 0; 3 * f < mesh.indices.length; f++) {
    const d = sub(pointAt<F>(mesh.positions, mesh.indices[3 * f] as number), at);
    if (dot(d, d) > reach * reach) continue;
    for (let k = 0; k < 4; k++) out.push(all[4 * f + k] as number);
  }
  return Float64Array.from(out);
}

/** The direction with the least sum of squared cosines: one step of inverse iteration on the normals' second moments, thrice. */
function squareTo<F extends Frame>(faces: Float64Array, axis: Point<F>): Point<F> {
  const m = [1e-6, 0, 0, 1e-6, 0, 1e-6] as [number, number, number, number, number, number];
  for (let i = 0; i < faces.length; i += 4) {
    const [x, y, z, area] = [faces[i], faces[i + 1], faces[i + 2], faces[i + 3]] as [number, number, number, number];
    if (Math.abs(x * axis[0] + y * axis[1] + z * axis[2]) > END_FACE) continue;
    m[0] += area * x * x;
    m[1] += area * x * y;
    m[2] += area * x * z;
    m[3] += area * y * y;
    m[4] += area * y * z;
    m[5] += area * z * z;
  }
  const [rx, ry, rz] = [pt<F>(m[0], m[1], m[2]), pt<F>(m[1], m[3], m[4]), pt<F>(m[2], m[4], m[5])];
  const [cx, cy, cz] = [cross(ry, rz), cross(rz, rx), cross(rx, ry)]; // the inverse times the determinant
  let d = axis;
  for (let step = 0; step < 3; step++) d = normalize(pt<F>(dot(cx, d), dot(cy, d), dot(cz, d)));
  return d;
}
