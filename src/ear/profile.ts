/**
 * What the sections square to a line say, one a place of the line; each is cut when it is first asked for, as most of those that lie far
 * out in the concha, where sections are widest, never are.
 */
import type { Frame, Point } from '../geometry/vec.ts';
import type { Line } from './centreline.ts';
import { sectionAt } from './follow.ts';
import type { Slice, Slicer } from './slicer.ts';
import { wallShare } from './template.ts';

/** Numbers in a row, made or looked up: a list is one too. Undefined beyond its ends; `k` is never below 0. */
export interface Samples {
  readonly length: number;
  at(k: number): number | undefined;
}

export class Profile<F extends Frame> {
  readonly #slicer: Slicer<F>;
  readonly #line: Line<F>;
  readonly #across: Point<F>;
  readonly #slices: (Slice<F> | 'none' | undefined)[];
  /** mm2; 0 outside the cast, infinite where the outline is beyond reach. */
  readonly areas: Samples;
  /** Share of the outline that is canal wall. */
  readonly walls: Samples;

  /** `across`: a direction that turns with the cast, not along the line. */
  constructor(slicer: Slicer<F>, line: Line<F>, across: Point<F>) {
    this.#slicer = slicer;
    this.#line = line;
    this.#across = across;
    this.#slices = line.points.map(() => undefined);
    this.areas = this.#samples((k) => this.#areaOf(k));
    this.walls = this.#samples((k) => this.#wallOf(k));
  }

  slice(k: number): Slice<F> | undefined {
    const known = this.#slices[k];
    if (known) return known === 'none' ? undefined : known;
    const p = this.#line.points[k];
    const cut = p && sectionAt(this.#slicer, p, this.#line.tangents[k] as Point<F>);
    this.#slices[k] = cut ?? 'none';
    return cut;
  }

  /** The section's centroid; the place itself where there is no section. */
  centre(k: number): Point<F> {
    return this.slice(k)?.centroid ?? (this.#line.points[k] as Point<F>);
  }

  #areaOf(k: number): number {
    const slice = this.slice(k);
    if (slice) return slice.area;
    return this.#slicer.tree.contains(this.#line.points[k] as Point<F>) ? Infinity : 0;
  }

  #wallOf(k: number): number {
    const slice = this.slice(k);
    return slice ? wallShare(slice, this.#line.points[k] as Point<F>, this.#line.tangents[k] as Point<F>, this.#across) : 0;
  }

  /** One number a place, each made once. */
  #samples(make: (k: number) => number): Samples {
    const { length } = this.#line.points;
    const known = new Float64Array(length).fill(Number.NaN);
    return {
      length,
      at: (k) => {
        if (Number.isNaN(known[k])) known[k] = make(k);
        return known[k];
      },
    };
  }
}
