/** Numbers as people read them. */
import { expect, test } from 'vitest';
import { counted, grouped } from '../../src/scan/wording.ts';

test.each<[n: number, text: string]>([
  [0, '0'],
  [-0, '0'],
  [999, '999'],
  [1000, '1 000'],
  [-24_084, '-24 084'],
  [4_294_967_295, '4 294 967 295'],
  [9.5e20, '950 000 000 000 000 000 000'],
  [1e21, '1.00e+21'], // from here on toFixed itself gives "1e+21" (ECMA-262, Number.prototype.toFixed)
  [-1.2345e30, '-1.23e+30'],
  [Number.MAX_VALUE, '1.80e+308'],
])('%d is "%s"', (n, text) => {
  expect(grouped(n)).toBe(text);
});

test('counted', () => {
  expect([0, 1, 2, 1e21].map((n) => counted(n, 'hole'))).toEqual(['0 holes', '1 hole', '2 holes', '1.00e+21 holes']);
});
