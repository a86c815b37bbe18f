/** A catalogue file -> the catalogue: merged with ours where it extends ours, checked across its parts, made whole. */
import { radians } from '../geometry/trig.ts';
import type { Examined, Flaw } from '../json/index.ts';
import { RECEIVER_SIZES, type ReceiverSize } from '../model/order.ts';
import type { Catalogue, KindsApart, ListedPart, Rules, Slot, Style, StyleName } from '../model/parts.ts';
import { STYLES } from '../model/parts.ts';
import { flawAt, partFlaws } from './flaws.ts';
import { primitiveOf } from './primitive.ts';
import type { CatalogueFile, PartFile, SlotFile, StyleFile } from './schema.ts';

const TITLES: Readonly<Record<StyleName, string>> = {
  IIC: 'Invisible in canal',
  CIC: 'Completely in canal',
  ITC: 'In the canal',
  HS: 'Half shell',
  ITE: 'In the ear',
};

/** Where something stands in the file, or that it is ours. */
interface Listed<T> {
  readonly value: T;
  readonly at: string;
}
const OURS = '(generic)';

/** `base` is the catalogue that the file may extend. */
export function settle(file: CatalogueFile, base: CatalogueFile | undefined): Examined<Catalogue> {
  const flaws: Flaw[] = [];
  const under = file.extends ? base : undefined;
  const parts = listParts(file, under, flaws);
  const rows = listStyles(file, under, flaws);
  const rules = rulesOf(file, under, flaws);
  const whole = <K extends 'ports' | 'receiverClasses' | 'vents'>(key: K): CatalogueFile[K] =>
    file[key] ?? under?.[key] ?? missing(key, flaws);
  const ports = whole('ports');
  const receiverClasses = whole('receiverClasses');
  const vents = whole('vents');
  if (ports && ports.least >= ports.most)
    flaws.push(flawAt('/ports/least', `found ${ports.least}, which is not below most, ${ports.most}`));
  if (receiverClasses)
    flaws.push(...risingFlaws(receiverClasses.classes, '/receiverClasses/classes', (a, b) => rank(a.size) < rank(b.size), 'size'));
  if (vents) flaws.push(...risingFlaws(vents.classes, '/vents/classes', (a, b) => a.diameter > b.diameter, 'diameter'));
  const apart = (file.apart ?? under?.apart ?? []).map(
    ({ between, ...rest }): KindsApart => ({ ...rest, between: [between[0], between[1]] as KindsApart['between'] }),
  );
  const pairs = ports && { ports: { least: ports.least, most: ports.most, tilt: radians(ports.tilt) }, apart };
  const styles = rows.flatMap((row) => (pairs ? (styleOf(row, parts, pairs, flaws) ?? []) : []));
  flaws.push(...orderFlaws(rows));
  const [first, ...rest] = flaws;
  if (first || !receiverClasses || !vents) return { flaws: [first ?? flawAt('', 'not whole'), ...rest] };
  return { data: { name: file.name, rules, styles, receiverClasses, vents } };
}

const missing = (key: string, flaws: Flaw[]): undefined => {
  flaws.push(flawAt(`/${key}`, 'missing; a catalogue that does not extend ours ("extends": "generic") is whole'));
};

function listParts(file: CatalogueFile, under: CatalogueFile | undefined, flaws: Flaw[]): Map<string, Listed<PartFile>> {
  const listed = new Map<string, Listed<PartFile>>((under?.parts ?? []).map((value) => [value.id, { value, at: OURS }]));
  (file.parts ?? []).forEach((value, k) => {
    const at = `/parts/${k}`;
    const before = listed.get(value.id);
    if (before && before.at !== OURS) flaws.push(flawAt(`${at}/id`, `"${value.id}" is the id of ${before.at} too`));
    flaws.push(...partFlaws(value, at));
    listed.set(value.id, { value, at });
  });
  if (listed.size === 0) missing('parts', flaws);
  return listed;
}

