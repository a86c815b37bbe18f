/** Cutting a triangle surface where a value on its vertices changes sign, and keeping what hangs together. */
import type { Triangles } from '../geometry/polygonise.ts';

/** A vertex this near to the cut (share of its cut edges) is taken as lying on it, so that no sliver is made. */
const SNAP = 0.15;

/** Keeps where `value` (one a vertex) is below zero; the new edge runs where it is zero by linear interpolation. */
export function keepBelow(mesh: Triangles, value: Float64Array): Triangles {
  const { indices: t } = mesh;
  const p = Array.from(mesh.positions);
  const v = snapped(mesh, value);
  const made = new Map<number, number>();
  const many = value.length;
  const out: number[] = [];
  const cross = (a: number, b: number): number => {
    const key = a < b ? a * many + b : b * many + a;
    const known = made.get(key);
    if (known !== undefined) return known;
    const s = (v[a] as number) / ((v[a] as number) - (v[b] as number));
    for (let k = 0; k < 3; k++) p.push((p[3 * a + k] as number) + s * ((p[3 * b + k] as number) - (p[3 * a + k] as number)));
    made.set(key, p.length / 3 - 1);
    return p.length / 3 - 1;
  };
  for (let i = 0; i < t.length; i += 3) {
    const tri = [t[i] as number, t[i + 1] as number, t[i + 2] as number];
    const poly: number[] = [];
    let below = false;
    for (let k = 0; k < 3; k++) {
      const a = tri[k] as number;
      const b = tri[(k + 1) % 3] as number;
      const va = v[a] as number;
      const vb = v[b] as number;
      if (va < 0) below = true;
      if (va <= 0) poly.push(a);
      if ((va < 0 && vb > 0) || (va > 0 && vb < 0)) poly.push(cross(a, b));
    }
    if (!below || poly.length < 3) continue;
    for (let k = 1; k + 1 < poly.length; k++) out.push(poly[0] as number, poly[k] as number, poly[k + 1] as number);
  }
  return compact({ positions: Float64Array.from(p), indices: Uint32Array.from(out) });
}

function snapped({ indices: t }: Triangles, value: Float64Array): Float64Array {
  const out = Float64Array.from(value);
  for (let i = 0; i < t.length; i++) {
    const a = t[i] as number;
    const b = t[i % 3 === 2 ? i - 2 : i + 1] as number;
    const va = value[a] as number;
    const vb = value[b] as number;
    if (va < 0 === vb < 0) continue;
    const s = va / (va - vb);
    if (s < SNAP) out[a] = 0;
    else if (s > 1 - SNAP) out[b] = 0;
  }
  return out;
}

/** Only the piece with the most triangles. */
export function largestPiece(mesh: Triangles): Triangles {
  const { positions: p, indices: t } = mesh;
  const parent = new Uint32Array(p.length / 3).map((_, i) => i);
  const root = (i: number): number => {
    let r = i;
    while (parent[r] !== r) {
      parent[r] = parent[parent[r] as number] as number;
      r = parent[r] as number;
    }
    return r;
  };
  for (let i = 0; i < t.length; i += 3) {
    const a = root(t[i] as number);
    parent[root(t[i + 1] as number)] = a;
    parent[root(t[i + 2] as number)] = a;
  }
  const size = new Map<number, number>();
  for (let i = 0; i < t.length; i += 3) {
    const r = root(t[i] as number);
    size.set(r, (size.get(r) ?? 0) + 1);
  }
  let best = -1;
  let most = 0;
  for (const [r, n] of size) {
    if (n <= most) continue;
    most = n;
    best = r;
  }
  if (most * 3 === t.length) return mesh;
  const kept: number[] = [];
  for (let i = 0; i < t.length; i += 3)
    if (root(t[i] as number) === best) kept.push(t[i] as number, t[i + 1] as number, t[i + 2] as number);
  return compact({ positions: p, indices: Uint32Array.from(kept) });
}

/** Drops vertices that no triangle uses. */
function compact({ positions: p, indices: t }: Triangles): Triangles {
  const to = new Int32Array(p.length / 3).fill(-1);
  const kept: number[] = [];
  const indices = t.map((v) => {
    if ((to[v] as number) < 0) {
      to[v] = kept.length / 3;
      kept.push(p[3 * v] as number, p[3 * v + 1] as number, p[3 * v + 2] as number);
    }
    return to[v] as number;
  });
  return { positions: Float64Array.from(kept), indices };
}

/** Outward unit normals of the vertices, by triangle areas. */
export function normalsOf({ positions: p, indices: t }: Triangles): Float64Array {
  const n = new Float64Array(p.length);
  for (let i = 0; i < t.length; i += 3) {
    const [a, b, c] = [3 * (t[i] as number), 3 * (t[i + 1] as number), 3 * (t[i + 2] as number)];
    const u = [0, 1, 2].map((k) => (p[b + k] as number) - (p[a + k] as number)) as [number, number, number];
    const v = [0, 1, 2].map((k) => (p[c + k] as number) - (p[a + k] as number)) as [number, number, number];
    const m = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    for (const o of [a, b, c]) for (let k = 0; k < 3; k++) n[o + k] = (n[o + k] as number) + (m[k] as number);
  }
  for (let i = 0; i < n.length; i += 3) {
    const [x, y, z] = [n[i] as number, n[i + 1] as number, n[i + 2] as number];
    const l = Math.sqrt(x * x + y * y + z * z) || 1;
    n[i] = x / l;
    n[i + 1] = y / l;
    n[i + 2] = z / l;
  }
  return n;
}
