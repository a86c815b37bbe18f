/**
 * How often a set of triangles winds round a point: 1 inside a closed outward surface, 0 outside, and in between where
 * it has holes (A. Jacobson, L. Kavan, O. Sorkine-Hornung, "Robust inside-outside segmentation using generalized winding
 * numbers", 2013). Far triangles are taken together by a tree (G. Barill, N. Dickson, R. Schmidt, D. Levin, A. Jacobson,
 * "Fast winding numbers for soups and clouds", 2018): a group acts as its vector area, put at its centre, and the first
 * moments of that about the centre.
 */
import { TriangleTree } from '../../geometry/bvh.ts';
import { faceNormals, type Mesh } from '../../geometry/mesh.ts';
import { atan2, PI } from '../../geometry/trig.ts';

/** A group counts as far from so many times its radius on: the error then stays below 0.1 (tests/scan/rebuild.test.ts), and only halves are told apart. */
const FAR = 2;

/** Numbers kept of each node: centre, radius squared times FAR squared, vector area, six moments. */
const WIDTH = 13;

export class WindingTree {
  readonly tree: TriangleTree<'scan'>;
  readonly #nodes: Float64Array;
  /** Of each node: the next one that does not lie below it. */
  readonly #skip: Int32Array;
  readonly #many: number;

  /** Build: O(n log n). Triangles without area count for nothing. */
  constructor(mesh: Mesh<'scan'>, tree: TriangleTree<'scan'> = new TriangleTree(mesh)) {
    this.tree = tree;
    const skip = new Int32Array(tree.second.length);
    this.#many = tree.order.length === 0 ? 0 : skipFrom(tree, 0, skip);
    this.#skip = skip;
    this.#nodes = momentsOf(tree, this.#many);
  }

  /** The winding number round (x, y, z), mm. On the surface itself: that of one of its sides, or between them. */
  at(x: number, y: number, z: number): number {
    const { second, start, count } = this.tree;
    const nodes = this.#nodes;
    const skip = this.#skip;
    let far = 0;
    let near = 0;
    for (let node = 0; node < this.#many; ) {
      const o = WIDTH * node;
      const rx = (nodes[o] as number) - x;
      const ry = (nodes[o + 1] as number) - y;
      const rz = (nodes[o + 2] as number) - z;
      const d2 = rx * rx + ry * ry + rz * rz;
      if (d2 > (nodes[o + 3] as number)) {
        const d3 = d2 * Math.sqrt(d2);
        const area = rx * (nodes[o + 4] as number) + ry * (nodes[o + 5] as number) + rz * (nodes[o + 6] as number);
        const trace = (nodes[o + 7] as number) + (nodes[o + 8] as number) + (nodes[o + 9] as number);
        const along =
          rx * (rx * (nodes[o + 7] as number) + ry * (nodes[o + 10] as number) + rz * (nodes[o + 11] as number)) +
          ry * (ry * (nodes[o + 8] as number) + rz * (nodes[o + 12] as number)) +
          rz * rz * (nodes[o + 9] as number);
        far += (area + trace - (3 * along) / d2) / d3;
        node = skip[node] as number;
      } else if ((second[node] as number) < 0) {
        const end = (start[node] as number) + (count[node] as number);
        for (let i = start[node] as number; i < end; i++) near += halfAngle(this.tree.mesh, this.tree.order[i] as number, x, y, z);
        node = skip[node] as number;
      } else {
        node++;
      }
    }
    return (far + 2 * near) / (4 * PI);
  }
}

/** Half the solid angle under which triangle t is seen from (x, y, z), positive from behind (A. van Oosterom, J. Strackee, 1983). */
export function halfAngle(
  { positions: p, indices: ix }: Pick<Mesh<'scan'>, 'positions' | 'indices'>,
  t: number,
  x: number,
  y: number,
  z: number,
): number {
  const a = 3 * (ix[3 * t] as number);
  const b = 3 * (ix[3 * t + 1] as number);
  const c = 3 * (ix[3 * t + 2] as number);
  const ax = (p[a] as number) - x;
  const ay = (p[a + 1] as number) - y;
  const az = (p[a + 2] as number) - z;
  const bx = (p[b] as number) - x;
  const by = (p[b + 1] as number) - y;
  const bz = (p[b + 2] as number) - z;
  const cx = (p[c] as number) - x;
  const cy = (p[c + 1] as number) - y;
  const cz = (p[c + 2] as number) - z;
  const la = Math.sqrt(ax * ax + ay * ay + az * az);
  const lb = Math.sqrt(bx * bx + by * by + bz * bz);
  const lc = Math.sqrt(cx * cx + cy * cy + cz * cz);
  const det = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
  if (det === 0) return 0; // in the triangle's plane
  const flat = la * lb * lc + (ax * bx + ay * by + az * bz) * lc + (bx * cx + by * cy + bz * cz) * la + (cx * ax + cy * ay + cz * az) * lb;
  return atan2(det, flat);
}

