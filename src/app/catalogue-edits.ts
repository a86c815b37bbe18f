/**
 * What a person changes of a catalogue on the page, kept apart from the catalogue itself, so that each change can be marked and put back.
 * Nothing is checked here: what comes out is examined like any file.
 */
import type { ReceiverSize } from '../model/order.ts';
import type { Rules } from '../model/parts.ts';
import { GENERIC_FILE } from '../parts/index.ts';
import { extentOf, primitiveOf } from '../parts/primitive.ts';
import type { CatalogueFile, PartFile, PrimitiveFile, SlotFile, StyleFile } from '../parts/schema.ts';

/**
 * A value by its place: "name", "rules/wall", "parts/cell-10/margin", "parts/chip/primitives/0/size/2", "styles/ITC/kit/0/part",
 * "styles/ITC/kit/1/sizes/small". A text where no number was typed: the examination says so. Lengths mm.
 */
export type Edits = Readonly<Record<string, number | string>>;

type Figure = number | string;
type DraftPrimitive = Omit<PrimitiveFile, 'size'> & { readonly size: readonly Figure[] };
type DraftPart = Omit<PartFile, 'primitives' | 'margin' | 'name'> & {
  readonly primitives: readonly DraftPrimitive[];
  readonly margin?: Figure | undefined;
  readonly name: Figure;
};

/** A part as the file has it, or ours where the file extends ours and does not name it. */
export const partIn = (file: CatalogueFile, id: string): PartFile | undefined =>
  file.parts?.find((p) => p.id === id) ?? (file.extends ? GENERIC_FILE.parts?.find((p) => p.id === id) : undefined);

/** Every part that the file offers: ours first where it extends ours. */
export function partsIn(file: CatalogueFile): PartFile[] {
  const ours = file.extends ? (GENERIC_FILE.parts ?? []) : [];
  const ids = new Set([...ours, ...(file.parts ?? [])].map((p) => p.id));
  return [...ids].flatMap((id) => partIn(file, id) ?? []);
}

const ruleIn = (file: CatalogueFile, rule: keyof Rules) => file.rules?.[rule] ?? (file.extends ? GENERIC_FILE.rules?.[rule] : undefined);
const ourStyle = (name: string): StyleFile | undefined => GENERIC_FILE.styles?.find((s) => s.name === name);
export const kitIn = (file: CatalogueFile, name: string): readonly SlotFile[] =>
  file.styles?.find((s) => s.name === name)?.kit ?? (file.extends ? ourStyle(name)?.kit : undefined) ?? [];

/** The value at a place; undefined where there is none. A margin that nothing is said about is 0. */
export function valueIn(file: CatalogueFile, place: string): Figure | undefined {
  const [of = '', id = '', key = '', k = '', last = '', i = ''] = place.split('/');
  if (of === 'name') return file.name;
  if (of === 'rules') return ruleIn(file, id as keyof Rules)?.value;
  if (of === 'styles') return partOfSlot(kitIn(file, id)[Number(k)], last, i);
  const part = partIn(file, id);
  if (!part) return undefined;
  if (key === 'name') return part.name;
  return key === 'margin' ? (part.margin ?? 0) : part.primitives[Number(k)]?.size[Number(i)];
}

function partOfSlot(slot: SlotFile | undefined, key: string, size: string): string | undefined {
  if (slot?.takes === 'receiver') return key === 'sizes' ? slot.sizes[size as ReceiverSize] : undefined;
  return key === 'part' ? slot?.part : undefined;
}

/** With one value set; what is as the base has it is no change. */
export function withEdit(base: CatalogueFile, edits: Edits, place: string, value: Figure): Edits {
  const { [place]: _, ...rest } = edits;
  return value === valueIn(base, place) ? rest : { ...rest, [place]: value };
}

/** Those of the changes that are about one thing: "parts/chip", "rules/wall". */
export const editsOf = (edits: Edits, thing: string): Edits =>
  Object.fromEntries(Object.entries(edits).filter(([place]) => place === thing || place.startsWith(`${thing}/`)));

/** JSON data that nobody has examined yet. */
export interface Draft {
  readonly parts?: readonly { readonly id: string; readonly name: number | string }[] | undefined;
  readonly styles?: readonly { readonly name: string }[] | undefined;
}

/** The catalogue's file with the changes. */
export function edited(base: CatalogueFile, edits: Edits): Draft {
  const names = (of: string): string[] => [
    ...new Set(Object.keys(edits).flatMap((p) => (p.startsWith(`${of}/`) ? [p.split('/')[1] ?? ''] : []))),
  ];
  const parts = names('parts').flatMap((id) => editedPart(base, id, edits) ?? []);
  const styles = names('styles').map((name) => editedStyle(base, name, edits));
  const rules = names('rules').map((rule) => [rule, editedRule(base, rule as keyof Rules, edits)] as const);
  return {
    ...base,
    ...(edits['name'] === undefined ? {} : { name: edits['name'] }),
    ...(rules.length > 0 ? { rules: { ...base.rules, ...Object.fromEntries(rules) } } : {}),
    ...(parts.length > 0 ? { parts: replaced(base.parts ?? [], parts, (p) => p.id) } : {}),
    ...(styles.length > 0 ? { styles: replaced(base.styles ?? [], styles, (s) => s.name) } : {}),
  };
}

