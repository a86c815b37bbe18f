import { type Order, RECEIVER_SIZES, WISH_WORDS, WISHES } from '../model/order.ts';
import type { ApartRule, Kit, ListedPart, Part, PartKind, PortRule, Rules, Slot, Style } from '../model/parts.ts';

export type KitResult = { readonly kind: 'kit'; readonly kit: Kit } | { readonly kind: 'excluded'; readonly text: string };

/**
 * The parts that one style needs for one order, in the order of the style's slots, or why the style cannot carry the
 * order whatever the ear.
 */
export function kitFor(style: Style, order: Order, rules: Rules): KitResult {
  const text = whyExcluded(style, order);
  if (text) return { kind: 'excluded', text };
  const taken = style.slots.flatMap((slot) => partsOf(slot, order));
  const parts: Part[] = [];
  for (const { part, id } of taken) {
    const margin = part.margin === 'suspension' ? rules.suspension : part.margin;
    parts.push({ ...part, margin, id: numbered(id ?? part.kind, parts), name: NAMES[id ?? ''] ?? part.name });
  }
  const two = parts.some((p) => p.id === REAR);
  const pairRules: PortRule[] = two ? [{ rule: 'ports', front: FRONT, rear: REAR, ...style.ports }] : [];
  const more = { ...keptApart(parts, style.apart), ...(order.vent ? { vent: order.vent } : {}) };
  return { kind: 'kit', kit: { style: style.name, parts, pairRules, ...more } };
}

/** The rules between kinds as rules between the kit's own parts. */
function keptApart(parts: readonly Part[], rules: Style['apart']): Pick<Kit, 'apart'> {
  const pairs = parts.flatMap((a, k) => parts.slice(k + 1).map((b) => [a, b] as const));
  const apart = pairs.flatMap(([a, b]): ApartRule[] => {
    const held = rules.filter(({ between: [x, y] }) => (x === a.kind && y === b.kind) || (x === b.kind && y === a.kind));
    return held.length > 0 ? [{ between: [a.id, b.id], least: Math.max(...held.map((r) => r.least)) }] : [];
  });
  return apart.length > 0 ? { apart } : {};
}

const FRONT = 'front-microphone';
const REAR = 'rear-microphone';
/** What a microphone is called depends on its place, not on its make. */
const NAMES: Readonly<Record<string, string>> = { microphone: 'Microphone', [FRONT]: 'Front microphone', [REAR]: 'Rear microphone' };

interface Taken {
  readonly part: ListedPart;
  /** Its name in the kit, where it is not simply its kind. */
  readonly id?: string;
}

function partsOf(slot: Slot, order: Order): Taken[] {
  if (slot.takes === 'receiver') return [{ part: slot.sizes[order.receiver] as ListedPart }];
  if (slot.takes === 'microphones') {
    const two = Math.max(order.microphones, slot.least) === 2;
    return (two ? [FRONT, REAR] : ['microphone']).map((id) => ({ part: slot.part, id }));
  }
  if (slot.takes === 'wish' && !order[slot.wish]) return [];
  return [{ part: choose(slot, order) as ListedPart }];
}

type Choice = Extract<Slot, { readonly part: ListedPart; readonly alternatives: readonly ListedPart[] }>;

const optionsOf = (slot: Choice): readonly ListedPart[] => [
  slot.part,
  ...(slot.takes === 'cell' && slot.rechargeable ? [slot.rechargeable] : []),
  ...slot.alternatives,
];

/** The part that takes a slot; undefined where the order names one that the slot does not offer. */
function choose(slot: Choice, order: Order): ListedPart | undefined {
  const said = order.parts?.[slot.part.kind];
  if (said !== undefined) return optionsOf(slot).find((p) => p.id === said);
  return slot.takes === 'cell' && order.rechargeable ? slot.rechargeable : slot.part;
}

const numbered = (id: string, before: readonly Part[]): string => {
  const many = before.filter((p) => p.id === id || (p.id.startsWith(`${id}-`) && /^\d+$/.test(p.id.slice(id.length + 1)))).length;
  return many === 0 ? id : `${id}-${many + 1}`;
};

/** The first thing is enough to rule a style out. */
function whyExcluded({ slots }: Style, order: Order): string | undefined {
  const carried = slots.flatMap((s) => (s.takes === 'wish' ? [s.wish] : []));
  const lacking = WISHES.find((w) => order[w] && !carried.includes(w));
  if (lacking) return `the order asks for a ${WISH_WORDS[lacking]}; this style carries ${carried.length === 0 ? 'no controls' : 'none'}`;
  for (const slot of slots) {
    if (slot.takes === 'microphones' && order.microphones > slot.most) return 'the order asks for two microphones; this style carries one';
    if (slot.takes === 'receiver' && !slot.sizes[order.receiver]) {
      const sizes = RECEIVER_SIZES.filter((s) => slot.sizes[s]);
      return `the order asks for a receiver of size ${order.receiver}; this style carries ${sizes.join(', ')}`;
    }
    if (slot.takes === 'cell' && order.rechargeable) {
      if (!slot.rechargeable) return 'the order asks for a rechargeable cell; this style carries none';
      const said = order.parts?.['cell'];
      if (said !== undefined && said !== slot.rechargeable.id)
        return `the order asks for a rechargeable cell and for the part ${said}, which is none`;
    }
  }
  return partsExcluded(slots, order);
}

/** Parts that the order names but this style's kit does not offer. */
function partsExcluded(slots: readonly Slot[], order: Order): string | undefined {
  for (const [kind, said] of Object.entries(order.parts ?? {}) as [PartKind, string | undefined][]) {
    if (said === undefined) continue;
    const offers = slots.flatMap((s) => ('alternatives' in s && s.part.kind === kind && (s.takes !== 'wish' || order[s.wish]) ? [s] : []));
    if (offers.length === 0) return `the order names the part ${said} for the ${kind}; this style's kit has no ${kind} for this order`;
    const lacking = offers.find((s) => !choose(s, order));
    if (lacking) {
      const options = optionsOf(lacking).map((p) => p.id);
      return `the order asks for the part ${said}; this style takes ${options.join(' or ')}`;
    }
  }
  return undefined;
}
