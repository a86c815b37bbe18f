/** Surfaces made ready for the screen: smooth normals with a crease angle. The geometry is not touched. */
import { faceNormals, type Mesh } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

/** What a graphics card takes: single precision, one normal a vertex. Transferable between threads. */
export interface Shaded {
  readonly positions: Float32Array<ArrayBuffer>;
  readonly normals: Float32Array<ArrayBuffer>;
  readonly indices: Uint32Array<ArrayBuffer>;
}

/** cos 38 degrees: a cut's edge stays sharp, a scan's noise is smoothed. */
const CREASE = 0.788;
/** cos 30 degrees: how far a face may lie from the mean of a smooth patch. */
const FROM_MEAN = 0.866;

/**
 * Vertices that lie on one smooth patch are shared; where faces meet at more than the crease angle each corner gets the
 * mean of the faces on its own side, weighted by their area. O(triangles x valence).
 */
export function shade(mesh: Mesh<Frame>): Shaded {
  const { positions: p, indices: t } = mesh;
  const corners = t.length;
  const vertices = p.length / 3;
  const face = faceNormals(mesh);
  const start = new Uint32Array(vertices + 1);
  for (let i = 0; i < corners; i++) start[(t[i] as number) + 1]!++;
  for (let v = 0; v < vertices; v++) start[v + 1]! += start[v] as number;
  const fill = start.slice(0, vertices);
  const around = new Uint32Array(corners);
  for (let i = 0; i < corners; i++) around[fill[t[i] as number]!++] = i;

  // Never more than one vertex a corner; cut to size at the end.
  const outP = new Float32Array(3 * corners);
  const outN = new Float32Array(3 * corners);
  const indices = new Uint32Array(corners);
  const n = new Float64Array(3);
  let made = 0;
  const push = (v: number): number => {
    for (let k = 0; k < 3; k++) {
      outP[3 * made + k] = p[3 * v + k] as number;
      outN[3 * made + k] = n[k] as number;
    }
    return made++;
  };
  for (let v = 0; v < vertices; v++) {
    const from = start[v] as number;
    const to = start[v + 1] as number;
    if (from === to) continue;
    meanNormal(face, around, from, to, -1, n);
    if (isSmooth(face, around, from, to, n)) {
      const at = push(v);
      for (let i = from; i < to; i++) indices[around[i] as number] = at;
    } else {
      for (let i = from; i < to; i++) {
        meanNormal(face, around, from, to, Math.floor((around[i] as number) / 3), n);
        indices[around[i] as number] = push(v);
      }
    }
  }
  return { positions: outP.slice(0, 3 * made), normals: outN.slice(0, 3 * made), indices };
}

const cosine = (face: Float64Array, a: number, b: number): number =>
  (face[4 * a] as number) * (face[4 * b] as number) +
  (face[4 * a + 1] as number) * (face[4 * b + 1] as number) +
  (face[4 * a + 2] as number) * (face[4 * b + 2] as number);

/** Do all faces round a vertex lie near their mean? */
function isSmooth(face: Float64Array, around: Uint32Array, from: number, to: number, mean: Float64Array): boolean {
  for (let i = from; i < to; i++) {
    const f = 4 * Math.floor((around[i] as number) / 3);
    if (face[f + 3] === 0) continue;
    const c =
      (face[f] as number) * (mean[0] as number) +
      (face[f + 1] as number) * (mean[1] as number) +
      (face[f + 2] as number) * (mean[2] as number);
    if (c < FROM_MEAN) return false;
  }
  return true;
}

/** Mean over the faces round a vertex, or only those within the crease angle of face `own`. */
function meanNormal(face: Float64Array, around: Uint32Array, from: number, to: number, own: number, out: Float64Array): void {
  let x = 0;
  let y = 0;
  let z = 0;
  for (let i = from; i < to; i++) {
    const f = Math.floor((around[i] as number) / 3);
    if (own >= 0 && cosine(face, own, f) < CREASE) continue;
    const w = face[4 * f + 3] as number;
    x += w * (face[4 * f] as number);
    y += w * (face[4 * f + 1] as number);
    z += w * (face[4 * f + 2] as number);
  }
  const l = Math.sqrt(x * x + y * y + z * z) || 1;
  out[0] = x / l;
  out[1] = y / l;
  out[2] = z / l;
}
