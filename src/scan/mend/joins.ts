/**
 * Which triangles meet across which edge. A half-edge is a triangle's side: number 3t + k runs from corner k of
 * triangle t to its next corner.
 */

/** No partner. */
export const OPEN = -1;
/** The edge is shared by three triangles or more; `knots` holds who. */
export const KNOT = -3;
const UNSEEN = -2;

export interface Joins {
  /** Of each half-edge: its partner across the edge, whichever way it runs, or OPEN or KNOT. */
  readonly twin: Int32Array;
  /** The half-edges of each edge that three triangles or more share, one knot after another; knot i ends before knotStart[i + 1]. */
  readonly knots: readonly number[];
  readonly knotStart: readonly number[];
  /** Number of half-edges whose edge no other triangle has. */
  readonly open: number;
}

export const nextOf = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);
export const previousOf = (h: number): number => (h % 3 === 0 ? h + 2 : h - 1);
export const triangleOf = (h: number): number => (h - (h % 3)) / 3;

/** Above this many half-edges at one vertex, its list is sorted first so that matching stays near linear. */
const CROWD = 48;

/** Matches half-edges by their end vertices. Buckets by the lower vertex, in plain arrays: O(triangles) for scans. */
export function joinEdges(indices: Uint32Array, vertices: number): Joins {
  const many = indices.length;
  const start = new Uint32Array(vertices + 1);
  const far = new Uint32Array(many); // the higher end of each half-edge
  for (let h = 0; h < many; h++) {
    const a = indices[h] as number;
    const b = indices[nextOf(h)] as number;
    far[h] = Math.max(a, b);
    const near = Math.min(a, b) + 1;
    start[near] = (start[near] as number) + 1;
  }
  for (let v = 0; v < vertices; v++) start[v + 1] = (start[v + 1] as number) + (start[v] as number);
  const list = bucket(indices, start);
  const twin = new Int32Array(many).fill(UNSEEN);
  const knots: number[] = [];
  const knotStart = [0];
  let open = 0;
  for (let v = 0; v < vertices; v++) {
    const from = start[v] as number;
    const to = start[v + 1] as number;
    const sorted = to - from > CROWD;
    if (sorted) list.subarray(from, to).sort((g, h) => (far[g] as number) - (far[h] as number) || g - h);
    for (let i = from; i < to; i++) {
      const h = list[i] as number;
      if (twin[h] !== UNSEEN) continue;
      let partner = OPEN;
      let more = false;
      for (let j = i + 1; j < to; j++) {
        const g = list[j] as number;
        if (far[g] !== far[h]) {
          if (sorted) break;
          continue;
        }
        if (partner >= 0) {
          more = true;
          break;
        }
        partner = g;
      }
      if (more) {
        for (let j = i; j < to; j++) {
          const g = list[j] as number;
          if (far[g] !== far[h]) continue;
          twin[g] = KNOT;
          knots.push(g);
        }
        knotStart.push(knots.length);
        continue;
      }
      twin[h] = partner;
      if (partner >= 0) twin[partner] = h;
      else open++;
    }
  }
  return { twin, knots, knotStart, open };
}

/** Half-edges grouped by their lower end vertex, in ascending order within a group. */
function bucket(indices: Uint32Array, start: Uint32Array): Uint32Array {
  const place = start.slice();
  const list = new Uint32Array(indices.length);
  for (let h = 0; h < indices.length; h++) {
    const a = indices[h] as number;
    const b = indices[nextOf(h)] as number;
    const near = Math.min(a, b);
    const at = place[near] as number;
    list[at] = h;
    place[near] = at + 1;
  }
  return list;
}
