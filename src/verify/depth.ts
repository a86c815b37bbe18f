/**
 * How far a solid sticks out through the cast surface: an upper bound on the depth of its deepest point outside.
 *
 * Branch and bound over boxes in the solid's own frame. With s the surface point nearest to a box's centre, no point of
 * the box is farther from the surface than the box's farthest corner is from s; and a box whose centre is inside by
 * more than its half diagonal holds nothing outside. Of a box that passes a cut only what lies behind it counts: that is no
 * farther from the centre's foot on the cut than from the centre. All of it holds exactly, so the answer is never too small.
 */
import { cos, PI, sin } from '../geometry/trig.ts';
import { addScaled, dot, heightOver, type Point, pt, scale, sub } from '../geometry/vec.ts';
import type { Cut } from '../model/fit.ts';
import type { Columns, Nearest } from './inside.ts';
import type { Solid } from './solid.ts';

/** Boxes opened before the bound is taken as it stands. */
const BUDGET = 3000;
const CLOSE_ENOUGH = 0.004; // mm
/** Nearer to a cut than this, whether a point is inside the body is the rounding's guess, mm. */
const AT_CUT = 1e-3;

interface Box {
  readonly c: Triple;
  readonly h: Triple;
  readonly bound: number;
  /** The side to halve: the one that adds most to the bound. */
  readonly cut: number;
}

type Triple = readonly [number, number, number];

export interface Depth {
  /** Certified upper bound of the depth, mm, never negative. */
  readonly most: number;
  /** The deepest point met. */
  readonly at: Point<'ear'>;
}

/** Counts only what is on the inner side of every cut: what passes a cut is measured against that cut. */
export function deepestOutside(solid: Solid, inside: Columns, nearest: Nearest, cuts: readonly Cut[]): Depth {
  return new DepthSearch(solid, inside, nearest, cuts).run();
}

class DepthSearch {
  readonly #solid: Solid;
  readonly #inside: Columns;
  readonly #nearest: Nearest;
  readonly #cuts: readonly Cut[];
  readonly #foot = new Float64Array(3);
  #deepest = 0;
  #at: Point<'ear'>;

  constructor(solid: Solid, inside: Columns, nearest: Nearest, cuts: readonly Cut[]) {
    this.#solid = solid;
    this.#inside = inside;
    this.#nearest = nearest;
    this.#cuts = cuts;
    this.#at = solid.centre;
  }

  run(): Depth {
    for (const a of SIGNS) for (const b of SIGNS) for (const c of SIGNS) this.#seed(a, b, c);
    const open: Box[] = [];
    for (const root of this.#roots()) {
      const b = this.#judge(root.c, root.h);
      if (b) push(open, b);
    }
    let aside = 0;
    for (let n = 0; n < BUDGET; n++) {
      const box = pop(open);
      if (!box) break;
      if (box.bound <= this.#deepest + CLOSE_ENOUGH) {
        aside = box.bound;
        break;
      }
      for (const part of halves(box)) {
        const b = this.#judge(part.c, part.h);
        if (b && b.bound > 0) push(open, b);
      }
    }
    for (const b of open) aside = Math.max(aside, b.bound);
    return { most: Math.max(aside, this.#deepest), at: this.#at };
  }

  /** A cylinder is cut in rings (radius, angle, height), so that boxes follow its rim; anything else in plain boxes. */
  #roots(): { readonly c: Triple; readonly h: Triple }[] {
    const { half, radius, shape } = this.#solid;
    if (shape === 'cylinder') {
      const h: Triple = [radius / 2, PI / 8, half[2]];
      return Array.from({ length: 8 }, (_, k) => ({ c: [radius / 2, ((2 * k + 1) * PI) / 8, 0], h }));
    }
    const round = shape === 'capsule' ? radius : 0;
    return [{ c: [0, 0, 0], h: [half[0] + round, half[1] + round, half[2] + round] }];
  }

  /** A box as it stands: middle, its three directions and how far it reaches along them at most. */
  #shape(c: Triple, h: Triple): { readonly p: Point<'ear'>; readonly axes: readonly Point<'ear'>[]; readonly reach: Triple } {
    const [x, y, z] = this.#solid.axes;
    if (this.#solid.shape !== 'cylinder') return { p: this.#place(c), axes: [x, y, z], reach: h };
    const [cs, sn] = [cos(c[1]), sin(c[1])];
    const out = addScaled(scale(x, cs), y, sn);
    const round = addScaled(scale(x, -sn), y, cs);
    const rim = c[0] + h[0];
    return {
      p: this.#place([c[0] * cs, c[0] * sn, c[2]]),
      axes: [out, round, z],
      reach: [h[0] + (rim * h[1] * h[1]) / 2, rim * h[1], h[2]],
    };
  }

  #place(c: Triple): Point<'ear'> {
    const [x, y, z] = this.#solid.axes;
    const o = this.#solid.centre;
    return pt<'ear'>(
      o[0] + c[0] * x[0] + c[1] * y[0] + c[2] * z[0],
      o[1] + c[0] * x[1] + c[1] * y[1] + c[2] * z[1],
      o[2] + c[0] * x[2] + c[1] * y[2] + c[2] * z[2],
    );
  }

