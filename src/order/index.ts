import * as v from 'valibot';
import { isFileOf, readJson } from '../json/index.ts';
import { figure, figureOrNone, head, identifier, keyed, line, oneOf, type Reads, yesNo } from '../json/schema.ts';
import { FREQUENCIES, type Frequency, type OrderRequest, RECEIVER_SIZES } from '../model/order.ts';
import { PART_KINDS } from '../model/parts.ts';
import { VENT } from './vent.ts';

export { CELL_CAUTION, REFERRAL_SIGNS } from './cautions.ts';
export { DEFAULT_ORDER } from './default.ts';
export { type PortFigures, portFigures } from './microphones.ts';
export { needLines, needsOf, type Settled } from './needs.ts';
export { USUAL_VENT, usualResonance, VENT } from './vent.ts';

/** Parts by their name in the catalogue, by kind. */
const NamedParts = keyed(Object.fromEntries(PART_KINDS.map((kind) => [kind, v.optional(identifier)])));

const threshold = figure(-10, 130, 'dB HL');
const measured = v.optional(threshold);
const Thresholds = Object.fromEntries(FREQUENCIES.map((f) => [f, measured])) as Record<Frequency, typeof measured>;

const Hearing = keyed({
  // The four of the average must be there: without them the receiver would be the smallest, in silence.
  air: keyed({ ...Thresholds, 500: threshold, 1000: threshold, 2000: threshold, 4000: threshold }),
  bone: v.optional(keyed(Thresholds)),
  how: v.optional(line(60)),
});

/** What an order says, in its own file or within a case; every key may be left out. */
const OrderKeys = {
  side: v.optional(oneOf(['left', 'right'])),
  receiver: v.optional(oneOf(RECEIVER_SIZES)),
  microphones: v.optional(oneOf([1, 2])),
  directional: v.optional(yesNo),
  pushButton: v.optional(yesNo),
  volumeWheel: v.optional(yesNo),
  telecoil: v.optional(yesNo),
  radio: v.optional(yesNo),
  vent: v.optional(figureOrNone(VENT.least, VENT.most, 'mm')),
  rechargeable: v.optional(yesNo),
  parts: v.optional(NamedParts),
  hearing: v.optional(Hearing),
  dexterity: v.optional(oneOf(['good', 'poor'])),
  wax: v.optional(oneOf(['little', 'much'])),
  leastVisible: v.optional(yesNo),
} as const;

/** The keys of an order, without the head of its file; contradictions are refused. */
const orderOf = (keys: Reads<object>): Reads<OrderRequest> =>
  v.pipe(
    keys,
    v.transform(withoutHead),
    v.check(
      ({ directional, microphones }) => !(directional && microphones === 1),
      'one microphone contradicts directional, which takes two: leave one of them out',
    ),
  );

function withoutHead(keys: object): OrderRequest {
  return Object.fromEntries(Object.entries(keys).filter(([key]) => key !== 'format' && key !== 'version'));
}

/** An order within another file. */
export const SomeOrder = orderOf(keyed(OrderKeys));
const ORDER_FORMAT = 'cavum-order';
const OrderFile = orderOf(keyed({ ...head(ORDER_FORMAT), ...OrderKeys }));

export const isOrder = (bytes: Uint8Array): boolean => isFileOf(bytes, ORDER_FORMAT);

/**
 * Reads an order file (JSON). What it does not say is left open: `needsOf` settles it.
 * @throws Fault json/... naming the path of every key that is wrong, what was found there and what is allowed.
 */
export const readOrder = (input: string | Uint8Array, name: string): OrderRequest =>
  readJson(input, OrderFile, name, 'Correct the order file; README "Orders" shows a whole one.');
