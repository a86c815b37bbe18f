/**
 * Where the cast sticks out: candidates for the canal's tip.
 *
 * Peaks of the distance from the volume's centroid over the surface, with the depth of the saddle that parts each from a higher one
 * (persistence). Distance, centroid and saddle do not change when the cast is turned, moved or mirrored.
 */
import type { Mesh } from '../geometry/mesh.ts';
import { addScaled, distance, dot, type Frame, length, normalize, type Point, pointAt, pt, sub } from '../geometry/vec.ts';

export interface Tip<F extends Frame> {
  readonly vertex: number;
  readonly at: Point<F>;
  /** Unit, into the material: against the vector area of the surface near the tip, which for a rod is its axis. */
  readonly inward: Point<F>;
  readonly rise: number; // persistence, mm
}

/** Triangles round each vertex, packed: those of v are list[from[v]] ... list[from[v + 1] - 1]. */
export interface Fans {
  readonly from: Uint32Array;
  readonly list: Uint32Array;
}

export function fansOf(mesh: Mesh<Frame>): Fans {
  const n = mesh.positions.length / 3;
  const { indices } = mesh;
  const from = new Uint32Array(n + 1);
  for (let i = 0; i < indices.length; i++) {
    const next = (indices[i] as number) + 1;
    from[next] = (from[next] as number) + 1;
  }
  for (let v = 0; v < n; v++) from[v + 1] = (from[v + 1] as number) + (from[v] as number);
  const next = from.slice();
  const list = new Uint32Array(indices.length);
  for (let i = 0; i < indices.length; i++) {
    const v = indices[i] as number;
    list[next[v] as number] = (i / 3) | 0;
    next[v] = (next[v] as number) + 1;
  }
  return { from, list };
}

/** Centroid of the enclosed volume. */
export function centroidOf<F extends Frame>(mesh: Mesh<F>): Point<F> {
  const { positions: p, indices: t } = mesh;
  const [ox, oy, oz] = pointAt<F>(p, t[0] as number);
  let six = 0;
  let x = 0;
  let y = 0;
  let z = 0;
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
    const w = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
    six += w;
    x += w * (ax + bx + cx);
    y += w * (ay + by + cy);
    z += w * (az + bz + cz);
  }
  return pt(ox + x / (4 * six), oy + y / (4 * six), oz + z / (4 * six));
}

/** Distances are sorted in steps of this, mm: finer than any rise that counts, and a counting sort is linear. */
const STEP = 0.02;

/** Peaks that rise at least `least` mm above the saddle to a higher peak, highest rise first. `reach`: radius of the surface patch that gives the direction, mm. */
export function tipsOf<F extends Frame>(mesh: Mesh<F>, fans: Fans, centre: Point<F>, least: number, reach: number): Tip<F>[] {
  const n = mesh.positions.length / 3;
  const height = new Float64Array(n);
  let most = 0;
  for (let v = 0; v < n; v++) {
    height[v] = distance(pointAt<F>(mesh.positions, v), centre);
    if ((height[v] as number) > most) most = height[v] as number;
  }
  return peaks(mesh, fans, height, descending(height, most), least).map(({ vertex, rise }) => {
    const at = pointAt<F>(mesh.positions, vertex);
    return { vertex, at, rise, inward: inwardAt(mesh, fans, vertex, reach) };
  });
}

function descending(height: Float64Array, most: number): Uint32Array {
  const bins = Math.floor(most / STEP) + 2;
  const from = new Uint32Array(bins + 1);
  const bin = (v: number): number => bins - 1 - Math.floor((height[v] as number) / STEP);
  for (let v = 0; v < height.length; v++) {
    const next = bin(v) + 1;
    from[next] = (from[next] as number) + 1;
  }
  for (let b = 0; b < bins; b++) from[b + 1] = (from[b + 1] as number) + (from[b] as number);
  const order = new Uint32Array(height.length);
  for (let v = 0; v < height.length; v++) {
    const b = bin(v);
    order[from[b] as number] = v;
    from[b] = (from[b] as number) + 1;
  }
  return order;
}