/** Each in the place of its namesake, new ones at the end. */
function replaced<A, B>(before: readonly A[], by: readonly B[], name: (x: A | B) => string): (A | B)[] {
  const kept = before.map((a) => by.find((b) => name(b) === name(a)) ?? a);
  return [...kept, ...by.filter((b) => !before.some((a) => name(a) === name(b)))];
}

/** Where a changed value comes from: from here. What stood there before is kept for the reader. */
const LONGEST_SOURCE = 300;
const byHand = (before: string): string => `set by hand; before: ${before}`.slice(0, LONGEST_SOURCE);
const sourceOf = (source: string): string => (source.startsWith('set by hand') ? source : byHand(source));

function editedRule(base: CatalogueFile, rule: keyof Rules, edits: Edits): object {
  const before = ruleIn(base, rule);
  return { value: edits[`rules/${rule}`], source: before ? byHand(`${before.value} mm, ${before.source}`) : 'set by hand' };
}

function editedStyle(base: CatalogueFile, name: string, edits: Edits): Omit<StyleFile, 'name'> & { readonly name: string } {
  const row = base.styles?.find((s) => s.name === name);
  const kit = kitIn(base, name).map((slot, k) => {
    const about = Object.entries(editsOf(edits, `styles/${name}/kit/${k}`));
    return about.reduce((s, [place, id]) => filled(s, place.split('/').slice(4), String(id)), slot);
  });
  return { ...row, name, kit, source: sourceOf(row?.source ?? ourStyle(name)?.source ?? 'not said') };
}

/** The part that stood in the slot can still be ordered by its name. */
function filled(slot: SlotFile, [key = '', size = '']: readonly string[], id: string): SlotFile {
  if (slot.takes === 'receiver') return key === 'sizes' ? { ...slot, sizes: { ...slot.sizes, [size]: id } } : slot;
  if (slot.takes === 'microphones') return { ...slot, part: id };
  const others = [slot.part, ...(slot.alternatives ?? [])].filter((p) => p !== id);
  return { ...slot, part: id, alternatives: others };
}

function editedPart(base: CatalogueFile, id: string, edits: Edits): DraftPart | undefined {
  const part = partIn(base, id);
  if (!part) return undefined;
  const sizes = Object.entries(editsOf(edits, `parts/${id}/primitives`)).map(([place, value]) => {
    const [, , , k, , i] = place.split('/');
    return { k: Number(k), i: Number(i), value };
  });
  sizes.sort((a, b) => a.k - b.k || a.i - b.i);
  const margin = edits[`parts/${id}/margin`];
  const start: DraftPart = {
    ...part,
    name: edits[`parts/${id}/name`] ?? part.name,
    ...(margin === undefined ? {} : { margin }),
    source: sourceOf(part.source),
  };
  return sizes.reduce((p, { k, i, value }) => resized(p, k, i, value), start);
}

/** For sums of lengths as people write them, mm. */
const SAME = 1e-9;

/** A primitive and its twin on the other side, which must stay alike. */
export const alike = (primitives: readonly Pick<PrimitiveFile, 'shape' | 'position'>[], k: number): number[] => {
  const p = primitives[k];
  const [x, y, z] = p?.position ?? [0, 0, 0];
  return primitives.flatMap((q, j) => {
    const [a, b, c] = q.position ?? [0, 0, 0];
    return j === k || (x !== 0 && q.shape === p?.shape && a === -x && b === y && c === z) ? [j] : [];
  });
};

/**
 * One length changed, mm. What touches goes on touching: a part at the faceplate keeps its face there, one at the tip its lateral end, and
 * what stands beyond the primitive (a spout, its tube) moves along. A free part's primitives keep their middles.
 */
function resized(part: DraftPart, k: number, i: number, value: Figure): DraftPart {
  const p = part.primitives[k];
  if (!p) return part;
  const size = p.size.map((s, j) => (j === i || (p.shape !== 'box' && i < 2 && j < 2) ? value : s));
  const both = alike(part.primitives, k);
  const [before, after] = [depthOf(p), depthOf({ ...p, size })];
  const grown = before && after && part.seat.at !== 'free' ? after[1] - after[0] - (before[1] - before[0]) : 0;
  const up = part.seat.at === 'tip' ? 1 : -1;
  const beyond = (z: number): boolean => (up > 0 ? z >= (before?.[1] ?? 0) - SAME : z <= (before?.[0] ?? 0) + SAME);
  const primitives = part.primitives.map((q, j) => {
    if (both.includes(j)) return raised({ ...q, size }, (up * grown) / 2);
    return beyond(q.position?.[2] ?? 0) ? raised(q, up * grown) : q;
  });
  const { seat } = part;
  if (seat.at !== 'tip' || !beyond(seat.spout[2])) return { ...part, primitives };
  return { ...part, primitives, seat: { ...seat, spout: [seat.spout[0], seat.spout[1], tidy(seat.spout[2] + grown)] } };
}

/** From its least to its greatest z in the part; undefined where a length is no number. */
function depthOf({ size, ...rest }: DraftPrimitive): readonly [number, number] | undefined {
  const [x, y, z] = size;
  if (typeof x !== 'number' || typeof y !== 'number' || typeof z !== 'number') return undefined;
  return extentOf(primitiveOf({ ...rest, size: [x, y, z] }))[2];
}

function raised(p: DraftPrimitive, by: number): DraftPrimitive {
  if (by === 0) return p;
  const [x, y, z] = p.position ?? [0, 0, 0];
  return { ...p, position: [x, y, tidy(z + by)] };
}

/** So that a file stays readable. */
const tidy = (x: number): number => Math.round(x * 1e6) / 1e6;
