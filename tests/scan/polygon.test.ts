/** Polygons cut into triangles: areas by Gauss's formula, borders by counting edges, cover by winding numbers at random points. */
import { describe, expect, test } from 'vitest';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { Fault } from '../../src/model/fault.ts';
import { PolygonCutter } from '../../src/scan/files/polygon.ts';

type Flat = (readonly [number, number])[];
const SEED = Number(process.env['SEED'] ?? 20260101);

interface Cut {
  readonly triangles: number[][];
  readonly crossed: number;
}

function cutPoints(points: number[][]): Cut {
  const triangles: number[][] = [];
  const cutter = new PolygonCutter(points.flat(), (a, b, c) => void triangles.push([a, b, c]));
  cutter.cut(
    points.map((_, i) => i),
    0,
    points.length,
    7,
    (place) => `face ${place}`,
  );
  if (cutter.crossed > 0) expect(cutter.firstCrossed).toBe(7);
  return { triangles, crossed: cutter.crossed };
}

const cut = (flat: Flat): Cut => cutPoints(flat.map(([x, y]) => [x, y, 0]));

const twice = (flat: Flat, t: readonly number[]): number => {
  const [a, b, c] = t.map((i) => flat[i]) as [Flat[0], Flat[0], Flat[0]];
  return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
};
const gauss = (flat: Flat): number =>
  flat.reduce((sum, [x, y], i) => {
    const [p, q] = flat[(i + 1) % flat.length] as Flat[0];
    return sum + x * q - p * y;
  }, 0);

/** n - 2 triangles whose border, edges run both ways cancelled, is the polygon's. */
function expectClosed({ triangles }: Cut, n: number): void {
  expect(triangles).toHaveLength(n - 2);
  const runs = new Map<string, number>();
  const run = (a: number, b: number, by: number): void => {
    const key = a < b ? `${a},${b}` : `${b},${a}`;
    runs.set(key, (runs.get(key) ?? 0) + (a < b ? by : -by));
  };
  for (const [a, b, c] of triangles as [number, number, number][]) {
    run(a, b, 1);
    run(b, c, 1);
    run(c, a, 1);
  }
  for (let i = 0; i < n; i++) run(i, (i + 1) % n, -1);
  expect([...runs].filter(([, by]) => by !== 0)).toEqual([]);
}

/** Covers the polygon once: every triangle turns its way (flat ones aside) and the areas add up. */
function expectTiled(flat: Flat, result = cut(flat)): void {
  expectClosed(result, flat.length);
  expect(result.crossed).toBe(0);
  const way = Math.sign(gauss(flat));
  const areas = result.triangles.map((t) => way * twice(flat, t));
  const whole = Math.abs(gauss(flat));
  expect(Math.min(...areas)).toBeGreaterThanOrEqual(-1e-12 * whole);
  expect(Math.abs(areas.reduce((a, b) => a + b, 0) / whole - 1)).toBeLessThan(1e-9);
}

const inTriangle = (flat: Flat, t: readonly number[], p: Flat[0]): boolean => {
  const all = [...flat, p];
  const n = flat.length;
  const [a, b, c] = t as [number, number, number];
  const signs = [twice(all, [a, b, n]), twice(all, [b, c, n]), twice(all, [c, a, n])];
  return signs.every((s) => s > 0) || signs.every((s) => s < 0);
};

/** Crossings of a ray to the right. */
const inPolygon = (flat: Flat, [x, y]: Flat[0]): boolean =>
  flat.filter(([ax, ay], i) => {
    const [bx, by] = flat[(i + 1) % flat.length] as Flat[0];
    return ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax);
  }).length %
    2 ===
  1;

const turned = (flat: Flat, by: number): Flat => [...flat.slice(by), ...flat.slice(0, by)];
const star = (r: Random, n: number, from = 1): Flat =>
  Array.from({ length: n }, (_, i) => {
    const a = (2 * Math.PI * i) / n;
    const d = from + r.next();
    return [d * Math.cos(a), d * Math.sin(a)] as const;
  });

const L: Flat = [
  [4, 10],
  [0, 10],
  [0, 0],
  [10, 0],
  [10, 4],
  [4, 4],
];

