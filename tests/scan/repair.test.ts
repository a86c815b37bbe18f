/** Every kind of damage on solids of known volume: what is repaired, what is told, what stays as it was. */
import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { WELD_TOLERANCE } from '../../src/scan/mend/cracks.ts';
import {
  asciiStl,
  ball,
  binaryFile,
  both,
  box,
  cornersOf,
  cubes,
  moved,
  octahedron,
  plug,
  plugVolume,
  type Solid,
  textFile,
  torus,
  turnedOver,
  without,
} from '../support/solids.ts';
import { faultsOf } from '../support/validate.ts';
import { changesOf, codesOf, faultOf, readSound, textsOf, warningsOf } from './helpers.ts';

const PLUG = plug();
const VOLUME = plugVolume();
const by = (x: number, y: number, z: number) => (p: readonly number[]) => [
  (p[0] as number) + x,
  (p[1] as number) + y,
  (p[2] as number) + z,
];
const close = (a: number, b: number, relative = 1e-9): void => expect(Math.abs(a / b - 1)).toBeLessThan(relative);

test('the validator itself sees open, doubled, turned and degenerate triangles', () => {
  const flat = (s: Solid) => ({ positions: s.points.flat(), indices: s.triangles.flat() });
  expect(faultsOf(flat(PLUG))).toEqual([]);
  expect(faultsOf(flat(without(PLUG, (t) => t === 3)))).not.toEqual([]);
  expect(faultsOf(flat(turnedOver(PLUG, (t) => t === 3)))).not.toEqual([]);
  expect(faultsOf(flat(turnedOver(PLUG)))).not.toEqual([]);
  expect(faultsOf(flat({ points: PLUG.points, triangles: [...PLUG.triangles, [0, 1, 2]] }))).not.toEqual([]);
  expect(faultsOf(flat({ points: PLUG.points, triangles: [...PLUG.triangles, [0, 0, 2]] }))).not.toEqual([]);
  expect(faultsOf({ positions: [...PLUG.points.flat(), 1, 2, Number.NaN], indices: PLUG.triangles.flat() })).not.toEqual([]);
});

describe('sound files are left alone', () => {
  test.each<[string, Solid]>([
    ['plug', PLUG],
    ['ball', ball(12, 4)],
    ['torus', torus(10, 4, 60, 30)],
    ['block', box([0, 0, 0], [20, 10, 12])],
  ])('%s', (_name, solid) => {
    const scan = readSound(textFile(solid));
    expect(changesOf(scan)).toEqual([]);
    expect(warningsOf(scan)).toEqual([]);
    expect([...scan.mesh.indices].flatMap((v) => [...scan.mesh.positions.subarray(3 * v, 3 * v + 3)])).toEqual(
      cornersOf(solid).map((c) => c + 0),
    );
    expect(scan.base).toBeUndefined();
  });
});

describe('winding', () => {
  test('one, some, most and all triangles turned', () => {
    for (const share of [1 / PLUG.triangles.length, 0.1, 0.45]) {
      const rng = seeded(5);
      const turn = PLUG.triangles.map((_, t) => (share < 0.01 ? t === 17 : rng.next() < share));
      const scan = readSound(textFile(turnedOver(PLUG, (t) => turn[t] as boolean)));
      close(scan.volume, VOLUME);
      expect(changesOf(scan)).toEqual(['scan/turned']);
      expect(scan.findings[0]?.count).toBe(turn.filter((x) => x).length);
    }
    const all = readSound(textFile(turnedOver(PLUG)));
    close(all.volume, VOLUME);
    expect(textsOf(all)).toMatch(/All 284 triangles turned over/);
  });
});

