/**
 * From "each side has one partner" to "each edge, by its vertex numbers, has two triangles": vertices at which several
 * sheets of the surface meet are doubled, one for each sheet.
 */
import { joinEdges, nextOf, previousOf, triangleOf } from './joins.ts';
import type { Surface } from './weld.ts';

export interface Parted {
  readonly surface: Surface;
  /** Vertices that were doubled: places where the surface touches itself. */
  readonly doubled: readonly number[];
  /** Edges that had to be split in the middle, because both their ends are one vertex for two sheets. */
  readonly split: number;
  /** Of each triangle: the one it came from. */
  readonly origin: Int32Array;
}

/**
 * `twin` must be complete and the triangles oriented alike. A surface without such places comes back as it is; `patched`
 * says that triangles were added to it or edges taken apart, so that edges may be shared although no vertex is.
 */
export function partSheets(s: Surface, twin: Int32Array, patched: boolean): Parted {
  const { indices, doubled } = doubleVertices(s, twin);
  const many = s.indices.length / 3;
  const origin = Int32Array.from({ length: many }, (_, t) => t);
  if (doubled.length === 0 && !patched) return { surface: s, doubled, split: 0, origin };
  const copies = doubled.flatMap((v) => [...s.positions.subarray(3 * v, 3 * v + 3)]);
  const positions = new Float64Array(s.positions.length + copies.length);
  positions.set(s.positions);
  positions.set(copies, s.positions.length);
  return splitSharedEdges({ positions, indices }, twin, doubled, origin);
}

/** Walks round every vertex through the partners; each further round that starts at it gets a vertex of its own. */
function doubleVertices(s: Surface, twin: Int32Array): { indices: Uint32Array; doubled: number[] } {
  const { indices: ix } = s;
  const vertices = s.positions.length / 3;
  const indices = ix.slice();
  const seen = new Uint8Array(ix.length);
  const met = new Uint8Array(vertices);
  const doubled: number[] = [];
  for (let h = 0; h < ix.length; h++) {
    if (seen[h] === 1) continue;
    const v = ix[h] as number;
    const name = met[v] === 1 ? vertices + doubled.length : v;
    if (met[v] === 1) doubled.push(v);
    met[v] = 1;
    for (let g = h; seen[g] === 0; g = twin[previousOf(g)] as number) {
      seen[g] = 1;
      indices[g] = name;
    }
  }
  return { indices, doubled };
}

/**
 * Where two sheets still share an edge by both ends, the later pair of triangles is split at the edge's middle. Such
 * places need a self-touching surface whose sheets join again at both ends; a few in a million files.
 */
function splitSharedEdges(s: Surface, twin: Int32Array, doubled: readonly number[], origin: Int32Array): Parted {
  const joins = joinEdges(s.indices, s.positions.length / 3);
  if (joins.knots.length === 0) return { surface: s, doubled, split: 0, origin };
  const points = [...s.positions];
  const middle = new Map<number, number>(); // half-edge -> its middle vertex
  let split = 0;
  for (let i = 0; i + 1 < joins.knotStart.length; i++) {
    const knot = joins.knots.slice(joins.knotStart[i], joins.knotStart[i + 1]);
    const kept = [knot[0], twin[knot[0] as number]];
    for (const h of knot) {
      if (kept.includes(h) || middle.has(h)) continue;
      const a = s.indices[h] as number;
      const b = s.indices[nextOf(h)] as number;
      const m = points.length / 3;
      for (let k = 0; k < 3; k++) points.push(((s.positions[3 * a + k] as number) + (s.positions[3 * b + k] as number)) / 2);
      middle.set(h, m);
      middle.set(twin[h] as number, m);
      split++;
    }
  }
  const indices: number[] = [];
  const from: number[] = [];
  const touched = new Set([...middle.keys()].map(triangleOf));
  for (let t = 0; 3 * t < s.indices.length; t++) {
    const ring: number[] = [];
    for (let h = 3 * t; h < 3 * t + 3; h++) {
      ring.push(s.indices[h] as number);
      const m = middle.get(h);
      if (m !== undefined) ring.push(m);
    }
    for (const corner of touched.has(t) ? cutRing(ring, middle, t) : ring) indices.push(corner);
    while (from.length < indices.length / 3) from.push(origin[t] as number);
  }
  return {
    surface: { positions: Float64Array.from(points), indices: Uint32Array.from(indices) },
    doubled,
    split,
    origin: Int32Array.from(from),
  };
}

/** A triangle with one to three middle points on its sides, as triangles: its corners and middles in order round it. */
function cutRing(ring: number[], middle: Map<number, number>, t: number): number[] {
  if (ring.length === 6) {
    const [a, m, b, n, c, o] = ring as [number, number, number, number, number, number];
    return [a, m, o, m, b, n, n, c, o, m, n, o];
  }
  // Begin at a middle point: a fan from it has no flat triangle, for no other two points lie on its side.
  const first = [3 * t, 3 * t + 1, 3 * t + 2].map((h) => middle.get(h)).find((m) => m !== undefined) as number;
  const at = ring.indexOf(first);
  const turned = [...ring.slice(at), ...ring.slice(0, at)];
  const out: number[] = [];
  for (let i = 1; i + 1 < turned.length; i++) out.push(turned[0] as number, turned[i] as number, turned[i + 1] as number);
  return out;
}
