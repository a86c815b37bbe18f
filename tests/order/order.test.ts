import { describe, expect, test } from 'vitest';
import { Fault } from '../../src/model/fault.ts';
import { DEFAULT_ORDER, readOrder } from '../../src/order/index.ts';

const file = (extra: object): string => JSON.stringify({ format: 'cavum-order', version: 1, ...extra });
const faultOf = (text: string): Fault => {
  try {
    readOrder(text, 'order.json');
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
  throw new Error('no fault');
};

describe('readOrder', () => {
  test('what is not said is as in the default order', () => {
    expect(readOrder(file({}), 'o')).toEqual(DEFAULT_ORDER);
    expect(readOrder(file({ side: 'left', receiver: 'large', microphones: 2 }), 'o')).toEqual({
      ...DEFAULT_ORDER,
      side: 'left',
      receiver: 'large',
      microphones: 2,
    });
  });

  test('every wrong key of one file is named with its path', () => {
    const fault = faultOf(file({ receiver: 'huge', microphones: 3, telecoil: 'yes' }));
    for (const path of ['/receiver', '/microphones', '/telecoil']) expect(fault.found).toContain(path);
    expect(fault.code).toBe('json/values');
  });

  test('a misspelt key is not ignored', () => {
    expect(faultOf(file({ recevier: 'large' })).found).toContain('recevier');
  });

  test('prototype keys change nothing', () => {
    expect(() => readOrder('{"format":"cavum-order","version":1,"__proto__":{"telecoil":true}}', 'o')).toThrow(Fault);
    expect(({} as Record<string, unknown>)['telecoil']).toBeUndefined();
  });

  test.each([
    ['', 'empty'],
    ['{', 'line 1'],
    ['[]', 'an object is needed'],
    ['null', 'an object is needed'],
    [`${'['.repeat(50_000)}${']'.repeat(50_000)}`, 'deep'],
    [`${' '.repeat(2_000_000)}{}`, ''],
  ])('refused in words: %#', (text, words) => {
    expect(faultOf(text).found).toContain(words);
  });
});