describe('copies', () => {
  test('repeated, back to front, and both: the first of each stays', () => {
    const n = PLUG.triangles.length;
    const again = (which: number[][]): Solid => ({ points: PLUG.points, triangles: [...PLUG.triangles, ...which] });
    const three = readSound(textFile(again([PLUG.triangles[4], PLUG.triangles[4], PLUG.triangles[90]] as number[][])));
    expect(three.findings.map((f) => [f.code, f.count])).toEqual([['scan/duplicates', 3]]);
    close(three.volume, VOLUME);
    const sided = readSound(textFile(again(turnedOver(PLUG).triangles)));
    expect(sided.findings.map((f) => [f.code, f.count])).toEqual([['scan/duplicates', n]]);
    close(sided.volume, VOLUME);
    // Copies first, the other way round: the body comes out outward all the same.
    const first = readSound(textFile({ points: PLUG.points, triangles: [...turnedOver(PLUG).triangles, ...PLUG.triangles] }));
    close(first.volume, VOLUME);
  });

  test('triangles collapsed to a line or a point', () => {
    const s = { points: PLUG.points, triangles: [[0, 0, 1] as number[], ...PLUG.triangles, [5, 5, 5]] };
    const scan = readSound(textFile(s));
    expect(scan.findings.map((f) => [f.code, f.count])).toEqual([['scan/collapsed', 2]]);
    close(scan.volume, VOLUME);
  });
});

describe('cracks', () => {
  /** Each triangle's corners jittered on their own. */
  const jittered = (s: Solid, by: number, which: (t: number) => boolean = () => true): number[] => {
    const rng = seeded(11);
    return cornersOf(s).map((c, i) => (which(Math.floor(i / 9)) ? c + rng.between(-by, by) : c));
  };

  test('one triangle off, up to the tolerance: welded and told', () => {
    for (const off of [1e-9, 1e-7, 1e-5, 0.5 * WELD_TOLERANCE]) {
      const scan = readSound(asciiStl(jittered(PLUG, off, (t) => t === 40)));
      expect(changesOf(scan)).toEqual(['scan/welded']);
      expect(scan.read.vertices).toBe(PLUG.points.length);
      close(scan.volume, VOLUME, 1e-4);
    }
  });

  test('every corner off a little: one closed body of the same counts', () => {
    const scan = readSound(asciiStl(jittered(PLUG, 1e-6)));
    expect(scan.read.vertices).toBe(PLUG.points.length);
    expect(scan.mesh.indices.length / 3).toBe(PLUG.triangles.length);
    close(scan.volume, VOLUME, 1e-5);
  });

  test('wider than the tolerance: never closed in silence', () => {
    const scan = readSound(asciiStl(jittered(PLUG, 20 * WELD_TOLERANCE, (t) => t === 40)));
    expect(codesOf(scan).some((c) => c === 'scan/hole' || c === 'scan/pieces')).toBe(true);
  });

  test('fine detail below the tolerance is not merged where nothing is open', () => {
    const tiny = moved(ball(1, 3), (p) => p.map((c) => c * 0.004));
    // A needle pit: the plug's own vertices come within 0.0001 mm of each other, all edges closed.
    const dented = halfPushed(PLUG);
    const scan = readSound(textFile(dented));
    expect(changesOf(scan)).toEqual([]);
    expect(scan.read.vertices).toBe(dented.points.length);
    const pair = readSound(textFile(both(PLUG, moved(tiny, by(30, 0, 0)))));
    expect(pair.read.pieces).toBe(2);
    expect(changesOf(pair)).toEqual(['scan/pieces', 'scan/piece']);
    expect(textsOf(pair)).toMatch(/512 triangles, 0\.000 mm³/);
  });

  test('far from the origin the same tolerance holds', () => {
    const far = moved(PLUG, by(1e6, -2e6, 5e5));
    const scan = readSound(asciiStl(jittered(far, 1e-5, (t) => t === 40)));
    expect(scan.read.vertices).toBe(PLUG.points.length);
    close(scan.volume, VOLUME, 1e-4);
    expect(changesOf(scan)).toEqual(['scan/welded']);
  });

  test('T-junctions, also several on one side and on all three sides', () => {
    const cut = (parts: number): Solid => {
      // A block whose top is cut into parts along one side; the neighbouring side face keeps its long edge.
      const b = box([0, 0, 0], [20, 16, 12]);
      const top = b.triangles.findIndex(
        (t) => t.every((v) => (b.points[v] as number[])[2] === 12) && t.filter((v) => (b.points[v] as number[])[1] === 0).length === 2,
      );
      const [p, q, r] = rotatedTo(b, b.triangles[top] as number[]);
      const chain = [p, ...Array.from({ length: parts - 1 }, (_, k) => b.points.length + k), q];
      const points = [
        ...b.points,
        ...Array.from({ length: parts - 1 }, (_, k) => lerp(b.points[p] as number[], b.points[q] as number[], (k + 1) / parts)),
      ];
      const fans = chain.slice(1).map((v, k) => [chain[k] as number, v, r]);
      return { points, triangles: [...b.triangles.filter((_, t) => t !== top), ...fans] };
    };
    for (const parts of [2, 3, 7]) {
      const scan = readSound(textFile(cut(parts)));
      expect(changesOf(scan)).toEqual(['scan/junctions']);
      expect(scan.findings.find((f) => f.code === 'scan/junctions')?.count).toBe(parts - 1);
      close(scan.volume, 20 * 16 * 12);
      expect(scan.read.openLoops).toEqual([]);
    }
  });
});

