/**
 * Does a certificate prove what it claims? A checker that believes nothing of the prover: it measures distances to the body's
 * triangles itself (witness.ts), cuts the cells itself (cells.ts), works out each inequality from its own derivation (rows.ts), and
 * asks that the cells leave out no pose (seats.ts).
 *
 * Each part alone has a tree of cells; some of its ends are closed, the others open. Then every choice of one open root of each part
 * is walked through: a part's cell is opened into its cells below, or all of them together are closed. Poses in a closed end of one
 * part are done with whatever the others do; so when the walk ends, no poses at all have more than the ceiling.
 */
import type { Body } from '../model/fit.ts';
import { around, type Cell, cutAt, halved } from './cells.ts';
import { type Certificate, type Entry, type JointEntry, type JointRow, partsInWords } from './format.ts';
import { demand, Refusal, refuse } from './refusal.ts';
import { allowed, Claimed, pairRow, ROUNDING } from './rows.ts';
import { checkPart, checkPorts, checkUnseated } from './seats.ts';
import { isCutThere } from './text.ts';
import { Witnesses } from './witness.ts';

export type CheckedCertificate =
  /** `text`: what was shown, in a sentence. */
  | { readonly holds: true; readonly ceiling: number; readonly cells: number; readonly text: string }
  | { readonly holds: false; readonly why: string };

/** A cell of a tree, with the cells that it is cut into. */
interface Node {
  readonly cell: Cell;
  readonly depth: number;
  open: boolean;
  below: readonly Node[];
}

/**
 * Checks a certificate against the body that the scan and the style give (ear frame, mm). `deviation`: how far the scan may lie from
 * what the body was made of, mm. Never throws for a bad one.
 */
export function certify(certificate: Certificate, body: Body, deviation = 0): CheckedCertificate {
  try {
    const cells = new Checker(certificate, body, deviation).check();
    return { holds: true, ceiling: certificate.ceiling, cells, text: sentence(certificate, cells) };
  } catch (e) {
    if (e instanceof Refusal) return { holds: false, why: e.message };
    throw e;
  }
}

/** Cuts one within the other: no proof needs more. */
const DEEPEST = 2000;
/** Known to be too many: no walk may make a small file cost hours. */
const MOST_STEPS = 2_000_000;

export class Checker {
  readonly #c: Certificate;
  readonly #body: Body;
  readonly #claims: readonly Claimed[];
  /** Where each part's variables begin among all. */
  readonly #from: readonly number[];
  readonly #size: number;
  readonly #least: number; // what rows may allow, mm
  #closed = 0;

  constructor(certificate: Certificate, body: Body, deviation = 0) {
    this.#c = certificate;
    this.#body = body;
    const witnesses = new Witnesses(certificate.witnesses, body);
    for (const part of certificate.parts) checkPart(part, certificate.rules, body);
    this.#claims = certificate.parts.map((part) => new Claimed(part, certificate.rules, body, witnesses));
    const sizes = this.#claims.map((c) => c.poses.size);
    this.#from = sizes.map((_, i) => sizes.slice(0, i).reduce((a, b) => a + b, 0));
    this.#size = sizes.reduce((a, b) => a + b, 0);
    this.#least = certificate.ceiling - deviation;
  }

  /** The number of cells, all of which are closed. */
  check(): number {
    const { style, parts, joint } = this.#c;
    demand(style === this.#body.style, `it is about ${style}, the body is that of ${this.#body.style}`);
    for (const claim of this.#claims) demand(this.#least >= -claim.least, 'its ceiling is lower than any such proof can show');
    demand(new Set(parts.map((p) => p.id)).size === parts.length, 'it names a part twice');
    const trees = this.#claims.map((claim) => this.#tree(claim));
    if (trees.length === 1) demand(!trees[0]?.some((n) => n.open) && joint.length === 0, 'some cell is closed by nothing');
    else this.#joint(trees);
    return this.#closed;
  }

  /** The cells of one part with which it meets the others. */
  #tree(claim: Claimed): Node[] {
    const { cells, finer } = claim.part;
    const roots = claim.poses.roots().map(rootOf);
    const first = this.#walk(claim, roots, cells, 'cell');
    const ends = first.filter((n) => n.open && n.below.length === 0);
    const met = roots.flatMap((root) => held(root) ?? []);
    const all = finer.length === 0 ? [] : this.#walk(claim, ends, finer, 'finer cell');
    closeUp(all);
    // The cells above the ends, and what holds them.
    closeUp(first);
    closeUp(downFrom(met));
    return met;
  }

  /** All nodes from these down, each closed, open or cut as the entries have it. */
  #walk(claim: Claimed, roots: readonly Node[], entries: readonly Entry[], what: string): Node[] {
    const stack = [...roots].reverse();
    const all: Node[] = [];
    for (const [i, entry] of entries.entries()) {
      const node = stack.pop();
      if (!node) refuse(`there are more cells of ${claim.part.name} than poses`);
      all.push(node);
      this.#enter(claim, node, entry, `${what} ${i} of ${claim.part.name}`);
      stack.push(...[...node.below].reverse());
    }
    demand(stack.length === 0, `some poses of ${claim.part.name} are in no cell`);
    closeUp(all);
    return all;
  }

