/** All pairs of a mesh's triangles that might pass through each other: a walk of the triangle tree against itself. */
import type { TriangleTree } from '../../geometry/bvh.ts';
import type { Mesh } from '../../geometry/mesh.ts';

/** Rounding of the products below, of the pair's extent to the third or fourth power: some 30 roundings of 2^-53, with room. */
const SURE = 1e-13;

/**
 * Two triangles, numbered as in the mesh; `shared` places have corners of both. Returns false to end the search.
 */
export type Visit = (s: number, t: number, shared: number) => boolean;

/**
 * Calls `visit` for every pair that plain arithmetic, errors allowed for, does not show to be apart or to meet only in
 * shared corners. `place` numbers each vertex's place (equal for vertices at one place). At most `most` pairs with
 * overlapping boxes are looked at; returns whether that was enough for all.
 */
export function nearPairs(tree: TriangleTree<'scan'>, place: Uint32Array, most: number, visit: Visit): boolean {
  const search = new Search(tree, place, most, visit);
  return tree.order.length === 0 || search.run();
}

class Search {
  readonly #tree: TriangleTree<'scan'>;
  readonly #place: Uint32Array;
  readonly #visit: Visit;
  readonly #box: Float64Array;
  #left: number;
  /** Pairs of nodes still to be walked. */
  #stack = new Int32Array(4096);
  #top = 0;
  // One triangle's corners, its normal, and its places, while it is held against others.
  readonly #a = new Float64Array(12);
  readonly #b = new Float64Array(12);

  constructor(tree: TriangleTree<'scan'>, place: Uint32Array, most: number, visit: Visit) {
    this.#tree = tree;
    this.#place = place;
    this.#visit = visit;
    this.#left = most;
    this.#box = orderedBoxes(tree);
  }