/** The triangle's corners with its side in y = 0 first. */
function rotatedTo(s: Solid, t: number[]): [number, number, number] {
  for (let k = 0; k < 3; k++) {
    const [p, q, r] = [t[k], t[(k + 1) % 3], t[(k + 2) % 3]] as [number, number, number];
    if ((s.points[p] as number[])[1] === 0 && (s.points[q] as number[])[1] === 0) return [p, q, r];
  }
  throw new Error('no side in y = 0');
}

const lerp = (a: number[], b: number[], s: number): number[] => a.map((c, k) => c + s * ((b[k] as number) - c));

/** Puts a point into the middle of triangle 10 and draws it to within 0.0001 mm of a corner. */
function halfPushed(s: Solid): Solid {
  const [a, b, c] = s.triangles[10] as [number, number, number];
  const middle = [0, 1, 2]
    .map(
      (k) => ((s.points[a] as number[])[k] as number) + ((s.points[b] as number[])[k] as number) + ((s.points[c] as number[])[k] as number),
    )
    .map((x) => x / 3);
  const points = [...s.points, lerp(s.points[a] as number[], middle, 3e-5)];
  const m = points.length - 1;
  return { points, triangles: [...s.triangles.filter((_, t) => t !== 10), [a, b, m], [b, c, m], [c, a, m]] };
}

describe('edges with too many triangles', () => {
  test('fins of one and of several triangles are left out, the body stays', () => {
    const b = box([0, 0, 0], [20, 16, 12]);
    const n = b.points.length;
    const edge = [0, 1]; // along x at y = z = 0
    const fin = {
      points: [...b.points, [5, -4, -4], [15, -4, -4]],
      triangles: [...b.triangles, [edge[0] as number, edge[1] as number, n], [edge[1] as number, n + 1, n]],
    };
    const scan = readSound(textFile(fin));
    expect(scan.findings.map((f) => f.code)).toEqual(['scan/shared-edges', 'scan/fin', 'scan/built']);
    expect(textsOf(scan)).toMatch(/1 fin .* left out: 2 triangles/);
    close(scan.volume, 20 * 16 * 12);
    expect(scan.bounds.min).toEqual([0, 0, 0]);
  });

  test('a wall inside is left out', () => {
    // Two blocks side by side, the face between them kept once: its edges have three triangles.
    const a = box([0, 0, 0], [10, 16, 12]);
    const b = box([10, 0, 0], [20, 16, 12]);
    const inner = (_t: number, m: number[]): boolean => Math.abs((m[0] as number) - 10) < 1e-9;
    const scan = readSound(textFile(both(a, without(b, inner))));
    expect(codesOf(scan)).toContain('scan/inner-wall');
    close(scan.volume, 20 * 16 * 12);
  });

  test('bodies that touch along an edge come apart, whichever way round they are wound', () => {
    const pair = both(box([0, 0, 0], [10, 10, 12]), box([10, 10, 0], [18, 18, 12]));
    const scan = readSound(textFile(pair));
    expect(scan.read.pieces).toBe(2);
    close(scan.volume, 1200);
    expect(warningsOf(scan)).toEqual(['scan/shared-edges', 'scan/pieces']);
    const inverted = readSound(textFile(turnedOver(pair)));
    expect(inverted.read.pieces).toBe(2);
    close(inverted.volume, 1200);
  });

  test('one body that touches itself along an edge stays whole', () => {
    const arch = [
      [0, 0, 0],
      [0, 0, 1],
      [0, 1, 1],
      [1, 1, 1],
      [1, 1, 0],
    ];
    const scan = readSound(textFile(cubes(arch, 6)));
    expect(scan.read.pieces).toBe(1);
    expect(textsOf(scan)).toMatch(/1 edge is shared by 4 triangles, from \(6, 6, 0\) to \(6, 6, 6\)/);
    expect(changesOf(scan)).toEqual([]);
    close(scan.volume, 5 * 216);
  });

  test('heaps of cubes: the body of the largest heap, against a flood fill of the cells', () => {
    const rng = seeded(42);
    for (let n = 0; n < 120; n++) {
      const density = rng.between(0.2, 0.8);
      const cells = grid(4).filter(() => rng.next() < density);
      if (cells.length === 0) continue;
      const scan = readSound(textFile(cubes(cells, 5)));
      close(scan.volume / 125, largestHeap(cells, 4));
    }
  });
});

