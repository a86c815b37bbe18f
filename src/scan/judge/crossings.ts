/**
 * Places where the surface passes through itself.
 *
 * Exact: a pair of triangles counts by the signs of determinants that are decided without error, so that sheets that
 * come as near as the last bit, or touch, raise no alarm. Counted are pairs whose insides meet with each triangle on
 * both sides of the other; pairs that lie in one plane over a common area and face the same way, or that share a side
 * and are folded flat upon each other; and sides that run through another triangle's inside with the surface going on
 * beyond. Bodies or sheets that touch from outside (face to face, along edges, in corners) do not count. Not seen: a
 * crossing that runs along edges of both sheets on its whole length.
 */
import { TriangleTree } from '../../geometry/bvh.ts';
import { boundsOf, type Mesh } from '../../geometry/mesh.ts';
import { type Point, pt } from '../../geometry/vec.ts';
import type { Finding } from '../../model/scan.ts';
import { weldExact } from '../mend/weld.ts';
import { counted, fixed, grouped, place } from '../wording.ts';
import { type Corners, type Meeting, meet } from './crossings-pair.ts';
import { nearPairs } from './crossings-search.ts';
import { longest } from './unit.ts';

/**
 * Triangles that pass through each other by less, mm, lie on each other as far as any scan can tell: a patch laid into the
 * plane of the wall beside it does, by rounding.
 */
const GRAZE = 1e-6;
/** Pairs beyond this are not counted: a heap of triangles has millions. */
export const MOST_PAIRS = 100_000;
/** Pairs with overlapping boxes that are looked at: so many a triangle (a sound scan has 20), and so many more. */
const LOOKS_EACH = 100;
const LOOKS = 20_000_000;

export interface CrossingPlace {
  /** Middle of the places where its triangles meet. */
  readonly at: Point<'scan'>;
  /** Triangles that pass through others here. */
  readonly triangles: number;
  /** Longest extent of the place, mm. */
  readonly size: number;
}

export interface Crossings {
  /** Pairs of triangles. */
  readonly pairs: number;
  /** Connected along the crossing; the largest first. */
  readonly places: readonly CrossingPlace[];
  /** The count was broken off: there may be more. */
  readonly more: boolean;
}

/** `tree` may be given where one of `mesh` is at hand. No error is thrown. */
export function findCrossings(mesh: Mesh<'scan'>, tree: TriangleTree<'scan'> = new TriangleTree(mesh)): Crossings {
  const spots = placesOf(mesh);
  const found = new Found(mesh, spots);
  const looks = LOOKS + LOOKS_EACH * (mesh.indices.length / 3);
  const whole = nearPairs(tree, spots, looks, (s, t, shared) => found.take(s, t, shared));
  return { pairs: found.pairs.length / 2, places: found.places(), more: !whole };
}

/** Of each vertex: a number that vertices at one place have in common. */
function placesOf({ positions }: Mesh<'scan'>): Uint32Array {
  const copy = new Float64Array(positions.length);
  for (let i = 0; i < copy.length; i++) copy[i] = (positions[i] as number) + 0; // no negative zeros
  return weldExact(copy).indices;
}

class Found {
  /** Triangle numbers, two a pair. */
  readonly pairs: number[] = [];
  /** Where each pair meets, three numbers. */
  readonly #at: number[] = [];
  readonly #mesh: Mesh<'scan'>;
  readonly #spots: Uint32Array;
  /** A side in another triangle's inside that was seen from one of its two triangles: the side above which that one lies. */
  readonly #sides = new Map<string, { readonly triangle: number; readonly above: 1 | -1 }>();

  constructor(mesh: Mesh<'scan'>, spots: Uint32Array) {
    this.#mesh = mesh;
    this.#spots = spots;
  }

