/** One body and one set of rules: what is measured of the cast, and what is found out about a part, is shared between proofs. */
import type { Body } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import type { Asked } from './bound.ts';
import { meetsOf } from './contact.ts';
import { type GroupBound, GroupSearch, type Member, type PortsOf } from './group.ts';
import { boundSingle, climbFrom, type SingleBound } from './search.ts';
import { askedOf, type Spot, spotOf } from './spots.ts';
import { PoseTree } from './tree.ts';
import { WallOracle } from './wall.ts';

/** Down to this width a part's cells are looked at by themselves before they meet another part's, mm. (Measured: half or twice as much costs up to half more.) */
export const RIPE = { faceplate: 0.1, tip: 0.8, free: 0.8, shell: 0 } as const;
/** At most so many cells then, of all that may be looked at. */
const RIPENING = { faceplate: 0.02, tip: 0.6, free: 0.6, shell: 0 } as const;

export interface SingleLimits {
  /** A ceiling not below this is of no use. */
  readonly target: number;
  readonly cells: number;
  readonly close: number;
  readonly shouldStop?: () => boolean;
}

export interface GroupLimits {
  /** Rules of pairs that the poses must keep to. */
  readonly pairRules?: Kit['pairRules'];
  readonly steps: number;
  readonly shouldStop?: () => boolean;
}

/** What is asked between two of some parts, mm. */
export const askedBetween =
  (rules: Rules, parts: readonly Part[]) =>
  (i: number, j: number): number =>
    rules.partGap + (parts[i] as Part).margin + (parts[j] as Part).margin;

/** The first ports rule of which both parts are among these. */
export function portsAmong(parts: readonly Part[], rules: Kit['pairRules']): PortsOf | undefined {
  const at = (id: string): number => parts.findIndex((p) => p.id === id);
  const rule = rules.find((r) => at(r.front) >= 0 && at(r.rear) >= 0);
  return rule && { rule, front: at(rule.front), rear: at(rule.rear) };
}

const never = (): boolean => false;

export class Prover {
  readonly #body: Body;
  readonly #rules: Rules;
  readonly #oracle: WallOracle;
  readonly #spots = new Map<string, Spot | undefined>();
  /** Trees of the target that was asked for last. */
  readonly #trees = new Map<string, PoseTree>();
  #target = Number.NaN;

  constructor(body: Body, rules: Rules) {
    this.#body = body;
    this.#rules = rules;
    this.#oracle = new WallOracle(body);
  }

  /** Places of the cast measured so far. */
  get measured(): number {
    return this.#oracle.measured;
  }

  asked(part: Part): Asked {
    return askedOf(this.#body, this.#rules, part);
  }

  #spot(part: Part): Spot | undefined {
    if (!this.#spots.has(part.id)) this.#spots.set(part.id, spotOf(this.#body, this.#rules, this.#oracle, part));
    return this.#spots.get(part.id);
  }

  /** The ceiling of one part alone, best first; undefined when there is nothing to go by. For parts at the faceplate. */
  single(part: Part, limits: SingleLimits): SingleBound | undefined {
    const spot = this.#spot(part);
    return spot && boundSingle(spot.bounder, { ...limits, rest: spot.rest, starts: spot.starts }, spot.allowed);
  }

  /** The most that a short climb finds for one part alone (as the bounds see it, which is never less than it has). */
  climbed(part: Part, target: number): number {
    const spot = this.#spot(part);
    return spot ? climbFrom(spot.bounder, spot.starts, target, spot.allowed).value : Infinity;
  }

  /** Can all of these be placed with `target` to spare, to the outside of the shell and to one another? Fixed by counts. */
  group(parts: readonly Part[], target: number, limits: GroupLimits): GroupBound {
    const shouldStop = limits.shouldStop ?? never;
    const members: Member[] = [];
    let steps = 0;
    for (const part of parts) {
      const tree = this.#tree(part, target);
      if (!tree) return { answer: 'open', best: -Infinity, steps };
      const { at } = part.seat;
      const before = tree.opened;
      const left = tree.ripen(RIPE[at], limits.steps * RIPENING[at], shouldStop);
      steps += tree.opened - before;
      if (!left) return { answer: 'proved', best: -Infinity, steps };
      members.push({ tree, meets: meetsOf(part) });
    }
    const ports = portsAmong(parts, limits.pairRules ?? []);
    const result = new GroupSearch(members, target, askedBetween(this.#rules, parts), ports).run({
      steps: limits.steps - steps,
      shouldStop,
    });
    return { ...result, steps: result.steps + steps };
  }

  #tree(part: Part, target: number): PoseTree | undefined {
    if (target !== this.#target) this.#trees.clear();
    this.#target = target;
    const spot = this.#spot(part);
    if (!spot || spot.rest >= target) return undefined;
    const tree = this.#trees.get(part.id) ?? new PoseTree(spot.bounder, target, spot.allowed);
    this.#trees.set(part.id, tree);
    return tree;
  }
}
