/** The ports rule of two parts, over cells of their poses: a yes or no that no spare can mend. */
import { PI, sin } from '../geometry/trig.ts';
import type { PortRule } from '../model/parts.ts';
import { type Cell, Moved } from './space.ts';
import type { CellTree, Node } from './tree.ts';

/** The rule's own tolerance is 1e-6; a bound must allow a little more than any checker does. */
const LOOSE = 1e-5;
const ORIGIN = new Float64Array(3);

interface Ported {
  readonly tree: CellTree;
}

export class Ports {
  readonly #rule: PortRule;
  readonly #front: Ported;
  readonly #rear: Ported;
  readonly #at: { readonly front: number; readonly rear: number };
  readonly #f: Moved;
  readonly #r: Moved;
  #d = { x: 0, y: 0, z: 0 };

  constructor(rule: PortRule, front: Ported, rear: Ported, at: { readonly front: number; readonly rear: number }) {
    this.#rule = rule;
    this.#front = front;
    this.#rear = rear;
    this.#at = at;
    this.#f = new Moved(1, front.tree.bounder.space.size);
    this.#r = new Moved(1, rear.tree.bounder.space.size);
  }

  /** Do no two poses of these cells keep to the rule? Each port is within its reach of where it is at the middle. */
  ruledOut(nodes: readonly Node[]): boolean {
    const by = this.#place(nodes) + LOOSE;
    const { least, most, tilt } = this.#rule;
    const { x, y, z } = this.#d;
    const far = Math.sqrt(x * x + y * y + z * z);
    if (far + by < least || far - by > most || x + by < 0) return true;
    // [anterior, superior, lateral]: the sine of the line's angle to the horizontal is its superior share.
    return tilt < PI / 2 && (Math.abs(y) - by) / (far + by) > sin(tilt) + LOOSE;
  }

  /** Do the middles keep to it? */
  keptAtMiddle(nodes: readonly Node[]): boolean {
    this.#place(nodes);
    const { least, most, tilt } = this.#rule;
    const { x, y, z } = this.#d;
    const far = Math.sqrt(x * x + y * y + z * z);
    return far >= least && far <= most && x >= 0 && Math.abs(y) <= far * sin(Math.min(tilt, PI / 2));
  }

  /** From the rear port to the front one at the middles; how far both may move, mm. */
  #place(nodes: readonly Node[]): number {
    const cell = (i: number): Cell => (nodes[i] as Node).cell;
    this.#front.tree.bounder.space.place(cell(this.#at.front), ORIGIN, this.#f);
    this.#rear.tree.bounder.space.place(cell(this.#at.rear), ORIGIN, this.#r);
    const apart = (k: number): number => (this.#f.q[k] as number) - (this.#r.q[k] as number);
    this.#d = { x: apart(0), y: apart(1), z: apart(2) };
    return (this.#f.reach[0] as number) + (this.#r.reach[0] as number);
  }
}
