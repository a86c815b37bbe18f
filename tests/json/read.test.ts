import * as v from 'valibot';
import { describe, expect, test } from 'vitest';
import { examineJson, LARGEST_FILE, readJson } from '../../src/json/index.ts';
import {
  figure,
  head,
  identifier,
  keyed,
  line,
  list,
  oneOf,
  type Reads,
  tagged,
  textOr,
  triple,
  wholeFigure,
  yesNo,
} from '../../src/json/schema.ts';
import { editDistance, nearest } from '../../src/json/spelling.ts';
import { Fault } from '../../src/model/fault.ts';

const Planned = keyed({
  ...head('cavum-trial'),
  wall: figure(0.3, 1.5, 'mm'),
  side: v.optional(oneOf(['left', 'right'])),
  many: v.optional(wholeFigure(1, 3)),
  on: v.optional(yesNo),
  note: v.optional(line(20)),
  id: v.optional(identifier),
  size: v.optional(triple(figure(0.1, 40, 'mm'), 'lengths')),
  seats: v.optional(
    list(
      tagged<{ at: string }>('at', { free: keyed({ at: oneOf(['free']) }), tip: keyed({ at: oneOf(['tip']), reach: figure(0, 9, 'mm') }) }),
      1,
      2,
      'seats',
    ),
  ),
  margin: v.optional(textOr(oneOf(['suspension']), figure(0, 1, 'mm'))),
});
const examine = (said: object | string | Uint8Array) =>
  examineJson(
    typeof said === 'string' || said instanceof Uint8Array
      ? said
      : JSON.stringify({ format: 'cavum-trial', version: 1, wall: 0.6, ...said }),
    Planned,
  );
const flaws = (said: Parameters<typeof examine>[0]): string[] => {
  const e = examine(said);
  return 'flaws' in e ? e.flaws.map((f) => `${f.at}: ${f.text}`) : [];
};

describe('values', () => {
  test('what is right passes as it stands; a minus zero is zero', () => {
    const e = examine({ side: 'left', size: [1, 2, 3], seats: [{ at: 'tip', reach: -0 }], margin: 'suspension' });
    expect(e).toEqual({
      data: {
        format: 'cavum-trial',
        version: 1,
        wall: 0.6,
        side: 'left',
        size: [1, 2, 3],
        seats: [{ at: 'tip', reach: 0 }],
        margin: 'suspension',
      },
    });
    expect('data' in examine({ margin: 0.25 })).toBe(true);
  });

  test.each<[object, string]>([
    [{ wall: '0,6' }, '/wall: found "0,6" (text), a number from 0.3 to 1.5 mm is needed (without quotes: 0.6)'],
    [{ wall: 1e308 }, '/wall: found 1e+308, a number from 0.3 to 1.5 mm is needed'],
    [{ wall: -0.6 }, '/wall: found -0.6, a number from'],
    [{ wall: null }, '/wall: found null, a number from'],
    [{ wall: [0.6] }, '/wall: found a list of 1, a number'],
    [{ wall: {} }, '/wall: found an object, a number'],
    [{ many: 2.5 }, '/many: found 2.5, a whole number from 1 to 3 is needed'],
    [{ side: 'LEFT ' }, '/side: found "LEFT " (text), one of left, right is needed; did you mean left?'],
    [{ on: 'yes' }, '/on: found "yes" (text), true or false is needed'],
    [{ note: 'a\nb' }, '/note: found "a\\nb" (text), a text of one line'],
    [{ id: 'No Id' }, '/id: found "No Id" (text), a name of lower-case letters'],
    [{ size: { x: 1 } }, '/size: found an object, a list of 3 lengths is needed'],
    [{ size: [1, 2] }, '/size: found a list of 2, a list of 3 lengths is needed'],
    [{ size: [5, '2,5', 2] }, '/size/1: found "2,5" (text), a number from 0.1 to 40 mm is needed (without quotes: 2.5)'],
    [{ seats: [{ at: 'tpi' }] }, '/seats/0/at: found "tpi" (text), one of free, tip is needed; did you mean tip?'],
    [{ seats: [{ at: 'tip' }] }, '/seats/0/reach: missing, a number from 0 to 9 mm is needed'],
    [{ seats: [{ reach: 1 }] }, '/seats/0/at: missing, one of free, tip is needed'],
    [{ seats: [7] }, '/seats/0: found 7, an object is needed'],
    [{ seats: [{ at: 'constructor' }] }, '/seats/0/at: found "constructor" (text), one of free, tip is needed'],
    [{ margin: 'suspenson' }, '/margin: found "suspenson" (text), "suspension" is needed; did you mean suspension?'],
    [{ margin: 2 }, '/margin: found 2, a number from 0 to 1 mm is needed'],
    [{ wal: 0.3 }, '/wal: unknown key, did you mean wall?'],
    [{ toString: 1 }, '/toString: unknown key; known here: format, version, wall'],
    [{ version: 2 }, '/version: found 2, 1 is needed'],
    [{ format: 'cavum-order' }, '/format: found "cavum-order" (text), "cavum-trial" is needed'],
  ])('%j', (said, words) => {
    const told = flaws(said);
    expect(told).toHaveLength(1);
    expect(told[0]).toContain(words);
  });

  test('every flaw of a file is told at once', () => {
    expect(flaws({ wall: 0, wal: 1, side: 'up', size: [0, -2.5, 5], hue: 1 })).toHaveLength(6);
    expect(flaws('{}').map((t) => t.split(':')[0])).toEqual(['/format', '/version', '/wall']);
    expect(flaws('[]')).toEqual([': found a list of 0, an object is needed']);
    expect(flaws('null')).toEqual([': found null, an object is needed']);
  });

  test('prototype keys are refused by name and change nothing', () => {
    const told = flaws(
      '{"format":"cavum-trial","version":1,"__proto__":{"wall":0.6,"polluted":true},"seats":[{"__proto__":{"at":"free"}}]}',
    );
    expect(told.map((t) => t.split(':')[0])).toEqual(['/__proto__', '/seats/0/__proto__', '/wall', '/seats/0/at']);
    expect(Object.hasOwn(Object.prototype, 'polluted')).toBe(false);
  });

  test('a long value is cut short, a long list is not told item by item', () => {
    expect(flaws({ side: 'x'.repeat(5000) })[0]?.length).toBeLessThan(150);
    expect(flaws({ seats: Array.from({ length: 10_000 }, () => 'x') })).toHaveLength(1);
  });
});