  /** Judges one pair; false when there are too many. */
  take(s: number, t: number, shared: number): boolean {
    const m = this.#meeting(s, t, shared);
    if (m.kind === 'cross' && Math.min(passing(this.#mesh, s, t), passing(this.#mesh, t, s)) < GRAZE) return true;
    if (m.kind === 'cross' || (m.kind === 'lie' && (m.facing === 1 || this.#folded(s, t, shared)))) this.#add(s, t);
    else if (m.kind === 'first') this.#along(s, m, t);
    else if (m.kind === 'second') this.#along(t, m, s);
    return this.pairs.length < 2 * MOST_PAIRS;
  }

  /** With corners at one place under one number, as `meet` asks: the first vertex met there stands for all. */
  #meeting(s: number, t: number, shared: number): Meeting {
    const { positions, indices: ix } = this.#mesh;
    const a: Corners = [ix[3 * s] as number, ix[3 * s + 1] as number, ix[3 * s + 2] as number];
    const b: Corners = [ix[3 * t] as number, ix[3 * t + 1] as number, ix[3 * t + 2] as number];
    if (shared === 0) return meet(positions, a, b);
    const known = (v: number): number => a.find((u) => this.#spots[u] === this.#spots[v]) ?? v;
    return meet(positions, a, [known(b[0]), known(b[1]), known(b[2])]);
  }

  /** Neighbours across a side by their vertex numbers; touching bodies have numbers of their own. */
  #folded(s: number, t: number, shared: number): boolean {
    if (shared !== 2) return false;
    const { indices: ix } = this.#mesh;
    const mine = ix.subarray(3 * s, 3 * s + 3);
    return ix.subarray(3 * t, 3 * t + 3).filter((v) => mine.includes(v)).length === 2;
  }

  #along(t: number, { edge, above }: { readonly edge: number; readonly above: 1 | -1 }, face: number): void {
    const { indices: ix } = this.#mesh;
    const [a, b] = [ix[3 * t + edge] as number, ix[3 * t + ((edge + 1) % 3)] as number];
    const key = `${Math.min(a, b)},${Math.max(a, b)},${face}`;
    const other = this.#sides.get(key);
    if (!other) {
      this.#sides.set(key, { triangle: t, above });
    } else if (other.above !== above) {
      this.#add(other.triangle, face);
      this.#add(t, face);
    }
  }

  #add(s: number, t: number): void {
    this.pairs.push(s, t);
    this.#at.push(...meetingPoint(this.#mesh, s, t));
  }

  /** Groups pairs that have a triangle, or a corner of their triangles, in common. */
  places(): CrossingPlace[] {
    const root = new Roots();
    for (const t of this.pairs) for (let k = 0; k < 3; k++) root.join(-1 - t, this.#spotOf(t, k));
    for (let i = 0; i < this.pairs.length; i += 2) root.join(-1 - (this.pairs[i] as number), -1 - (this.pairs[i + 1] as number));
    const groups = new Map<number, { triangles: Set<number>; at: number[] }>();
    for (let i = 0; i < this.pairs.length; i += 2) {
      const key = root.of(-1 - (this.pairs[i] as number));
      const group = groups.get(key) ?? { triangles: new Set(), at: [] };
      groups.set(key, group);
      group.triangles.add(this.pairs[i] as number).add(this.pairs[i + 1] as number);
      for (let k = 0; k < 3; k++) group.at.push(this.#at[(3 * i) / 2 + k] as number);
    }
    const places = [...groups.values()].map(({ triangles, at }) => ({ at: middleOf(at), triangles: triangles.size, size: sizeOf(at) }));
    return places.sort((a, b) => b.triangles - a.triangles || b.size - a.size);
  }

  #spotOf(t: number, k: number): number {
    return this.#spots[this.#mesh.indices[3 * t + k] as number] as number;
  }
}

/** Disjoint sets of numbers. */
class Roots {
  readonly #up = new Map<number, number>();

  of(x: number): number {
    let top = x;
    for (let up = this.#up.get(top); up !== undefined; up = this.#up.get(top)) top = up;
    for (let at = x; at !== top; ) {
      const next = this.#up.get(at) as number;
      this.#up.set(at, top);
      at = next;
    }
    return top;
  }

  join(a: number, b: number): void {
    const [p, q] = [this.of(a), this.of(b)];
    if (p !== q) this.#up.set(p, q);
  }
}

const sizeOf = (at: readonly number[]): number => longest(boundsOf<'scan'>(Float64Array.from(at)));

function middleOf(at: readonly number[]): Point<'scan'> {
  const { min, max } = boundsOf<'scan'>(Float64Array.from(at));
  return pt((min[0] + max[0]) / 2, (min[1] + max[1]) / 2, (min[2] + max[2]) / 2);
}

/** Middle of the stretch in which two triangles meet, to rounding: of the points where sides of one pass through the other's plane, the two in the middle. */
function meetingPoint(mesh: Mesh<'scan'>, s: number, t: number): [number, number, number] {
  const ends = [...cutsOf(mesh, s, t), ...cutsOf(mesh, t, s)];
  const corners = [s, t].flatMap((f) => [0, 1, 2].map((k) => cornerOf(mesh, f, k)));
  const points = ends.length === 4 ? ends : corners; // in one plane: the corners will do
  const [lo, hi] = points.reduce(([p, q], r) => [less(r, p) ? r : p, less(q, r) ? r : q], [points[0], points[0]] as [Corner, Corner]);
  if (points === corners) return halfway(lo, hi);
  const along = hi.map((c, k) => c - (lo[k] as number));
  const height = (p: Corner): number => p.reduce((sum, c, k) => sum + c * (along[k] as number), 0);
  const sorted = [...ends].sort((p, q) => height(p) - height(q));
  return halfway(sorted[1] as Corner, sorted[2] as Corner);
}

type Corner = readonly [number, number, number];

const cornerOf = ({ positions: p, indices: ix }: Mesh<'scan'>, t: number, k: number): Corner => {
  const v = 3 * (ix[3 * t + k] as number);
  return [p[v] as number, p[v + 1] as number, p[v + 2] as number];
};

/** How far corners of t pass beyond the plane of s on the side where they pass less, mm. */
function passing(mesh: Mesh<'scan'>, s: number, t: number): number {
  const [o, u, v] = [0, 1, 2].map((k) => cornerOf(mesh, s, k)) as [Corner, Corner, Corner];
  const n = normalOf(o, u, v);
  const size = Math.sqrt(n.reduce((sum, c) => sum + c * c, 0)) || 1;
  const heights = [0, 1, 2].map(
    (k) => cornerOf(mesh, t, k).reduce((sum, c, d) => sum + (n[d] as number) * (c - (o[d] as number)), 0) / size,
  );
  const up = Math.max(...heights);
  const down = -Math.min(...heights);
  // In one plane they lie on each other: that is no matter of passing.
  return Math.max(up, down) < GRAZE ? Infinity : Math.min(up, down);
}

/** Square to a triangle, twice its area long. */
function normalOf(o: Corner, u: Corner, v: Corner): number[] {
  const a = u.map((c, k) => c - (o[k] as number));
  const b = v.map((c, k) => c - (o[k] as number));
  return [0, 1, 2].map((k) => {
    const [i, j] = [(k + 1) % 3, (k + 2) % 3];
    return (a[i] as number) * (b[j] as number) - (a[j] as number) * (b[i] as number);
  });
}

const less = (p: Corner, q: Corner): boolean => p[0] < q[0] || (p[0] === q[0] && (p[1] < q[1] || (p[1] === q[1] && p[2] < q[2])));
const halfway = (p: Corner, q: Corner): [number, number, number] => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2, (p[2] + q[2]) / 2];

/** Where the sides of t pass the plane of s: two points, or none where t lies along it. */
function cutsOf(mesh: Mesh<'scan'>, s: number, t: number): Corner[] {
  const [o, u, v] = [0, 1, 2].map((k) => cornerOf(mesh, s, k)) as [Corner, Corner, Corner];
  const n = normalOf(o, u, v);
  const corners = [0, 1, 2].map((k) => cornerOf(mesh, t, k)) as [Corner, Corner, Corner];
  const heights = corners.map((c) => c.reduce((sum, x, k) => sum + (n[k] as number) * (x - (o[k] as number)), 0));
  const cuts: Corner[] = [];
  for (let k = 0; k < 3; k++) {
    const [p, q] = [corners[k] as Corner, corners[(k + 1) % 3] as Corner];
    const [h, g] = [heights[k] as number, heights[(k + 1) % 3] as number];
    if (h > 0 === g > 0) continue;
    const share = h / (h - g);
    cuts.push([p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1]), p[2] + share * (q[2] - p[2])]);
  }
  return cuts;
}

/** So many places are told one by one; the rest together. */
const MOST_NAMED = 8;

/** Looks for crossings and adds a warning for each place. */
export function nameCrossings(mesh: Mesh<'scan'>, findings: Finding[], crossings: Crossings = findCrossings(mesh)): Crossings {
  const { places, more } = crossings;
  for (const { at, triangles, size } of places.slice(0, MOST_NAMED)) {
    findings.push({
      code: 'scan/crossing',
      level: 'warning',
      text: `The surface crosses itself near ${place(at)}: ${counted(triangles, 'triangle passes', 'triangles pass')} through others, over ${fixed(size, 2)} mm.`,
      count: triangles,
      at,
    });
  }
  const rest = places.slice(MOST_NAMED);
  if (rest.length > 0 || more) findings.push(theRest(rest, more));
  return crossings;
}

function theRest(rest: readonly CrossingPlace[], more: boolean): Finding {
  const triangles = rest.reduce((n, p) => n + p.triangles, 0);
  const first = rest[0];
  const least = more ? 'at least ' : '';
  return {
    code: 'scan/crossing',
    level: 'warning',
    text: first
      ? `The surface crosses itself in ${least}${counted(rest.length, 'more place')}: ${grouped(triangles)} triangles in all, the next near ${place(first.at)}.`
      : 'The search for places where the surface crosses itself was broken off: there may be more.',
    count: triangles,
    ...(first ? { at: first.at } : {}),
  };
}
