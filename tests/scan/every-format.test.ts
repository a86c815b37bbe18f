/**
 * The same solid in every format is the same scan; and damaged files of every format are refused in words or read as a
 * sound mesh, never anything else. FUZZ sets how many of each kind, SEED which.
 */
import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readScan } from '../../src/scan/index.ts';
import { ball, moved, octahedron, openPlug, plug, plugVolume, type Solid, without } from '../support/solids.ts';
import { gltf, threeMf, WRITERS } from '../support/writers.ts';
import { readingFaults, readSound } from './helpers.ts';

const SEED = Number(process.env['SEED'] ?? 20260101);
const RUNS = Number(process.env['FUZZ'] ?? 5000);
const NAMES = Object.keys(WRITERS);

describe.each(Object.entries(WRITERS))('%s', (name, write) => {
  test('the plug, whole', () => {
    const scan = readSound(write(plug(24)), undefined, 'plug');
    expect(scan.read.triangles).toBe(plug(24).triangles.length);
    expect(scan.unit).toBe(/gl/i.test(name) ? 'm' : 'mm');
    // Single precision keeps 24 bits: 20 mm to about 1e-6 mm.
    expect(Math.abs(scan.volume / plugVolume(24) - 1)).toBeLessThan(/binary$|gl/i.test(name) ? 1e-6 : 1e-12);
    expect(scan.findings.filter((f) => f.level !== 'note' && f.code !== 'scan/built')).toEqual([]);
  });

  test('open at its base: the same loop and cap as from text STL', () => {
    const scan = readSound(write(openPlug(24)), undefined, 'plug');
    const plain = readSound((WRITERS['STL, text'] as (s: Solid) => Uint8Array)(openPlug(24)), undefined, 'plug');
    expect(scan.read.openLoops.map((l) => [l.role, l.edges])).toEqual(plain.read.openLoops.map((l) => [l.role, l.edges]));
    expect(Math.abs(scan.volume / plain.volume - 1)).toBeLessThan(1e-6);
  });

  test('packed with gzip: the same, and it is said', () => {
    const plain = readScan(write(plug(12)), 'plug');
    const packed = readScan(new Uint8Array(gzipSync(write(plug(12)))), 'plug.gz');
    expect(packed.mesh).toEqual(plain.mesh);
    expect(packed.findings[0]?.text).toMatch(/gzip/);
    expect(packed.sha256).not.toBe(plain.sha256); // of the file as it is
  });
});

test('left stays left: no format swaps or mirrors an axis', () => {
  const crooked = moved(plug(24), ([x, y, z]) => [(x as number) + 3, 2 * (y as number) - 1, (z as number) * 0.9 + 0.1 * (x as number)]);
  const wanted = readScan((WRITERS['STL, text'] as (s: Solid) => Uint8Array)(crooked), 'a');
  for (const write of Object.values(WRITERS)) {
    const { bounds, volume } = readScan(write(crooked), 'a');
    for (const side of ['min', 'max'] as const) {
      bounds[side].forEach((c, k) => {
        expect(c).toBeCloseTo(wanted.bounds[side][k] as number, 4);
      });
    }
    expect(volume).toBeCloseTo(wanted.volume, 2);
  }
});

test('units: a 3MF in inches needs no question, a glTF in millimetres does', () => {
  const inches = moved(plug(12), (p) => p.map((c) => c / 25.4));
  expect(readScan(threeMf(inches, 'inch'), 'plug.3mf').volume).toBeCloseTo(plugVolume(12), 6);
  expect(() => readScan(gltf(plug(12), 1), 'plug.gltf')).toThrow(/metres, which the file states.*in millimetres it is 20 mm/);
  expect(readScan(gltf(plug(12), 1), 'plug.gltf', { unit: 'mm' }).volume).toBeCloseTo(plugVolume(12), 2);
});

describe(`damaged files of every format, SEED=${SEED}, ${RUNS} of each kind`, () => {
  const solids = [plug(6), openPlug(6), octahedron(12), without(ball(12, 1), (t) => t % 9 === 0)];
  const files = NAMES.map((n) => solids.map((s) => WRITERS[n]?.(s) as Uint8Array));
  const which = fc.tuple(fc.nat(NAMES.length - 1), fc.nat(solids.length - 1), fc.boolean());
  const made = ([f, s, pack]: [number, number, boolean]): Uint8Array => {
    const file = files[f]?.[s] as Uint8Array;
    return pack && (f + s) % 4 === 0 ? new Uint8Array(gzipSync(file)) : file;
  };
  const check = <T extends unknown[]>(property: fc.IPropertyWithHooks<T>): void => fc.assert(property, { seed: SEED, numRuns: RUNS });

  test('cut anywhere', () => {
    check(
      fc.property(which, fc.nat(), (w, n) => {
        const whole = made(w);
        expect(readingFaults(whole.subarray(0, n % (whole.length + 1)))).toBe('');
      }),
    );
  });

  test('bytes replaced', () => {
    const edits = fc.array(fc.tuple(fc.nat(), fc.nat(255)), { minLength: 1, maxLength: 8 });
    check(
      fc.property(which, edits, (w, list) => {
        const bytes = made(w).slice();
        for (const [at, to] of list) bytes[at % bytes.length] = to;
        expect(readingFaults(bytes)).toBe('');
      }),
    );
  });

  test('digits and signs replaced within texts', () => {
    const words = fc.constantFrom(
      '-',
      '9',
      '0',
      'e',
      '.',
      ',',
      'n',
      ' ',
      '"',
      '<',
      '[',
      '{',
      '1e999',
      '-1',
      '4294967296',
      'nan',
      '\\',
      '\n',
    );
    check(
      fc.property(which, fc.array(fc.tuple(fc.nat(), words), { minLength: 1, maxLength: 6 }), (w, list) => {
        const bytes = made(w).slice();
        for (const [at, word] of list) bytes.set(Buffer.from(word).subarray(0, bytes.length - (at % bytes.length)), at % bytes.length);
        expect(readingFaults(bytes)).toBe('');
      }),
    );
  });

  test('spliced with another file', () => {
    check(
      fc.property(which, which, fc.nat(), fc.nat(), (a, b, i, j) => {
        const [x, y] = [made(a), made(b)];
        expect(readingFaults(Buffer.concat([x.subarray(0, i % x.length), y.subarray(j % y.length)]))).toBe('');
      }),
    );
  });
});
