/** Best-first branch and bound over a space of poses: the ceiling of one part alone. */

import { Heap } from '../geometry/heap.ts';
import type { CellBounder } from './bound.ts';
import { type Allowed, type Cell, halves } from './space.ts';

export interface SingleBound {
  /** No pose has more spare, mm. */
  readonly ceiling: number;
  /** Greatest value met at a cell's middle. */
  readonly best: number;
  /** Where. */
  readonly at: Cell | undefined;
  readonly cells: number;
}

export interface SearchLimits {
  /** A ceiling not below this is of no use: stop as soon as a pose reaches it. */
  readonly target: number;
  /** Stop when ceiling and best are this close, mm. */
  readonly close: number;
  readonly cells: number;
  /** Poses outside the space have at most this much. */
  readonly rest: number;
  /** Poses that a short climb begins from: if it reaches the target, no proof is possible and none is tried. */
  readonly starts: readonly Cell[];
  readonly shouldStop?: () => boolean;
}

/** As near as this to a ceiling that is still of no use, going on would not pay, mm. */
const HOPELESS = 2e-3;
/** Cells between two questions whether to stop. */
const OFTEN = 64;

/** `allowed` tells whether a cell may hold an allowed pose at all (a cone, a reach); without it every cell may. */
export function boundSingle(bounder: CellBounder, limits: SearchLimits, allowed?: Allowed): SingleBound {
  const heap = new Heap<Cell>();
  let best = -Infinity;
  let at: Cell | undefined;
  let cells = 0;
  const open = (cell: Cell, above: number): void => {
    if (allowed?.(cell) === 'none') return;
    cells++;
    const bound = Math.min(above, bounder.bound(cell, Math.max(limits.rest, best)));
    if (bound > limits.rest) heap.push(cell, -bound);
  };
  const top = climbFrom(bounder, limits.starts, limits.target, allowed);
  if (top.cell) [best, at] = [top.value, top.cell];
  if (best >= limits.target) return { ceiling: Infinity, best, at, cells };
  for (const cell of bounder.space.roots()) open(cell, Infinity);
  for (;;) {
    const bound = -heap.key;
    const top = heap.top;
    const ceiling = Math.max(bound, limits.rest);
    const near = ceiling <= best + (ceiling < limits.target ? limits.close : HOPELESS);
    const stop = cells >= limits.cells || (cells % OFTEN === 0 && limits.shouldStop?.());
    if (!top || near || stop || best >= limits.target) return { ceiling: best >= limits.target ? Infinity : ceiling, best, at, cells };
    heap.pop();
    if (!allowed || allowed(top) === 'centre') {
      const value = bounder.value(top, best);
      if (value > best) {
        best = value;
        at = top;
      }
    }
    for (const half of halves(top, bounder.space.widest(top))) open(half, bound);
  }
}

/** The best of short climbs from each start, ended by the first that reaches the target. */
export function climbFrom(
  bounder: CellBounder,
  starts: readonly Cell[],
  target: number,
  allowed: Allowed | undefined,
): { readonly cell?: Cell; readonly value: number } {
  let best: { readonly cell?: Cell; readonly value: number } = { value: -Infinity };
  for (const start of starts) {
    const top = climb(bounder, start, target, allowed);
    if (top.value > best.value) best = top;
    if (best.value >= target) break;
  }
  return best;
}

/** Coordinate steps, halved when none helps, from the start cell's middle with its half sizes as first steps. */
function climb(bounder: CellBounder, start: Cell, target: number, allowed: Allowed | undefined): { cell: Cell; value: number } {
  let cell = start;
  let value = allowed && allowed(point(cell.c, cell)) !== 'centre' ? -Infinity : bounder.value(cell, -Infinity);
  const step = start.h.slice();
  for (let round = 0; round < 12 && value < target; round++) {
    let better = false;
    for (let k = 0; k < step.length; k++) {
      for (const sign of [-1, 1]) {
        const c = cell.c.slice();
        c[k] = (c[k] as number) + sign * (step[k] as number);
        const next = point(c, cell);
        if (allowed && allowed(next) !== 'centre') continue;
        const v = bounder.value(next, value);
        if (v <= value) continue;
        value = v;
        cell = next;
        better = true;
      }
    }
    if (!better) for (let k = 0; k < step.length; k++) step[k] = (step[k] as number) / 2;
  }
  return { cell, value };
}

/** A cell of one pose. */
const point = (c: Float64Array, like: Cell): Cell => ({ c, h: new Float64Array(c.length), base: like.base });
