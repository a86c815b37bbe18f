/**
 * Case files at the border. The g-rows of the collection of bad inputs have key names of their own; each is written here
 * with ours and must be refused for the same fault, in words, with its path.
 */
import { describe, expect, test } from 'vitest';
import { type CaseFile, isCase, readCase, writeCase } from '../../src/casefile/index.ts';
import { pt } from '../../src/geometry/vec.ts';
import { Fault } from '../../src/model/fault.ts';
import { describeShared, sharedFile } from '../support/shared.ts';

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
const good = { format: 'cavum-case', version: 1, scan: 'qb-102-left-average.stl', side: 'left', rules: { wall: 0.6, gap: 0.1 } };
const lines = (c: object): string => JSON.stringify(c, null, 1);

function faultOf(input: string | Uint8Array): Fault {
  try {
    readCase(input, 'case.json');
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
  throw new Error('was read');
}

describe('a case', () => {
  test('there and back', () => {
    const whole: CaseFile = {
      scan: 'Gehör links (ä) 100% & 耳.stl',
      side: 'left',
      unit: 'inch',
      corrections: {
        aperture: -0.4,
        firstBend: 'none',
        secondBend: pt<'scan'>(1, 2, 3.5),
        superior: pt<'scan'>(0, 0, 1),
        rim: { point: pt<'scan'>(4, 5, 6), normal: pt<'scan'>(0, -1, 0) },
      },
      order: { receiver: 'large', microphones: 2, telecoil: true, parts: { cell: 'cell-10' } },
      rules: { wall: 0.5, tolerance: 0.1 },
      cuts: { IIC: { outer: -1 }, HS: { outer: 9, tip: 5 } },
      styles: ['IIC', 'HS'],
      seed: 7,
      effort: 'quick',
      catalogue: 'lab.json',
    };
    expect(readCase(writeCase(whole), 'a')).toEqual(whole);
    expect(writeCase(readCase(writeCase(whole), 'a'))).toBe(writeCase(whole));
    expect(readCase(lines({ format: 'cavum-case', version: 1, scan: 'a.stl' }), 'a')).toEqual({ scan: 'a.stl' });
  });

  test('is told from a scan by its content', () => {
    expect(isCase(bytes(lines(good)))).toBe(true);
    expect(isCase(bytes(`\ufeff${lines(good)}`))).toBe(true);
    expect(isCase(bytes('solid {"format": "cavum-case"'))).toBe(false);
    expect(isCase(bytes('{"asset":{"version":"2.0"}}'))).toBe(false);
  });

  test.each<[row: string, input: string | Uint8Array, ...says: RegExp[]]>([
    [
      'a correction of nothing, one out of all bounds, and a word that sets none',
      lines({ ...good, corrections: { frist: 1, aperture: 400, firstBend: 'gone', crus: [1, 2] } }),
      /\/corrections\/frist: unknown key/,
      /\/corrections\/aperture: found 400, a number from -30 to 60 mm/,
      /\/corrections\/firstBend: found "gone".*"none" is needed/,
      /\/corrections\/crus: found a list of 2, a list of 3/,
    ],
    [
      'g01 a number as text',
      lines({ ...good, rules: { wall: '0,6' } }),
      /\/rules\/wall: found "0,6" \(text\).*0\.3 to 1\.5 mm.*without quotes: 0\.6/,
    ],
    ['g02 an object for a list', lines({ ...good, styles: { a: 'IIC' } }), /\/styles: found an object, a list of 1 to 5 styles is needed/],
    [
      'g03 negative and zero, both named',
      lines({ ...good, rules: { wall: -2.5, faceplate: 0 } }),
      /\/rules\/wall: found -2\.5/,
      /\/rules\/faceplate: found 0/,
    ],
    [
      'g04 prototype keys',
      '{"format":"cavum-case","version":1,"scan":"a.stl","__proto__":{"polluted":1},"rules":{"__proto__":{"wall":1}}}',
      /__proto__/,
    ],
    ['g05 nested 50 000 deep', `{"format":"cavum-case","version":1,"scan":${'['.repeat(50_000)}${']'.repeat(50_000)}}`, /deep/],
    [
      'g06 huge numbers',
      lines({ ...good, rules: { wall: 1e308 }, cuts: { IIC: { outer: 1.2e29 } } }),
      /\/rules\/wall: found 1e\+308.*0\.3 to 1\.5 mm/,
      /\/cuts\/IIC\/outer: found 1\.2e\+29/,
    ],
    ['g07 a trailing comma', `${lines(good).replace(/\n\}$/, ',\n}')}`, /line \d+, column \d+/],
    ['g08 a misspelt key', lines({ ...good, rules: { wal: 0.6 } }), /\/rules\/wal: unknown key, did you mean wall\?/],
    ['g09 an empty file', '', /empty/],
    [
      'g11 a wrong unit',
      lines({ ...good, unit: 'MM ' }),
      /\/unit: found "MM " \(text\), one of mm, cm, m, um, inch is needed; did you mean mm\?/,
    ],
    ['g12 a path that climbs out', lines({ ...good, scan: '../../../../etc/hostname' }), /\/scan: .*plain name of a file beside the case/],
    ['a path of another system', lines({ ...good, scan: 'C:\\scans\\a.stl' }), /\/scan/],
    ['no scan', lines({ format: 'cavum-case', version: 1 }), /\/scan: missing/],
    ['a key twice', '{"format":"cavum-case","version":1,"scan":"a.stl","scan":"b.stl"}', /scan/],
    ['another version', lines({ ...good, version: 2 }), /\/version: found 2, 1 is needed/],
    ['no case at all', '[1]', /an object is needed/],
  ])('refused: %s', (_row, input, ...says) => {
    const fault = faultOf(input);
    expect(fault.code).toMatch(/^json\//);
    for (const text of says) expect(fault.message).toMatch(text);
    expect(fault.where).toBe('case.json');
    expect(fault.message).not.toMatch(/stack|RangeError|\[object/);
  });

  test('a prototype key changes nothing anywhere', () => {
    faultOf('{"format":"cavum-case","version":1,"scan":"a.stl","__proto__":{"polluted":1}}');
    expect(({} as Record<string, unknown>)['polluted']).toBeUndefined();
  });
});

describeShared('the g-files as they are', 'bad-inputs', () => {
  test.each(['g01-number-as-text', 'g04-proto', 'g05-deep-nesting', 'g07-trailing-comma', 'g09-empty', 'g10-utf16', 'g12-path-escape'])(
    '%s: refused in words, nothing polluted',
    (name) => {
      const fault = faultOf(sharedFile(`bad-inputs/${name}.json`));
      expect(fault.code).toMatch(/^json\//);
      expect(fault.found.length).toBeLessThan(3000);
      expect(({} as Record<string, unknown>)['polluted']).toBeUndefined();
    },
  );

  test('UTF-16 with its mark is read like UTF-8', () => {
    const text = lines(good);
    const wide = new Uint8Array([0xff, 0xfe, ...[...text].flatMap((c) => [c.charCodeAt(0) & 0xff, c.charCodeAt(0) >> 8])]);
    try {
      expect(readCase(wide, 'a').scan).toBe(good.scan);
    } catch (e) {
      expect(e).toBeInstanceOf(Fault);
      expect((e as Fault).message).toMatch(/UTF-16/);
    }
  });
});
