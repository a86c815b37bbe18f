/** Nearest triangle within a stated tolerance, without allocating: a proof asks some ten thousand times. */
import { closestOnTriangle, TriangleTree } from '../geometry/bvh.ts';
import type { Mesh } from '../geometry/mesh.ts';

export class NearestTriangle {
  readonly #tree: TriangleTree<'ear'>;
  readonly #nodes = new Int32Array(256);
  readonly #dists = new Float64Array(256);
  /** Of the last query: the point found. */
  readonly foot = new Float64Array(3);
  readonly #try = new Float64Array(3);
  /** Of the last query: the triangle, -1 without any. */
  triangle = -1;

  constructor(mesh: Mesh<'ear'>) {
    this.#tree = new TriangleTree(mesh);
  }

  /**
   * The distance to a point of the surface that is no more than `tolerance` farther than the nearest one; Infinity for an
   * empty surface. `hint`: a triangle that is probably near.
   */
  distance(x: number, y: number, z: number, tolerance: number, hint: number): number {
    const { mesh, order, second, start, count } = this.#tree;
    this.triangle = -1;
    if (order.length === 0) return Infinity;
    let best = Infinity; // squared
    let limit = Infinity; // squared, less the tolerance
    const meet = (t: number): void => {
      const d = closestOnTriangle(mesh, t, x, y, z, this.#try);
      if (d >= best) return;
      best = d;
      this.triangle = t;
      this.foot.set(this.#try);
      const l = Math.max(0, Math.sqrt(d) - tolerance);
      limit = l * l;
    };
    if (hint >= 0) meet(hint);
    const nodes = this.#nodes;
    const dists = this.#dists;
    nodes[0] = 0;
    dists[0] = 0;
    for (let top = 1; top > 0; ) {
      top--;
      if ((dists[top] as number) >= limit) continue;
      const node = nodes[top] as number;
      const right = second[node] as number;
      if (right < 0) {
        const to = (start[node] as number) + (count[node] as number);
        for (let i = start[node] as number; i < to; i++) meet(order[i] as number);
        continue;
      }
      const l = this.#boxDistance(node + 1, x, y, z);
      const r = this.#boxDistance(right, x, y, z);
      const near = l <= r ? node + 1 : right;
      nodes[top] = near === right ? node + 1 : right;
      dists[top++] = Math.max(l, r);
      nodes[top] = near;
      dists[top++] = Math.min(l, r);
    }
    return Math.sqrt(best);
  }

  #boxDistance(node: number, x: number, y: number, z: number): number {
    const b = this.#tree.boxes;
    const o = 6 * node;
    const dx = Math.max((b[o] as number) - x, 0, x - (b[o + 3] as number));
    const dy = Math.max((b[o + 1] as number) - y, 0, y - (b[o + 4] as number));
    const dz = Math.max((b[o + 2] as number) - z, 0, z - (b[o + 5] as number));
    return dx * dx + dy * dy + dz * dz;
  }
}
