/** What must not depend on how the file happens to be written: order, rotation, place, unit; and reading again changes nothing. */
import { describe, expect, test } from 'vitest';
import { type Random, seeded } from '../../src/geometry/random.ts';
import type { Scan } from '../../src/model/scan.ts';
import {
  asciiStl,
  ball,
  both,
  cornersOf,
  cubes,
  moved,
  octahedron,
  openPlug,
  plug,
  type Solid,
  textFile,
  torus,
  turnedOver,
  without,
} from '../support/solids.ts';
import { changesOf, codesOf, readSound } from './helpers.ts';

const close = (a: number, b: number, relative: number): void => expect(Math.abs(a - b)).toBeLessThanOrEqual(relative * Math.abs(b));

/** Solids with every kind of damage. */
const DAMAGED: [name: string, solid: Solid][] = [
  ['sound', plug()],
  ['open base', openPlug(40)],
  ['open base and holes', without(openPlug(40), (t) => [50, 51, 130, 260].includes(t))],
  ['holes', without(ball(12, 4), (t) => t % 97 === 0)],
  ['large hole', without(ball(12, 4), (_t, m) => (m[2] as number) > 11)],
  ['torus, turned in part', turnedOver(torus(10, 4, 40, 20), (t) => t % 5 === 0)],
  ['inside out', turnedOver(plug())],
  ['copies', { points: plug().points, triangles: [...plug().triangles, ...plug().triangles.slice(30, 60)] }],
  [
    'two pieces and a bubble',
    both(
      both(
        plug(),
        moved(plug(12), (p) => [(p[0] as number) * 0.5 + 25, (p[1] as number) * 0.5, (p[2] as number) * 0.5]),
      ),
      moved(octahedron(0.5), (p) => [p[0] as number, p[1] as number, (p[2] as number) + 6]),
    ),
  ],
  [
    'touching cubes',
    cubes(
      [
        [0, 0, 0],
        [1, 1, 0],
        [0, 0, 1],
        [1, 0, 1],
        [1, 1, 1],
        [2, 2, 2],
        [2, 2, 1],
      ],
      5,
    ),
  ],
];

const shuffled = <T>(list: readonly T[], rng: Random): T[] => {
  const out = [...list];
  for (let i = out.length - 1; i > 0; i--) {
    const j = rng.below(i + 1);
    [out[i], out[j]] = [out[j] as T, out[i] as T];
  }
  return out;
};

/** Figures that no order of triangles may change. Loops sorted by size. */
const figures = (s: Scan) => ({
  pieces: s.read.pieces,
  vertices: s.read.vertices,
  triangles: s.mesh.indices.length / 3,
  codes: codesOf(s).sort(),
  loops: s.read.openLoops.map((l) => [l.role, l.edges]).sort(),
});

describe.each(DAMAGED)('%s', (_name, solid) => {
  const original = readSound(textFile(solid));

  test('any order of triangles, any first corner', () => {
    for (let seed = 1; seed <= 4; seed++) {
      const rng = seeded(seed);
      const triangles = shuffled(solid.triangles, rng).map((t) => {
        const k = rng.below(3);
        return [t[k], t[(k + 1) % 3], t[(k + 2) % 3]] as number[];
      });
      const scan = readSound(textFile({ points: solid.points, triangles }));
      expect(figures(scan)).toEqual(figures(original));
      // Triangulations of one flat or curved gap may differ between equal choices: the same body to within that.
      close(scan.volume, original.volume, 2e-3);
      close(scan.area, original.area, 2e-3);
    }
  });

  test('turned and moved', () => {
    // Exact quarter turns and a 3-4-5 turn, then a move.
    const turns: ((p: readonly number[]) => number[])[] = [
      ([x, y, z]) => [y as number, z as number, x as number],
      ([x, y, z]) => [-(y as number), x as number, z as number],
      ([x, y, z]) => [0.6 * (x as number) - 0.8 * (y as number) + 100, 0.8 * (x as number) + 0.6 * (y as number) - 50, (z as number) + 1e3],
    ];
    for (const turn of turns) {
      const scan = readSound(textFile(moved(solid, turn)));
      expect(figures(scan)).toEqual(figures(original));
      close(scan.volume, original.volume, 2e-3);
    }
  });

  test('a mirror image is a mirror image', () => {
    const mirrored = turnedOver(moved(solid, ([x, y, z]) => [-(x as number), y as number, z as number]));
    const scan = readSound(textFile(mirrored));
    close(scan.volume, original.volume, 2e-3);
    expect(scan.bounds.min[0]).toBeCloseTo(-original.bounds.max[0], 9);
  });

  test('the same bytes give the same scan, to the bit', () => {
    const again = readSound(textFile(solid));
    expect(Buffer.compare(Buffer.from(again.mesh.positions.buffer), Buffer.from(original.mesh.positions.buffer))).toBe(0);
    expect(again).toEqual(original);
  });

  test('written and read again, nothing changes', () => {
    const corners = [...original.mesh.indices].flatMap((v) => [...original.mesh.positions.subarray(3 * v, 3 * v + 3)]);
    const again = readSound(asciiStl(corners));
    expect(changesOf(again)).toEqual([]);
    expect(again.volume).toBe(original.volume);
    expect(again.read.openLoops).toEqual([]);
    expect(again.mesh.indices.length).toBe(original.mesh.indices.length);
  });
});

test('exact volumes survive any order where nothing is filled', () => {
  const solid = torus(10, 4, 40, 20);
  const original = readSound(textFile(solid));
  const scan = readSound(textFile({ points: solid.points, triangles: shuffled(solid.triangles, seeded(9)) }));
  close(scan.volume, original.volume, 1e-12);
  close(scan.area, original.area, 1e-12);
  expect(scan.bounds).toEqual(original.bounds);
});

test('a million millimetres away: the same volume and loops', () => {
  // Moves by powers of two keep every bit of coordinates that have few digits.
  const grid = (x: number): number => Math.round(x * 1024) / 1024;
  const near = moved(openPlug(40), (p) => p.map(grid));
  const far = moved(near, ([x, y, z]) => [(x as number) + 2 ** 20, (y as number) - 2 ** 21, (z as number) + 2 ** 19]);
  const a = readSound(textFile(near));
  const b = readSound(textFile(far));
  close(b.volume, a.volume, 1e-9);
  expect(b.read.openLoops.map((l) => [l.edges, l.role])).toEqual(a.read.openLoops.map((l) => [l.edges, l.role]));
  close(b.read.openLoops[0]?.length ?? 0, a.read.openLoops[0]?.length ?? 1, 1e-9);
});

test('corners keep their share: every scanned triangle of an open scan is in the result, unmoved', () => {
  const solid = without(openPlug(40), (t) => t === 77);
  const scan = readSound(textFile(solid));
  const read = cornersOf(solid).map((c) => c + 0);
  const got = [...scan.mesh.indices.subarray(0, 3 * solid.triangles.length)].flatMap((v) => [
    ...scan.mesh.positions.subarray(3 * v, 3 * v + 3),
  ]);
  expect(got).toEqual(read);
});
