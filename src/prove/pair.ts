/**
 * Two parts at the faceplate that cannot lie side by side.
 *
 * Two convex bodies are apart by s exactly when some direction u has h_A(u) + h_B(-u) <= -s, h the support function. So
 * no pair of poses is apart by s if for every u the least h_A(u) over the poses that A can have, plus the least h_B(-u)
 * over those of B, exceeds -s: a search over six variables falls into two over three and a scan of directions. A body's
 * points bound its support from below, so that points, cells and cones of directions can all be used without losing rigour.
 */
import { cos, sin } from '../geometry/trig.ts';
import type { CellBounder } from './bound.ts';
import { Heap } from './heap.ts';
import { type Cell, halves } from './space.ts';

/** A pose that lacks no more than this of the target counts as one that gives a proof no chance, mm. */
const ALMOST = 0.02;

/** A cell of poses with a bound not below the target; halves are made when first asked for. */
export interface Node {
  readonly cell: Cell;
  readonly spin: readonly [cos: number, sin: number];
  kids?: Node[];
  value?: number; // at the cell's middle
}

export type Direction = readonly [u: number, v: number, n: number]; // in the seat's plane coordinates

/** Poses of a seated part whose spare in the body may reach the target. */
export class PoseTree {
  readonly roots: Node[];
  readonly points: Float64Array;
  readonly #bounder: CellBounder;
  readonly #target: number;
  opened = 0;

  /** `hull`: points of one convex primitive of the part; they alone stand for it between parts. */
  constructor(bounder: CellBounder, target: number, hull: Float64Array) {
    this.#bounder = bounder;
    this.#target = target;
    this.points = hull;
    this.roots = this.#alive(bounder.space.roots());
  }

  #alive(cells: readonly Cell[]): Node[] {
    this.opened += cells.length;
    return cells
      .filter((cell) => this.#bounder.bound(cell, this.#target) >= this.#target)
      .map((cell) => ({ cell, spin: [cos(cell.c[2] as number), sin(cell.c[2] as number)] as const }));
  }

  kids(node: Node): Node[] {
    node.kids ??= this.#alive(halves(node.cell, this.#bounder.space.widest(node.cell)));
    return node.kids;
  }

  /** Can the part stand at the cell's middle, or as good as? (The poses that decide are those that just can.) */
  stands(node: Node): boolean {
    node.value ??= this.#bounder.value(node.cell, this.#target - ALMOST);
    return node.value > this.#target - ALMOST;
  }
}

export interface Cone {
  readonly u: Direction;
  /** The square on its cube face: face, middle and half size. */
  readonly face: number;
  readonly s: number;
  readonly t: number;
  readonly half: number;
  /** Where the cone is turned about: near the place where the two parts touch. */
  readonly about: Direction;
  readonly cos: number;
  readonly sin: number;
}

/** A node's support in a cone: certified least, at the middle for the middle direction, and what is lost to each. */
export interface Reach {
  readonly node: Node;
  readonly least: number;
  readonly middle: number;
  readonly byCell: number;
  readonly byCone: number;
}

export interface PairLimits {
  /** Steps (cells opened or looked at again) in all, and cones. */
  readonly steps: number;
  readonly cones: number;
}

export type PairAnswer = 'proved' | 'possible' | 'open';

/** Is every pair of poses less than `apart` mm apart (signed)? 'possible': a pair of poses that is apart was met. */
export function provePair(a: PoseTree, b: PoseTree, apart: number, limits: PairLimits): PairAnswer {
  const stack = firstCones();
  let steps = 0;
  let cones = 0;
  for (let cone = stack.pop(); cone; cone = stack.pop()) {
    if (++cones > limits.cones) return 'open';
    const ha = heapOf(a, cone, 1);
    const hb = heapOf(b, cone, -1);
    for (;;) {
      const ra = ha.top;
      const rb = hb.top;
      if (!ra || !rb || ha.key + hb.key > 1e-9 - apart) break;
      if (++steps > limits.steps) return 'open';
      if (ra.byCell + rb.byCell < 0.6 && ra.middle + rb.middle <= -apart && a.stands(ra.node) && b.stands(rb.node)) return 'possible';
      const most = Math.max(ra.byCell, rb.byCell, ra.byCone + rb.byCone);
      if (most < 2e-3) return 'open';
      if (ra.byCell === most) openTop(a, ha, cone, 1);
      else if (rb.byCell === most) openTop(b, hb, cone, -1);
      else {
        stack.push(...split(cone, touching(ra.node, rb.node)));
        break;
      }
    }
  }
  return 'proved';
}

