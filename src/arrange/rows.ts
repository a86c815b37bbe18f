import { FACE, type Model, type PartModel } from './model.ts';

/**
 * Linear models of clearances: spare(delta) = value + jacobian . delta, for one part or two. `hard` rows are seats' and
 * ports' limits, which ask to stay above 0 whatever the spare.
 */
export class Rows {
  count = 0;
  #size = 256;
  value = new Float64Array(this.#size);
  /** The rows' parts; the second is -1 for a row of one part. */
  first = new Int32Array(this.#size);
  second = new Int32Array(this.#size);
  hard = new Uint8Array(this.#size);
  /** Twelve numbers a row: six of each part (three used at the faceplate). */
  jacobian = new Float64Array(12 * this.#size);

  clear(): void {
    this.count = 0;
  }

  /** Starts a row; its jacobian is zero. Returns its number. */
  add(value: number, first: number, second: number, hard = 0): number {
    if (this.count === this.#size) this.#grow();
    const r = this.count++;
    this.value[r] = value;
    this.first[r] = first;
    this.second[r] = second;
    this.hard[r] = hard;
    this.jacobian.fill(0, 12 * r, 12 * r + 12);
    return r;
  }

  /** Adds to row r (its first or second part) the effect of moving a point of `part` at (x, y, z) from its centre, whose motion along n counts. */
  point(m: Model, r: number, side: 0 | 1, part: PartModel, nx: number, ny: number, nz: number, x: number, y: number, z: number): void {
    const o = 12 * r + 6 * side;
    const j = this.jacobian;
    const tx = y * nz - z * ny;
    const ty = z * nx - x * nz;
    const tz = x * ny - y * nx;
    const k = 1 / part.radius;
    if (part.seat === FACE) {
      const { e1, e2, normal } = m.face;
      j[o] = (j[o] as number) + nx * e1[0] + ny * e1[1] + nz * e1[2];
      j[o + 1] = (j[o + 1] as number) + nx * e2[0] + ny * e2[1] + nz * e2[2];
      j[o + 2] = (j[o + 2] as number) + k * (tx * normal[0] + ty * normal[1] + tz * normal[2]);
      return;
    }
    j[o] = (j[o] as number) + nx;
    j[o + 1] = (j[o + 1] as number) + ny;
    j[o + 2] = (j[o + 2] as number) + nz;
    j[o + 3] = (j[o + 3] as number) + k * tx;
    j[o + 4] = (j[o + 4] as number) + k * ty;
    j[o + 5] = (j[o + 5] as number) + k * tz;
  }

  /** Forgets the soft rows below `low`. */
  drop(low: number): void {
    this.#keep((r) => this.hard[r] === 1 || (this.value[r] as number) >= low);
  }

  /** Keeps about `most` rows: the hard ones and those of least value. */
  keepLeast(most: number): void {
    const sorted = this.value.slice(0, this.count).sort();
    const high = sorted[most - 1] as number;
    this.#keep((r) => this.hard[r] === 1 || (this.value[r] as number) <= high);
  }

  #keep(wanted: (r: number) => boolean): void {
    let kept = 0;
    for (let r = 0; r < this.count; r++) {
      if (!wanted(r)) continue;
      if (kept < r) {
        this.value[kept] = this.value[r] as number;
        this.first[kept] = this.first[r] as number;
        this.second[kept] = this.second[r] as number;
        this.hard[kept] = this.hard[r] as number;
        this.jacobian.copyWithin(12 * kept, 12 * r, 12 * r + 12);
      }
      kept++;
    }
    this.count = kept;
  }

  #grow(): void {
    this.#size *= 2;
    const bigger = <A extends Float64Array | Int32Array | Uint8Array>(old: A, next: A): A => {
      next.set(old);
      return next;
    };
    this.value = bigger(this.value, new Float64Array(this.#size));
    this.first = bigger(this.first, new Int32Array(this.#size));
    this.second = bigger(this.second, new Int32Array(this.#size));
    this.hard = bigger(this.hard, new Uint8Array(this.#size));
    this.jacobian = bigger(this.jacobian, new Float64Array(12 * this.#size));
  }
}
