import type { Frame, Point } from './vec.ts';
import { pt } from './vec.ts';

/** Triangles, mm, counter-clockwise seen from outside. Three doubles a vertex, three indices a triangle. */
export interface Mesh<F extends Frame> {
  readonly frame: F;
  readonly positions: Float64Array;
  readonly indices: Uint32Array;
}

export const triangleCount = (m: Mesh<Frame>): number => m.indices.length / 3;

export interface Bounds<F extends Frame> {
  readonly min: Point<F>;
  readonly max: Point<F>;
}

/** The axis-parallel box of all vertices. An empty mesh has the box of the origin alone. */
export function boundsOf<F extends Frame>(positions: Float64Array): Bounds<F> {
  if (positions.length === 0) return { min: pt(0, 0, 0), max: pt(0, 0, 0) };
  const lo = [Infinity, Infinity, Infinity];
  const hi = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < positions.length; i++) {
    const c = positions[i] as number;
    const k = i % 3;
    if (c < (lo[k] as number)) lo[k] = c;
    if (c > (hi[k] as number)) hi[k] = c;
  }
  return {
    min: pt(lo[0] as number, lo[1] as number, lo[2] as number),
    max: pt(hi[0] as number, hi[1] as number, hi[2] as number),
  };
}

/** Signed volume (divergence theorem about the first vertex, so that a far origin costs no digits), mm3. */
export function volumeOf(m: Mesh<Frame>): number {
  const { positions: p, indices: t } = m;
  if (t.length === 0) return 0;
  const o = 3 * (t[0] as number);
  const ox = p[o] as number;
  const oy = p[o + 1] as number;
  const oz = p[o + 2] as number;
  let six = 0;
  for (let i = 0; i < t.length; i += 3) {
    const a = 3 * (t[i] as number);
    const b = 3 * (t[i + 1] as number);
    const c = 3 * (t[i + 2] as number);
    const ax = (p[a] as number) - ox;
    const ay = (p[a + 1] as number) - oy;
    const az = (p[a + 2] as number) - oz;
    const bx = (p[b] as number) - ox;
    const by = (p[b + 1] as number) - oy;
    const bz = (p[b + 2] as number) - oz;
    const cx = (p[c] as number) - ox;
    const cy = (p[c + 1] as number) - oy;
    const cz = (p[c + 2] as number) - oz;
    six += ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
  }
  return six / 6;
}

const area = new Float64Array(3);

/** Twice the vector area of a triangle (outward, mm2) whose corners' coordinates begin at p[a], p[b] and p[c], into `out`. */
export function doubleArea(p: Float64Array, a: number, b: number, c: number, out: Float64Array): void {
  const ux = (p[b] as number) - (p[a] as number);
  const uy = (p[b + 1] as number) - (p[a + 1] as number);
  const uz = (p[b + 2] as number) - (p[a + 2] as number);
  const vx = (p[c] as number) - (p[a] as number);
  const vy = (p[c + 1] as number) - (p[a + 1] as number);
  const vz = (p[c + 2] as number) - (p[a + 2] as number);
  out[0] = uy * vz - uz * vy;
  out[1] = uz * vx - ux * vz;
  out[2] = ux * vy - uy * vx;
}

/** Four numbers a triangle: unit outward normal, then area in mm2; all zero for one without area. */
export function faceNormals({ positions: p, indices: t }: Pick<Mesh<Frame>, 'positions' | 'indices'>): Float64Array {
  const out = new Float64Array((4 * t.length) / 3);
  for (let f = 0; 3 * f < t.length; f++) {
    const a = 3 * (t[3 * f] as number);
    const b = 3 * (t[3 * f + 1] as number);
    const c = 3 * (t[3 * f + 2] as number);
    doubleArea(p, a, b, c, area);
    const x = area[0] as number;
    const y = area[1] as number;
    const z = area[2] as number;
    const twice = Math.sqrt(x * x + y * y + z * z);
    if (!(twice > 0)) continue;
    out[4 * f] = x / twice;
    out[4 * f + 1] = y / twice;
    out[4 * f + 2] = z / twice;
    out[4 * f + 3] = twice / 2;
  }
  return out;
}

/** Surface area, mm2. */
export function areaOf(mesh: Mesh<Frame>): number {
  const faces = faceNormals(mesh);
  let area = 0;
  for (let k = 3; k < faces.length; k += 4) area += faces[k] as number;
  return area;
}
