/**
 * Two questions about points that come up only when something is wrong or to be sure of a sign: is a point inside the
 * closed body, and how far is it from the cast surface. Buckets, built on first use.
 */
import type { Mesh } from '../geometry/mesh.ts';
import { closestOn } from './surface.ts';

/** A vertical line that passes this near an edge (twice the area it spans, mm2) decides nothing: it is moved. */
const GRAZING = 1e-11;

/** Is a point inside a closed mesh? By the signed number of triangles above it. */
export class Columns {
  readonly #mesh: Mesh<'ear'>;
  readonly #x0: number;
  readonly #y0: number;
  readonly #nx: number;
  readonly #ny: number;
  readonly #size: number;
  readonly #start: Int32Array;
  readonly #list: Int32Array;

  constructor(mesh: Mesh<'ear'>) {
    this.#mesh = mesh;
    const { positions: p, indices: t } = mesh;
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = 0; i < p.length; i += 3) {
      x0 = Math.min(x0, p[i] as number);
      x1 = Math.max(x1, p[i] as number);
      y0 = Math.min(y0, p[i + 1] as number);
      y1 = Math.max(y1, p[i + 1] as number);
    }
    const n = t.length / 3;
    this.#size = Math.max(1e-9, Math.sqrt(((x1 - x0) * (y1 - y0)) / Math.max(1, n / 4)), (x1 - x0) / 512, (y1 - y0) / 512);
    this.#x0 = x0;
    this.#y0 = y0;
    this.#nx = Math.max(1, Math.floor((x1 - x0) / this.#size) + 1);
    this.#ny = Math.max(1, Math.floor((y1 - y0) / this.#size) + 1);
    [this.#start, this.#list] = buckets(this.#nx * this.#ny, n, (i, put) => {
      const [a, b, c] = [t[3 * i] as number, t[3 * i + 1] as number, t[3 * i + 2] as number];
      const [ax, bx, cx] = [p[3 * a] as number, p[3 * b] as number, p[3 * c] as number];
      const [ay, by, cy] = [p[3 * a + 1] as number, p[3 * b + 1] as number, p[3 * c + 1] as number];
      const i1 = this.#column(Math.max(ax, bx, cx), x0, this.#nx);
      const j1 = this.#column(Math.max(ay, by, cy), y0, this.#ny);
      const j0 = this.#column(Math.min(ay, by, cy), y0, this.#ny);
      for (let u = this.#column(Math.min(ax, bx, cx), x0, this.#nx); u <= i1; u++) for (let v = j0; v <= j1; v++) put(v * this.#nx + u);
    });
  }

  #column(c: number, c0: number, n: number): number {
    return Math.max(0, Math.min(n - 1, Math.floor((c - c0) / this.#size)));
  }

  contains(x: number, y: number, z: number): boolean {
    for (let k = 0; k < 64; k++) {
      // A line through an edge or corner is moved by tenths of a micrometre: no answer is asked that near the surface.
      const turns = this.#turns(x + 1.13e-8 * k * k, y + 0.71e-8 * k * (k + 1), z);
      if (turns !== undefined) return turns > 0;
    }
    return false;
  }

  #turns(x: number, y: number, z: number): number | undefined {
    const u = Math.floor((x - this.#x0) / this.#size);
    const v = Math.floor((y - this.#y0) / this.#size);
    if (u < 0 || v < 0 || u >= this.#nx || v >= this.#ny) return 0;
    const { positions: p, indices: t } = this.#mesh;
    const cell = v * this.#nx + u;
    let turns = 0;
    for (let i = this.#start[cell] as number; i < (this.#start[cell + 1] as number); i++) {
      const f = 3 * (this.#list[i] as number);
      const a = 3 * (t[f] as number);
      const b = 3 * (t[f + 1] as number);
      const c = 3 * (t[f + 2] as number);
      const ab = side(p, a, b, x, y);
      const bc = side(p, b, c, x, y);
      const ca = side(p, c, a, x, y);
      const near = Math.min(Math.abs(ab), Math.abs(bc), Math.abs(ca));
      const up = ab >= -GRAZING && bc >= -GRAZING && ca >= -GRAZING;
      const down = ab <= GRAZING && bc <= GRAZING && ca <= GRAZING;
      if (!up && !down) continue;
      if (near <= GRAZING) {
        if (Math.max(p[a + 2] as number, p[b + 2] as number, p[c + 2] as number) < z) continue;
        return undefined;
      }
      const height = (bc * (p[a + 2] as number) + ca * (p[b + 2] as number) + ab * (p[c + 2] as number)) / (ab + bc + ca);
      if (height > z) turns += up ? 1 : -1;
    }
    return turns;
  }
}

/** Twice the signed area of a, b, (x, y) seen from above; the same number for either triangle at an edge, but for the sign. */
function side(p: Float64Array, a: number, b: number, x: number, y: number): number {
  if (a > b) return -side(p, b, a, x, y);
  const ax = p[a] as number;
  const ay = p[a + 1] as number;
  return ((p[b] as number) - ax) * (y - ay) - ((p[b + 1] as number) - ay) * (x - ax);
}

/** The nearest point of a set of triangles (nine numbers each), by cubes searched in growing rings. */
export class Nearest {
  readonly #corners: Float64Array;
  readonly #origin = [Infinity, Infinity, Infinity];
  readonly #n = [1, 1, 1];
  readonly #size: number;
  readonly #start: Int32Array;
  readonly #list: Int32Array;
  readonly #out = new Float64Array(3);

  constructor(corners: Float64Array) {
    this.#corners = corners;
    const n = corners.length / 9;
    const hi = [-Infinity, -Infinity, -Infinity];
    for (let i = 0; i < corners.length; i++) {
      const k = i % 3;
      this.#origin[k] = Math.min(this.#origin[k] as number, corners[i] as number);
      hi[k] = Math.max(hi[k] as number, corners[i] as number);
    }
    const extent = [0, 1, 2].map((k) => (hi[k] as number) - (this.#origin[k] as number));
    const [ex, ey, ez] = extent as [number, number, number];
    this.#size = Math.max(1e-9, Math.sqrt((ex * ey + ey * ez + ez * ex) / Math.max(1, n / 3)), ex / 128, ey / 128, ez / 128);
    for (let k = 0; k < 3; k++) this.#n[k] = Math.max(1, Math.floor((extent[k] as number) / this.#size) + 1);
    const [nx, ny, nz] = this.#n as [number, number, number];
    [this.#start, this.#list] = buckets(nx * ny * nz, n, (t, put) => {
      const lo = [0, 1, 2].map((k) => this.#cell(Math.min(...[0, 3, 6].map((v) => corners[9 * t + v + k] as number)), k));
      const up = [0, 1, 2].map((k) => this.#cell(Math.max(...[0, 3, 6].map((v) => corners[9 * t + v + k] as number)), k));
      for (let a = lo[0] as number; a <= (up[0] as number); a++)
        for (let b = lo[1] as number; b <= (up[1] as number); b++)
          for (let c = lo[2] as number; c <= (up[2] as number); c++) put((c * ny + b) * nx + a);
    });
  }

  #cell(c: number, k: number): number {
    return Math.max(0, Math.min((this.#n[k] as number) - 1, Math.floor((c - (this.#origin[k] as number)) / this.#size)));
  }

  /** The distance, or `within` when it is not less; then `point` is left alone, else it gets the nearest point. */
  distance(x: number, y: number, z: number, point: Float64Array, within = Infinity): number {
    if (this.#corners.length === 0) return within;
    const [nx, ny, nz] = this.#n as [number, number, number];
    const i = this.#cell(x, 0);
    const j = this.#cell(y, 1);
    const k = this.#cell(z, 2);
    let best = within;
    for (let r = 0; r <= Math.max(nx, ny, nz) && best > (r - 1) * this.#size; r++) {
      for (let c = Math.max(0, k - r); c <= Math.min(nz - 1, k + r); c++) {
        for (let b = Math.max(0, j - r); b <= Math.min(ny - 1, j + r); b++) {
          const shell = Math.abs(c - k) === r || Math.abs(b - j) === r;
          const step = shell || r === 0 ? 1 : 2 * r;
          for (let a = i - r; a <= i + r; a += step) {
            if (a >= 0 && a < nx) best = this.#look((c * ny + b) * nx + a, x, y, z, best, point);
          }
        }
      }
    }
    return best;
  }

  #look(cell: number, x: number, y: number, z: number, best: number, point: Float64Array): number {
    let least = best;
    for (let s = this.#start[cell] as number; s < (this.#start[cell + 1] as number); s++) {
      const t = 9 * (this.#list[s] as number);
      const d = closestOn(this.#corners, t, x, y, z, this.#out);
      if (d < least) {
        least = d;
        point.set(this.#out);
      }
    }
    return least;
  }
}

/** Lists by cell in two flat arrays: members of cell c are list[start[c] .. start[c + 1]). */
function buckets(cells: number, items: number, visit: (item: number, put: (cell: number) => void) => void): [Int32Array, Int32Array] {
  const start = new Int32Array(cells + 1);
  for (let i = 0; i < items; i++) visit(i, (c) => start[c + 1]!++);
  for (let c = 0; c < cells; c++) start[c + 1]! += start[c] as number;
  const list = new Int32Array(start[cells] as number);
  const next = start.slice(0, cells);
  for (let i = 0; i < items; i++)
    visit(i, (c) => {
      list[next[c]!++] = i;
    });
  return [start, list];
}