const grid = (n: number): number[][] => Array.from({ length: n * n * n }, (_, i) => [i % n, Math.floor(i / n) % n, Math.floor(i / n / n)]);

/**
 * Cells of the heap (joined by faces) that takes most room, voids within it included. Air passes along edges, where
 * cubes merely touch, but not through corners: the reading that the edges are taken apart by.
 */
function largestHeap(cells: number[][], n: number): number {
  const near = (most: number): number[][] =>
    grid(3)
      .map((c) => c.map((x) => x - 1))
      .filter((c) => [1, most].includes(c.filter((x) => x !== 0).length));
  const flood = (from: number[], passable: (c: number[]) => boolean, steps: number[][]): Set<string> => {
    const seen = new Set([from.join()]);
    const stack = [from];
    for (let c = stack.pop(); c; c = stack.pop()) {
      for (const s of steps) {
        const d = c.map((x, k) => x + (s[k] as number));
        if (seen.has(d.join()) || !passable(d)) continue;
        seen.add(d.join());
        stack.push(d);
      }
    }
    return seen;
  };
  const has = new Set(cells.map((c) => c.join()));
  let best = 0;
  for (const c of cells) {
    const heap = flood(c, (d) => has.has(d.join()), near(1));
    const air = flood([-1, -1, -1], (d) => !heap.has(d.join()) && d.every((x) => x >= -1 && x <= n), near(2));
    best = Math.max(best, (n + 2) ** 3 - air.size);
  }
  return best;
}

describe('pieces', () => {
  test('the larger body by volume is used, wherever it stands in the file and whatever its triangle count', () => {
    const sheet: Solid = {
      points: [
        [-50, -30, -3],
        [60, -30, -3],
        [60, 40, -3],
        [-50, 40, -3],
      ],
      triangles: [
        [0, 1, 2],
        [0, 2, 3],
      ],
    };
    const small = moved(ball(3, 5), by(30, 0, 0));
    for (const s of [both(small, both(PLUG, sheet)), both(sheet, both(small, PLUG))]) {
      const scan = readSound(textFile(s), 'mm');
      close(scan.volume, VOLUME);
      expect(scan.read.pieces).toBe(3);
      expect(warningsOf(scan)).toContain('scan/pieces');
      expect(textsOf(scan)).toMatch(/8 192 triangles/);
      expect(textsOf(scan)).toMatch(/open, 7700\.00 mm²/);
    }
  });

  test('inner pieces, cavities and outer pieces are told apart', () => {
    const block = box([0, 0, 0], [20, 16, 24]);
    const s = both(
      both(block, moved(octahedron(1), by(10, 8, 6))),
      both(moved(turnedOver(octahedron(2)), by(10, 8, 15)), moved(octahedron(1.5), by(30, 0, 0))),
    );
    const scan = readSound(textFile(s));
    close(scan.volume, 7680);
    expect(textsOf(scan)).toMatch(/2 inner pieces found/);
    expect(textsOf(scan)).toMatch(/Cavity left out: 8 triangles, 10\.667 mm³, at \(10, 8, 15\)/);
    expect(textsOf(scan)).toMatch(/Inner piece left out: 8 triangles, 1\.333 mm³, at \(10, 8, 6\)/);
    expect(textsOf(scan)).toMatch(/Piece left out: 8 triangles, 4\.500 mm³, at \(30, 0, 0\)/);
  });

  test('an overlap is measured', () => {
    const s = both(PLUG, moved(box([0, 0, 0], [4, 4, 4]), by(-2, -2, -2)));
    const scan = readSound(textFile(s));
    // Half of the small block, 4 x 4 x 2 mm, lies within the plug's base.
    const told = /overlaps the piece in use by about ([\d.]+) mm³/.exec(textsOf(scan));
    expect(Math.abs(Number(told?.[1]) - 32)).toBeLessThan(1);
  });

  test('hundreds of specks are counted, not listed', () => {
    let s: Solid = PLUG;
    for (let k = 0; k < 200; k++) s = both(s, moved(octahedron(0.05), by(20 + 0.2 * (k % 20), 0.2 * Math.floor(k / 20), 0)));
    const scan = readSound(textFile(s));
    expect(scan.read.pieces).toBe(201);
    expect(scan.findings.length).toBeLessThan(15);
    expect(textsOf(scan)).toMatch(/192 smaller pieces left out: 1 536 triangles/);
  });
});