function peaks(mesh: Mesh<Frame>, fans: Fans, height: Float64Array, order: Uint32Array, least: number): { vertex: number; rise: number }[] {
  const parent = new Int32Array(height.length).fill(-1);
  const peak = new Uint32Array(height.length);
  const found: { vertex: number; rise: number }[] = [];
  const root = (v: number): number => {
    let r = v;
    while (parent[r] !== r) {
      parent[r] = parent[parent[r] as number] as number;
      r = parent[r] as number;
    }
    return r;
  };
  const top = (r: number): number => height[peak[r] as number] as number;
  for (const v of order) {
    if (fans.from[v] === fans.from[v + 1]) continue;
    parent[v] = v;
    peak[v] = v;
    let a = v; // the root of v
    for (let i = fans.from[v] as number; i < (fans.from[v + 1] as number); i++) {
      for (let k = 0; k < 3; k++) {
        const w = mesh.indices[3 * (fans.list[i] as number) + k] as number;
        if (w === v || (parent[w] as number) < 0) continue;
        const b = root(w);
        if (a === b) continue;
        const keeps = top(a) >= top(b);
        const low = keeps ? b : a;
        if (!keeps) a = b;
        const rise = top(low) - (height[v] as number);
        if (rise >= least) found.push({ vertex: peak[low] as number, rise });
        parent[low] = a;
      }
    }
  }
  for (const v of order) if (parent[v] === v) found.push({ vertex: peak[v] as number, rise: top(v) });
  return found.sort((a, b) => b.rise - a.rise);
}

/** Against the vector area of the connected surface within `reach` of the vertex. */
function inwardAt<F extends Frame>(mesh: Mesh<F>, fans: Fans, vertex: number, reach: number): Point<F> {
  const { positions: p, indices: t } = mesh;
  const at = pointAt<F>(p, vertex);
  const seen = new Set([vertex]);
  const stack = [vertex];
  const counted = new Set<number>();
  let sum = pt<F>(0, 0, 0);
  while (stack.length > 0) {
    const v = stack.pop() as number;
    for (let i = fans.from[v] as number; i < (fans.from[v + 1] as number); i++) {
      const f = fans.list[i] as number;
      if (counted.has(f)) continue;
      counted.add(f);
      const a = pointAt<F>(p, t[3 * f] as number);
      const e = sub(pointAt<F>(p, t[3 * f + 1] as number), a);
      const g = sub(pointAt<F>(p, t[3 * f + 2] as number), a);
      sum = addScaled(sum, pt<F>(e[1] * g[2] - e[2] * g[1], e[2] * g[0] - e[0] * g[2], e[0] * g[1] - e[1] * g[0]), -1);
      for (let k = 0; k < 3; k++) {
        const w = t[3 * f + k] as number;
        if (seen.has(w) || length(sub(pointAt<F>(p, w), at)) > reach) continue;
        seen.add(w);
        stack.push(w);
      }
    }
  }
  return normalize(sum);
}

/** Some direction square to the way from `centre` to `tip` that turns with the cast: towards the vertex farthest from that line. */
export function acrossOf<F extends Frame>(mesh: Mesh<F>, centre: Point<F>, tip: Point<F>): Point<F> {
  const axis = normalize(sub(tip, centre));
  const { positions: p } = mesh;
  let most = -1;
  let best = 0;
  for (let i = 0; i < p.length; i += 3) {
    const x = (p[i] as number) - centre[0];
    const y = (p[i + 1] as number) - centre[1];
    const z = (p[i + 2] as number) - centre[2];
    const along = x * axis[0] + y * axis[1] + z * axis[2];
    const square = x * x + y * y + z * z - along * along;
    if (square > most) {
      most = square;
      best = i / 3;
    }
  }
  const d = sub(pointAt<F>(p, best), centre);
  return normalize(addScaled(d, axis, -dot(d, axis)));
}
