/** A list of loose triangles that grows while a file is read, and is refused before it grows past the limit. */
import { refuseTooMany } from './soup.ts';

export class Corners {
  #data: Float64Array;
  #used = 0;

  /** `guess`: how many triangles to make room for at first. A claim from the file must be checked against its length before it comes here. */
  constructor(guess = 64) {
    this.#data = new Float64Array(9 * Math.max(16, Math.ceil(guess)));
  }

  /** Whole triangles so far. */
  get triangles(): number {
    return Math.floor(this.#used / 9);
  }

  /** Numbers so far: nine a triangle. */
  get length(): number {
    return this.#used;
  }

  /** The next coordinate. */
  push(x: number): void {
    if (this.#used === this.#data.length) this.#grow();
    this.#data[this.#used++] = x + 0; // + 0 turns -0 into 0, so that equal places have equal bits
  }

  /** A whole triangle: three points of `points` (x y z each) by number. The caller has checked the numbers. */
  triangle(points: ArrayLike<number>, a: number, b: number, c: number): void {
    for (const v of [a, b, c]) for (let k = 0; k < 3; k++) this.push(points[3 * v + k] as number);
  }

  /** The triangles, nine numbers each. The list must not be used afterwards. */
  take(): Float64Array {
    return this.#data.length === this.#used ? this.#data : this.#data.slice(0, this.#used);
  }

  #grow(): void {
    refuseTooMany(this.triangles);
    const wider = new Float64Array(2 * this.#data.length);
    wider.set(this.#data);
    this.#data = wider;
  }
}
