/** Changes of a case: merged with each other, and applied to what a style is judged by. */
import type { Change } from '../model/fit.ts';
import type { Order } from '../model/order.ts';
import type { Rules, Style } from '../model/parts.ts';
import { adjustStyle } from '../parts/adjust.ts';

/** Both at once; where they speak of the same thing the second rules. */
export function both(a: Change, b: Change): Change {
  const cuts: Record<string, object> = { ...a.cuts };
  for (const [style, said] of Object.entries(b.cuts ?? {})) cuts[style] = { ...cuts[style], ...said };
  return {
    ...(a.cuts || b.cuts ? { cuts } : {}),
    ...(a.rules || b.rules ? { rules: { ...a.rules, ...b.rules } } : {}),
    ...(a.order || b.order ? { order: { ...a.order, ...b.order } } : {}),
  };
}

/** @throws Fault case/cuts */
export function changed(
  change: Change,
  style: Style,
  order: Order,
  rules: Rules,
): { readonly style: Style; readonly order: Order; readonly rules: Rules } {
  const cuts = change.cuts?.[style.name];
  return { style: cuts ? adjustStyle(style, cuts) : style, order: { ...order, ...change.order }, rules: { ...rules, ...change.rules } };
}
