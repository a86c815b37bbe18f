/** gzip and the stream of fflate under it: node's zlib is the outside witness; RFC 1951 and 1952 name the odd cases. */
import { deflateRawSync, gzipSync, crc32 as zlibCrc } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Fault } from '../../src/model/fault.ts';
import { unpackGzip } from '../../src/scan/files/gzip.ts';
import { Budget } from '../../src/scan/files/zip-budget.ts';
import { crc32 } from '../../src/scan/files/zip-crc.ts';
import { type Ending, Inflater } from '../../src/scan/files/zip-inflate.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { binaryFile, plug } from '../support/solids.ts';
import { faultOf, readSound, textsOf, warningsOf } from './helpers.ts';
import { refusalOf, SEED } from './readers.ts';

const bytesOf = (...parts: (ArrayLike<number> | string)[]): Uint8Array =>
  Uint8Array.from(parts.flatMap((p) => (typeof p === 'string' ? [...new TextEncoder().encode(p)] : Array.from(p))));

function inflated(bytes: Uint8Array, from = 0): { out: Buffer; ending: Ending } {
  const inflater = new Inflater(bytes, from, 'the data');
  const pieces: Uint8Array[] = [];
  for (let p = inflater.next(); p !== undefined; p = inflater.next()) pieces.push(p);
  expect(inflater.next()).toBeUndefined();
  return { out: Buffer.concat(pieces), ending: inflater.ending };
}

/** Bytes of every kind of order: runs, text, noise, far repeats. */
function mixed(n: number, seed: number): Buffer {
  const b = Buffer.alloc(n);
  let s = seed;
  for (let i = 0; i < n; i++) {
    s = (Math.imul(s, 1103515245) + 12345) >>> 0;
    const kind = (i >> 12) % 4;
    b[i] = kind === 0 ? 7 : kind === 1 ? 48 + (s >>> 28) : kind === 2 ? s >>> 24 : (b[i - 30_000] ?? i) & 0xff;
  }
  return b;
}

