/** Both forms of STL and their odd variants, files of other kinds, and what a refusal must name. Own fixtures only. */
import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { TextTokens } from '../../src/scan/files/tokens.ts';
import { describeScan, readingTable, readScan } from '../../src/scan/index.ts';
import { asciiStl, binaryFile, binaryStl, box, cornersOf, plug, plugVolume, textFile } from '../support/solids.ts';
import { changesOf, codesOf, faultOf, readSound, textsOf, warningsOf } from './helpers.ts';

const PLUG = plug();
const CORNERS = cornersOf(PLUG);
const text = (s: string): Uint8Array => new TextEncoder().encode(s);
const lines = (edit: (all: string[]) => void, end = '\n'): Uint8Array => {
  const all = new TextDecoder().decode(textFile(PLUG)).split('\n');
  edit(all);
  return text(all.join(end));
};

describe('STL', () => {
  test('text keeps every digit: exact volume, same vertices', () => {
    const scan = readSound(textFile(PLUG));
    expect(scan.format).toBe('stl-ascii');
    expect(scan.findings).toEqual([]);
    expect(Math.abs(scan.volume / plugVolume() - 1)).toBeLessThan(1e-12);
    const known = new Set(PLUG.points.map((p) => p.map((c) => c + 0).join()));
    for (let v = 0; v < scan.mesh.positions.length / 3; v++)
      expect(known.has([...scan.mesh.positions.subarray(3 * v, 3 * v + 3)].join())).toBe(true);
  });

  test('binary: the 32-bit numbers of the file, bit for bit, triangles in file order', () => {
    const scan = readSound(binaryFile(PLUG));
    expect(scan.format).toBe('stl-binary');
    expect(scan.findings).toEqual([]);
    const flat = [...scan.mesh.indices].flatMap((v) => [...scan.mesh.positions.subarray(3 * v, 3 * v + 3)]);
    expect(flat).toEqual(CORNERS.map((c) => Math.fround(c) + 0));
  });

  test('the digest is SHA-256 (against node:crypto)', () => {
    const bytes = binaryFile(PLUG);
    expect(readScan(bytes, 'x').sha256).toBe(createHash('sha256').update(bytes).digest('hex'));
  });

  test('a header that begins with "solid" or holds facets is still binary', () => {
    for (const header of ['solid made by hand', 'solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0']) {
      expect(readSound(binaryFile(PLUG, { header })).read.triangles).toBe(PLUG.triangles.length);
    }
    // Cut off, it must not fall back to text and read nothing.
    const cut = binaryFile(PLUG, { header: 'solid made by hand' }).subarray(0, 5000);
    expect(faultOf(cut).message).toMatch(/280 triangles|header says 284 triangles.*98 whole triangles/);
  });

  test('line ends of all systems, capitals, tabs, byte-order mark, blanks before solid', () => {
    const plain = readSound(textFile(PLUG));
    const variants = [
      lines(() => {}, '\r\n'),
      lines(() => {}, '\r'),
      text(new TextDecoder().decode(textFile(PLUG)).toUpperCase()),
      text(new TextDecoder().decode(textFile(PLUG)).replaceAll(' ', '\t')),
      text(`\uFEFF${new TextDecoder().decode(textFile(PLUG))}`),
      text(` \n ${new TextDecoder().decode(textFile(PLUG))}\0\0\x1a`),
    ];
    for (const v of variants) expect(readSound(v).mesh).toEqual(plain.mesh);
  });

  test('a normal of nan is no coordinate', () => {
    const scan = readSound(text(new TextDecoder().decode(textFile(PLUG)).replaceAll('normal 0 0 0', 'normal nan nan -nan(ind)')));
    expect(scan.findings).toEqual([]);
  });

  test('decimal commas are read and told; mixed with points they are refused', () => {
    const comma = asciiStl(CORNERS, (x) => x.toFixed(4).replace('.', ','));
    const point = readSound(asciiStl(CORNERS, (x) => x.toFixed(4)));
    const scan = readSound(comma);
    expect(scan.mesh).toEqual(point.mesh);
    expect(warningsOf(scan)).toEqual(['scan/decimal-comma']);
    const mixed = lines((all) => {
      all[3] = '      vertex 7,5 0 0';
    });
    expect(faultOf(mixed).message).toMatch(/decimal comma \(line 4\) and with a decimal point/);
    expect(faultOf(asciiStl(CORNERS, (x) => `${x},`)).message).toMatch(/comma|not a number/);
  });

  test.each<[what: string, line: number, write: string, says: RegExp]>([
    ['a word for a number', 4, '      vertex 7.5 zero 0', /vertex has 1 number, needs 3 \(line 4\)/],
    ['letters in a number', 5, '      vertex 7.5 1.2x 0', /'1\.2x' is not a number \(line 5\)/],
    ['two points', 5, '      vertex 7.5 1.2.3 0', /'1\.2\.3' is not a number \(line 5\)/],
    ['hexadecimal', 5, '      vertex 0x10 1 0', /'0x10' is not a number \(line 5\)/],
    ['no digits', 5, '      vertex . 1 0', /'\.' is not a number \(line 5\)/],
    ['an empty exponent', 5, '      vertex 1e 1 0', /'1e' is not a number \(line 5\)/],
    ['four numbers', 4, '      vertex 1 2 3 4', /vertex has more than 3 numbers \(line 4\)/],
    ['no loop', 3, '', /'vertex' found, 'outer loop' needed \(line 4\)/],
    ['two vertices', 6, '', /the loop has 2 vertices, needs 3 \(line 7\)/],
    ['no endloop', 7, '', /'endfacet' found, 'endloop' needed \(line 8\)/],
    ['no endfacet', 8, '', /a facet is opened before the last one was closed \(line 9\)/],
    ['rubbish', 9, 'fact normal 0 0 0', /'fact' found, 'facet' or 'endsolid' needed \(line 9\)/],
    ['nan', 5, '      vertex 1 nan 0', /line 5: y is not a finite number \(nan\)/],
    ['the Windows form of nan', 5, '      vertex 1 2 -1.#IND', /line 5: z is not a finite number \(-1\.#IND\)/],
    ['infinity', 5, '      vertex inf 2 0', /line 5: x is not a finite number \(inf\)/],
    ['a number beyond all', 5, '      vertex 1e999 2 0', /line 5: x is not a finite number \(1e999\)/],
  ])('a broken line is named: %s', (_what, line, write, says) => {
    const fault = faultOf(
      lines((all) => {
        all[line - 1] = write;
      }),
    );
    expect(fault.message).toMatch(says);
  });

  test('text cut anywhere is refused, or told where only the last word is missing', () => {
    const whole = textFile(PLUG);
    for (let n = 200; n < whole.length - 20; n += 211) {
      const cut = whole.subarray(0, n);
      try {
        const scan = readScan(cut, 'cut.stl');
        expect(codesOf(scan)).toContain('scan/no-end');
      } catch (e) {
        expect((e as Error).message).toMatch(/file ends inside a facet|fewer than 4|found, 'facet'|encloses next to nothing|header/);
      }
    }
    expect(codesOf(readSound(whole.subarray(0, whole.length - 'endsolid test\n'.length)))).toContain('scan/no-end');
  });

  test('binary cut anywhere is refused with the number of whole triangles', () => {
    const whole = binaryFile(PLUG);
    for (let n = 84; n < whole.length; n += 97) {
      expect(faultOf(whole.subarray(0, n)).message).toContain(`${Math.floor((n - 84) / 50)} whole triangle`);
    }
    expect(faultOf(new Uint8Array(50).fill(1)).message).toMatch(/50 bytes: too short for a binary STL file \(84 at least\)/);
  });

  test('a wrong count is told, and no count reserves memory', () => {
    expect(warningsOf(readSound(binaryFile(PLUG, { count: 7 })))).toEqual(['scan/count']);
    expect(warningsOf(readSound(binaryFile(PLUG, { count: 0 })))).toEqual(['scan/count']);
    expect(faultOf(binaryFile(PLUG, { count: 0xffffffff })).message).toMatch(/4 294 967 295 triangles \(215 GB\)/);
    expect(textsOf(readSound(binaryFile(PLUG, { trailing: 3 })))).toMatch(/3 bytes after the last triangle ignored/);
    expect(warningsOf(readSound(binaryFile(PLUG, { trailing: 120 })))).toEqual(['scan/trailing-bytes']);
  });

  test('more triangles than the limit are refused by name', () => {
    const many = 5_000_001;
    const bytes = new Uint8Array(84 + 50 * many);
    new DataView(bytes.buffer).setUint32(80, many, true);
    expect(faultOf(bytes).message).toMatch(/5 000 001 triangles, the limit is 5 000 000/);
  });

  test('not-a-number in a few of many triangles: left out, told, closed again; in more: refused', () => {
    const fine = Array.from({ length: 40 }, (_, k) => ({ z: k / 2, scale: 1 - k / 80, x: 0, y: 0 }));
    const big = cornersOf(plug(24, fine));
    expect(big.length / 9).toBeGreaterThan(1900);
    big[9 * 500 + 4] = Number.NaN;
    const scan = readSound(binaryStl(big));
    expect(textsOf(scan)).toMatch(/1 triangle of 1 9\d\d left out: triangle 501, vertex 2: y is NaN/);
    expect(scan.read.openLoops.map((l) => l.edges)).toEqual([3]);
    big[9 * 700] = Number.POSITIVE_INFINITY;
    big[9 * 701] = Number.NEGATIVE_INFINITY;
    expect(faultOf(binaryStl(big)).code).toBe('scan/not-finite');
  });

  test('a view into a larger buffer is read, and nothing is written to it', () => {
    const bytes = binaryFile(PLUG);
    const larger = new Uint8Array(bytes.length + 11).fill(7);
    larger.set(bytes, 5);
    expect(readSound(larger.subarray(5, 5 + bytes.length)).mesh).toEqual(readSound(bytes).mesh);
  });
});

describe('other files are named', () => {
  test.each<[what: string, bytes: Uint8Array]>([
    ['a PNG picture', new Uint8Array([0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10, ...new Array(200).fill(0)])],
    ['a JPEG picture', new Uint8Array([0xff, 0xd8, 0xff, 0xe0, ...new Array(200).fill(0)])],
    ['a PDF document', text('%PDF-1.7 and so on')],
    ['an OFF file', text('OFF\n8 6 12\n')],
    ['a web page', text('<!DOCTYPE html><html><body>404</body></html>')],
    ['an XML file', text('<?xml version="1.0"?><amf/>')],
    ['a JSON file', text('{ "a": 1 }')],
    ['UTF-16 text', new Uint8Array([0xff, 0xfe, 0x73, 0, 0x6f, 0])],
    ['a DICOM file', new Uint8Array([...new Array(128).fill(0), ...text('DICM'), ...new Array(200).fill(2)])],
  ])('%s', (what, bytes) => {
    const fault = faultOf(bytes);
    expect(fault.code).toBe('scan/other-format');
    expect(fault.found).toContain(what);
    expect(fault.next).toMatch(/STL/);
  });

  test.each<[what: string, bytes: Uint8Array, says: RegExp]>([
    ['gzip', new Uint8Array([0x1f, 0x8b, 8, 0, ...new Array(200).fill(1)]), /gzip/],
    ['a zip cut off', text('PK\x03\x04............readme.txt'), /zip archive has no directory/],
    ['an empty zip', new Uint8Array([0x50, 0x4b, 5, 6, ...new Array(18).fill(0)]), /holds nothing/],
    ['a part of a zip in several', text('PK\x07\x08PK\x03\x04............readme.txt'), /zip archive has no directory/],
    ['a PLY header cut off', text('ply\nformat ascii 1.0\n'), /end_header/],
    ['an OBJ of one vertex', text('# made by hand\nmtllib a.mtl\no thing\nv 1 2 3\n'), /1 point but no faces/],
    ['an OBJ of two vertices', text('v   1.0 2 3\nv 1 2 3\nf 1 2 3\n'), /vertex 3, but only 2 are defined/],
  ])('%s goes to its own reader', (_what, bytes, says) => {
    expect(faultOf(bytes).message).toMatch(says);
  });

  test('plain text is quoted, nothing is an empty file', () => {
    expect(faultOf(text('Dear colleague,\nhere is the scan.')).found).toBe("not a scan: it is text that starts with 'Dear colleague,'");
    expect(faultOf(text('solid\nendsolid\n')).code).toBe('scan/no-triangles');
    expect(faultOf(text('   \n  ')).code).toBe('scan/no-triangles');
    expect(faultOf(new Uint8Array(0)).code).toBe('scan/empty');
    expect(faultOf(binaryStl([])).code).toBe('scan/no-triangles');
  });
});

describe('numbers', () => {
  const parse = (word: string): number | undefined => {
    const tokens = new TextTokens(text(word));
    tokens.next();
    return tokens.number();
  };
  test('agree with the language to the last bit', () => {
    const forms = fc.oneof(
      fc.double({ noNaN: true, noDefaultInfinity: true }).map(String),
      fc.double({ noNaN: true, noDefaultInfinity: true, min: -1000, max: 1000 }).map((x) => x.toFixed(6)),
      fc.double({ noNaN: true, noDefaultInfinity: true }).map((x) => x.toExponential(7).toUpperCase()),
      fc.double({ noNaN: true, noDefaultInfinity: true }).map((x) => `+${Math.abs(x)}`),
      fc.tuple(fc.bigInt({ min: 0n, max: 10n ** 30n }), fc.integer({ min: -340, max: 320 })).map(([m, e]) => `${m}.${m}e${e}`),
    );
    fc.assert(
      fc.property(forms, (word) => parse(word) === Number(word)),
      { seed: 1, numRuns: 20_000 },
    );
  });
  test('odd but legal forms', () => {
    for (const word of ['.5', '+.5', '5.', '-0', '007', '1E+03', '1e-400', '00000000000000000000000000.1'])
      expect(parse(word)).toBe(Number(word));
    for (const word of ['', '.', '+', '-.', 'e5', '1e+', '--1', '1-1', 'Infinity', '1_000', '0b1']) expect(parse(word)).toBeUndefined();
  });
});

describe('what is told', () => {
  test('describeScan is plain data: survives JSON unchanged, and names everything', () => {
    const scan = readSound(textFile(plug()), undefined, 'left_plug.stl');
    const told = describeScan(scan);
    expect(JSON.parse(JSON.stringify(told))).toEqual(told);
    expect(told).toMatchObject({
      format: 'cavum-reading',
      version: 1,
      file: 'left_plug.stl',
      fileFormat: 'stl-ascii',
      unit: 'mm',
      base: null,
    });
    expect(told.mesh.triangles).toBe(scan.mesh.indices.length / 3);
  });
  test('the table names file, counts, size and findings', () => {
    const scan = readSound(textFile(box([0, 0, 0], [10, 20, 30])), undefined, 'block 1.stl');
    const table = readingTable(scan);
    for (const s of [
      'block 1.stl',
      '12 triangles, 8 vertices, 1 piece',
      '10.00 x 20.00 x 30.00 mm',
      '6000.000 mm³',
      '2200.000 mm²',
      scan.sha256,
      'WARNING',
    ]) {
      expect(table).toContain(s);
    }
    expect(readingTable(readSound(textFile(PLUG)))).toContain('none: the file is used as it is');
    expect(changesOf(scan)).toEqual([]);
  });
});
