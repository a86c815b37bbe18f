/** Writes out the proof that some parts of a kit have their places nowhere: every cell, and the rows that close it. */
import { BASES, type Certificate, type JointEntry, type JointRow, MOST_ENTRIES, type PartCells, type Vec } from '../certify/format.ts';
import { solidsOf } from '../certify/kit.ts';
import type { Body } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import { grouped } from '../scan/wording.ts';
import type { Ball } from './contact.ts';
import { meetsOf } from './contact.ts';
import { GroupSearch, type JointClosing } from './group.ts';
import { askedBetween, portsAmong, RIPE } from './prover.ts';
import { type FreeSpace, HALF_TURN, SeatedSpace, WHOLE_TURN } from './space.ts';
import { askedOf, type Spot, spotOf } from './spots.ts';
import { openWidest } from './tree.ts';
import { WallOracle } from './wall.ts';
import { closedAmong, Listed, rowOf, type WrittenNode, WrittenTree } from './written.ts';

/** What rounding the numbers of a row may add to its cell's bound, mm: places are written to 1e-5; a checker may allow 1e-4 for the cuts' faces. */
const ROUNDED = 4e-4;
/** Where a ceiling cannot be written out as it is, it is claimed higher by this, mm: its cells are then fewer. */
const HIGHER = 2e-3;
/** No cell is halved below this, mm. */
const FINEST = 1e-3;
/** Share of all entries that a part's cells may take before they meet the others'. */
const ALONE = { faceplate: 0.01, tip: 0.25, free: 0.25 } as const;

/** What was proved, as a rung has it. */
export interface Proved {
  readonly kit: Kit;
  /** Ids of the parts. */
  readonly parts: readonly string[];
  /** mm; `deviation` included. */
  readonly ceiling: number;
  /** How far the scan may lie from what the body was made of, mm. */
  readonly deviation?: number;
}

/** What a certificate says about where it belongs. */
export type Belongs = Pick<Certificate, 'side' | 'cuts' | 'corrections' | 'order'>;

export type Written =
  | { readonly kind: 'written'; readonly certificate: Certificate }
  /** In words, for whoever asked for it. */
  | { readonly kind: 'not-written'; readonly why: string };

/**
 * The certificate of what was proved of these parts. It claims that ceiling, or 0.002 mm more where the cells would be too many; not written
 * where they still are, where a part has no poses to go by, and where the claim is not true.
 */
export function writeCertificate(body: Body, rules: Rules, proved: Proved, belongs: Belongs, most = MOST_ENTRIES): Written {
  const parts = proved.parts.flatMap((id) => proved.kit.parts.find((p) => p.id === id) ?? []);
  const names = parts.map((p) => p.name).join(', ');
  const unposed = parts.find((p) => p.seat.at === 'shell');
  if (parts.length === 0 || parts.length > 3 || unposed || parts.length < proved.parts.length) {
    return { kind: 'not-written', why: `certificates are written for one to three parts that were placed, not for ${names || 'none'}` };
  }
  for (const by of [0, HIGHER]) {
    const certificate = new Writer(body, rules, parts, { ...proved, ceiling: proved.ceiling + by }, most).write(belongs);
    if (certificate) return { kind: 'written', certificate };
  }
  return {
    kind: 'not-written',
    why: `the proof for ${names} does not come to an end within ${grouped(most)} cells, the most that a certificate holds`,
  };
}

/** Ends the writing: there are too many cells, or cells that cannot be closed. */
class TooMany extends Error {}

class Writer {
  readonly #body: Body;
  readonly #rules: Rules;
  readonly #parts: readonly Part[];
  readonly #proved: Proved;
  readonly #most: number;
  readonly #spots: readonly (Spot | undefined)[];
  readonly #witnesses = new Listed<Vec>();
  readonly #balls: readonly Listed<Ball>[];
  readonly #ceiling: number;

  constructor(body: Body, rules: Rules, parts: readonly Part[], proved: Proved, most: number) {
    this.#body = body;
    this.#rules = rules;
    this.#parts = parts;
    this.#proved = proved;
    this.#most = most;
    const oracle = new WallOracle(body);
    this.#spots = parts.map((part) => spotOf(body, rules, oracle, part));
    this.#balls = parts.map(() => new Listed<Ball>());
    const least = Math.min(...parts.map((p) => leastOf(body, rules, p)));
    this.#ceiling = Math.max(proved.ceiling, ROUNDED - least + (proved.deviation ?? 0));
  }