  run(): boolean {
    const { second, count } = this.#tree;
    this.#push(0, 0);
    while (this.#top > 0) {
      const b = this.#stack[--this.#top] as number;
      const a = this.#stack[--this.#top] as number;
      const rightA = second[a] as number;
      const rightB = second[b] as number;
      if (a === b) {
        if (rightA < 0) {
          if (!this.#leaves(a, a)) return false;
          continue;
        }
        this.#push(a + 1, rightA);
        this.#push(rightA, rightA);
        this.#push(a + 1, a + 1);
        continue;
      }
      if (this.#apart(a, b)) continue;
      if (rightA < 0 && rightB < 0) {
        if (!this.#leaves(a, b)) return false;
      } else if (rightB < 0 || (rightA >= 0 && (count[a] as number) >= (count[b] as number))) {
        this.#push(a + 1, b);
        this.#push(rightA, b);
      } else {
        this.#push(a, b + 1);
        this.#push(a, rightB);
      }
    }
    return true;
  }

  #push(a: number, b: number): void {
    if (this.#top + 2 > this.#stack.length) {
      const more = new Int32Array(2 * this.#stack.length);
      more.set(this.#stack);
      this.#stack = more;
    }
    this.#stack[this.#top++] = a;
    this.#stack[this.#top++] = b;
  }

  #apart(a: number, b: number): boolean {
    const { boxes } = this.#tree;
    return boxesApart(boxes, 6 * a, boxes, 6 * b);
  }

  /** Every triangle of one leaf against every one of the other (or of itself). */
  #leaves(a: number, b: number): boolean {
    const { start, count, order, boxes } = this.#tree;
    const endA = (start[a] as number) + (count[a] as number);
    const endB = (start[b] as number) + (count[b] as number);
    const box = this.#box;
    for (let i = start[a] as number; i < endA; i++) {
      if (a !== b && boxesApart(box, 6 * i, boxes, 6 * b)) continue;
      let loaded = false;
      for (let j = a === b ? i + 1 : (start[b] as number); j < endB; j++) {
        if (boxesApart(box, 6 * i, box, 6 * j)) continue;
        if (this.#left-- <= 0) return false;
        if (!loaded) load(this.#tree.mesh, order[i] as number, this.#a);
        loaded = true;
        if (!this.#pair(order[i] as number, order[j] as number, extentOf(box, 6 * i, 6 * j))) return false;
      }
    }
    return true;
  }

  #pair(s: number, t: number, extent: number): boolean {
    const { indices } = this.#tree.mesh;
    const place = this.#place;
    // Corners of s and t at one place: bit k of the masks.
    let shared = 0;
    let maskS = 0;
    let maskT = 0;
    for (let i = 0; i < 3; i++) {
      const v = place[indices[3 * s + i] as number];
      for (let j = 0; j < 3; j++) {
        if (v !== place[indices[3 * t + j] as number]) continue;
        shared++;
        maskS |= 1 << i;
        maskT |= 1 << j;
      }
    }
    load(this.#tree.mesh, t, this.#b);
    if (shared < 3 && separate(this.#a, maskS, this.#b, maskT, extent)) return true;
    return this.#visit(s, t, shared);
  }
}

/** Corner coordinates, then the normal (not of length 1). */
function load({ positions: p, indices: ix }: Mesh<'scan'>, t: number, out: Float64Array): void {
  for (let k = 0; k < 3; k++) {
    const v = 3 * (ix[3 * t + k] as number);
    out[3 * k] = p[v] as number;
    out[3 * k + 1] = p[v + 1] as number;
    out[3 * k + 2] = p[v + 2] as number;
  }
  const ux = (out[3] as number) - (out[0] as number);
  const uy = (out[4] as number) - (out[1] as number);
  const uz = (out[5] as number) - (out[2] as number);
  const vx = (out[6] as number) - (out[0] as number);
  const vy = (out[7] as number) - (out[1] as number);
  const vz = (out[8] as number) - (out[2] as number);
  out[9] = uy * vz - uz * vy;
  out[10] = uz * vx - ux * vz;
  out[11] = ux * vy - uy * vx;
}

/**
 * Surely apart but for shared corners: the other's corners all lie strictly on one side of a triangle's plane, or beyond
 * the upright plane through one of its sides. Shared corners (set bits) must lie on that side, the others beyond it.
 */
function separate(a: Float64Array, maskA: number, b: Float64Array, maskB: number, extent: number): boolean {
  const cube = SURE * extent * extent * extent;
  return (
    beyondSide(a, maskA, b, maskB, cube * extent) ||
    beyondSide(b, maskB, a, maskA, cube * extent) ||
    oneSided(a, b, maskB, cube) ||
    oneSided(b, a, maskA, cube) ||
    opposite(a, maskA, b, maskB, SURE * extent * extent)
  );
}

/**
 * With one shared corner: the others lie strictly on either side of a plane through it. In regular nets two triangles may
 * face each other across a corner with their sides in line, where no side's own plane parts them strictly.
 */
function opposite(a: Float64Array, maskA: number, b: Float64Array, maskB: number, sure: number): boolean {
  const at = cornerOf[maskA] as number;
  const bt = cornerOf[maskB] as number;
  if (at < 0 || bt < 0) return false;
  const x = a[at] as number;
  const y = a[at + 1] as number;
  const z = a[at + 2] as number;
  // From the middle of a's other corners to that of b's: the shared corner, taken thrice on either side, drops out.
  const across = (k: number): number =>
    (b[k] as number) - (a[k] as number) + ((b[k + 3] as number) - (a[k + 3] as number)) + ((b[k + 6] as number) - (a[k + 6] as number));
  const mx = across(0);
  const my = across(1);
  const mz = across(2);
  for (let k = 0; k < 9; k += 3) {
    if (k !== bt && !(mx * ((b[k] as number) - x) + my * ((b[k + 1] as number) - y) + mz * ((b[k + 2] as number) - z) > sure)) return false;
    if (k !== at && !(mx * ((a[k] as number) - x) + my * ((a[k + 1] as number) - y) + mz * ((a[k + 2] as number) - z) < -sure))
      return false;
  }
  return true;
}

/** Where the coordinates of the corner that a mask names start; -1 where it does not name just one. */
const cornerOf: readonly number[] = [-1, 0, 3, -1, 6, -1, -1, -1];

/** Corners of b without a set bit, against the plane of a. */
function oneSided(a: Float64Array, b: Float64Array, mask: number, sure: number): boolean {
  const nx = a[9] as number;
  const ny = a[10] as number;
  const nz = a[11] as number;
  let up = true;
  let down = true;
  for (let k = 0; k < 3; k++) {
    if ((mask >> k) & 1) continue;
    const h =
      nx * ((b[3 * k] as number) - (a[0] as number)) +
      ny * ((b[3 * k + 1] as number) - (a[1] as number)) +
      nz * ((b[3 * k + 2] as number) - (a[2] as number));
    up &&= h > sure;
    down &&= h < -sure;
  }
  return up || down;
}

function beyondSide(a: Float64Array, maskA: number, b: Float64Array, maskB: number, sure: number): boolean {
  const nx = a[9] as number;
  const ny = a[10] as number;
  const nz = a[11] as number;
  for (let k = 0; k < 3; k++) {
    const next = k === 2 ? 0 : k + 1;
    // Only a side that all shared corners lie on can part the triangles.
    if ((maskA & ~((1 << k) | (1 << next))) !== 0) continue;
    const at = 3 * k;
    const ex = (a[3 * next] as number) - (a[at] as number);
    const ey = (a[3 * next + 1] as number) - (a[at + 1] as number);
    const ez = (a[3 * next + 2] as number) - (a[at + 2] as number);
    const mx = ey * nz - ez * ny;
    const my = ez * nx - ex * nz;
    const mz = ex * ny - ey * nx;
    let out = true;
    for (let c = 0; c < 3 && out; c++) {
      if ((maskB >> c) & 1) continue;
      const h =
        mx * ((b[3 * c] as number) - (a[at] as number)) +
        my * ((b[3 * c + 1] as number) - (a[at + 1] as number)) +
        mz * ((b[3 * c + 2] as number) - (a[at + 2] as number));
      out = h > sure;
    }
    if (out) return true;
  }
  return false;
}

const boxesApart = (a: Float64Array, i: number, b: Float64Array, j: number): boolean =>
  (a[i] as number) > (b[j + 3] as number) ||
  (a[i + 3] as number) < (b[j] as number) ||
  (a[i + 1] as number) > (b[j + 4] as number) ||
  (a[i + 4] as number) < (b[j + 1] as number) ||
  (a[i + 2] as number) > (b[j + 5] as number) ||
  (a[i + 5] as number) < (b[j + 2] as number);

/** Longest extent of two boxes together. */
function extentOf(box: Float64Array, i: number, j: number): number {
  let most = 0;
  for (let k = 0; k < 3; k++) {
    const hi = Math.max(box[i + 3 + k] as number, box[j + 3 + k] as number);
    const lo = Math.min(box[i + k] as number, box[j + k] as number);
    if (hi - lo > most) most = hi - lo;
  }
  return most;
}

/** Boxes of the triangles in tree order, so that a leaf's lie together. */
function orderedBoxes({ mesh, order }: TriangleTree<'scan'>): Float64Array {
  const { positions: p, indices: ix } = mesh;
  const out = new Float64Array(6 * order.length);
  for (let i = 0; i < order.length; i++) {
    const t = 3 * (order[i] as number);
    const a = 3 * (ix[t] as number);
    const b = 3 * (ix[t + 1] as number);
    const c = 3 * (ix[t + 2] as number);
    for (let k = 0; k < 3; k++) {
      const x = p[a + k] as number;
      const y = p[b + k] as number;
      const z = p[c + k] as number;
      out[6 * i + k] = Math.min(x, y, z);
      out[6 * i + 3 + k] = Math.max(x, y, z);
    }
  }
  return out;
}
