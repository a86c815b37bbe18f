import type { Mesh } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

/** A binary STL file: coordinates as written by a scanner, mm, 32-bit floats, little-endian. */
export function encodeStl(mesh: Mesh<Frame>, header = 'ear impression, mm'): Uint8Array {
  const { positions: p, indices: t } = mesh;
  const n = t.length / 3;
  const bytes = new Uint8Array(84 + 50 * n);
  const view = new DataView(bytes.buffer);
  for (let i = 0; i < Math.min(79, header.length); i++) bytes[i] = header.charCodeAt(i) & 0x7f;
  view.setUint32(80, n, true);
  for (let i = 0; i < n; i++) {
    const [a, b, c] = [3 * (t[3 * i] as number), 3 * (t[3 * i + 1] as number), 3 * (t[3 * i + 2] as number)];
    const u = [0, 1, 2].map((k) => (p[b + k] as number) - (p[a + k] as number)) as [number, number, number];
    const v = [0, 1, 2].map((k) => (p[c + k] as number) - (p[a + k] as number)) as [number, number, number];
    const m = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]] as const;
    const l = Math.sqrt(m[0] * m[0] + m[1] * m[1] + m[2] * m[2]) || 1;
    const o = 84 + 50 * i;
    for (let k = 0; k < 3; k++) {
      view.setFloat32(o + 4 * k, (m[k] as number) / l, true);
      view.setFloat32(o + 12 + 4 * k, p[a + k] as number, true);
      view.setFloat32(o + 24 + 4 * k, p[b + k] as number, true);
      view.setFloat32(o + 36 + 4 * k, p[c + k] as number, true);
    }
  }
  return bytes;
}
