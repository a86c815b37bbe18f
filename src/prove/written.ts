/** A part's tree of cells with everything kept that closed some of them: what a certificate is written from. */
import type { Entry, Row, Vec } from '../certify/format.ts';
import type { Origin } from './bound.ts';
import { type Cell, halves } from './space.ts';
import type { Spot } from './spots.ts';
import { type CellTree, hull, type Node, type Seen } from './tree.ts';

/** Rows kept of an open cell for use beside another part's. */
const ROWS = 20;
/** A cell is cut where that leaves at most so much of one of its sides. */
const CUT = 0.8;
/** What is left after cuts is looked at again below this share of the volume. */
const SHRUNK = 0.5;

const short = (x: number): number => Math.round(x * 1e5) / 1e5;

/** Witnesses, or balls, each once. */
export class Listed<T extends readonly number[]> {
  readonly all: T[] = [];
  readonly #known = new Map<string, number>();

  number(item: T): number {
    const key = item.join();
    const known = this.#known.get(key) ?? this.all.push(item) - 1;
    this.#known.set(key, known);
    return known;
  }
}

/** A row as it is written. */
export function rowOf(witnesses: Listed<Vec>, cuts: readonly string[], { point, witness, plane }: Origin, weight: number): Row {
  const w = short(weight) || 1e-5;
  if (witness) return [point, w, witnesses.number([short(witness[0]), short(witness[1]), short(witness[2])])];
  return [point, w, cuts[plane as number] as 'tip'];
}

export interface WrittenNode extends Node {
  /** Undefined while it is open. */
  entry?: Entry;
  /** All cells below, closed ones too. */
  below?: WrittenNode[];
  kids?: WrittenNode[];
  /** Cut off its closed rims: nothing is to be gained by looking at it before its only kid. */
  cut?: boolean;
  origins?: readonly Origin[];
}

export class WrittenTree implements CellTree {
  readonly bounder: Spot['bounder'];
  /** Where several parts begin together: after `ripened`, the cells that hold what was then open. */
  roots: readonly WrittenNode[];
  readonly #all: readonly WrittenNode[];
  #cells: Entry[] = [];
  #ends: readonly WrittenNode[] = [];
  readonly #spot: Spot;
  readonly #target: number;
  readonly #witnesses: Listed<Vec>;
  readonly #cuts: readonly string[];
  /** Entries made. */
  opened = 0;

  constructor(spot: Spot, target: number, witnesses: Listed<Vec>, cuts: readonly string[]) {
    this.#spot = spot;
    this.bounder = spot.bounder;
    this.#target = target;
    this.#witnesses = witnesses;
    this.#cuts = cuts;
    this.#all = this.bounder.space.roots().map((cell) => this.#made(cell));
    this.roots = this.#all.filter(isOpen);
  }

  kids(node: WrittenNode): WrittenNode[] {
    if (!node.kids) this.#split(node, this.bounder.space.widest(node.cell));
    return (node.kids ?? []).filter(isOpen);
  }

  /** From now on a cell above others is no larger than what is open of them. */
  ripened(): void {
    this.#cells = entriesOf(this.#all);
    const ends: WrittenNode[] = [];
    this.roots = this.#all.flatMap((root) => held(root, ends) ?? []);
    this.#ends = ends;
  }