/** Fills `skip` below a node; nodes lie in the order of a walk, first child first. Returns the node after the last below it. */
function skipFrom(tree: TriangleTree<'scan'>, node: number, skip: Int32Array): number {
  const right = tree.second[node] as number;
  let end = node + 1;
  if (right >= 0) {
    skipFrom(tree, node + 1, skip);
    end = skipFrom(tree, right, skip);
  }
  skip[node] = end;
  return end;
}

function momentsOf(tree: TriangleTree<'scan'>, many: number): Float64Array {
  const { mesh, order, start, count, second } = tree;
  const faces = faceNormals(mesh);
  const out = new Float64Array(WIDTH * many);
  // Area of each node, and what was summed about the node's own centre: children before their parent.
  const area = new Float64Array(many);
  for (let node = many - 1; node >= 0; node--) {
    const right = second[node] as number;
    if (right < 0) {
      const from = start[node] as number;
      gatherLeaf(mesh, faces, order.subarray(from, from + (count[node] as number)), out, node, area);
    } else {
      joinChildren(out, node, node + 1, right, area);
    }
  }
  setRadii(tree, out, many);
  return out;
}

function gatherLeaf(
  mesh: Mesh<'scan'>,
  faces: Float64Array,
  triangles: Uint32Array,
  out: Float64Array,
  node: number,
  area: Float64Array,
): void {
  const o = WIDTH * node;
  const middles = [...triangles].map((t) => [0, 1, 2].map((k) => middleOf(mesh, t, k)) as [number, number, number]);
  const sizes = [...triangles].map((t) => faces[4 * t + 3] as number);
  const total = sizes.reduce((s, a) => s + a, 0);
  area[node] = total;
  for (let k = 0; k < 3; k++) {
    const weighted = middles.reduce((s, m, i) => s + (m[k] as number) * (total > 0 ? (sizes[i] as number) : 1), 0);
    out[o + k] = weighted / (total > 0 ? total : triangles.length);
  }
  triangles.forEach((t, i) => {
    const m = middles[i] as [number, number, number];
    const n = [0, 1, 2].map((k) => (faces[4 * t + k] as number) * (sizes[i] as number)) as [number, number, number];
    addMoments(out, o, m[0] - (out[o] as number), m[1] - (out[o + 1] as number), m[2] - (out[o + 2] as number), n);
  });
}

function joinChildren(out: Float64Array, node: number, left: number, right: number, area: Float64Array): void {
  const o = WIDTH * node;
  const total = (area[left] as number) + (area[right] as number);
  area[node] = total;
  const share = total > 0 ? (area[left] as number) / total : 0.5;
  for (let k = 0; k < 3; k++) out[o + k] = share * (out[WIDTH * left + k] as number) + (1 - share) * (out[WIDTH * right + k] as number);
  for (const child of [left, right]) {
    const c = WIDTH * child;
    const [x, y, z] = [0, 1, 2].map((k) => (out[c + k] as number) - (out[o + k] as number)) as [number, number, number];
    addMoments(out, o, x, y, z, [out[c + 4] as number, out[c + 5] as number, out[c + 6] as number]);
    for (let k = 7; k < WIDTH; k++) out[o + k] = (out[o + k] as number) + (out[c + k] as number);
  }
}

/** Adds a vector area n at (x, y, z) from the centre: itself, and its products with the offset (xx yy zz, xy + yx, xz + zx, yz + zy). */
function addMoments(out: Float64Array, o: number, x: number, y: number, z: number, n: readonly [number, number, number]): void {
  const [nx, ny, nz] = n;
  const add = (k: number, v: number): void => {
    out[o + k] = (out[o + k] as number) + v;
  };
  add(4, nx);
  add(5, ny);
  add(6, nz);
  add(7, x * nx);
  add(8, y * ny);
  add(9, z * nz);
  add(10, x * ny + y * nx);
  add(11, x * nz + z * nx);
  add(12, y * nz + z * ny);
}

const middleOf = ({ positions: p, indices: ix }: Mesh<'scan'>, t: number, k: number): number =>
  ((p[3 * (ix[3 * t] as number) + k] as number) +
    (p[3 * (ix[3 * t + 1] as number) + k] as number) +
    (p[3 * (ix[3 * t + 2] as number) + k] as number)) /
  3;

/** Squared distance from which on each node is far: FAR times that of its farthest corner from its centre. */
function setRadii({ mesh, order, start, count }: TriangleTree<'scan'>, out: Float64Array, many: number): void {
  const { positions: p, indices: ix } = mesh;
  for (let node = 0; node < many; node++) {
    const o = WIDTH * node;
    const [x, y, z] = [out[o] as number, out[o + 1] as number, out[o + 2] as number];
    let most = 0;
    const end = (start[node] as number) + (count[node] as number);
    for (let i = start[node] as number; i < end; i++) {
      for (let h = 3 * (order[i] as number), stop = h + 3; h < stop; h++) {
        const v = 3 * (ix[h] as number);
        const dx = (p[v] as number) - x;
        const dy = (p[v + 1] as number) - y;
        const dz = (p[v + 2] as number) - z;
        const d2 = dx * dx + dy * dy + dz * dz;
        if (d2 > most) most = d2;
      }
    }
    out[o + 3] = FAR * FAR * most;
  }
}
