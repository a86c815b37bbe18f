/** The poses in which one part alone may reach a target, as a tree of cells: made as far as it is asked for, and shared. */

import { Heap } from '../geometry/heap.ts';
import type { CellBounder } from './bound.ts';
import { type Allowed, type Cell, halves } from './space.ts';

/** Rows kept of a cell. */
const ROWS = 20;
/** A narrowed cell of less than this share of its volume is looked at again before it is halved. */
const SHRUNK = 0.5;

export interface Node {
  cell: Cell;
  kids?: Node[];
  /** Worked out when first asked for. */
  seen?: Seen;
  value?: number; // at the middle
}

/** What is known of a cell's poses. */
export interface Seen {
  readonly frame: Float64Array; // the pose at the middle
  readonly width: number; // mm
  /** No pose has more; below the target the cell is empty. */
  readonly bound: number;
  readonly rows: Float32Array;
  /** The most that poses have for which the rows do not hold. */
  readonly beyond: number;
}

/** A tree as a search over several parts uses it. */
export interface CellTree {
  readonly bounder: CellBounder;
  readonly roots: readonly Node[];
  /** Cells looked at. */
  readonly opened: number;
  kids(node: Node): readonly Node[];
  see(node: Node): Seen;
  stands(node: Node): boolean;
  value(node: Node, below: number): number;
}

export class PoseTree implements CellTree {
  readonly bounder: CellBounder;
  readonly target: number;
  readonly roots: Node[];
  readonly #allowed: Allowed | undefined;
  opened = 0;

  /** Together with `rest` (what poses outside of all cells have at most), all that can be said of a part. */
  constructor(bounder: CellBounder, target: number, allowed?: Allowed) {
    this.bounder = bounder;
    this.target = target;
    this.#allowed = allowed;
    this.roots = this.#made(bounder.space.roots());
  }

  kids(node: Node): Node[] {
    node.kids ??= this.#made(halves(node.cell, this.bounder.space.widest(node.cell)));
    return node.kids;
  }

  #made(cells: readonly Cell[]): Node[] {
    return cells.filter((cell) => this.#allowed?.(cell) !== 'none').flatMap((cell) => this.#narrowed(cell) ?? []);
  }

  /** The cell as far as it holds a pose that may reach the target; undefined when it holds none. */
  #narrowed(cell: Cell): Node | undefined {
    for (;;) {
      this.opened++;
      if (this.bounder.bound(cell, this.target) < this.target) return undefined;
      const left = this.bounder.narrowed(cell, this.target);
      const share = volume(left) / volume(cell);
      cell = left;
      if (!(share < SHRUNK)) return { cell };
    }
  }

  see(node: Node): Seen {
    node.seen ??= this.#look(node.cell);
    return node.seen;
  }

  #look(cell: Cell): Seen {
    this.opened++;
    const { space } = this.bounder;
    const bound = this.bounder.bound(cell, this.target);
    const rows = bound < this.target ? NONE : this.bounder.rows(ROWS);
    return { frame: space.frame(cell), width: space.width(cell), bound, rows, beyond: this.bounder.beyondRows };
  }

  /**
   * Opens the widest cells until all are at most `width` or `steps` were looked at; then every cell is cut down to what
   * is left of its halves. False when nothing is left: the part alone cannot reach the target.
   */
  ripen(width: number, steps: number, shouldStop: () => boolean): boolean {
    const until = this.opened + steps;
    openWidest(this, width, () => this.opened >= until || shouldStop());
    this.#prune(this.roots);
    return this.roots.length > 0;
  }

  #prune(nodes: Node[]): void {
    let n = 0;
    for (let node of nodes) {
      if (node.kids) {
        this.#prune(node.kids);
        if (node.kids.length === 0) continue;
        if (node.kids.length === 1) node = node.kids[0] as Node;
        else node = { cell: hull(node.kids.map((k) => k.cell)), kids: node.kids };
      }
      nodes[n++] = node;
    }
    nodes.length = n;
  }

  /** May the part stand at the node's middle? */
  stands(node: Node): boolean {
    return !this.#allowed || this.#allowed(node.cell) === 'centre';
  }

  /** What it has there; at most `below` when not more than that. */
  value(node: Node, below: number): number {
    node.value ??= this.stands(node) ? this.bounder.value(node.cell, below) : -Infinity;
    return node.value;
  }
}

/** Opens the widest cells of a tree until all are at most `width`, or there is enough. */
export function openWidest(tree: CellTree, width: number, enough: () => boolean): void {
  const heap = new Heap<Node>();
  const { space } = tree.bounder;
  const leaves = (nodes: readonly Node[]): void => {
    for (const n of nodes) {
      if (n.kids) leaves(n.kids);
      else heap.push(n, -space.width(n.cell));
    }
  };
  leaves(tree.roots);
  while (-heap.key > width && !enough()) {
    const node = heap.pop() as Node;
    for (const kid of tree.kids(node)) heap.push(kid, -space.width(kid.cell));
  }
}

const NONE = new Float32Array(0);
const volume = (cell: Cell): number => cell.h.reduce((v, h) => v * h, 1);

/** The least cell that holds some cells of one base. */
export function hull(cells: readonly Cell[]): Cell {
  const { c, base } = cells[0] as Cell;
  const [lo, hi] = [c.map(() => Infinity), c.map(() => -Infinity)];
  for (const cell of cells) {
    for (let k = 0; k < c.length; k++) {
      lo[k] = Math.min(lo[k] as number, (cell.c[k] as number) - (cell.h[k] as number));
      hi[k] = Math.max(hi[k] as number, (cell.c[k] as number) + (cell.h[k] as number));
    }
  }
  // Rounding must not leave out a rim.
  return { c: lo.map((l, k) => (l + (hi[k] as number)) / 2), h: lo.map((l, k) => ((hi[k] as number) - l) / 2 + 1e-12), base };
}