/** The styles in the order in which the ladder will show them. */
function listStyles(file: CatalogueFile, under: CatalogueFile | undefined, flaws: Flaw[]): Listed<StyleFile>[] {
  const listed = new Map<StyleName, Listed<StyleFile>>(
    (under?.styles ?? []).map((value) => [value.name, { value, at: `${OURS} ${value.name}` }]),
  );
  const named = new Map<StyleName, string>();
  (file.styles ?? []).forEach((value, k) => {
    const at = `/styles/${k}`;
    const before = named.get(value.name);
    if (before) flaws.push(flawAt(`${at}/name`, `${value.name} is the name of ${before} too`));
    named.set(value.name, at);
    const said = Object.fromEntries(Object.entries(value).filter(([, x]) => x !== undefined)) as Partial<StyleFile>;
    listed.set(value.name, { value: { ...listed.get(value.name)?.value, ...said, name: value.name }, at });
  });
  if (listed.size === 0) missing('styles', flaws);
  return [...listed.values()];
}

function rulesOf(file: CatalogueFile, under: CatalogueFile | undefined, flaws: Flaw[]): Rules {
  const value = (rule: keyof Rules): number => {
    const said = file.rules?.[rule] ?? under?.rules?.[rule];
    return said ? said.value : (missing(`rules/${rule}`, flaws) ?? 0);
  };
  return {
    wall: value('wall'),
    faceplate: value('faceplate'),
    gap: value('gap'),
    partGap: value('partGap'),
    suspension: value('suspension'),
    tolerance: value('tolerance'),
  };
}

const rank = (size: ReceiverSize): number => RECEIVER_SIZES.indexOf(size);

/** Classes go up in loss, and in what they give. */
function risingFlaws<T extends { upTo: number }>(
  classes: readonly T[],
  at: string,
  rises: (a: T, b: T) => boolean,
  key: keyof T & string,
): Flaw[] {
  return classes.flatMap((c, k) => {
    const before = classes[k - 1];
    if (!before) return [];
    if (c.upTo <= before.upTo) return [flawAt(`${at}/${k}/upTo`, `found ${c.upTo}, which is not above the ${before.upTo} before it`)];
    return rises(before, c) ? [] : [flawAt(`${at}/${k}/${key}`, `found ${String(c[key])} after ${String(before[key])}: out of order`)];
  });
}

/** Styles stand from the smallest to the largest: by name, and no faceplate lies medial of that of a smaller style. */
function orderFlaws(rows: readonly Listed<StyleFile>[]): Flaw[] {
  const lateral = ({ outer }: StyleFile): number => (outer?.from === 'aperture' ? outer.lateral : Infinity);
  return rows.flatMap(({ value, at }, k) => {
    const before = rows[k - 1]?.value;
    if (!before) return [];
    if (STYLES.indexOf(value.name) < STYLES.indexOf(before.name)) {
      return [
        flawAt(`${at}/name`, `${value.name} stands after ${before.name}; styles go from the smallest to the largest: ${STYLES.join(', ')}`),
      ];
    }
    if (lateral(value) >= lateral(before)) return [];
    return [
      flawAt(
        `${at}/outer/lateral`,
        `found ${lateral(value)}, medial of the smaller style ${before.name}: styles go from the smallest to the largest`,
      ),
    ];
  });
}

function styleOf(
  { value, at }: Listed<StyleFile>,
  parts: ReadonlyMap<string, Listed<PartFile>>,
  pairs: Pick<Style, 'ports' | 'apart'>,
  flaws: Flaw[],
): Style | undefined {
  const { name, outer, tip, upper, kit, source } = value;
  for (const key of ['outer', 'tip', 'kit', 'source'] as const) {
    if (value[key] === undefined) flaws.push(flawAt(`${at}/${key}`, 'missing'));
  }
  if (!outer || !tip || !kit || !source) return undefined;
  const cut = outerOf(outer, at, flaws);
  const slots = kit.flatMap((slot, k) => slotOf(slot, `${at}/kit/${k}`, parts, flaws) ?? []);
  flaws.push(...kitFlaws(kit, `${at}/kit`));
  return { name, title: TITLES[name], outer: cut, tip, ...(upper ? { upper } : {}), slots, ...pairs, source };
}