describe('simple polygons are tiled', () => {
  test('an L, from every corner, both ways round, in every plane', () => {
    for (const way of [L, [...L].reverse()]) {
      for (let by = 0; by < 6; by++) {
        const flat = turned(way, by);
        expectTiled(flat);
        const planes: ((x: number, y: number) => number[])[] = [
          (x, y) => [x, y, 3],
          (x, y) => [3, x, y],
          (x, y) => [y, 3, x],
          (x, y) => [y, x, 3],
          (x, y) => [x, y, 0.5 * x - 2 * y],
          (x, y) => [1e6 + x, 1e6 - 0.7 * x + y, 0.1 * y],
        ];
        for (const plane of planes) expectTiled(flat, cutPoints(flat.map(([x, y]) => plane(x, y))));
      }
    }
  });

  test('convex ones by a fan from the first corner', () => {
    const flat = star(seeded(SEED), 9, 1e9);
    expect(cut(flat).triangles).toEqual([1, 2, 3, 4, 5, 6, 7].map((i) => [0, i, i + 1]));
  });

  test('corners on straight edges, all along', () => {
    for (const k of [2, 3, 7]) {
      const flat: Flat = L.flatMap((p, i) => {
        const q = L[(i + 1) % 6] as Flat[0];
        return Array.from({ length: k }, (_, j) => [p[0] + ((q[0] - p[0]) * j) / k, p[1] + ((q[1] - p[1]) * j) / k] as const);
      });
      for (let by = 0; by < flat.length; by++) expectTiled(turned(flat, by));
    }
  });

  test('a slit to an inner loop leaves the hole open', () => {
    const outer: Flat = [
      [0, 0],
      [10, 0],
      [10, 10],
      [0, 10],
      [0, 0],
    ];
    const inner: Flat = [
      [4, 4],
      [4, 6],
      [6, 6],
      [6, 4],
      [4, 4],
    ];
    const flat = [...outer, ...inner];
    for (let by = 0; by < flat.length; by++) {
      const round = turned(flat, by);
      const result = cut(round);
      expectTiled(round, result);
      expect(result.triangles.some((t) => inTriangle(round, t, [5.1, 5.2]))).toBe(false);
    }
  });

  test('repeated corners and spikes become triangles without area', () => {
    const [a, b, c, d, e, f] = L as [Flat[0], Flat[0], Flat[0], Flat[0], Flat[0], Flat[0]];
    for (const flat of [
      [a, a, b, c, d, e, f],
      [a, b, c, d, e, f, f, f],
      [a, b, c, d, e, f, a],
      [a, b, c, [-5, -5], c, d, e, f] as Flat,
      [a, b, c, [-5, -5], [-7, -5], [-5, -5], c, d, e, f] as Flat,
    ])
      for (let by = 0; by < flat.length; by++) expectTiled(turned(flat, by));
  });

  test(`random ones against winding at random points, SEED=${SEED}`, () => {
    const r = seeded(SEED);
    for (let round = 0; round < 200; round++) {
      const flat = star(r, 5 + r.below(60), 0.05 + r.next());
      const result = cut(r.next() < 0.5 ? flat : flat.reverse());
      expectTiled(flat, result);
      for (let k = 0; k < 20; k++) {
        const p = [r.between(-2, 2), r.between(-2, 2)] as const;
        expect(result.triangles.filter((t) => inTriangle(flat, t, p)).length).toBe(inPolygon(flat, p) ? 1 : 0);
      }
    }
  });
});

