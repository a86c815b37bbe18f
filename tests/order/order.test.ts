import { describe, expect, test } from 'vitest';
import { Fault } from '../../src/model/fault.ts';
import { readOrder } from '../../src/order/index.ts';

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
  test('says what the file says and no more', () => {
    expect(readOrder(file({}), 'o')).toEqual({});
    const said = {
      side: 'left',
      receiver: 'large',
      directional: true,
      rechargeable: true,
      parts: { cell: 'cell-13' },
      hearing: { air: { 250: 20, 500: 30, 1000: 40, 2000: 50, 4000: 65 }, bone: { 500: 20 }, how: 'headphones' },
      dexterity: 'poor',
      wax: 'much',
      leastVisible: true,
    };
    expect(readOrder(file(said), 'o')).toEqual(said);
  });

  test('hearing: the four frequencies of the average must be there, each within bounds', () => {
    const found = faultOf(file({ hearing: { air: { 500: 30, 1000: '40', 2000: 140, 700: 10 } } })).found;
    expect(found).toContain('/hearing/air/1000: found "40" (text), a number from -10 to 130 dB HL is needed (without quotes: 40)');
    expect(found).toContain('/hearing/air/2000: found 140, a number from -10 to 130 dB HL is needed');
    expect(found).toContain('/hearing/air/4000: missing');
    expect(found).toMatch(/\/hearing\/air\/700: unknown key/);
  });

  test('directional hearing takes two microphones', () => {
    expect(faultOf(file({ directional: true, microphones: 1 })).found).toContain('contradicts directional');
    expect(readOrder(file({ directional: false, microphones: 1 }), 'o')).toEqual({ directional: false, microphones: 1 });
    expect(readOrder(file({ directional: true, microphones: 2 }), 'o').microphones).toBe(2);
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