describe('inflating', () => {
  const sizes = [0, 1, 2, 100, 32_767, 32_768, 262_143, 262_144, 262_145, 700_000];
  test.each(sizes)('%d bytes at every level and strategy, with the exact end', (n) => {
    const source = mixed(n, n + 1);
    for (const level of [0, 1, 6, 9]) {
      for (const strategy of [0, 1, 2, 3, 4]) {
        const packed = deflateRawSync(source, { level, strategy });
        const { out, ending } = inflated(Buffer.concat([Buffer.alloc(3, 9), packed, Buffer.from([1, 2, 3, 4, 5])]), 3);
        expect(out.equals(source)).toBe(true);
        expect(ending).toEqual({ least: 3 + packed.length, most: 3 + packed.length });
      }
    }
  });

  test('the end, whatever follows: to the byte before a member and near the end of the file, else within 16 kB', () => {
    const member = gzipSync('more');
    for (const n of [0, 1, 16_371, 16_372, 16_380, 16_384, 16_390, 32_768, 50_000]) {
      const packed = deflateRawSync(mixed(n, 77), { level: 0 });
      const end = packed.length;
      const endingBefore = (...behind: (ArrayLike<number> | string)[]): Ending =>
        inflated(Buffer.concat([packed, bytesOf(...behind)])).ending;
      const exact = { least: end, most: end };
      for (let k = 0; k < 12; k++) {
        for (const b of [0, 255]) expect(endingBefore(new Uint8Array(k).fill(b))).toEqual(exact);
        if (k >= 8) expect(endingBefore(new Uint8Array(8), member.subarray(0, k - 8))).toEqual(exact);
      }
      expect(endingBefore(new Uint8Array(8), member)).toEqual(exact);
      const longName = [[0x1f, 0x8b, 8, 8], new Uint8Array(40_000).fill(65)];
      for (const behind of [[new Uint8Array(5000)], [new Uint8Array(40_000).fill(7)], [new Uint8Array(8), ...longName]]) {
        const { least, most } = endingBefore(...behind);
        expect(least <= end && end <= most && most - least <= 16_384 && most <= end + 16_384).toBe(true);
      }
    }
  });

  test('the pieces stay small, however tightly packed', () => {
    const inflater = new Inflater(deflateRawSync(Buffer.alloc(60_000_000)), 0, 'the data');
    let total = 0;
    for (let p = inflater.next(); p !== undefined; p = inflater.next()) {
      expect(p.length).toBeLessThan(17_000_000);
      total += p.length;
    }
    expect(total).toBe(60_000_000);
  });

  test('cut anywhere it is truncated, never short in silence', () => {
    for (const level of [0, 1, 9]) {
      const packed = deflateRawSync(mixed(9000, 5), { level });
      for (let n = 0; n < packed.length; n += n < 200 ? 1 : 37) {
        expect(refusalOf(() => inflated(packed.subarray(0, n))).code).toBe('scan/truncated');
      }
    }
  });

  /** Of what no packer writes fflate refuses some; the rest must fail by its check sum. */
  test.each<[what: string, bits: string, code?: string]>([
    ['a reserved block type', '1 11', 'scan/damaged'],
    ['a stored length whose check differs', '1 00 00000 1000000000000000 1000000000000000'],
    ['a distance before the beginning', '1 10 0000001 00000 0000000', 'scan/damaged'],
    ['a length symbol that is none', '1 10 11000110 00000'],
    ['a distance symbol that is none', '1 10 00110000 0000001 11110'],
    ['too many codes of one length', `1 01 00000 00000 0000 ${'100 '.repeat(4)}`],
  ])('damage is refused: %s', (_what, bits, code) => {
    const flat = bits.replaceAll(' ', '').padEnd(400, '0');
    const packed = Uint8Array.from({ length: 50 }, (_, i) => Number.parseInt([...flat.slice(8 * i, 8 * i + 8)].reverse().join(''), 2));
    if (code !== undefined) expect(refusalOf(() => inflated(packed)).code).toBe(code);
    expect(refusalOf(() => unpackGzip(bytesOf([0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 0], packed))).code).toBe('scan/damaged');
  });

  test(`bytes replaced: a Fault or some data, as zlib never crashes either, SEED=${SEED}`, () => {
    const packed = new Uint8Array(deflateRawSync(mixed(3000, 3)));
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(packed.length - 1), fc.nat(255)), { minLength: 1, maxLength: 4 }), (edits) => {
        const bytes = packed.slice();
        for (const [at, to] of edits) bytes[at] = to;
        try {
          inflated(bytes);
        } catch (e) {
          expect(e).toBeInstanceOf(Fault);
        }
      }),
      { seed: SEED, numRuns: 600 },
    );
  });
});

test('the check sum is that of zlib, in one go and in pieces; its standard value', () => {
  expect(crc32(bytesOf('123456789'))).toBe(0xcbf43926); // the check value that catalogues of CRCs list (from memory)
  const data = mixed(1000, 9);
  for (const cut of [0, 1, 7, 8, 9, 500, 999, 1000]) {
    const witness = typeof zlibCrc === 'function' ? zlibCrc(data) : slowCrc(data);
    expect(crc32(data.subarray(cut), crc32(data.subarray(0, cut)))).toBe(witness);
    expect(slowCrc(data)).toBe(witness);
  }
});

/** Bit by bit, as RFC 1952 defines it. */
function slowCrc(bytes: Uint8Array): number {
  let c = 0xffffffff;
  for (const b of bytes) {
    c ^= b;
    for (let k = 0; k < 8; k++) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1;
  }
  return ~c >>> 0;
}