describe('units', () => {
  const scaled = (f: number): Solid => moved(PLUG, (p) => p.map((c) => c * f));
  test.each([
    ['inch', 1 / 25.4, 1e-9],
    ['m', 1e-3, 1e-9],
    ['um', 1000, 1e-9],
  ] as const)('%s: asked for, then right', (unit, f, relative) => {
    const fault = faultOf(textFile(scaled(f)));
    expect(fault.code).toBe('scan/unit');
    expect(fault.next).toContain(unit);
    const scan = readSound(textFile(scaled(f)), unit);
    expect(scan.unit).toBe(unit);
    close(scan.volume, VOLUME, relative);
    expect(scan.read.vertices).toBe(PLUG.points.length);
  });

  test('2 units long may be centimetres or inches: both are named', () => {
    expect(faultOf(textFile(scaled(0.1))).next).toBe('Say which unit the file is in: cm or inch.');
  });

  test('10 to 60 mm raise no question, a little beyond warns, far beyond is refused', () => {
    for (const f of [0.5, 1, 2, 2.99]) expect(codesOf(readSound(textFile(scaled(f))))).not.toContain('scan/size');
    for (const f of [0.45, 4]) expect(codesOf(readSound(textFile(scaled(f))))).toContain('scan/size');
    for (const f of [0.3, 6, 50, 1e5, 1e-5, 1e30, 1e-30]) expect(faultOf(textFile(scaled(f))).code).toBe('scan/unit');
  });

  test('two ears far apart are judged one by one', () => {
    const scan = readSound(textFile(both(PLUG, moved(scaled(0.9), by(160, 0, 0)))));
    close(scan.volume, VOLUME);
    expect(scan.read.pieces).toBe(2);
  });

  test('a unit that makes nonsense is refused even when asked for', () => {
    expect(faultOf(textFile(PLUG), 'm').message).toMatch(/20 000 mm as metres/);
    expect(faultOf(textFile(scaled(1e-6)), 'mm').code).toBe('scan/size');
  });

  test('tolerance is in millimetres: metres do not weld to nothing', () => {
    const scan = readSound(binaryFile(scaled(1e-3)), 'm');
    expect(scan.read.vertices).toBe(PLUG.points.length);
    close(scan.volume, VOLUME, 1e-5);
  });
});

describe('what is no scan', () => {
  test('loose triangles, sheets, too few triangles', () => {
    const rng = seeded(3);
    const soup = Array.from({ length: 900 }, () => rng.between(0, 20));
    expect(faultOf(asciiStl(soup)).code).toBe('scan/loose');
    const sheet: Solid = {
      points: [
        [0, 0, 0],
        [20, 0, 0],
        [20, 20, 0],
        [0, 20, 0],
        [10, 10, 0],
      ],
      triangles: [
        [0, 1, 4],
        [1, 2, 4],
        [2, 3, 4],
        [3, 0, 4],
      ],
    };
    expect(faultOf(textFile(sheet)).code).toBe('scan/flat');
    expect(faultOf(asciiStl(soup.slice(0, 27))).code).toBe('scan/too-few');
    const point = Array.from({ length: 90 }, (_, k) => (k === 0 ? 20 : 1));
    expect(['scan/too-few', 'scan/flat']).toContain(faultOf(asciiStl(point)).code);
  });

  test('coordinates beyond use are refused', () => {
    expect(faultOf(textFile(moved(PLUG, by(1e11, 0, 0)))).code).toBe('scan/far');
    const scan = readSound(binaryFile(moved(PLUG, by(4e5, 0, 0))));
    expect(warningsOf(scan)).toContain('scan/coarse');
    expect(textsOf(scan)).toMatch(/step by 0\.0313 mm/);
  });
});
