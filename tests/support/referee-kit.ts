/**
 * The parts that a style must hold for an order, worked out anew from the catalogue as a file, and whether a document's parts are
 * those: the right ones, of the right size, put together as the catalogue has them.
 */
import { add, distance, dot, type Vec3 } from '../../src/geometry/vec.ts';
import type { CatalogueFile, PartFile, SlotFile } from '../../src/parts/schema.ts';
import type { PartDocument, VerdictDocument } from './referee-document.ts';
import { type Axes, outOf, type Solid, type Stand } from './referee-solids.ts';

export interface Expected {
  readonly id: string;
  readonly part: PartFile;
  readonly margin: number;
}

/** The kit of a style, or why there is none. */
export function expectedKit(catalogue: CatalogueFile, style: string, { order, rules }: VerdictDocument): Expected[] | string {
  const row = catalogue.styles?.find((s) => s.name === style);
  if (!row?.kit) return `the catalogue has no style ${style}`;
  const kit: Expected[] = [];
  for (const slot of row.kit) {
    for (const [id, chosen] of chosenFor(slot, order)) {
      const part = catalogue.parts?.find((p) => p.id === chosen);
      if (!part) return `the order asks for a part that this style does not take: ${String(chosen)}`;
      const before = kit.filter((e) => e.part.kind === part.kind).length;
      const margin = part.margin === 'suspension' ? rules.suspension : (part.margin ?? 0);
      kit.push({ id: id ?? (before === 0 ? part.kind : `${part.kind}-${before + 1}`), part, margin });
    }
  }
  return kit;
}

/** Names (where they are not simply the kind) and catalogue ids of what goes into a slot. */
function chosenFor(slot: SlotFile, order: VerdictDocument['order']): [id: string | undefined, part: string | undefined][] {
  if (slot.takes === 'receiver') return [['receiver', (slot.sizes as Record<string, string | undefined>)[order.receiver]]];
  if (slot.takes === 'microphones') {
    const two = order.microphones === 2 || slot.least === 2;
    return two
      ? [
          ['front-microphone', slot.part],
          ['rear-microphone', slot.part],
        ]
      : [['microphone', slot.part]];
  }
  if (slot.takes === 'wish' && order[slot.wish] !== true) return [];
  const all = [slot.part, ...(slot.takes === 'cell' && slot.rechargeable ? [slot.rechargeable] : []), ...(slot.alternatives ?? [])];
  const named = Object.values(order.parts ?? {}).find((id) => id !== undefined && all.includes(id));
  if (named !== undefined) return [[undefined, named]];
  return [[undefined, slot.takes === 'cell' && order.rechargeable ? slot.rechargeable : slot.part]];
}

/** How far the catalogue keeps the solids of two parts apart by their kinds, mm; 0 where it says nothing. By their names in the kit. */
export type Apart = (a: string, b: string) => number;

export function keptApart({ apart = [] }: CatalogueFile, kit: readonly Expected[]): Apart {
  const kind = new Map(kit.map((e) => [e.id, e.part.kind]));
  const one = (a: string, b: string): number[] =>
    apart.flatMap(({ between: [x, y], least }) => (kind.get(a) === x && kind.get(b) === y ? [least] : []));
  return (a, b) => Math.max(0, ...one(a, b), ...one(b, a));
}

/** A catalogue's primitive where its part stands. */
function placedAs(
  { shape, size, position = [0, 0, 0], along = 'z', tilt = 0, kind = 'solid' }: PartFile['primitives'][number],
  stand: Stand,
): Solid {
  // Own x, y, z in the part: its z along the axis that is named, the other two up to their sign, which nothing shows.
  const plain: Record<string, Axes> = {
    x: [
      [0, 0, -1],
      [0, 1, 0],
      [1, 0, 0],
    ],
    y: [
      [1, 0, 0],
      [0, 0, -1],
      [0, 1, 0],
    ],
    z: [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ],
  };
  const [s, c] = [Math.sin((tilt * Math.PI) / 180), Math.cos((tilt * Math.PI) / 180)];
  const axes = (plain[along] as Axes).map((v): Vec3 => outOf(stand.axes, [v[0], c * v[1] - s * v[2], s * v[1] + c * v[2]]));
  return { part: '', shape, size, kind, at: add(stand.at, outOf(stand.axes, position)), axes: axes as unknown as Axes };
}

/** Whether two solids fill the same place: a box's axes up to their signs, of round ones only the long one. */
function same(a: Solid, b: Solid): boolean {
  const alike = a.shape === b.shape && a.kind === b.kind && a.size.every((x, k) => Math.abs(x - (b.size[k] as number)) < 1e-6);
  const turns = a.shape === 'box' ? ([0, 1, 2] as const) : ([2] as const);
  return alike && distance(a.at, b.at) < 1e-4 && turns.every((k) => Math.abs(dot(a.axes[k], b.axes[k])) > 1 - 1e-9);
}

/** What is wrong with a part as the document has it, against the catalogue. */
export function partFlaws(part: PartDocument, solids: readonly Solid[], stand: Stand | undefined, expected: Expected): string[] {
  const flaws: string[] = [];
  if (part.margin !== expected.margin) flaws.push(`${part.id}: margin ${part.margin}, the catalogue has ${expected.margin}`);
  if (part.seat !== expected.part.seat.at) flaws.push(`${part.id}: seat ${part.seat}, the catalogue has ${expected.part.seat.at}`);
  if (!stand) return [...flaws, `${part.id}: no move brings it in`];
  const left = [...solids];
  for (const primitive of expected.part.primitives) {
    const wanted = placedAs(primitive, stand);
    const k = left.findIndex((s) => same(s, wanted));
    if (k < 0) flaws.push(`${part.id}: its ${primitive.shape} is not where its last pose puts it, or not the catalogue's`);
    else left.splice(k, 1);
  }
  if (left.length > 0) flaws.push(`${part.id}: holds ${left.length} primitives that the catalogue does not`);
  return flaws;
}
