import * as v from 'valibot';
import { readJson } from '../json/index.ts';
import { head, identifier, keyed, oneOf, type Reads, yesNo } from '../json/schema.ts';
import { type Order, RECEIVER_SIZES } from '../model/order.ts';
import { PART_KINDS } from '../model/parts.ts';

/** An order without wishes: the smallest receiver, one microphone where the style has the choice, no controls. */
export const DEFAULT_ORDER: Order = {
  receiver: 'small',
  microphones: 1,
  pushButton: false,
  volumeWheel: false,
  telecoil: false,
  radio: false,
};

/** Parts by their name in the catalogue, by kind. */
const NamedParts = keyed(Object.fromEntries(PART_KINDS.map((kind) => [kind, v.optional(identifier)])));

/** What an order says, in its own file or within a case; every key may be left out. */
export const OrderKeys = {
  side: v.optional(oneOf(['left', 'right'])),
  receiver: v.optional(oneOf(RECEIVER_SIZES)),
  microphones: v.optional(oneOf([1, 2])),
  pushButton: v.optional(yesNo),
  volumeWheel: v.optional(yesNo),
  telecoil: v.optional(yesNo),
  radio: v.optional(yesNo),
  rechargeable: v.optional(yesNo),
  parts: v.optional(NamedParts),
} as const;

const OrderFile = keyed({ ...head('cavum-order'), ...OrderKeys });

/** An order as said, without its unsaid keys. */
export type SaidOrder = Partial<Order>;
export const SomeOrder: Reads<SaidOrder> = v.pipe(keyed(OrderKeys), v.transform(said));

/** Without the keys that were left out. */
function said(keys: { readonly [K in keyof Order]?: Order[K] | undefined }): SaidOrder {
  return Object.fromEntries(Object.entries(keys).filter(([, x]) => x !== undefined)) as SaidOrder;
}

/**
 * Reads an order file (JSON). What it does not say is as in DEFAULT_ORDER.
 * @throws Fault json/... naming the path of every key that is wrong, what was found there and what is allowed.
 */
export function readOrder(input: string | Uint8Array, name: string): Order {
  const next = 'Correct the order file; README "Orders" shows a whole one.';
  const { format: _format, version: _version, ...keys } = readJson(input, OrderFile, name, next);
  return { ...DEFAULT_ORDER, ...said(keys as SaidOrder) };
}