function heapOf(tree: PoseTree, cone: Cone, sign: 1 | -1): Heap<Reach> {
  const heap = new Heap<Reach>();
  for (const node of tree.roots) push(tree, heap, node, cone, sign);
  return heap;
}

function openTop(tree: PoseTree, heap: Heap<Reach>, cone: Cone, sign: 1 | -1): void {
  const top = heap.pop();
  if (top) for (const kid of tree.kids(top.node)) push(tree, heap, kid, cone, sign);
}

function push(tree: PoseTree, heap: Heap<Reach>, node: Node, cone: Cone, sign: 1 | -1): void {
  const r = reachOf(tree.points, node, cone, sign);
  heap.push(r, r.least);
}

/**
 * Support along sign * u, about the cone's point. At any pose of the cell and any u' of the cone a point gives no less than
 * its value at the middle for u, less: the slide's part along u; first and second order of the spin; for the turn of
 * u to u', |s| (1 - cos) + |w| sin with s along and w across u; and for the move, its length times the chord.
 */
export function reachOf(points: Float64Array, node: Node, cone: Cone, sign: 1 | -1): Reach {
  const [a, b] = node.cell.c as unknown as [number, number];
  const [ha, hb, hs] = node.cell.h as unknown as [number, number, number];
  const [uu, uv, un] = cone.u.map((x) => sign * x) as unknown as Direction;
  const [cs, sn] = node.spin;
  const flat = Math.sqrt(uu * uu + uv * uv);
  const slide = ha * Math.abs(uu) + hb * Math.abs(uv);
  const slid = Math.sqrt(ha * ha + hb * hb);
  const chord = Math.sqrt(2 * (1 - cone.cos));
  let least = -Infinity;
  let byCell = 0;
  let byCone = 0;
  let middle = -Infinity;
  for (let i = 0; i < points.length; i += 3) {
    const px = points[i] as number;
    const py = points[i + 1] as number;
    const x = cs * px - sn * py;
    const y = sn * px + cs * py;
    const qx = a + x - cone.about[0];
    const qy = b + y - cone.about[1];
    const qz = (points[i + 2] as number) - cone.about[2];
    const s = uu * qx + uv * qy + un * qz;
    if (s > middle) middle = s;
    if (s - slide < least) continue;
    const r = Math.sqrt(px * px + py * py);
    const w = Math.sqrt(Math.max(0, qx * qx + qy * qy + qz * qz - s * s));
    const move = slide + hs * Math.abs(x * uv - y * uu) + (flat * r * hs * hs) / 2;
    const turn = Math.abs(s) * (1 - cone.cos) + w * cone.sin + (slid + r * hs) * chord;
    if (s - move - turn > least) {
      least = s - move - turn;
      byCell = move;
      byCone = turn;
    }
  }
  return { node, least: least - 1e-9, middle, byCell, byCone };
}

/** Half-way between the two middles, a little below the faceplate: where they are likely to touch. */
const touching = (a: Node, b: Node): Direction => [
  ((a.cell.c[0] as number) + (b.cell.c[0] as number)) / 2,
  ((a.cell.c[1] as number) + (b.cell.c[1] as number)) / 2,
  -1,
];

function firstCones(): Cone[] {
  const out: Cone[] = [];
  for (let face = 0; face < 6; face++) {
    for (const s of [-0.5, 0.5]) for (const t of [-0.5, 0.5]) out.push(coneOf(face, s, t, 0.5, [0, 0, -1]));
  }
  return out;
}

function split(cone: Cone, about: Direction): Cone[] {
  const h = cone.half / 2;
  const out: Cone[] = [];
  for (const i of [-h, h]) for (const j of [-h, h]) out.push(coneOf(cone.face, cone.s + i, cone.t + j, h, about));
  return out;
}

/** All directions through a square of a cube's face lie within the angle to its farthest corner. */
export function coneOf(face: number, s: number, t: number, half: number, about: Direction): Cone {
  const u = through(face, s, t);
  let least = 1;
  for (const i of [-half, half]) {
    for (const j of [-half, half]) {
      const c = through(face, s + i, t + j);
      least = Math.min(least, u[0] * c[0] + u[1] * c[1] + u[2] * c[2]);
    }
  }
  const cosine = least - 1e-12;
  return { u, face, s, t, half, about, cos: cosine, sin: Math.sqrt(Math.max(0, 1 - cosine * cosine)) };
}

function through(face: number, s: number, t: number): Direction {
  const l = Math.sqrt(1 + s * s + t * t);
  const v: [number, number, number] = [0, 0, 0];
  const k = face >> 1;
  v[k] = (face % 2 === 0 ? 1 : -1) / l;
  v[(k + 1) % 3] = s / l;
  v[(k + 2) % 3] = t / l;
  return v;
}
