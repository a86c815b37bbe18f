/** Surfaces made ready for the screen: smooth normals with a crease angle. The geometry is not touched. */
import type { Mesh } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

/** What a graphics card takes: single precision, one normal a vertex. Transferable between threads. */
export interface Shaded {
  readonly positions: Float32Array<ArrayBuffer>;
  readonly normals: Float32Array<ArrayBuffer>;
  readonly indices: Uint32Array<ArrayBuffer>;
}

/** cos 38 degrees: a cut's edge stays sharp, a scan's noise is smoothed. */
const CREASE = 0.788;

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

  const outP: number[] = [];
  const outN: number[] = [];
  const indices = new Uint32Array(corners);
  const n = new Float64Array(3);
  for (let v = 0; v < vertices; v++) {
    const from = start[v] as number;
    const to = start[v + 1] as number;
    if (from === to) continue;
    if (isSmooth(face, around, from, to)) {
      meanNormal(face, around, from, to, -1, n);
      const at = push(v);
      for (let i = from; i < to; i++) indices[around[i] as number] = at;
    } else {
      for (let i = from; i < to; i++) {
        meanNormal(face, around, from, to, Math.floor((around[i] as number) / 3), n);
        indices[around[i] as number] = push(v);
      }
    }
  }
  return { positions: Float32Array.from(outP), normals: Float32Array.from(outN), indices };

  function push(v: number): number {
    outP.push(p[3 * v] as number, p[3 * v + 1] as number, p[3 * v + 2] as number);
    outN.push(n[0] as number, n[1] as number, n[2] as number);
    return outP.length / 3 - 1;
  }
}

/** Four numbers a face: unit normal, then twice its area. */
function faceNormals({ positions: p, indices: t }: Mesh<Frame>): Float64Array {
  const out = new Float64Array((4 * t.length) / 3);
  for (let f = 0; f < t.length / 3; f++) {
    const a = 3 * (t[3 * f] as number);
    const b = 3 * (t[3 * f + 1] as number);
    const c = 3 * (t[3 * f + 2] as number);
    const ux = (p[b] as number) - (p[a] as number);
    const uy = (p[b + 1] as number) - (p[a + 1] as number);
    const uz = (p[b + 2] as number) - (p[a + 2] as number);
    const vx = (p[c] as number) - (p[a] as number);
    const vy = (p[c + 1] as number) - (p[a + 1] as number);
    const vz = (p[c + 2] as number) - (p[a + 2] as number);
    const x = uy * vz - uz * vy;
    const y = uz * vx - ux * vz;
    const z = ux * vy - uy * vx;
    const l = Math.sqrt(x * x + y * y + z * z);
    if (l === 0) continue;
    out[4 * f] = x / l;
    out[4 * f + 1] = y / l;
    out[4 * f + 2] = z / l;
    out[4 * f + 3] = l;
  }
  return out;
}

const cosine = (face: Float64Array, a: number, b: number): number =>
  (face[4 * a] as number) * (face[4 * b] as number) +
  (face[4 * a + 1] as number) * (face[4 * b + 1] as number) +
  (face[4 * a + 2] as number) * (face[4 * b + 2] as number);

function isSmooth(face: Float64Array, around: Uint32Array, from: number, to: number): boolean {
  for (let i = from; i < to; i++) {
    const a = Math.floor((around[i] as number) / 3);
    if (face[4 * a + 3] === 0) continue;
    for (let k = i + 1; k < to; k++) {
      const b = Math.floor((around[k] as number) / 3);
      if (face[4 * b + 3] !== 0 && cosine(face, a, b) < CREASE) return false;
    }
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