  /** Notes how deep the solid's own corner lies that way: a good start for the bound. */
  #seed(a: number, b: number, c: number): void {
    const [x, y, z] = this.#solid.axes;
    const u = [0, 1, 2].map((k) => a * (x[k] as number) + b * (y[k] as number) + c * (z[k] as number));
    const p = this.#solid.support(u as unknown as Triple);
    if (this.#over(p) > -AT_CUT || this.#inside.contains(p[0], p[1], p[2])) return;
    this.#note(p, this.#nearest.distance(p[0], p[1], p[2], this.#foot));
  }

  #note(p: Point<'ear'>, d: number): void {
    if (d <= this.#deepest) return;
    this.#deepest = d;
    this.#at = p;
  }

  /** How far p lies beyond the cuts: at most 0 when behind all of them. */
  #over(p: Point<'ear'>): number {
    let over = -Infinity;
    for (const { plane } of this.#cuts) over = Math.max(over, heightOver(plane, p));
    return over;
  }

  /** p itself where it is clearly behind the cuts, else the point a hair behind its foot on the cut that it passes most. */
  #behind(p: Point<'ear'>): Point<'ear'> {
    const over = this.#over(p);
    if (over <= -AT_CUT) return p;
    const worst = this.#cuts.find(({ plane }) => heightOver(plane, p) === over) as Cut;
    return addScaled(p, worst.plane.normal, -(over + AT_CUT));
  }

  /** The box with its bound; undefined when nothing of it counts. Also notes the middle, where it is outside. */
  #judge(c: Triple, h: Triple): Box | undefined {
    const { p, axes, reach } = this.#shape(c, h);
    const r = Math.sqrt(reach[0] * reach[0] + reach[1] * reach[1] + reach[2] * reach[2]);
    const own = this.#solid.distance(p[0], p[1], p[2]);
    const over = this.#over(p);
    if (own > r || over > r) return undefined;
    const q = this.#behind(p);
    if (this.#inside.contains(q[0], q[1], q[2])) {
      const far = q === p ? r : r + AT_CUT;
      const d = this.#nearest.distance(q[0], q[1], q[2], this.#foot, far);
      return d < far ? { c, h, bound: far - d, cut: reach.indexOf(Math.max(...reach)) } : undefined;
    }
    const d = this.#nearest.distance(p[0], p[1], p[2], this.#foot);
    if (own <= 0 && over <= 0) this.#note(p, d);
    // No point of the box is farther from the foot than its farthest corner.
    const v = sub(p, pt<'ear'>(this.#foot[0] as number, this.#foot[1] as number, this.#foot[2] as number));
    let sum = 0;
    let cut = 0;
    let most = -1;
    for (let k = 0; k < 3; k++) {
      const away = Math.abs(dot(v, axes[k] as Point<'ear'>));
      const e = away + (reach[k] as number);
      sum += e * e;
      const gain = (reach[k] as number) * (2 * away + (reach[k] as number));
      if (gain > most) {
        most = gain;
        cut = k;
      }
    }
    return { c, h, bound: Math.sqrt(sum), cut };
  }
}

const SIGNS = [-1, 0, 1] as const;

function halves(b: Box): { readonly c: Triple; readonly h: Triple }[] {
  return [-1, 1].map((s) => {
    const c: [number, number, number] = [...b.c];
    const h: [number, number, number] = [...b.h];
    h[b.cut] = (h[b.cut] as number) / 2;
    c[b.cut] = (c[b.cut] as number) + s * (h[b.cut] as number);
    return { c, h };
  });
}

/** A heap by bound, greatest first; equal bounds in a fixed order since all steps are. */
function push(heap: Box[], b: Box): void {
  let i = heap.push(b) - 1;
  while (i > 0) {
    const up = (i - 1) >> 1;
    if ((heap[up] as Box).bound >= b.bound) break;
    heap[i] = heap[up] as Box;
    i = up;
  }
  heap[i] = b;
}

function pop(heap: Box[]): Box | undefined {
  const top = heap[0];
  const last = heap.pop();
  if (!top || !last || heap.length === 0) return top;
  let i = 0;
  for (;;) {
    let next = 2 * i + 1;
    if (next >= heap.length) break;
    if (next + 1 < heap.length && (heap[next + 1] as Box).bound > (heap[next] as Box).bound) next++;
    if ((heap[next] as Box).bound <= last.bound) break;
    heap[i] = heap[next] as Box;
    i = next;
  }
  heap[i] = last;
  return top;
}
