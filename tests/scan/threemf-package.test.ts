/** 3MF: the package around the model, damage of all sorts, and the files beside the project. Rules from Open Packaging Conventions and the zip format. */
import { deflateRawSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Fault } from '../../src/model/fault.ts';
import type { Soup } from '../../src/scan/files/soup.ts';
import { read3mf } from '../../src/scan/files/threemf.ts';
import { crc32 } from '../../src/scan/files/zip-crc.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { cornersOf } from '../support/solids.ts';
import { faultOf, readSound, warningsOf } from './helpers.ts';
import { bytesOf, damaged, damages, extentOf, refusalOf, SEED, told, verdictOf, volumeOf } from './readers.ts';
import { CUBE, type File, meshOf, modelOf, ONE, objectOf, packed, partsOf, relsTo, zip } from './threemf-packages.ts';

const refusal = (bytes: Uint8Array): Fault => refusalOf(() => read3mf(bytes));

describe('the package', () => {
  const files: File[] = [
    { name: '_rels/.rels', data: relsTo('/3D/part one.model') },
    { name: '3D/part one.model', data: ONE },
  ];
  const cube = (bytes: Uint8Array): Soup => {
    const soup = read3mf(bytes);
    expect([...soup.corners]).toEqual(cornersOf(CUBE));
    return soup;
  };
  const edited = (edit: Partial<File>): File[] => [files[0] as File, { ...(files[1] as File), ...edit }];

  /** The model deflated, right but for some bytes after its end. */
  const leftOver = (n: number): Partial<File> => ({
    data: Buffer.concat([deflateRawSync(ONE), Buffer.alloc(n, 1)]),
    stored: true,
    lies: { method: 8, sum: crc32(bytesOf(ONE)), size: ONE.length },
  });

  test('stored, deflated, with sizes after the data, in 64 bits, with a comment, with bytes behind', () => {
    expect(cube(zip(files)).findings).toEqual([]);
    cube(zip(edited({ stored: true })));
    cube(zip(edited(leftOver(0))));
    cube(zip(edited({ after: true })));
    cube(zip(edited({ wide: true })));
    cube(zip(files, 'a comment, even with PK\x05\x06 in it'));
    cube(Uint8Array.from([...zip(files), ...new Array(100).fill(32)]));
    cube(zip([{ name: '[Content_Types].xml', data: '<Types/>' }, { name: '3D/', data: '', stored: true }, ...files]));
  });

  test('the relationship says which part is the model: absolute, relative, escaped, in other capitals', () => {
    for (const target of [
      '/3D/part one.model',
      '3D/part one.model',
      '3D/part%20one.model',
      './3D/../3D/part one.model',
      '/3d/PART ONE.model',
    ]) {
      expect(
        cube(zip([{ name: '_rels/.rels', data: relsTo(target) }, files[1] as File, { name: '3D/3dmodel.model', data: 'no XML at all' }]))
          .findings,
      ).toEqual([]);
    }
    cube(zip([files[0] as File, { name: '3D\\part one.model', data: ONE }])); // some writers
  });

  test('without a usable relationship a lone model part is read, and told', () => {
    for (const rels of [
      [],
      [{ name: '_rels/.rels', data: relsTo('/3D/gone.model') }],
      [{ name: '_rels/.rels', data: relsTo('/3D/part one.model').replace('3dmodel"', 'thumbnail"') }],
    ]) {
      expect(told(cube(zip([...rels, files[1] as File])))).toMatch(/scan\/package warning: The package .* 3D\/part one\.model is read/);
    }
    const two = zip([
      { name: 'a.model', data: ONE },
      { name: 'b.model', data: ONE },
    ]);
    expect(refusal(two).message).toMatch(/holds 2 model parts and does not say which one it starts from: a\.model, b\.model/);
  });

  test('archives of other things are named', () => {
    const fault = (...names: string[]): string => refusal(zip(names.map((name) => ({ name, data: 'x' })))).message;
    expect(fault('readme.txt')).toMatch(/no 3D model part in this 3MF: the zip archive holds readme\.txt/);
    expect(fault('scans/', 'scans/left.STL')).toMatch(/this is a zip archive holding scans\/left\.STL.*Unpack it first/);
    expect(fault('word/document.xml', 'a', 'b', 'c', 'd')).toMatch(/holds word\/document\.xml, a, b and 2 more/);
    expect(fault()).toMatch(/the zip archive holds nothing/);
    expect(fault('bad\u0007\u202ename')).toMatch(/holds bad\?\?name/);
  });

  test.each<[what: string, files: File[], says: RegExp]>([
    ['encrypted', edited({ lies: { flags: 1 } }), /other-format.*part one\.model in the zip archive is encrypted/],
    ['an unknown method', edited({ lies: { method: 14 } }), /packed by method 14; stored \(0\) and deflated \(8\) are read/],
    ['a wrong check sum', edited({ lies: { sum: 12345 } }), /damaged.*check sum of 3D\/part one\.model/],
    ['a size too small', edited({ lies: { size: 10 } }), /damaged.*holds more than the 10 bytes/],
    ['a size too large', edited({ lies: { size: 10_000_000 } }), /damaged.*holds less than the 10 000 000 bytes/],
    ['a size beyond memory', edited({ lies: { size: 0xfffffff0 } }), /holds less than/],
    ['stored with two sizes', edited({ stored: true, lies: { size: 10 } }), /stored as it is, but with two sizes/],
    ['packed bytes past the end', edited({ lies: { packed: 1_000_000 } }), /truncated.*runs past the end of the file/],
    ['too few packed bytes', edited({ lies: { packed: 20 } }), /truncated.*ends in the middle/],
    ['bytes left over', edited(leftOver(1)), /damaged.*part one\.model.* ends before the place that the directory says/],
    ['many bytes left over', edited(leftOver(50_000)), /damaged.*ends before the place that the directory says/],
    ['a header elsewhere', edited({ lies: { at: 5 } }), /not where the directory says/],
    ['one name twice', [...files, files[1] as File], /two files in it are called 3D\/part one\.model/],
  ])('damage: %s', (_what, damaged, says) => {
    const fault = refusal(zip(damaged));
    expect(`${fault.code}: ${fault.message}`).toMatch(says);
  });

  test('cut anywhere: truncated or damaged, in words', () => {
    const whole = zip(files);
    for (let n = 4; n < whole.length; n += 3) expect(refusal(whole.subarray(0, n)).code).toMatch(/^scan\/(truncated|damaged)$/);
  });

  test('a bomb of blanks is refused while it goes off; one of 64 MB is read through', () => {
    const blanks = (mega: number): Uint8Array => {
      const block = deflateRawSync(Buffer.alloc(1_000_000, 32), { finishFlush: 3 });
      const [head, tail] = [ONE.slice(0, ONE.indexOf('<build>')), ONE.slice(ONE.indexOf('<build>'))].map((s) => Buffer.from(s)) as [
        Buffer,
        Buffer,
      ];
      const body = Buffer.concat([
        deflateRawSync(head, { finishFlush: 3 }),
        ...Array.from({ length: mega }, () => block),
        deflateRawSync(tail),
      ]);
      let sum = crc32(head);
      const million = Buffer.alloc(1_000_000, 32);
      for (let i = 0; i < mega; i++) sum = crc32(million, sum);
      const lies = { method: 8, sum: crc32(tail, sum), size: head.length + mega * 1_000_000 + tail.length };
      return zip([files[0] as File, { name: '3D/part one.model', data: body, stored: true, lies }]);
    };
    expect(cube(blanks(64)).findings).toEqual([]);
    expect(refusal(blanks(1000)).message).toMatch(/part one\.model in the zip archive inflates to more than 100 MB and 100 times its size/);
  });
});