  #enter(claim: Claimed, node: Node, entry: Entry, where: string): void {
    const { cell } = node;
    if (entry === 'open') return;
    if (typeof entry === 'number' || (typeof entry !== 'string' && isCutThere(entry))) {
      const [k, at] = typeof entry === 'number' ? [entry] : entry;
      const two = k < claim.poses.size ? (at === undefined ? halved(cell, k) : cutAt(cell, k, at)) : undefined;
      if (!two) refuse(`${where} cannot be cut there`);
      const depth = node.depth + 1;
      demand(depth <= DEEPEST, `${where} is cut too often`);
      node.below = two.map((c) => ({ cell: c, depth, open: true, below: [] }));
      return;
    }
    if (typeof entry === 'string') checkUnseated(claim, cell, entry, this.#body);
    else
      this.#demandClosed(
        where,
        allowed(
          entry.map((row) => claim.row(cell, row)),
          claim.poses.size,
        ),
      );
    node.open = false;
    this.#closed++;
  }

  #demandClosed(where: string, bound: number): void {
    demand(bound <= this.#least + ROUNDING, `${where} is not closed: its rows allow ${bound.toFixed(4)} mm`);
  }

  #joint(trees: readonly (readonly Node[])[]): void {
    const stack = products(trees.map(openOnes)).reverse();
    let steps = stack.length;
    for (const [i, entry] of this.#c.joint.entries()) {
      const nodes = stack.pop();
      if (!nodes) refuse('there are more cells of all parts together than poses');
      if (typeof entry !== 'number') {
        this.#close(nodes, entry, i);
        continue;
      }
      const below = openOnes(nodes[entry]?.below ?? []);
      // An open cell without any below would be lost; a closed one is in no choice.
      demand(below.length > 0, `entry ${i} opens a cell that has none below`);
      steps += below.length;
      demand(steps <= MOST_STEPS, `it walks through more than ${MOST_STEPS} choices`);
      for (const node of below.reverse()) stack.push(nodes.map((n, p) => (p === entry ? node : n)));
    }
    demand(stack.length === 0, 'some poses of all parts together are in no cell');
  }

  #close(nodes: readonly Node[], entry: Exclude<JointEntry, number>, i: number): void {
    const cells = nodes.map((n) => n.cell);
    if (entry === 'ports') this.#ports(cells);
    else this.#demandClosed(`entry ${i}`, this.together(cells, entry));
    this.#closed++;
  }

  #ports(cells: readonly Cell[]): void {
    const { ports, parts } = this.#c;
    const of = (id: string): readonly [Claimed, Cell] => {
      const i = parts.findIndex((p) => p.id === id);
      const [claim, cell] = [this.#claims[i], cells[i]];
      return claim && cell ? [claim, cell] : refuse(`its ports rule names "${id}", which is none of its parts`);
    };
    if (!ports) refuse('it has no ports rule');
    checkPorts(ports, of(ports.front), of(ports.rear));
  }

  /** What rows allow in cells of all parts, one of each, mm. */
  together(cells: readonly Cell[], rows: readonly JointRow[]): number {
    const { rules } = this.#c;
    const [claim, cell, from] = [of(this.#claims, 'part'), of(cells, 'part'), (i: number): number => this.#from[i] as number];
    const weighed = rows.map((r) => {
      if ('of' in r) return claim(r.of).row(cell(r.of), r.row, from(r.of));
      demand(r.first !== r.second, 'a row holds a part against itself');
      const [a, b] = [claim(r.first), claim(r.second)];
      const asked = rules.partGap + a.part.margin + b.part.margin;
      return pairRow([a, b], [cell(r.first), cell(r.second)], [from(r.first), from(r.second)], asked, r);
    });
    return allowed(weighed, this.#size);
  }
}

const rootOf = (cell: Cell): Node => ({ cell, depth: 0, open: true, below: [] });
/** From the ends up: what has nothing open below is closed. */
function closeUp(nodes: readonly Node[]): void {
  for (const node of [...nodes].reverse()) if (node.below.length > 0) node.open = node.below.some((n) => n.open);
}

/** These and all below, each before those below it. */
function downFrom(roots: readonly Node[]): Node[] {
  const all = [...roots];
  for (let i = 0; i < all.length; i++) all.push(...(all[i] as Node).below);
  return all;
}

/** What is open of a cell, in a cell no larger than that: poses elsewhere in it are in closed cells. Where one below is open, that one. */
function held(node: Node): Node | undefined {
  if (!node.open || node.below.length === 0) return node.open ? node : undefined;
  const below = node.below.flatMap((n) => held(n) ?? []);
  return below.length < 2 ? below[0] : { cell: around(below.map((n) => n.cell)), depth: node.depth, open: true, below };
}

const openOnes = (nodes: readonly Node[]): Node[] => nodes.filter((n) => n.open);

/** One of a list by its number. */
const of =
  <T>(list: readonly T[], what: string) =>
  (i: number): T =>
    i < list.length ? (list[i] as T) : refuse(`there is no ${what} ${i}`);

function products(choices: readonly (readonly Node[])[]): Node[][] {
  let out: Node[][] = [[]];
  for (const nodes of choices) out = out.flatMap((p) => nodes.map((n) => [...p, n]));
  return out;
}

/** "Holds: in IIC, Battery 10 alone has at most -0.120 mm to spare, wherever it is seated (412 cells, all closed)." */
function sentence(c: Certificate, cells: number): string {
  const [first] = c.parts;
  const names = partsInWords(c);
  const has = `${c.ceiling.toFixed(3)} mm to spare`;
  const done = `(${cells} cells, all closed)`;
  if (c.parts.length > 1 || !first) return `in ${c.style}, ${names} together have at most ${has}, wherever they are seated and lie ${done}`;
  const where = first.seat.at === 'free' ? 'wherever it lies' : 'wherever it is seated';
  return `in ${c.style}, ${names} alone has at most ${has}, ${where} ${done}`;
}
