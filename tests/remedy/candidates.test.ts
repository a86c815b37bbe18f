import { expect, test } from 'vitest';
import type { Ear } from '../../src/model/ear.ts';
import type { Order } from '../../src/model/order.ts';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { GENERIC, RULES, styleNamed } from '../../src/parts/index.ts';
import { candidatesFor } from '../../src/remedy/candidates.ts';

const EAR = { end: { depth: 20 } } as Ear; // no bends: no deeper tip is offered
const ventsOf = (order: Partial<Order>): (number | undefined)[] =>
  candidatesFor(styleNamed('CIC'), { ...DEFAULT_ORDER, ...order }, RULES, EAR, GENERIC)
    .filter((c) => c.touches === 'vent')
    .map((c) => c.change.order?.vent);

test('a vent: the next narrower bore, the narrowest, none; before any part is taken for a smaller one', () => {
  expect(ventsOf({ vent: 3 })).toEqual([2.5, 0.8, 0]);
  expect(ventsOf({ vent: 1.8 })).toEqual([1.5, 0.8, 0]);
  expect(ventsOf({ vent: 1 })).toEqual([0.8, 0]);
  expect(ventsOf({ vent: 0.8 })).toEqual([0]);
  expect(ventsOf({ vent: 0 })).toEqual([]);
  expect(ventsOf({})).toEqual([]);
  const codes = candidatesFor(styleNamed('CIC'), { ...DEFAULT_ORDER, vent: 2, receiver: 'medium' }, RULES, EAR, GENERIC).map((c) => c.code);
  expect(codes.indexOf('no-vent')).toBeLessThan(codes.indexOf('receiver-smaller'));
  expect(codes.indexOf('wall-thinner')).toBeLessThan(codes.indexOf('vent-smaller'));
});