describe(`damaged bytes, SEED=${SEED}`, () => {
  const model = modelOf(
    objectOf(1, meshOf(CUBE)) + objectOf(2, partsOf('objectid="1"', 'objectid="1" transform="0 1 0 -1 0 0 0 0 1 5 6 7"')),
    '<item objectid="2" transform="2 0 0 0 2 0 0 0 2 0 0 0"/>',
  );
  const verdict = (bytes: Uint8Array): string => verdictOf(read3mf, bytes);
  test('of the archive', () => {
    const whole = packed(model);
    fc.assert(
      fc.property(damages, (changes) => {
        expect(verdict(damaged(whole, changes))).toBe('');
      }),
      { seed: SEED, numRuns: 900 },
    );
  });
  test('of the model in it', () => {
    const inner = bytesOf(model);
    fc.assert(
      fc.property(damages, (changes) => {
        expect(verdict(packed(damaged(inner, changes)))).toBe('');
      }),
      { seed: SEED, numRuns: 900 },
    );
  });
  test('of its words', () => {
    const words = model.split(/(?<=[<>"= /])/);
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(), fc.nat()), { minLength: 1, maxLength: 4 }), (swaps) => {
        const w = [...words];
        for (const [a, b] of swaps) w[a % w.length] = w[b % w.length] as string;
        expect(verdict(packed(w.join('')))).toBe('');
      }),
      { seed: SEED, numRuns: 700 },
    );
  });
});

