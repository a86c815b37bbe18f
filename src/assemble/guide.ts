/** Which way is out: along the canal's centreline, and past its crossing of the outer cut straight on. */
import { distance, dot, heightOver, type Plane, type Point, pointAt, scale, sub } from '../geometry/vec.ts';
import type { Centreline } from '../model/ear.ts';

export class Guide {
  readonly #line: Centreline;
  readonly #outer: Plane<'ear'>;
  /** First of the centreline's points that lies behind the outer cut; their number where none does. */
  readonly #first: number;

  constructor(line: Centreline, outer: Plane<'ear'>) {
    this.#line = line;
    this.#outer = outer;
    let first = line.depths.length;
    while (first > 0 && heightOver(outer, pointAt<'ear'>(line.points, first - 1)) < 0) first--;
    this.#first = first;
  }

  /** The nearest of the centreline's points behind the outer cut, or -1. */
  #nearest(p: Point<'ear'>): number {
    let best = -1;
    let least = Infinity;
    for (let k = this.#first; k < this.#line.depths.length; k++) {
      const d = distance(p, pointAt<'ear'>(this.#line.points, k));
      if (d < least) {
        least = d;
        best = k;
      }
    }
    return best;
  }

  /** Unit direction outwards at p. */
  direction(p: Point<'ear'>): Point<'ear'> {
    const k = this.#nearest(p);
    return k <= this.#first ? this.#outer.normal : scale(pointAt<'ear'>(this.#line.tangents, k), -1);
  }

  /** How far out p has come, mm: along the centreline, and past its crossing by the height over it. */
  progress(p: Point<'ear'>): number {
    const k = this.#nearest(p);
    if (k < 0) return heightOver(this.#outer, p);
    const away = sub(p, pointAt<'ear'>(this.#line.points, k));
    return dot(away, this.direction(p)) - (this.#line.depths[k] as number);
  }

  /** Depth along the centreline, mm from the aperture: negative lateral of it. */
  depth(p: Point<'ear'>): number {
    return -this.progress(p);
  }
}