describe('four corners', () => {
  test('along the diagonal that does not fold, whichever corner is the notch', () => {
    const dart: Flat = [
      [0, 0],
      [4, 0],
      [1, 1],
      [0, 4],
    ];
    for (let by = 0; by < 4; by++) {
      expectTiled(turned(dart, by));
      expectTiled(turned([...dart].reverse(), by));
    }
  });

  test('convex: from the first corner; a corner on an edge makes no flat triangle', () => {
    expect(
      cut([
        [0, 0],
        [4, 0],
        [5, 4],
        [0, 4],
      ]).triangles,
    ).toEqual([
      [0, 1, 2],
      [0, 2, 3],
    ]); // prettier-ignore
    const onEdge: Flat = [
      [0, 0],
      [2, 0],
      [4, 0],
      [0, 4],
    ];
    for (let by = 0; by < 4; by++) for (const t of cut(turned(onEdge, by)).triangles) expect(twice(turned(onEdge, by), t)).toBe(8);
  });

  test('not plane: from the first corner, closed', () => {
    const result = cutPoints([
      [0, 0, 0],
      [4, 0, 1],
      [4, 4, 0],
      [0, 4, 1],
    ]);
    expect(result).toEqual({
      triangles: [
        [0, 1, 2],
        [0, 2, 3],
      ],
      crossed: 0,
    }); // prettier-ignore
  });

  test('a bow tie is told', () => {
    const result = cut([
      [0, 0],
      [4, 0],
      [0, 3],
      [4, 4],
    ]);
    expectClosed(result, 4);
    expect(result.crossed).toBe(1);
  });
});

describe('polygons that cannot be tiled', () => {
  test('crossing by a hair: only a hair of area is folded', () => {
    // The notch's lips pass each other by 0.0001; a fan from any corner would be off by whole units.
    const flat: Flat = [
      [0, 0],
      [10, 0],
      [10, 10],
      [5.0001, 10],
      [6, 2],
      [4.9999, 10],
      [4.99995, 10],
      [4, 2],
      [5, 10.0001],
      [0, 10],
    ];
    for (let by = 0; by < flat.length; by++) {
      const round = turned(flat, by);
      const result = cut(round);
      expectClosed(result, flat.length);
      const sum = result.triangles.reduce((s, t) => s + Math.abs(twice(round, t)), 0);
      expect(sum - gauss(round)).toBeLessThan(0.01);
    }
  });

  test(`random points in any order: closed, told, SEED=${SEED}`, () => {
    const r = seeded(SEED);
    for (let round = 0; round < 200; round++) {
      const flat: Flat = Array.from({ length: 5 + r.below(30) }, () => [r.below(8), r.below(8)] as const);
      expectClosed(cut(flat), flat.length);
    }
  });

  test('no area: all corners in a line, or in one spot', () => {
    for (const n of [4, 5, 50]) {
      for (const flat of [Array.from({ length: n }, (_, i) => [i, 2 * i] as const), Array.from({ length: n }, () => [3, 3] as const)]) {
        const result = cut(flat);
        expectClosed(result, n);
        expect(result.crossed).toBe(1);
      }
    }
  });
});

describe('10 000 corners end', () => {
  const n = 10_000;
  const r = seeded(SEED);
  const half = n / 2;
  const spiral = (i: number, d: number): Flat[0] => {
    const a = (40 * Math.PI * i) / half;
    return [(4 + a + d) * Math.cos(a), (4 + a + d) * Math.sin(a)];
  };
  let at: Flat[0] = [0, 0];
  const families: [string, Flat, boolean][] = [
    ['star', star(r, n), true],
    [
      'spiral',
      [...Array.from({ length: half }, (_, i) => spiral(i, 2)), ...Array.from({ length: half }, (_, i) => spiral(half - 1 - i, 0))],
      true,
    ],
    ['random points', Array.from({ length: n }, () => [r.next(), r.next()] as const), false],
    [
      'random walk',
      Array.from({ length: n }, () => {
        at = [at[0] + r.next() - 0.5, at[1] + r.next() - 0.5];
        return at;
      }),
      false,
    ],
  ];
  test.each(families)('%s', (_name, flat, simple) => {
    const result = cut(flat);
    if (simple) expectTiled(flat, result);
    else expectClosed(result, n);
  });

  test('more are refused by name, but a convex polygon may have any number', () => {
    expect(() => cut(star(r, n + 1))).toThrow(Fault);
    expect(() => cut(star(r, n + 1))).toThrow(/polygon of 10 001 corners that is not convex; the limit is 10 000 \(face 7\)/);
    const round = Array.from(
      { length: 50_000 },
      (_, i) => [Math.cos((2 * Math.PI * i) / 50_000), Math.sin((2 * Math.PI * i) / 50_000)] as const,
    );
    expect(cut(round).triangles).toHaveLength(49_998);
  });
});
