/** Damaged bytes of every kind: a Fault with all its parts, or a closed finite mesh. Nothing else, ever. Seeded. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Unit } from '../../src/model/scan.ts';
import {
  asciiStl,
  ball,
  binaryFile,
  cornersOf,
  cubes,
  octahedron,
  openPlug,
  plug,
  type Solid,
  textFile,
  without,
} from '../support/solids.ts';
import { readingFaults } from './helpers.ts';

const SEED = Number(process.env['SEED'] ?? 20260101);

const check = <T extends unknown[]>(runs: number, property: fc.IPropertyWithHooks<T>): void =>
  fc.assert(property, { seed: SEED, numRuns: runs });

const small = [plug(8), openPlug(8), octahedron(12), without(ball(12, 2), (t) => t % 9 === 0)];
const binaries = small.map((s) => binaryFile(s, { header: 'solid fuzz' }));
const texts = small.map((s) => asciiStl(cornersOf(s), (x) => x.toFixed(3)));
const which = fc.integer({ min: 0, max: small.length - 1 });
const unit = fc.constantFrom<Unit | undefined>(undefined, undefined, 'mm', 'inch', 'um');

describe(`damaged bytes, SEED=${SEED}`, () => {
  test('cut anywhere', () => {
    check(
      800,
      fc.property(which, fc.boolean(), fc.nat(), (w, text, n) => {
        const whole = (text ? texts : binaries)[w] as Uint8Array;
        expect(readingFaults(whole.subarray(0, n % (whole.length + 1)))).toBe('');
      }),
    );
  });

  test('bytes replaced', () => {
    check(
      1500,
      fc.property(
        which,
        fc.boolean(),
        fc.array(fc.tuple(fc.nat(), fc.nat(255)), { minLength: 1, maxLength: 12 }),
        unit,
        (w, text, edits, u) => {
          const bytes = ((text ? texts : binaries)[w] as Uint8Array).slice();
          for (const [at, to] of edits) bytes[at % bytes.length] = to;
          expect(readingFaults(bytes, u)).toBe('');
        },
      ),
    );
  });

  test('coordinates replaced by other numbers, also huge, tiny and none', () => {
    const odd = fc.oneof(fc.float(), fc.constantFrom(0, -0, 1e38, -1e38, 1e-40, 7.5, 5, 20), fc.float({ min: -20, max: 20 }));
    check(
      1500,
      fc.property(which, fc.array(fc.tuple(fc.nat(), odd), { minLength: 1, maxLength: 20 }), unit, (w, edits, u) => {
        const bytes = (binaries[w] as Uint8Array).slice();
        const view = new DataView(bytes.buffer);
        const many = (bytes.length - 84) / 50;
        for (const [at, x] of edits) view.setFloat32(84 + 50 * (Math.floor(at / 9) % many) + 12 + 4 * (at % 9), x, true);
        expect(readingFaults(bytes, u)).toBe('');
      }),
    );
  });

  test('triangles dropped, repeated, turned and joined up wrongly', () => {
    const edit = fc.tuple(fc.constantFrom('drop', 'copy', 'turn', 'rewire'), fc.nat(), fc.nat());
    check(
      1200,
      fc.property(which, fc.array(edit, { minLength: 1, maxLength: 25 }), (w, edits) => {
        const s = small[w] as Solid;
        let triangles = s.triangles.map((t) => [...t]);
        for (const [kind, a, b] of edits) {
          const t = a % triangles.length;
          if (kind === 'drop' && triangles.length > 4) triangles = triangles.filter((_, i) => i !== t);
          if (kind === 'copy') triangles.push([...(triangles[t] as number[])]);
          if (kind === 'turn') triangles[t] = [...(triangles[t] as number[])].reverse();
          if (kind === 'rewire') (triangles[t] as number[])[b % 3] = Math.floor(b / 3) % s.points.length;
        }
        expect(readingFaults(textFile({ points: s.points, triangles }))).toBe('');
      }),
    );
  });

  test('random surfaces on a small grid, where everything touches everything', () => {
    const corner = fc.tuple(fc.nat(1), fc.nat(1), fc.nat(2)).map((p) => p.map((x) => 8 * x));
    check(
      600,
      fc.property(fc.array(fc.tuple(corner, corner, corner), { minLength: 6, maxLength: 60 }), (soup) => {
        expect(readingFaults(asciiStl(soup.flat(2)))).toBe('');
      }),
    );
  });

  test('heaps of cubes with triangles missing', () => {
    const cell = fc.tuple(fc.nat(2), fc.nat(2), fc.nat(2));
    check(
      300,
      fc.property(
        fc.uniqueArray(cell, { minLength: 1, maxLength: 20, selector: (c) => c.join() }),
        fc.array(fc.nat(), { maxLength: 12 }),
        (cells, gone) => {
          const whole = cubes(cells, 6);
          const drop = new Set(gone.map((g) => g % whole.triangles.length));
          expect(readingFaults(textFile(without(whole, (t) => drop.has(t))))).toBe('');
        },
      ),
    );
  });

  test('random bytes', () => {
    check(
      800,
      fc.property(fc.uint8Array({ maxLength: 400 }), (bytes) => {
        expect(readingFaults(bytes)).toBe('');
      }),
    );
  });
});
