/**
 * Cracks: places where the surface is whole to the eye but its triangles do not share edges, because a vertex was
 * written twice with slightly different numbers, or because one side of an edge has a vertex that the other has not.
 * Both are closed only where two open edges thereby become one; nothing else moves.
 */
import { pointAt } from '../../geometry/vec.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, fixed, place } from '../wording.ts';
import { PointGrid } from './grid.ts';
import { nextOf, OPEN, triangleOf } from './joins.ts';
import type { Surface } from './weld.ts';

/** Widest crack that is closed, mm: a fifth of the finest step of ear scanners (some 0.005 mm, from memory), far below the verdicts' 0.1 mm. */
export const WELD_TOLERANCE = 0.001;

interface OpenEdges {
  readonly from: number[];
  readonly to: number[];
  /** Vertices on open edges, ascending. */
  readonly vertices: number[];
}

function openEdgesOf(ix: Uint32Array, twin: Int32Array): OpenEdges {
  const from: number[] = [];
  const to: number[] = [];
  for (let h = 0; h < ix.length; h++) {
    if (twin[h] !== OPEN) continue;
    from.push(ix[h] as number);
    to.push(ix[nextOf(h)] as number);
  }
  const vertices = [...new Set([...from, ...to].sort((a, b) => a - b))];
  return { from, to, vertices };
}

/** Joins open edges whose ends lie within the tolerance of each other. Returns the surface itself when there are none. */
export function weldCracks(s: Surface, twin: Int32Array, findings: Finding[]): Surface {
  const open = openEdgesOf(s.indices, twin);
  if (open.from.length === 0) return s;
  const pairs = matchEdges(s, open);
  if (pairs.length === 0) return s;
  const root = new Map<number, number>();
  const find = (v: number): number => {
    let r = v;
    while (root.has(r)) r = root.get(r) as number;
    return r;
  };
  const join = (a: number, b: number): void => {
    const lo = Math.min(find(a), find(b));
    const hi = Math.max(find(a), find(b));
    if (lo !== hi && between(s.positions, lo, hi) <= WELD_TOLERANCE) root.set(hi, lo);
  };
  for (const [e, f, along] of pairs) {
    join(open.from[e] as number, (along ? open.from[f] : open.to[f]) as number);
    join(open.to[e] as number, (along ? open.to[f] : open.from[f]) as number);
  }
  const target = mergesThatKeepTriangles(s.indices, root, find);
  if (target.size === 0) return s;
  let widest = 0;
  let first = Infinity;
  for (const [v, r] of target) {
    widest = Math.max(widest, between(s.positions, v, r));
    first = Math.min(first, r);
  }
  const at = pointAt<'scan'>(s.positions, first);
  findings.push({
    code: 'scan/welded',
    level: 'changed',
    text: `${counted(target.size, 'vertex', 'vertices')} moved onto a neighbour to close cracks, by ${widest < 1e-6 ? 'less than 0.000001' : fixed(widest, 6)} mm at most (tolerance ${WELD_TOLERANCE} mm).`,
    count: target.size,
    at,
  });
  return { positions: s.positions, indices: s.indices.map((v) => target.get(v) ?? v) };
}

const between = (p: Float64Array, a: number, b: number): number => {
  const x = (p[3 * a] as number) - (p[3 * b] as number);
  const y = (p[3 * a + 1] as number) - (p[3 * b + 1] as number);
  const z = (p[3 * a + 2] as number) - (p[3 * b + 2] as number);
  return Math.sqrt(x * x + y * y + z * z);
};

type EdgePair = readonly [e: number, f: number, along: boolean, gap: number];

/** Pairs of open edges with both ends within the tolerance, nearest first, each edge in one pair at most. */
function matchEdges(s: Surface, open: OpenEdges): EdgePair[] {
  const p = s.positions;
  const near = new PointGrid(p, open.vertices, WELD_TOLERANCE);
  const edgesAt = incident(open);
  const candidates: EdgePair[] = [];
  const known = new Map<number, readonly number[]>();
  for (let e = 0; e < open.from.length; e++) {
    const a = open.from[e] as number;
    const b = open.to[e] as number;
    if (between(p, a, b) <= WELD_TOLERANCE) continue; // an edge shorter than the tolerance tells nothing
    const besideA = known.get(a) ?? near.within(a, WELD_TOLERANCE);
    known.set(a, besideA);
    for (const v of besideA) {
      for (const f of edgesAt.get(v) ?? []) {
        if (f <= e) continue;
        // The other edge begins beside a (runs along) or ends there; its far end must lie beside b.
        const along = open.from[f] === v;
        const far = between(p, b, (along ? open.to[f] : open.from[f]) as number);
        if (far <= WELD_TOLERANCE) candidates.push([e, f, along, between(p, a, v) + far]);
      }
    }
  }
  candidates.sort((x, y) => x[3] - y[3] || x[0] - y[0] || x[1] - y[1]);
  const used = new Uint8Array(open.from.length);
  return candidates.filter(([e, f]) => {
    if (used[e] === 1 || used[f] === 1) return false;
    used[e] = 1;
    used[f] = 1;
    return true;
  });
}

