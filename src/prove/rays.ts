/** Is a point certainly outside a closed mesh? Triangles in columns along x, which the walls of a canal rarely follow. */
import type { Mesh } from '../geometry/mesh.ts';

export class Rays {
  readonly #mesh: Mesh<'ear'>;
  readonly #y0: number;
  readonly #z0: number;
  readonly #ny: number;
  readonly #nz: number;
  readonly #size: number;
  readonly #start: Int32Array;
  readonly #list: Int32Array;

  constructor(mesh: Mesh<'ear'>) {
    this.#mesh = mesh;
    const { positions: p, indices: t } = mesh;
    let [y0, z0, y1, z1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = 0; i < p.length; i += 3) {
      y0 = Math.min(y0, p[i + 1] as number);
      y1 = Math.max(y1, p[i + 1] as number);
      z0 = Math.min(z0, p[i + 2] as number);
      z1 = Math.max(z1, p[i + 2] as number);
    }
    const n = t.length / 3;
    this.#size = Math.max(1e-9, Math.sqrt(((y1 - y0) * (z1 - z0)) / Math.max(1, n / 4)), (y1 - y0) / 512, (z1 - z0) / 512);
    [this.#y0, this.#z0] = [y0, z0];
    this.#ny = Math.max(1, Math.floor((y1 - y0) / this.#size) + 1);
    this.#nz = Math.max(1, Math.floor((z1 - z0) / this.#size) + 1);
    this.#start = new Int32Array(this.#ny * this.#nz + 1);
    for (let i = 0; i < n; i++) this.#columns(i, (c) => this.#start[c + 1]!++);
    for (let c = 0; c < this.#ny * this.#nz; c++) this.#start[c + 1]! += this.#start[c] as number;
    this.#list = new Int32Array(this.#start[this.#ny * this.#nz] as number);
    const next = this.#start.slice();
    for (let i = 0; i < n; i++) this.#columns(i, (c) => (this.#list[next[c]!++] = i));
  }

  #columns(triangle: number, put: (column: number) => void): void {
    const { positions: p, indices: t } = this.#mesh;
    const [a, b, c] = [3 * (t[3 * triangle] as number), 3 * (t[3 * triangle + 1] as number), 3 * (t[3 * triangle + 2] as number)];
    const span = (k: number, o: number, n: number): readonly [number, number] => {
      const [x, y, z] = [p[a + k] as number, p[b + k] as number, p[c + k] as number];
      const cell = (v: number): number => Math.max(0, Math.min(n - 1, Math.floor((v - o) / this.#size)));
      return [cell(Math.min(x, y, z)), cell(Math.max(x, y, z))];
    };
    const [j0, j1] = span(1, this.#y0, this.#ny);
    const [k0, k1] = span(2, this.#z0, this.#nz);
    for (let k = k0; k <= k1; k++) for (let j = j0; j <= j1; j++) put(k * this.#ny + j);
  }

  /**
   * Certainly outside? A line that meets an edge too nearly to tell is moved by less than a micrometre, for a point that
   * is `clear` of the surface by more; where that does not help the answer is no, which may only enlarge a bound.
   */
  outside(x: number, y: number, z: number, clear: number): boolean {
    for (let k = 0; k < 4; k++) {
      if (k > 0 && clear < 1e-6) return false;
      const turns = this.#turns(x, y + 1.3e-7 * k, z + 0.9e-7 * k * k);
      if (turns !== undefined) return turns <= 0;
    }
    return false;
  }

  /** Signed crossings beyond the point; undefined in doubt. */
  #turns(x: number, y: number, z: number): number | undefined {
    const j = Math.floor((y - this.#y0) / this.#size);
    const k = Math.floor((z - this.#z0) / this.#size);
    if (j < 0 || k < 0 || j >= this.#ny || k >= this.#nz) return 0;
    const { positions: p, indices: t } = this.#mesh;
    let turns = 0;
    const column = k * this.#ny + j;
    for (let i = this.#start[column] as number; i < (this.#start[column + 1] as number); i++) {
      const f = 3 * (this.#list[i] as number);
      const a = 3 * (t[f] as number);
      const b = 3 * (t[f + 1] as number);
      const c = 3 * (t[f + 2] as number);
      const ab = side(p, a, b, y, z);
      const bc = side(p, b, c, y, z);
      const ca = side(p, c, a, y, z);
      const front = ab >= -GRAZING && bc >= -GRAZING && ca >= -GRAZING;
      const back = ab <= GRAZING && bc <= GRAZING && ca <= GRAZING;
      if (!front && !back) continue;
      if (Math.max(p[a] as number, p[b] as number, p[c] as number) < x) continue;
      if (Math.min(Math.abs(ab), Math.abs(bc), Math.abs(ca)) <= GRAZING) return undefined;
      const at = (bc * (p[a] as number) + ca * (p[b] as number) + ab * (p[c] as number)) / (ab + bc + ca);
      if (at > x) turns += front ? 1 : -1;
    }
    return turns;
  }
}

const GRAZING = 1e-12;

/** Twice the signed area of a, b and (y, z) seen from +x; exactly opposite for b, a. */
function side(p: Float64Array, a: number, b: number, y: number, z: number): number {
  if (a > b) return -side(p, b, a, y, z);
  const ay = p[a + 1] as number;
  const az = p[a + 2] as number;
  return ((p[b + 1] as number) - ay) * (z - az) - ((p[b + 2] as number) - az) * (y - ay);
}