describe('gzip', () => {
  const stl = binaryFile(plug());
  const plain = gzipSync(stl);
  /** A member with a header of our own. */
  const member = (flags: number, extras: (ArrayLike<number> | string)[], sum = true): Uint8Array => {
    const head = bytesOf([0x1f, 0x8b, 8, flags, 1, 2, 3, 4, 0, 255], ...extras);
    const check = slowCrc(head) & 0xffff;
    return bytesOf(head, flags & 2 ? [(check & 255) ^ (sum ? 0 : 1), check >> 8] : [], plain.subarray(10));
  };

  test('unpacked and told', () => {
    const { bytes, finding } = unpackGzip(plain);
    expect(Buffer.compare(bytes, stl)).toBe(0);
    expect(finding).toEqual({
      code: 'scan/gzip',
      level: 'note',
      text: expect.stringMatching(/^Unpacked from gzip: [\d ]+ bytes to 14 284\.$/),
    });
    const scan = readSound(plain);
    expect(scan.mesh).toEqual(readSound(stl).mesh);
    expect(warningsOf(scan)).toEqual([]);
  });

  test('every option of the header is passed over, its check sum checked', () => {
    const name = 'scan left.stl\0';
    for (const [flags, extras] of [
      [4, [[3, 0, 1, 2, 3]]],
      [8, [name]],
      [16, ['a comment\0']],
      [2, []],
      [1, []], // "probably text"
      [31, [[0, 0], name, '\0']],
    ] as const) {
      expect(Buffer.compare(unpackGzip(member(flags, [...extras])).bytes, stl)).toBe(0);
    }
    expect(refusalOf(() => unpackGzip(member(2, [], false))).message).toMatch(/check sum of its header/);
    expect(refusalOf(() => unpackGzip(member(32, []))).message).toMatch(/unknown method or flags/);
  });

  test('several members are one file; zeros after them are padding, anything else is told', () => {
    const halves = bytesOf(gzipSync(stl.subarray(0, 5000)), gzipSync(new Uint8Array(0)), gzipSync(stl.subarray(5000)));
    expect(Buffer.compare(unpackGzip(halves).bytes, stl)).toBe(0);
    expect(unpackGzip(bytesOf(plain, new Array(512).fill(0))).finding.level).toBe('note');
    const { finding, bytes } = unpackGzip(bytesOf(plain, 'garbage'));
    expect(finding.level).toBe('warning');
    expect(finding.text).toMatch(/7 bytes after its end ignored/);
    expect(bytes.length).toBe(stl.length);
    // A further member that is damaged is no garbage.
    for (const n of [2, 3, 5, 9, 10, 12, 40])
      expect(refusalOf(() => unpackGzip(bytesOf(plain, plain.subarray(0, n)))).code).toBe('scan/truncated');
    expect(refusalOf(() => unpackGzip(bytesOf(plain, [0x1f, 0x8b, 7, ...new Array(30).fill(0)]))).message).toMatch(/unknown method/);
    const named = member(8, [`${'long '.repeat(8000)}\0`]); // longer than what is unpacked at a time
    expect(Buffer.compare(unpackGzip(bytesOf(plain, named, plain)).bytes, Buffer.concat([stl, stl, stl]))).toBe(0);
    expect(refusalOf(() => unpackGzip(bytesOf(plain, named.subarray(0, 30_000)))).code).toBe('scan/truncated');
    // Empty members: their trailers are zeros, as the padding is.
    const none = gzipSync(new Uint8Array(0));
    expect(unpackGzip(bytesOf(none, none, plain, none, new Array(100).fill(0))).finding.level).toBe('note');
    expect(unpackGzip(bytesOf(plain, none, new Array(50).fill(9))).finding.text).toMatch(/ 50 bytes after its end ignored/);
    // With bytes behind, a wrong trailer is found missing.
    const wrong = Uint8Array.from(plain);
    wrong[wrong.length - 8] = (wrong.at(-8) as number) ^ 1;
    for (const behind of ['garbage garbage', new Array(100).fill(0)])
      expect(refusalOf(() => unpackGzip(bytesOf(wrong, behind))).message).toMatch(/check sum or the length of its contents is wrong/);
  });

  test('cut anywhere: truncated', () => {
    for (let n = 2; n < plain.length; n += n > 20 && n < plain.length - 20 ? 31 : 1) {
      expect(refusalOf(() => unpackGzip(plain.subarray(0, n))).code).toBe('scan/truncated');
    }
    expect(refusalOf(() => unpackGzip(member(8, ['no end of the name']).subarray(0, 25))).code).toBe('scan/truncated');
  });

  test('no flipped bit gives other data in silence', () => {
    for (let i = 0; i < plain.length; i += 11) {
      const bytes = Uint8Array.from(plain);
      bytes[i] = (bytes[i] as number) ^ (1 << (i % 8));
      try {
        expect(Buffer.compare(unpackGzip(bytes).bytes, stl)).toBe(0); // time stamps and the like
      } catch (e) {
        expect((e as Fault).code).toMatch(/^scan\/(damaged|truncated)$/);
      }
    }
    const wrong = Uint8Array.from(plain);
    wrong[wrong.length - 1] = 1;
    expect(refusalOf(() => unpackGzip(wrong)).message).toMatch(/holds 14 284 bytes and says 16 791 500/);
    wrong.set(plain);
    wrong[wrong.length - 8] = (wrong.at(-8) as number) ^ 1;
    expect(refusalOf(() => unpackGzip(wrong)).message).toMatch(/check sum of its contents/);
  });

  test('a bomb is refused while it goes off', () => {
    const block = deflateRawSync(Buffer.alloc(4_000_000), { finishFlush: 3 }); // whole blocks, none the last
    const bomb = bytesOf([0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 0], ...Array.from({ length: 300 }, () => block));
    const fault = refusalOf(() => unpackGzip(bomb));
    expect(fault.code).toBe('scan/too-large');
    expect(fault.message).toMatch(/inflates to more than 100 MB and 100 times its size/);
  });

  test('the limits themselves', () => {
    const none = gzipSync(new Uint8Array(0));
    const members = (n: number): Uint8Array => Uint8Array.from(Buffer.concat([...new Array<Uint8Array>(n).fill(none), plain]));
    expect(Buffer.compare(unpackGzip(members(999)).bytes, stl)).toBe(0);
    expect(refusalOf(() => unpackGzip(members(20_000))).message).toMatch(/has more than 20 000 members/);
    const packed = new Budget(30_000_000, 1e9);
    packed.take(1e9, 'x');
    expect(refusalOf(() => packed.take(1, 'x')).message).toMatch(/^x inflates to more than 1 GB; the limit is 1 GB\./);
    const tight = new Budget(1_000, 1e9);
    tight.take(1e8, 'x');
    expect(refusalOf(() => tight.take(1, 'x')).message).toMatch(/the limit for data packed so tightly is 100 MB/);
  });

  test('what is unpacked is read as any file is: nothing, rubbish, gzip again', () => {
    expect(faultOf(gzipSync(new Uint8Array(0))).code).toBe('scan/empty');
    expect(faultOf(gzipSync(bytesOf('Dear colleague,'))).message).toMatch(/starts with 'Dear colleague,'/);
    expect(faultOf(gzipSync(plain)).message).toMatch(/gzip-compressed data within gzip-compressed data/);
  });
});

describeShared('the file beside the project', 'bad-inputs', () => {
  test('a19', () => {
    const scan = readSound(sharedFile('bad-inputs/a19-gzip.stl'));
    expect(scan.read.triangles).toBe(480);
    expect(Math.abs(scan.volume - 1291.974)).toBeLessThan(0.01);
    expect(textsOf(scan)).toContain('Unpacked from gzip: 8 935 bytes to 24 084.');
  });
});
