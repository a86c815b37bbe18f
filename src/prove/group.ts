/**
 * Several parts together: branch and bound over the product of their cells of poses. What a product of cells can have is
 * bounded by one linear programme over all variables: the rows of each part alone, and rows for how far each two can be
 * apart. Where one part is pressed by another, and that by the wall, their moves cancel in it, so that cells need not be small.
 */
import type { PortRule } from '../model/parts.ts';
import { type Ball, Contact, type InCell, type Meets } from './contact.ts';
import { RowSet } from './linear.ts';
import { Ports } from './ports.ts';
import type { CellTree, Node } from './tree.ts';

/** One part of a group, its tree made for the group's target. */
export interface Member {
  readonly tree: CellTree;
  readonly meets: Meets;
}

/** The ports rule of two members, by their numbers. */
export interface PortsOf {
  readonly rule: PortRule;
  readonly front: number;
  readonly rear: number;
}

/** One row of what closes cells of all members: the k-th kept row of one, or a ball of each of two. */
export type JointClosing =
  | { readonly weight: number; readonly of: number; readonly kept: number }
  | { readonly weight: number; readonly first: number; readonly second: number; readonly a: Ball; readonly b: Ball };

interface Met {
  readonly i: number;
  readonly j: number;
  readonly contact: Contact;
}

/** What the last bound came from. */
type Why =
  | { readonly by: 'ports' | 'nothing' }
  | { readonly by: 'pair'; readonly contact: number }
  | { readonly by: 'rows'; readonly begins: readonly number[] }; // first the contacts', then the members' own

export interface Limits {
  /** Cells looked at in all, of parts and of products. */
  readonly steps: number;
  readonly shouldStop: () => boolean;
}

export interface GroupBound {
  /** possible: poses were met that reach the target as far as the bounds can tell. */
  readonly answer: 'proved' | 'possible' | 'open';
  readonly best: number; // greatest value met at cells' middles
  readonly steps: number;
}

/** Steps between two questions whether to stop. */
const OFTEN = 64;
/** No product is halved below this, mm: it lies too near to the truth. */
const FINEST = 2e-3;

export class GroupSearch {
  readonly #members: readonly Member[];
  readonly #target: number;
  readonly #contacts: readonly Met[];
  readonly #at: readonly number[];
  readonly #rows: RowSet;
  readonly #ports: Ports | undefined;
  #why: Why = { by: 'nothing' };
  #steps = 0;
  #best = -Infinity;