  write(belongs: Belongs): Certificate | undefined {
    const target = this.#ceiling - (this.#proved.deviation ?? 0) - ROUNDED;
    const trees: WrittenTree[] = [];
    for (const [i, spot] of this.#spots.entries()) {
      if (!spot) return undefined;
      trees.push(new WrittenTree(spot, target, this.#witnesses, this.#cutsOf(i)));
    }
    try {
      const joint = trees.length > 1 ? this.#together(trees, target) : this.#alone(trees);
      return this.#document(belongs, trees, joint);
    } catch (e) {
      if (e instanceof TooMany) return undefined;
      throw e;
    }
  }

  /** Names of the cuts that count for a part, as its rows number them. */
  #cutsOf(i: number): string[] {
    const { at } = (this.#parts[i] as Part).seat;
    return this.#body.cuts.filter((c) => c.name !== 'outer' || at !== 'faceplate').map((c) => c.name);
  }

  /** Opens cells until each is closed by itself. */
  #alone([tree]: readonly WrittenTree[]): JointEntry[] {
    if (!tree) return [];
    const { space } = tree.bounder;
    for (const stack = [...tree.roots].reverse(); stack.length > 0; ) {
      const node = stack.pop() as WrittenNode;
      if (tree.opened > this.#most || space.width(node.cell) < FINEST) throw new TooMany();
      stack.push(...[...tree.kids(node)].reverse());
    }
    return [];
  }

  #together(trees: readonly WrittenTree[], target: number): JointEntry[] {
    for (const [i, tree] of trees.entries()) {
      const { at } = (this.#parts[i] as Part).seat as PartCells['seat'];
      const until = tree.opened + ALONE[at] * this.#most;
      openWidest(tree, RIPE[at], () => tree.opened >= until);
      tree.ripened();
    }
    const members = trees.map((tree, i) => ({ tree, meets: meetsOf(this.#parts[i] as Part) }));
    const { pairRules } = this.#proved.kit;
    const search = new GroupSearch(members, target, askedBetween(this.#rules, this.#parts), portsAmong(this.#parts, pairRules));
    const walk: { readonly nodes: readonly WrittenNode[]; readonly entry: JointEntry }[] = [];
    const stack = products(trees.map((t) => t.roots)).reverse();
    for (let nodes = stack.pop(); nodes; nodes = stack.pop()) {
      const at = nodes;
      if (walk.length + trees.reduce((n, t) => n + t.opened, 0) > this.#most) throw new TooMany();
      // What was cut off its rims has one cell below, and that is looked at.
      let open = at.findIndex((n) => n.cut);
      const closing = open < 0 ? search.closing(at) : undefined;
      if (closing) {
        walk.push({ nodes: at, entry: closing === 'ports' ? closing : closing.map((c) => this.#jointRow(c, at, trees)) });
        continue;
      }
      if (open < 0) open = search.widest(at);
      const tree = trees[open] as WrittenTree;
      const node = at[open] as WrittenNode;
      if (tree.bounder.space.width(node.cell) < FINEST) throw new TooMany();
      walk.push({ nodes: at, entry: open });
      for (const kid of [...tree.kids(node)].reverse()) stack.push(at.map((n, i) => (i === open ? kid : n)));
    }
    // Cells that were opened and then closed by themselves are in no choice any more.
    const done = closedAmong(trees.flatMap((t) => t.roots));
    return walk.filter(({ nodes }) => !nodes.some((n) => done.has(n))).map(({ entry }) => entry);
  }

  #jointRow(closing: JointClosing, nodes: readonly WrittenNode[], trees: readonly WrittenTree[]): JointRow {
    if ('of' in closing) {
      const { of, kept, weight } = closing;
      const node = nodes[of] as WrittenNode;
      trees[of]?.see(node);
      const origin = node.origins?.[kept];
      if (!origin) throw new TooMany();
      return { of, row: rowOf(this.#witnesses, this.#cutsOf(of), origin, weight) };
    }
    const { first, second, weight, a, b } = closing;
    return { first, second, weight: short(weight) || 1e-5, a: this.#ball(first, a), b: this.#ball(second, b) };
  }

  /** Points stay as they are; balls are rounded, and smaller by as much. */
  #ball(i: number, [x, y, z, r]: Ball): number {
    const list = this.#balls[i] as Listed<Ball>;
    return list.number(r === 0 ? [x, y, z, r] : [short(x), short(y), short(z), Math.max(0, Math.floor((r - 2e-5) * 1e5) / 1e5)]);
  }

  #document(belongs: Belongs, trees: readonly WrittenTree[], joint: readonly JointEntry[]): Certificate {
    const { wall, faceplate, gap, partGap, suspension } = this.#rules;
    const ports = portsAmong(this.#parts, this.#proved.kit.pairRules)?.rule;
    return {
      style: this.#body.style,
      ...belongs,
      rules: { wall, faceplate, gap, partGap, suspension },
      ceiling: this.#ceiling,
      parts: trees.map((tree, i) => this.#partCells(tree, i)),
      ...(ports && joint.includes('ports') ? { ports } : {}),
      witnesses: this.#witnesses.all,
      joint,
    };
  }

  #partCells(tree: WrittenTree, i: number): PartCells {
    const part = this.#parts[i] as Part;
    const { points, space } = tree.bounder;
    return {
      id: part.id,
      name: part.name,
      margin: part.margin,
      seat: part.seat as PartCells['seat'],
      primitives: solidsOf(part),
      poses: space instanceof SeatedSpace ? seatedPoses(space) : freePoses(space as FreeSpace),
      points: Array.from(
        { length: points.length / 3 },
        (_, k): Vec => [points[3 * k] as number, points[3 * k + 1] as number, points[3 * k + 2] as number],
      ),
      balls: (this.#balls[i] as Listed<Ball>).all,
      ...tree.entries(),
    };
  }
}

const short = (x: number): number => Math.round(x * 1e5) / 1e5;

function leastOf(body: Body, rules: Rules, part: Part): number {
  const asked = askedOf(body, rules, part);
  return Math.min(asked.wall, ...asked.planes.map((p) => p.asked));
}

function products(choices: readonly (readonly WrittenNode[])[]): WrittenNode[][] {
  let out: WrittenNode[][] = [[]];
  for (const nodes of choices) out = out.flatMap((p) => nodes.map((n) => [...p, n]));
  return out;
}

function seatedPoses(space: SeatedSpace): PartCells['poses'] {
  const { plane, slide, spin } = space;
  const range = spin === WHOLE_TURN ? 'whole' : spin === HALF_TURN ? 'half' : 'none';
  return { origin: plane.origin, u: plane.u, v: plane.v, slide, spin: { range, parts: space.roots().length } };
}

function freePoses({ box, start, bases }: FreeSpace): PartCells['poses'] {
  const named = bases.map(([x, y, z]) => BASES[x ? 1 : y ? 2 : z ? 3 : 0] ?? '1');
  return { box, start, bases: named };
}