describeShared('files beside the project', 'scans', () => {
  test.each<[name: string, triangles: number, extent: number[], volume: number, unit: string]>([
    ['mf_inch.3mf', 2208, [127, 63.5, 34.925], 190_680, 'inch'],
    ['mf_objects_components.3mf', 3276, [346.725, 163.081, 25], 195_038, 'mm'],
    ['mf_components_small.3mf', 60, [70, 60, 30], 14_000, 'mm'],
    ['mf_unreferenced_object.3mf', 12, [10, 10, 10], 1000, 'mm'],
    ['mf_gears_17_items.3mf', 25_692, [167.996, 125.102, 33.6013], 112_366, 'mm'],
  ])('%s', (name, triangles, extent, volume, unit) => {
    const soup = read3mf(sharedFile(`scans/${name}`));
    const mm = unit === 'inch' ? 25.4 : 1;
    expect([soup.triangles, soup.unit]).toEqual([triangles, unit]);
    for (const [k, e] of extentOf(soup).entries()) expect(Math.abs(e * mm - (extent[k] as number))).toBeLessThan(0.001);
    expect(Math.abs(volumeOf(soup.corners) * mm ** 3 - volume)).toBeLessThan(0.51);
  });
  test('the two that must fail', () => {
    expect(refusal(sharedFile('scans/mf_not_utf.3mf')).message).toMatch(/3D\/3dmodel\.model is not valid UTF-8 \(byte 3 of the part\)/);
    expect(refusal(sharedFile('scans/mf_no_build.3mf')).message).toMatch(/builds nothing: it has no build element/);
  });
});

describeShared('bad files beside the project', 'bad-inputs', () => {
  const file = (name: string): Uint8Array => sharedFile(`bad-inputs/${name}`);
  test('f01: inches without a question; f03: the scale in the matrix', () => {
    for (const [name, unit] of [
      ['f01-unit-inch.3mf', 'inch'],
      ['f03-scale-in-matrix.3mf', 'mm'],
    ] as const) {
      const scan = readSound(file(name));
      expect([scan.unit, scan.read.triangles, warningsOf(scan)]).toEqual([unit, 144, []]);
      expect(Math.abs(scan.volume - 1249.06)).toBeLessThan(0.01);
      const extent = [0, 1, 2].map((k) => (scan.bounds.max[k] as number) - (scan.bounds.min[k] as number));
      for (const [k, e] of [15, 10.304, 18.6].entries()) expect(Math.abs((extent[k] as number) - e)).toBeLessThan(0.001);
    }
  });
  test('f02: two cubes where the matrices put them, the third not read', () => {
    const soup = read3mf(file('f02-components-and-item-transform.3mf'));
    expect(soup.triangles).toBe(24);
    expect(volumeOf(soup.corners)).toBe(128);
    const bounds = [0, 1, 2].map((k) => soup.corners.filter((_c, i) => i % 3 === k)).map((c) => [Math.min(...c), Math.max(...c)]);
    expect(bounds).toEqual([
      [1, 5],
      [6, 20],
      [7, 11],
    ]);
  });
  test('f04 is the cube in it; f05 and f06 are refused by name', () => {
    const cube = read3mf(file('f04-inflates-to-64MiB.3mf'));
    expect([cube.triangles, volumeOf(cube.corners)]).toEqual([12, 64]);
    expect(faultOf(file('f05-zip-without-model.3mf')).message).toMatch(/no 3D model part in this 3MF/);
    expect(faultOf(file('f06-component-loop.3mf')).message).toMatch(/object 1 contains itself/);
  });
});
