/** Best-first branch and bound over a space of poses: the ceiling of one part alone. */
import type { CellBounder } from './bound.ts';
import { Heap } from './heap.ts';
import { type Cell, halves } from './space.ts';

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
}

type Allowed = (cell: Cell) => 'none' | 'some' | 'centre';

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
  for (const start of limits.starts) {
    const top = climb(bounder, start, limits.target, allowed);
    if (top.value > best) {
      best = top.value;
      at = top.cell;
    }
    if (best >= limits.target) return { ceiling: Infinity, best, at, cells };
  }
  for (const cell of bounder.space.roots()) open(cell, Infinity);
  for (;;) {
    const bound = -heap.key;
    const top = heap.top;
    const ceiling = Math.max(bound, limits.rest);
    if (!top || ceiling <= best + limits.close || best >= limits.target || cells >= limits.cells) {
      return { ceiling: best >= limits.target ? Infinity : ceiling, best, at, cells };
    }
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

/**
 * For spaces too large to be searched to a fine ceiling: is every cell below target - step, for one step after the other?
 * Depth first, so that a cell is looked at no more closely than its step asks. The ceiling is the last that was proved.
 */
export function boundBySteps(
  bounder: CellBounder,
  limits: Omit<SearchLimits, 'close'>,
  steps: readonly number[],
  allowed?: Allowed,
): SingleBound {
  let best = -Infinity;
  let at: Cell | undefined;
  for (const start of limits.starts) {
    const top = climb(bounder, start, limits.target, allowed);
    if (top.value > best) {
      best = top.value;
      at = top.cell;
    }
    if (best >= limits.target) return { ceiling: Infinity, best, at, cells: 0 };
  }
  let ceiling = Infinity;
  let cells = 0;
  for (const step of steps) {
    const target = limits.target - step;
    if (target <= best || target < limits.rest) break;
    // The first step decides a verdict; the others only say by how much, and may cost half of it.
    const { proved, used } = allBelow(bounder, target, cells === 0 ? limits.cells : limits.cells / 2, allowed);
    cells += used;
    if (!proved) break;
    ceiling = target;
  }
  return { ceiling, best, at, cells };
}

function allBelow(bounder: CellBounder, target: number, most: number, allowed: Allowed | undefined): { proved: boolean; used: number } {
  const stack = bounder.space.roots();
  let used = 0;
  for (let cell = stack.pop(); cell; cell = stack.pop()) {
    if (allowed?.(cell) === 'none') continue;
    if (++used > most) return { proved: false, used };
    if (bounder.bound(cell, target) < target) continue;
    stack.push(...halves(cell, bounder.space.widest(cell)));
  }
  return { proved: true, used };
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
