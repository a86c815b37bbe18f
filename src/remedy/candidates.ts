/**
 * Single changes worth trying for a style that does not fit as ordered, the cheapest for the client first: where the cuts
 * go, then the shell, then smaller parts, then wishes. What a change costs is said in words; which costs less is common
 * practice, no published source.
 */
import type { Ear } from '../model/ear.ts';
import type { Change, StyleCuts } from '../model/fit.ts';
import { type Order, RECEIVER_SIZES, WISH_WORDS, WISHES, type Wish } from '../model/order.ts';
import type { Catalogue, ListedPart, PartKind, Rules, Slot, Style } from '../model/parts.ts';
import { needsOf, VENT } from '../order/index.ts';
import { MOST_TILT } from '../parts/adjust.ts';
import { faceplateRoom, tipRoom } from './limits.ts';

export interface Candidate {
  readonly code: string;
  /** Begins a sentence: "With the faceplate at +2.0 mm". */
  readonly what: string;
  /** What it costs, as a clause. */
  readonly cost: string;
  readonly change: Change;
  /** The only thing that it makes smaller; without it the cuts move, and anything may come of that. */
  readonly touches?: PartKind | 'wall';
  /** `what` of a milder change the same way: where that made things no better, this one is not tried. */
  readonly milder?: string;
}

/** The thinnest wall that is asked for, mm (0.5 to 0.8 are usual: common practice, no published source). */
const THINNEST = 0.5;

/** What says which receiver and which vent a hearing loss needs. */
export type Classes = Pick<Catalogue, 'receiverClasses' | 'vents'>;

export function candidatesFor(style: Style, order: Order, rules: Rules, ear: Ear, classes: Classes): Candidate[] {
  return [
    ...faceplate(style),
    ...tilt(style),
    ...tip(style, ear),
    ...wall(rules),
    ...vent(order),
    ...receiver(style, order, classes),
    ...cell(style, order),
    ...microphones(style, order),
    ...wishes(style, order),
  ];
}

const signed = (x: number): string => `${x < 0 ? '−' : '+'}${Math.abs(x).toFixed(1)}`;
const tenth = (x: number): number => Math.round(10 * x) / 10;

/** Half-way to the lateral end of the style's range, and all the way. */
function faceplate(style: Style): Candidate[] {
  const { name, outer } = style;
  const room = faceplateRoom(style);
  if (outer.from !== 'aperture' || room <= 0) return [];
  const places = [...new Set([tenth(outer.lateral + room / 2), outer.lateral + room])].filter(
    (x) => x > outer.lateral && x <= outer.range[1],
  );
  return places.map((lateral) => ({
    code: 'faceplate-out',
    what: `with the faceplate ${(lateral - outer.lateral).toFixed(1)} mm further out (${signed(lateral)} mm from the aperture)`,
    cost: 'more of it is seen',
    change: { cuts: { [name]: { outer: lateral } } },
  }));
}

const FACES = [
  ['superior', 1, 'up'],
  ['superior', -1, 'down'],
  ['anterior', 1, 'forwards'],
  ['anterior', -1, 'backwards'],
] as const;

/** Half as far as a faceplate may be tilted, and all the way, to each of four sides. */
function tilt({ name, outer }: Style): Candidate[] {
  if (outer.from !== 'aperture' || outer.tilt) return []; // whoever tilted it by hand has looked
  const what = (angle: number, word: string): string => `with the faceplate tilted by ${angle}° to face more ${word}`;
  const half = MOST_TILT / 2;
  return [half, MOST_TILT].flatMap((angle) =>
    FACES.map(([direction, sign, word]): Candidate => {
      const said: StyleCuts['tilt'] = { [direction]: sign * angle };
      return {
        code: 'faceplate-tilted',
        what: what(angle, word),
        cost: 'it sits at a slant',
        change: { cuts: { [name]: { tilt: said } } },
        ...(angle > half ? { milder: what(half, word) } : {}),
      };
    }),
  );
}

/** One and two millimetres deeper, as far as the impression shows and the distance to the drum allows. */
function tip(style: Style, ear: Ear): Candidate[] {
  const { name } = style;
  const { beyond } = style.tip;
  const room = tipRoom(style, ear);
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

/** Bores that are made, mm (common practice, no published source). */
const BORES = [2.5, 2, 1.5, 1, VENT.least] as const;

/** The next narrower bore, the narrowest, and none. */
function vent({ vent: now }: Order): Candidate[] {
  if (!now) return [];
  const narrower = BORES.filter((bore) => bore < now);
  const tried = [...new Set([...narrower.slice(0, 1), ...narrower.slice(-1)])];
  return [
    ...tried.map(
      (bore): Candidate => ({
        code: 'vent-smaller',
        what: `with a vent of ${bore.toFixed(1)} mm instead of ${now.toFixed(1)}`,
        cost: 'the own voice sounds more hollow',
        change: { order: { vent: bore } },
        touches: 'vent',
      }),
    ),
    { code: 'no-vent', what: 'without a vent', cost: 'the ear is closed', change: { order: { vent: 0 } }, touches: 'vent' },
  ];
}

const slotOf = <K extends Slot['takes']>(style: Style, takes: K): Extract<Slot, { takes: K }> | undefined =>
  style.slots.find((s): s is Extract<Slot, { takes: K }> => s.takes === takes);

/**
 * The next smaller size that the style carries, never below what the hearing needs; where the order says nothing of the hearing,
 * whether it allows it is not for geometry to say.
 */
function receiver(style: Style, order: Order, classes: Classes): Candidate[] {
  const sizes = slotOf(style, 'receiver')?.sizes ?? {};
  const smaller = RECEIVER_SIZES.slice(0, RECEIVER_SIZES.indexOf(order.receiver)).findLast((s) => sizes[s]);
  if (!smaller) return [];
  const needed = order.hearing && needsOf({ hearing: order.hearing }, classes).order.receiver;
  if (needed && RECEIVER_SIZES.indexOf(smaller) < RECEIVER_SIZES.indexOf(needed)) return [];
  return [
    {
      code: 'receiver-smaller',
      what: `with a ${smaller} receiver instead of the ${order.receiver} one`,
      cost: needed ? 'its class still serves the hearing loss, with less in hand' : 'only where the hearing loss allows it',
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
