/**
 * Single changes worth trying for a style that does not fit as ordered, the cheapest for the client first: where the cuts
 * go, then the shell, then smaller parts, then wishes. What a change costs is said in words; which costs less is common
 * practice, no published source.
 */
import type { Ear } from '../model/ear.ts';
import type { Change } from '../model/fit.ts';
import { type Order, RECEIVER_SIZES, WISHES, type Wish } from '../model/order.ts';
import type { ListedPart, PartKind, Rules, Slot, Style } from '../model/parts.ts';

export interface Candidate {
  readonly code: string;
  /** Begins a sentence: "With the faceplate at +2.0 mm". */
  readonly what: string;
  /** What it costs, as a clause. */
  readonly cost: string;
  readonly change: Change;
  /** The only thing that it makes smaller; without it the cuts move, and anything may come of that. */
  readonly touches?: PartKind | 'wall';
}

/** The thinnest wall that is asked for, mm (0.5 to 0.8 are usual: common practice, no published source). */
const THINNEST = 0.5;

export function candidatesFor(style: Style, order: Order, rules: Rules, ear: Ear): Candidate[] {
  return [
    ...faceplate(style),
    ...tip(style, ear),
    ...wall(rules),
    ...receiver(style, order),
    ...cell(style, order),
    ...microphones(style, order),
    ...wishes(style, order),
  ];
}

const signed = (x: number): string => `${x < 0 ? '−' : '+'}${Math.abs(x).toFixed(1)}`;
const tenth = (x: number): number => Math.round(10 * x) / 10;

/** Half-way to the lateral end of the style's range, and all the way. */
function faceplate({ name, outer }: Style): Candidate[] {
  if (outer.from !== 'aperture') return [];
  const most = outer.range[1];
  const places = [...new Set([tenth((outer.lateral + most) / 2), most])].filter((x) => x > outer.lateral && x <= most);
  return places.map((lateral) => ({
    code: 'faceplate-out',
    what: `with the faceplate ${(lateral - outer.lateral).toFixed(1)} mm further out (${signed(lateral)} mm from the aperture)`,
    cost: 'more of it is seen',
    change: { cuts: { [name]: { outer: lateral } } },
  }));
}

/** One and two millimetres deeper, as far as the impression shows. */
function tip({ name, tip: { bend, beyond, leave } }: Style, ear: Ear): Candidate[] {
  const seen = bend === 'first' ? ear.firstBend : ear.secondBend;
  if (!seen) return [];
  const room = ear.end.depth - leave - (seen.depth + beyond);
  return [1, 2]
    .filter((more) => more <= room)
    .map((more) => ({
      code: 'tip-longer',
      what: `with the tip ${more.toFixed(1)} mm deeper`,
      cost: 'it reaches further into the canal',
      change: { cuts: { [name]: { tip: tenth(beyond + more) } } },
    }));
}

function wall({ wall: now }: Rules): Candidate[] {
  if (now <= THINNEST) return [];
  return [
    {
      code: 'wall-thinner',
      what: `with a wall of ${THINNEST.toFixed(2)} mm instead of ${now.toFixed(2)}`,
      cost: 'the shell is weaker',
      change: { rules: { wall: THINNEST } },
      touches: 'wall',
    },
  ];
}

const slotOf = <K extends Slot['takes']>(style: Style, takes: K): Extract<Slot, { takes: K }> | undefined =>
  style.slots.find((s): s is Extract<Slot, { takes: K }> => s.takes === takes);

/** The next smaller size that the style carries. Whether the hearing loss allows it is not for geometry to say. */
function receiver(style: Style, order: Order): Candidate[] {
  const sizes = slotOf(style, 'receiver')?.sizes ?? {};
  const smaller = RECEIVER_SIZES.slice(0, RECEIVER_SIZES.indexOf(order.receiver)).findLast((s) => sizes[s]);
  if (!smaller) return [];
  return [
    {
      code: 'receiver-smaller',
      what: `with a ${smaller} receiver instead of the ${order.receiver} one`,
      cost: 'only where the hearing loss allows it',
      change: { order: { receiver: smaller } },
      touches: 'receiver',
    },
  ];
}

/** Other cells of the style's kit that take less room. */
function cell(style: Style, order: Order): Candidate[] {
  const slot = slotOf(style, 'cell');
  if (!slot) return [];
  const chosen = order.rechargeable ? slot.rechargeable : slot.part;
  const now = [slot.part, ...slot.alternatives].find((p) => p.id === order.parts?.['cell']) ?? chosen ?? slot.part;
  return [slot.part, ...slot.alternatives]
    .filter((p) => p.id !== now.id && bulk(p) < bulk(now))
    .map((p) => ({
      code: 'cell-smaller',
      what: `with ${p.name} instead of ${now.name}`,
      cost: 'it runs for a shorter time',
      change: { order: { parts: { ...order.parts, cell: p.id } } },
      touches: 'cell',
    }));
}

const bulk = (p: ListedPart): number => p.primitives.reduce((sum, { size }) => sum + size[0] * size[1] * size[2], 0);

function microphones(style: Style, order: Order): Candidate[] {
  if (order.microphones === 1 || slotOf(style, 'microphones')?.least === 2) return [];
  return [
    {
      code: 'one-microphone',
      what: 'with one microphone',
      cost: 'without directional hearing',
      change: { order: { microphones: 1 } },
      touches: 'microphone',
    },
  ];
}

const WISH_WORDS: Readonly<Record<Wish, string>> = {
  pushButton: 'push button',
  volumeWheel: 'volume wheel',
  telecoil: 'telecoil',
  radio: 'radio',
};

const WISH_PARTS: Readonly<Record<Wish, PartKind>> = {
  pushButton: 'push-button',
  volumeWheel: 'volume-wheel',
  telecoil: 'telecoil',
  radio: 'radio',
};

function wishes(style: Style, order: Order): Candidate[] {
  const carried = style.slots.flatMap((s) => (s.takes === 'wish' ? [s.wish] : []));
  return WISHES.filter((w) => order[w] && carried.includes(w)).map((w) => ({
    code: 'drop-wish',
    what: `without the ${WISH_WORDS[w]}`,
    cost: 'the client goes without it',
    change: { order: { [w]: false } },
    touches: WISH_PARTS[w],
  }));
}