/** The open edges (by their numbers) at each vertex. */
function incident(open: OpenEdges): Map<number, number[]> {
  const at = new Map<number, number[]>();
  for (let e = 0; e < open.from.length; e++) {
    for (const v of [open.from[e] as number, open.to[e] as number]) {
      const list = at.get(v);
      if (list) list.push(e);
      else at.set(v, [e]);
    }
  }
  return at;
}

/** Which vertex goes where, without any merge that would take two corners of a triangle together: that would remove geometry. */
function mergesThatKeepTriangles(ix: Uint32Array, root: Map<number, number>, find: (v: number) => number): Map<number, number> {
  const veto = new Set<number>();
  for (let h = 0; h < ix.length; h++) {
    const a = ix[h] as number;
    const b = ix[nextOf(h)] as number;
    if ((root.has(a) || root.has(b)) && find(a) === find(b)) veto.add(find(a));
  }
  const target = new Map<number, number>();
  for (const v of root.keys()) if (!veto.has(find(v))) target.set(v, find(v));
  return target;
}

/**
 * Splits triangles at vertices that lie on their open sides within the tolerance, where that makes open edges match.
 * One side of a triangle at a time; call again until it returns the surface itself.
 */
export function splitAtJunctions(s: Surface, twin: Int32Array, findings: Finding[]): Surface {
  const open = openEdgesOf(s.indices, twin);
  if (open.from.length === 0) return s;
  const splits = findSplits(s, twin, open);
  if (splits.size === 0) return s;
  const out: number[] = [];
  let first = -1;
  let count = 0;
  for (let t = 0; 3 * t < s.indices.length; t++) {
    const split = splits.get(t);
    if (!split) {
      for (let k = 0; k < 3; k++) out.push(s.indices[3 * t + k] as number);
      continue;
    }
    const chain = [s.indices[split.half] as number, ...split.vertices, s.indices[nextOf(split.half)] as number];
    const tip = s.indices[nextOf(nextOf(split.half))] as number;
    for (let i = 0; i + 1 < chain.length; i++) out.push(chain[i] as number, chain[i + 1] as number, tip);
    count += split.vertices.length;
    if (first < 0) first = split.vertices[0] as number;
  }
  const at = pointAt<'scan'>(s.positions, first);
  findings.push({
    code: 'scan/junctions',
    level: 'changed',
    text: `${counted(count, 'T-junction')} closed by splitting the triangle beside it (cracks of no width, the first at ${place(at)}; tolerance ${WELD_TOLERANCE} mm).`,
    count,
    at,
  });
  return { positions: s.positions, indices: Uint32Array.from(out) };
}

interface Split {
  readonly half: number;
  /** In order from the half-edge's start. */
  readonly vertices: number[];
}

function findSplits(s: Surface, twin: Int32Array, open: OpenEdges): Map<number, Split> {
  const { positions: p, indices: ix } = s;
  let total = 0;
  for (let e = 0; e < open.from.length; e++) total += between(p, open.from[e] as number, open.to[e] as number);
  const grid = new PointGrid(p, open.vertices, Math.max(total / open.from.length, 4 * WELD_TOLERANCE));
  const edgesAt = incident(open);
  const splits = new Map<number, Split>();
  for (let h = 0; h < ix.length; h++) {
    if (twin[h] !== OPEN || splits.has(triangleOf(h))) continue;
    const a = ix[h] as number;
    const b = ix[nextOf(h)] as number;
    const tip = ix[nextOf(nextOf(h))] as number;
    const on = grid.alongSegment(a, b, WELD_TOLERANCE).filter((v) => v !== tip);
    if (on.length === 0) continue;
    // Only vertices whose own open edge runs along this one: then splitting makes the two match.
    const line = new Set([a, b, ...on]);
    const vertices = on.filter((v) =>
      (edgesAt.get(v) ?? []).some((e) => line.has((open.from[e] === v ? open.to[e] : open.from[e]) as number)),
    );
    if (vertices.length > 0) splits.set(triangleOf(h), { half: h, vertices });
  }
  return splits;
}