  /** `asked`: between parts i < j, mm. */
  constructor(members: readonly Member[], target: number, asked: (i: number, j: number) => number, ports?: PortsOf) {
    this.#members = members;
    this.#ports = ports && new Ports(ports.rule, members[ports.front] as Member, members[ports.rear] as Member, ports);
    this.#target = target;
    const sizes = members.map((m) => m.tree.bounder.space.size);
    this.#at = sizes.map((_, i) => sizes.slice(0, i).reduce((a, b) => a + b, 0));
    this.#rows = new RowSet(sizes.reduce((a, b) => a + b, 0));
    this.#contacts = members.flatMap((a, i) =>
      members.slice(i + 1).map((b, k) => {
        const j = i + 1 + k;
        return { i, j, contact: new Contact(a.meets, b.meets, asked(i, j), [sizes[i] as number, sizes[j] as number]) };
      }),
    );
  }

  /** Is there no way to place all with the target to spare? */
  run(limits: Limits): GroupBound {
    const opened = (): number => this.#members.reduce((n, m) => n + m.tree.opened, 0);
    const before = opened();
    const stack: (readonly Node[])[] = products(this.#members.map((m) => m.tree.roots));
    let turn = 0;
    const end = (answer: GroupBound['answer']): GroupBound => ({ answer, best: this.#best, steps: this.#steps + opened() - before });
    for (let nodes = stack.pop(); nodes; nodes = stack.pop()) {
      if (++turn % OFTEN === 0 && (limits.shouldStop() || this.#steps + opened() - before > limits.steps)) return end('open');
      if (this.bound(nodes) < this.#target) continue;
      this.#tryMiddle(nodes);
      if (this.#best >= this.#target) return end('possible');
      const widest = this.widest(nodes);
      if (this.#width(widest, nodes) < FINEST) return end('open');
      const kids = this.#members[widest]?.tree.kids(nodes[widest] as Node) ?? [];
      for (const kid of kids) stack.push(nodes.map((n, i) => (i === widest ? kid : n)));
    }
    return end('proved');
  }

  #width(i: number, nodes: readonly Node[]): number {
    return this.#member(i).tree.see(nodes[i] as Node).width;
  }

  /** The member whose cell is best opened. */
  widest(nodes: readonly Node[]): number {
    let widest = 0;
    for (let i = 1; i < nodes.length; i++) if (this.#width(i, nodes) > this.#width(widest, nodes)) widest = i;
    return widest;
  }

  #member(i: number): Member {
    return this.#members[i] as Member;
  }

  /** No poses in these cells, one of each part, have more than this together; not worked out below the target. */
  bound(nodes: readonly Node[]): number {
    this.#steps++;
    let bound = Infinity;
    for (const [i, node] of nodes.entries()) bound = Math.min(bound, this.#member(i).tree.see(node).bound);
    this.#why = { by: 'nothing' };
    if (bound < this.#target) return bound;
    if (this.#ports?.ruledOut(nodes)) {
      this.#why = { by: 'ports' };
      return -Infinity;
    }
    const rows = this.#rows;
    rows.clear();
    const begins: number[] = [];
    for (const [k, { i, j, contact }] of this.#contacts.entries()) {
      const at: [number, number] = [this.#at[i] as number, this.#at[j] as number];
      begins.push(rows.count);
      bound = Math.min(bound, contact.bound(this.#inCell(i, nodes), this.#inCell(j, nodes), this.#target, bound, rows, at));
      if (bound >= this.#target) continue;
      this.#why = { by: 'pair', contact: k };
      return bound;
    }
    if (rows.count === 0) return bound;
    for (const [i, node] of nodes.entries()) {
      const { tree } = this.#member(i);
      const { rows: own, beyond } = tree.see(node);
      // Poses for which the rows do not hold count as open where they could reach the target.
      if (beyond >= this.#target) return bound;
      begins.push(rows.count);
      rows.addKept(own, tree.bounder.space.size, this.#at[i] as number);
    }
    this.#why = { by: 'rows', begins };
    return Math.min(bound, rows.bound(this.#target - 1e-6));
  }

  /** What keeps all poses in these cells below the target together; undefined where nothing is seen to. */
  closing(nodes: readonly Node[]): JointClosing[] | 'ports' | undefined {
    if (this.bound(nodes) >= this.#target) return undefined;
    const why = this.#why;
    if (why.by === 'ports') return 'ports';
    if (why.by === 'pair') return [this.#pair(why.contact, 1)];
    if (why.by !== 'rows') return undefined;
    return this.#rows.weights().map(([row, weight]) => {
      const k = why.begins.findLastIndex((begin) => begin <= row);
      const at = row - (why.begins[k] as number);
      const contacts = this.#contacts.length;
      return k < contacts ? this.#pair(k, weight, at) : { weight, of: k - contacts, kept: at };
    });
  }

  #pair(k: number, weight: number, row?: number): JointClosing {
    const { i, j, contact } = this.#contacts[k] as Met;
    return { weight, first: i, second: j, ...contact.balls(row) };
  }

  #inCell(i: number, nodes: readonly Node[]): InCell {
    const { tree } = this.#member(i);
    const node = nodes[i] as Node;
    return { space: tree.bounder.space, cell: node.cell, frame: tree.see(node).frame };
  }

  /** What the middles of the cells have: where that reaches the target, no proof is possible. */
  #tryMiddle(nodes: readonly Node[]): void {
    let value = Infinity;
    for (const [i, node] of nodes.entries()) if (!this.#member(i).tree.stands(node)) return;
    if (this.#ports && !this.#ports.keptAtMiddle(nodes)) return;
    for (const { i, j, contact } of this.#contacts) {
      value = Math.min(value, contact.middle(this.#inCell(i, nodes), this.#inCell(j, nodes)));
      if (value <= this.#best) return;
    }
    for (const [i, node] of nodes.entries()) {
      value = Math.min(value, this.#member(i).tree.value(node, this.#best));
      if (value <= this.#best) return;
    }
    this.#best = value;
  }
}

function products(choices: readonly (readonly Node[])[]): Node[][] {
  let out: Node[][] = [[]];
  for (const nodes of choices) out = out.flatMap((p) => nodes.map((n) => [...p, n]));
  return out;
}