describe('texts', () => {
  const utf16 = (order: 'le' | 'be', mark: boolean): Uint8Array =>
    new Uint8Array([
      ...(mark ? (order === 'le' ? [0xff, 0xfe] : [0xfe, 0xff]) : []),
      ...[...'{}'].flatMap((c) => (order === 'le' ? [c.charCodeAt(0), 0] : [0, c.charCodeAt(0)])),
    ]);
  const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

  test.each<[string, Uint8Array | string, string, string]>([
    ['nothing', new Uint8Array(0), 'json/empty', '0 bytes'],
    ['blanks', '  \n ', 'json/empty', 'only blanks'],
    ['UTF-16 with its mark', utf16('le', true), 'json/encoding', 'UTF-16'],
    ['UTF-16, the other order', utf16('be', true), 'json/encoding', 'UTF-16'],
    ['UTF-16 without a mark', utf16('le', false), 'json/encoding', 'UTF-16'],
    ['Latin-1', new Uint8Array([...bytes('{\n"note": "'), 0xe4, ...bytes('"}')]), 'json/encoding', 'line 2 holds bytes that are not UTF-8'],
    ['a broken tail', new Uint8Array([...bytes('{"a": 1}\n\n'), 0xc3]), 'json/encoding', 'line 3'],
    ['too much', ' '.repeat(LARGEST_FILE + 1), 'json/too-large', `${LARGEST_FILE} are read`],
    ['50 000 levels', `${'['.repeat(50_000)}${']'.repeat(50_000)}`, 'json/too-deep', 'nested deeper'],
    ['a comma too many', '{\n"a": 1,\n}', 'json/syntax', 'line 3, column 1'],
    ['one sign', '{', 'json/syntax', 'not closed'],
  ])('%s', (_name, input, code, words) => {
    const e = examine(input);
    expect('flaws' in e && e.flaws).toMatchObject([{ code }]);
    expect(flaws(input)[0]).toContain(words);
  });

  test('a byte-order mark of UTF-8 is passed over', () => {
    const text = JSON.stringify({ format: 'cavum-trial', version: 1, wall: 0.6 });
    expect('data' in examine(bytes(`\uFEFF${text}`))).toBe(true);
    expect('data' in examine(`\uFEFF${text}`)).toBe(true);
  });

  test('a refusal names the file and what to do, and lists at most twenty flaws', () => {
    const wild = JSON.stringify(Object.fromEntries(Array.from({ length: 30 }, (_, k) => [`wild${k}`, k])));
    try {
      readJson(wild, Planned, 'trial.json', 'Mend it.');
      expect.unreachable();
    } catch (e) {
      if (!(e instanceof Fault)) throw e;
      expect(e).toMatchObject({ code: 'json/values', where: 'trial.json', next: 'Mend it.' });
      expect(e.found).toMatch(/and 13 more$/);
    }
  });
});

describe('did you mean', () => {
  // The classic pair, distance 3 (Levenshtein); a swap of neighbours counts once (Damerau).
  test.each([
    ['kitten', 'sitting', 3],
    ['recevier', 'receiver', 1],
    ['', 'abc', 3],
    ['same', 'same', 0],
  ])('%s, %s: %i', (a, b, d) => {
    expect(editDistance(a, b)).toBe(d);
    expect(editDistance(b, a)).toBe(d);
  });
  test('only what is near is proposed', () => {
    const known = ['wall', 'faceplate', 'gap'];
    expect(nearest('clearence', ['clearance'])).toBe('clearance');
    expect(nearest(' FacePlate', known)).toBe('faceplate');
    expect(nearest('telecoil', known)).toBeUndefined();
    expect(nearest('x'.repeat(1e5), known)).toBeUndefined();
  });
});

test('the schema pieces are typed: a wrong use does not compile', () => {
  const reads: Reads<{ wall: number }> = keyed({ wall: figure(0, 1, 'mm') });
  expect(readJson('{"wall": 0.5}', reads, 'f', 'n').wall).toBe(0.5);
});
