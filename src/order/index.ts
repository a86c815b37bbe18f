import * as v from 'valibot';
import { Fault } from '../model/fault.ts';
import { type Order, RECEIVER_SIZES } from '../model/order.ts';

/** An order without wishes: the smallest receiver, one microphone where the style has the choice, no controls. */
export const DEFAULT_ORDER: Order = {
  receiver: 'small',
  microphones: 1,
  pushButton: false,
  volumeWheel: false,
  telecoil: false,
  radio: false,
};

const OrderFile = v.strictObject({
  format: v.literal('cavum-order'),
  version: v.literal(1),
  side: v.optional(v.picklist(['left', 'right'])),
  receiver: v.optional(v.picklist(RECEIVER_SIZES)),
  microphones: v.optional(v.picklist([1, 2])),
  pushButton: v.optional(v.boolean()),
  volumeWheel: v.optional(v.boolean()),
  telecoil: v.optional(v.boolean()),
  radio: v.optional(v.boolean()),
});

const LARGEST_FILE = 1_000_000; // characters: an order takes some hundreds

/**
 * Reads an order file (JSON). What it does not say is as in DEFAULT_ORDER.
 * @throws Fault naming the path of every key that is wrong, what was found there and what is allowed.
 */
export function readOrder(text: string, name: string): Order {
  const fault = (found: string, where: string): Fault =>
    new Fault('order/invalid', found, where, 'Correct the order file; README "Orders" shows a whole one.');
  if (text.length > LARGEST_FILE) throw fault(`the order file has ${text.length} characters, ${LARGEST_FILE} are allowed`, name);
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch (e) {
    throw fault(`not JSON: ${e instanceof Error ? e.message : String(e)}`, name);
  }
  const parsed = v.safeParse(OrderFile, data);
  if (!parsed.success) {
    const issues = parsed.issues.map((i) => `/${(i.path ?? []).map((p) => String(p.key)).join('/')}: ${i.message}`);
    throw fault(issues.join('; '), name);
  }
  const { format: _format, version: _version, ...said } = parsed.output;
  return { ...DEFAULT_ORDER, ...(Object.fromEntries(Object.entries(said).filter(([, x]) => x !== undefined)) as Partial<Order>) };
}