  /** All entries, and those below the cells that were open when it was ripe. */
  entries(): { readonly cells: readonly Entry[]; readonly finer: readonly Entry[] } {
    return this.#cells.length === 0
      ? { cells: entriesOf(this.#all), finer: [] }
      : { cells: this.#cells, finer: this.#ends.some((n) => n.entry !== undefined) ? entriesOf(this.#ends) : [] };
  }

  #split(node: WrittenNode, k: number): void {
    node.entry = k;
    node.below = halves(node.cell, k).map((cell) => this.#made(cell));
    node.kids = node.below;
  }

  #made(cell: Cell): WrittenNode {
    this.opened++;
    const unseated = this.#spot.unseated?.(cell);
    if (unseated) return { cell, entry: unseated };
    const closing = this.bounder.closing(cell, this.#target);
    if (closing) return { cell, entry: closing.map((c) => this.#row(c, c.weight)) };
    const node: WrittenNode = { cell };
    return this.#cutRims(node);
  }

  readonly #row = (origin: Origin, weight: number): Row => rowOf(this.#witnesses, this.#cuts, origin, weight);

  /** Cuts off what the rows of the cell rule out, where rows of the rim by itself show it. */
  #cutRims(top: WrittenNode): WrittenNode {
    const left = this.bounder.narrowed(top.cell, this.#target);
    if (left === top.cell) return top;
    let node = top;
    for (let k = 0; k < left.c.length; k++) {
      for (const side of [-1, 1] as const) node = this.#cutRim(node, left, k, side);
    }
    if (node !== top && volume(node.cell) < SHRUNK * volume(top.cell)) Object.assign(node, this.#made(node.cell));
    return top;
  }

  /** The node that is left. */
  #cutRim(node: WrittenNode, left: Cell, k: number, side: -1 | 1): WrittenNode {
    const { c, h, base } = node.cell;
    const [lo, hi] = [(c[k] as number) - (h[k] as number), (c[k] as number) + (h[k] as number)];
    const at = roundedOut((left.c[k] as number) + side * (left.h[k] as number), side);
    const [from, to] = side < 0 ? [at, hi] : [lo, at];
    if (!(at > lo && at < hi && to - from < CUT * (hi - lo))) return node;
    const part = (a: number, b: number): Cell => {
      const [cs, hs] = [c.slice(), h.slice()];
      cs[k] = (a + b) / 2;
      hs[k] = (b - a) / 2;
      return { c: cs, h: hs, base };
    };
    const rim = side < 0 ? part(lo, at) : part(at, hi);
    const closing = this.bounder.closing(rim, this.#target);
    if (!closing) return node;
    this.opened += 2;
    const closed: WrittenNode = { cell: rim, entry: closing.map((o) => this.#row(o, o.weight)) };
    const rest: WrittenNode = { cell: part(from, to) };
    node.entry = [k, at];
    node.below = side < 0 ? [closed, rest] : [rest, closed];
    node.kids = [rest];
    node.cut = true;
    return rest;
  }

  see(node: WrittenNode): Seen {
    node.seen ??= this.#look(node);
    return node.seen;
  }

  #look(node: WrittenNode): Seen {
    const { space } = this.bounder;
    this.bounder.closing(node.cell, this.#target);
    node.origins = this.bounder.origins(ROWS);
    // Poses for which the rows do not hold have less than any certificate claims.
    return {
      frame: space.frame(node.cell),
      width: space.width(node.cell),
      bound: Infinity,
      rows: this.bounder.rows(ROWS),
      beyond: -Infinity,
    };
  }

  /** A proof is written of what was proved: no pose is tried. */
  stands(): boolean {
    return false;
  }

  value(): number {
    return -Infinity;
  }
}

/** A cell that was closed has its entry and none below. */
export const isOpen = (node: WrittenNode): boolean => node.entry === undefined || node.below !== undefined;

/** To 1e-5, away from what is left. */
const roundedOut = (x: number, side: -1 | 1): number => (side < 0 ? Math.floor(x * 1e5) : Math.ceil(x * 1e5)) / 1e5;
const volume = (cell: Cell): number => cell.h.reduce((v, h) => v * h, 1);

/** In the order of a walk. */
function entriesOf(roots: readonly WrittenNode[]): Entry[] {
  const out: Entry[] = [];
  const stack = [...roots].reverse();
  for (let node = stack.pop(); node; node = stack.pop()) {
    out.push(node.entry ?? 'open');
    if (node.below) stack.push(...[...node.below].reverse());
  }
  return out;
}

/** A cell with what is open of it, as small as that allows; the open ends go to `ends` in the order of a walk. */
function held(node: WrittenNode, ends: WrittenNode[]): WrittenNode | undefined {
  if (!isOpen(node)) return undefined;
  if (!node.below) {
    ends.push(node);
    return node;
  }
  const kids = node.below.flatMap((n) => held(n, ends) ?? []);
  if (kids.length < 2) return kids[0];
  return { cell: hull(kids.map((k) => k.cell)), kids };
}

/** Nodes below which nothing is open any more. */
export function closedAmong(roots: readonly WrittenNode[]): Set<WrittenNode> {
  const all: WrittenNode[] = [];
  const stack = [...roots];
  for (let node = stack.pop(); node; node = stack.pop()) {
    all.push(node);
    if (node.kids) stack.push(...node.kids);
  }
  const closed = new Set<WrittenNode>();
  for (const node of all.reverse()) if (!isOpen(node) || node.kids?.every((n) => closed.has(n))) closed.add(node);
  return closed;
}