function outerOf(outer: NonNullable<StyleFile['outer']>, at: string, flaws: Flaw[]): Style['outer'] {
  if (outer.from === 'rim') return outer;
  const [least, most] = outer.range as [number, number];
  if (least > most) flaws.push(flawAt(`${at}/outer/range`, `found ${least} to ${most}: the lesser comes first`));
  else if (outer.lateral < least || outer.lateral > most) {
    flaws.push(flawAt(`${at}/outer/lateral`, `found ${outer.lateral}, outside its own range ${least} to ${most} mm`));
  }
  return { ...outer, range: [least, most] };
}

/** One cell, one receiver, microphones once; no wish twice. */
function kitFlaws(kit: readonly SlotFile[], at: string): Flaw[] {
  const flaws = (['cell', 'receiver', 'microphones'] as const).flatMap((takes) => {
    const many = kit.filter((s) => s.takes === takes).length;
    return many === 1 ? [] : [flawAt(at, `has ${many} slots that take "${takes}", 1 is needed`)];
  });
  const wishes = kit.flatMap((s) => (s.takes === 'wish' ? [s.wish] : []));
  const twice = wishes.find((w, k) => wishes.indexOf(w) !== k);
  return twice ? [...flaws, flawAt(at, `has two slots for the wish ${twice}`)] : flaws;
}

/** The kinds of part that a slot takes; any for a plain part that no other slot is for. */
const KIND_OF = {
  cell: 'cell',
  receiver: 'receiver',
  microphones: 'microphone',
  pushButton: 'push-button',
  volumeWheel: 'volume-wheel',
  telecoil: 'telecoil',
  radio: 'radio',
} as const satisfies Record<string, PartFile['kind']>;
const PLAIN: readonly PartFile['kind'][] = ['chip', 'removal-cord'];

function slotOf(slot: SlotFile, at: string, parts: ReadonlyMap<string, Listed<PartFile>>, flaws: Flaw[]): Slot | undefined {
  const kinds = slot.takes === 'part' ? PLAIN : [KIND_OF[slot.takes === 'wish' ? slot.wish : slot.takes]];
  const find = (id: string, key: string): ListedPart | undefined => {
    const found = parts.get(id)?.value;
    if (!found) flaws.push(flawAt(`${at}/${key}`, `no part has the id "${id}"`));
    else if (!kinds.includes(found.kind)) flaws.push(flawAt(`${at}/${key}`, `"${id}" is a ${found.kind}, ${kinds.join(' or ')} is needed`));
    else return listedOf(found);
    return undefined;
  };
  if (slot.takes === 'receiver') {
    const sizes = RECEIVER_SIZES.flatMap((size) => {
      const id = slot.sizes[size];
      const part = id === undefined ? undefined : find(id, `sizes/${size}`);
      return part ? [[size, part] as const] : [];
    });
    if (!RECEIVER_SIZES.some((s) => slot.sizes[s])) flaws.push(flawAt(`${at}/sizes`, 'names no size, one at least is needed'));
    return { takes: 'receiver', sizes: Object.fromEntries(sizes) };
  }
  const part = find(slot.part, 'part');
  if (slot.takes === 'microphones') {
    if (slot.least > slot.most) flaws.push(flawAt(`${at}/least`, `found ${slot.least}, above most, ${slot.most}`));
    return part && { takes: 'microphones', part, least: slot.least, most: slot.most };
  }
  const alternatives = (slot.alternatives ?? []).flatMap((id, k) => find(id, `alternatives/${k}`) ?? []);
  const rechargeable = slot.takes === 'cell' && slot.rechargeable ? find(slot.rechargeable, 'rechargeable') : undefined;
  if (!part) return undefined;
  if (slot.takes === 'wish') return { takes: 'wish', wish: slot.wish, part, alternatives };
  if (slot.takes === 'part') return { takes: 'part', part, alternatives };
  return { takes: 'cell', part, ...(rechargeable ? { rechargeable } : {}), alternatives };
}

/** A part of a file as the engine takes it. */
export function listedOf({ id, kind, name, primitives, seat, margin = 0, source }: PartFile): ListedPart {
  return {
    id,
    kind,
    name,
    primitives: primitives.map(primitiveOf),
    seat: seat.at === 'tip' ? { ...seat, cone: radians(seat.cone) } : seat,
    margin,
    source,
  };
}
