/** Does the impression end in a flat face: cut off, or pressed against the stop that it was taken with? */

import { faceNormals } from '../geometry/mesh.ts';
import { dot, normalize, type Point, pointAt, pt, scale, sub } from '../geometry/vec.ts';
import type { Ear } from '../model/ear.ts';

/** Faces this near to the end count, mm. */
const NEAR = 5;
/** Faces that look this much medially belong to the end: cosine of 60 degrees. */
const MEDIAL = 0.5;
/** One plane: normals within this of their mean, cosine of 8 degrees. */
const FLAT = 0.99;
/** A smaller flat spot is no end face, mm2. */
const LEAST = 6;
/** Share of the end that lies in one plane. A round tip has about a tenth. */
const SHARE = 0.5;

/**
 * The flat face's area, mm2; undefined for a tip that is round or ragged. (Its tilt is not told: the centreline's direction at
 * the very end is extrapolated, good to some 15 degrees.)
 */
export function tipFaceOf(ear: Ear): number | undefined {
  const { positions: p, indices: ix } = ear.cast;
  const normals = faceNormals(ear.cast);
  const medial = pointAt<'ear'>(ear.centreline.tangents, ear.centreline.depths.length - 1);
  const faces: { n: Point<'ear'>; area: number }[] = [];
  let all = 0;
  for (let t = 0; 3 * t < ix.length; t++) {
    const d = sub(pointAt<'ear'>(p, ix[3 * t] as number), ear.end.at);
    if (dot(d, d) > NEAR * NEAR) continue;
    const n = pt<'ear'>(normals[4 * t] as number, normals[4 * t + 1] as number, normals[4 * t + 2] as number);
    if (dot(n, medial) < MEDIAL) continue;
    const area = normals[4 * t + 3] as number;
    faces.push({ n, area });
    all += area;
  }
  if (all === 0) return undefined;
  // The mean of all, then of those near it, twice: the plane that most of the end lies in.
  let mean = normalOf(faces);
  for (let turn = 0; turn < 2; turn++) {
    const close = faces.filter((f) => dot(f.n, mean) > FLAT - 0.03 * (1 - turn));
    if (close.length > 0) mean = normalOf(close);
  }
  const area = faces.reduce((s, f) => s + (dot(f.n, mean) > FLAT ? f.area : 0), 0);
  if (area < LEAST || area < SHARE * all) return undefined;
  return area;
}

const normalOf = (faces: readonly { n: Point<'ear'>; area: number }[]): Point<'ear'> =>
  normalize(
    faces.reduce((s, f) => pt<'ear'>(s[0] + f.area * f.n[0], s[1] + f.area * f.n[1], s[2] + f.area * f.n[2]), scale(pt<'ear'>(1, 1, 1), 0)),
  );
