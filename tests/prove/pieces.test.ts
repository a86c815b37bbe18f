/** The pieces of a proof, each against brute force over what it claims to bound. */
import { describe, expect, it } from 'vitest';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { quatFromAxes, rotate, unitQuat } from '../../src/geometry/rotation.ts';
import { add, cross, dot, normalize, type Plane, type Pose, pt, scale, type Vec3 } from '../../src/geometry/vec.ts';
import type { Part, Primitive } from '../../src/model/parts.ts';
import { CellBounder } from '../../src/prove/bound.ts';
import { Contact, type InCell, meetsOf } from '../../src/prove/contact.ts';
import { coresOf, nearestOfCore } from '../../src/prove/cores.ts';
import { RowSet } from '../../src/prove/linear.ts';
import { halfTurns, isRound, pointsOf } from '../../src/prove/points.ts';
import { Ports } from '../../src/prove/ports.ts';
import { type Cell, FreeSpace, Moved, type PoseSpace, SeatedSpace, seatplane, WHOLE_TURN } from '../../src/prove/space.ts';
import { PoseTree } from '../../src/prove/tree.ts';
import { WallOracle } from '../../src/prove/wall.ts';
import { seatFaults } from '../../src/verify/seats.ts';
import { separation } from '../../src/verify/separation.ts';
import { Solid } from '../../src/verify/solid.ts';
import { ellipticTube, kitOf, part, plane, primitive, RULES } from '../support/bodies.ts';

const BOX = part('box', [primitive('box', [4, 3, 2], { position: [0.4, 0, -1] })]);
const within = (random: Random, c: Float64Array, h: Float64Array): { z: number[]; at: number[] } => {
  // Corners of the cell as often as its inside: that is where first and second order are worst.
  const z = Array.from(c, () => (random.below(2) === 0 ? (random.below(2) === 0 ? -1 : 1) : random.between(-1, 1)));
  return { z, at: z.map((s, i) => (c[i] as number) + s * (h[i] as number)) };
};

describe('where a cell takes a point', () => {
  it.each(['seated', 'free'] as const)('%s: no farther than reach, nor than rest from the first order, SEED=7', (kind) => {
    const random = seeded(7);
    const points = pointsOf(BOX);
    const seat = seatplane(plane([1, 2, 3], [0.6, 0, 0.8]), 0.8);
    for (let k = 0; k < 400; k++) {
      const start = unitQuat([random.normal(), random.normal(), random.normal(), random.normal()]);
      const seated = new SeatedSpace(
        seat,
        [
          [-5, 5],
          [-5, 5],
        ],
        6.3,
        points,
      );
      const free = new FreeSpace(
        [
          [-5, 5],
          [-5, 5],
          [-5, 5],
        ],
        start,
        [false, false, false],
        points,
      );
      const space = kind === 'seated' ? seated : free;
      const size = 10 ** random.between(-2, 0);
      const c = Float64Array.from({ length: space.size }, () => random.between(-0.8, 0.8));
      const h = Float64Array.from({ length: space.size }, () => size * random.between(0.1, 1) * 0.8);
      const cell: Cell = { c, h, base: 0 };
      const m = new Moved(points.length / 3, space.size);
      space.place(cell, points, m);
      for (let i = 0; i < points.length / 3; i++) space.slopes(i, points, m);
      for (let j = 0; j < 12; j++) {
        const { z, at } = within(random, c, h);
        for (let i = 0; i < points.length / 3; i++) {
          const local: Vec3 = [points[3 * i] as number, points[3 * i + 1] as number, points[3 * i + 2] as number];
          const q = kind === 'seated' ? seatedPoint(seat, at, local) : freePoint(free, at, local);
          const q0 = [0, 1, 2].map((d) => m.q[3 * i + d] as number);
          const first = q0.map((x, d) => z.reduce((s, zk, v) => s + zk * (m.j[3 * space.size * i + 3 * v + d] as number), x));
          const away = Math.hypot(...q.map((x, d) => x - (q0[d] as number)));
          const rest = Math.hypot(...q.map((x, d) => x - (first[d] as number)));
          expect(away).toBeLessThanOrEqual((m.reach[i] as number) + 1e-12);
          expect(rest).toBeLessThanOrEqual((m.rest[i] as number) + 1e-12);
        }
      }
    }
  });

  function seatedPoint(seat: ReturnType<typeof seatplane>, [a = 0, b = 0, spin = 0]: number[], p: Vec3): number[] {
    const x = Math.cos(spin) * p[0] - Math.sin(spin) * p[1] + a;
    const y = Math.sin(spin) * p[0] + Math.cos(spin) * p[1] + b;
    return [0, 1, 2].map(
      (d) => (seat.origin[d] as number) + x * (seat.u[d] as number) + y * (seat.v[d] as number) + p[2] * (seat.n[d] as number),
    );
  }
  function freePoint(space: FreeSpace, at: number[], p: Vec3): number[] {
    const q = space.quaternion({ c: Float64Array.from(at), h: new Float64Array(6), base: 0 });
    return rotate(q, p).map((x, d) => x + (at[d] as number));
  }
});

describe('the least bound of rows', () => {
  it.each([2, 3, 6])(
    'is never below the best of many places of the cell, and equals it at a corner of the rows, %i variables, SEED=3',
    (size) => {
      const random = seeded(3);
      for (let k = 0; k < 200; k++) {
        const rows = new RowSet(size);
        const a: number[] = [];
        const g: number[][] = [];
        for (let i = 0; i < 3 + random.below(30); i++) {
          a.push(random.between(-1, 2));
          g.push(Array.from({ length: size }, () => random.normal()));
          const row = rows.add(a[i] as number);
          for (let v = 0; v < size; v++) rows.slope(row, v, g[i]?.[v] as number);
        }
        const bound = rows.bound(-Infinity);
        const value = (z: readonly number[]): number =>
          Math.min(...a.map((x, i) => z.reduce((s, zv, v) => s + zv * (g[i]?.[v] as number), x)));
        let z = new Array<number>(size).fill(0);
        let best = value(z);
        for (let step = 1; step > 1e-4; step *= 0.93) {
          for (let j = 0; j < 12; j++) {
            const next = z.map((x) => Math.max(-1, Math.min(1, x + step * random.normal())));
            const v = value(next);
            if (v > best) [best, z] = [v, next];
          }
        }
        expect(best).toBeLessThanOrEqual(bound + 1e-9);
        if (size === 2) expect(bound - best).toBeLessThan(0.02);
        for (let i = 0; i < a.length; i++) expect(bound).toBeLessThanOrEqual(rows.alone(i) + 1e-9);
      }
    },
  );

  it('opposite walls cancel: two rows that meet in the middle', () => {
    const rows = new RowSet(1);
    rows.slope(rows.add(0.5), 0, 3);
    rows.slope(rows.add(0.7), 0, -3);
    expect(rows.bound(-Infinity)).toBeCloseTo(0.6, 6);
  });
});

describe('rows that are kept, and what rows leave of a cell', () => {
  it('kept rows are the lowest in the middle and never below their own, SEED=4', () => {
    const random = seeded(4);
    for (let k = 0; k < 200; k++) {
      const rows = new RowSet(3);
      const all: { a: number; g: number[] }[] = [];
      for (let i = 0; i < 30; i++) {
        const row = { a: random.between(-3, 9), g: [0, 1, 2].map(() => random.normal()) };
        all.push(row);
        const r = rows.add(row.a);
        for (const [v, g] of row.g.entries()) rows.slope(r, v, g);
      }
      all.sort((p, q) => p.a - q.a);
      const kept = rows.kept(12);
      expect(kept.length).toBe(4 * 12);
      for (let r = 0; r < 12; r++) {
        for (let j = 0; j < 8; j++) {
          const z = [0, 1, 2].map(() => (random.below(2) === 0 ? -1 : 1));
          const own = (all[r]?.a as number) + z.reduce((s, x, v) => s + x * (all[r]?.g[v] as number), 0);
          const now = (kept[4 * r] as number) + z.reduce((s, x, v) => s + x * (kept[4 * r + v + 1] as number), 0);
          expect(now).toBeGreaterThanOrEqual(own);
          expect(now - own).toBeLessThan(1e-4);
        }
      }
    }
  });

  it.each([3, 6])('nothing is cut off where all rows allow more, and something is cut off, %i variables, SEED=5', (size) => {
    const random = seeded(5);
    let cut = 0;
    let inside = 0;
    let wrong = 0;
    for (let k = 0; k < 300; k++) {
      const rows = new RowSet(size);
      const all = Array.from({ length: 4 + random.below(20) }, () => ({
        a: random.between(0, 1),
        g: Array.from({ length: size }, () => random.normal()),
      }));
      for (const { a, g } of all) {
        const r = rows.add(a);
        for (const [v, x] of g.entries()) rows.slope(r, v, x);
      }
      // Little below the best, where most of the cell is cut off; what is left is found by climbing into it.
      const least = rows.bound(-Infinity) - random.between(0.02, 0.8);
      rows.bound(least);
      const lo = new Float64Array(size).fill(-1);
      const hi = new Float64Array(size).fill(1);
      rows.narrow(least, lo, hi);
      cut += lo.filter((x) => x > -1).length + hi.filter((x) => x < 1).length;
      const value = (z: readonly number[]): number =>
        Math.min(...all.map(({ a, g }) => g.reduce((s, x, v) => s + x * (z[v] as number), a)));
      let best = Array.from({ length: size }, () => random.between(-1, 1));
      for (let j = 0; j < 400; j++) {
        const near = best.map((x) => Math.max(-1, Math.min(1, x + (random.below(2) === 0 ? 1 : 0.1) * random.normal())));
        const z = value(near) > value(best) || value(near) > least ? near : best;
        if (value(best) <= least || random.below(4) === 0) best = z;
        if (value(z) <= least) continue;
        inside++;
        if (z.some((x, v) => x < (lo[v] as number) || x > (hi[v] as number))) wrong++;
      }
    }
    expect(wrong).toBe(0);
    expect(cut).toBeGreaterThan(300);
    expect(inside).toBeGreaterThan(10_000);
  });
});

const SHAPES = [
  primitive('box', [4, 3, 2], { position: [0.4, 0, -1], quaternion: unitQuat([0.1, 0.5, -0.3, 1]) }),
  primitive('cylinder', [6, 6, 3.5], { position: [0, 0.2, -3], quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2] }),
  primitive('cylinder', [1.4, 1.4, 3], { position: [0, 0, 2] }),
  primitive('capsule', [2, 2, 5], { position: [0.5, 0, 0], quaternion: unitQuat([0.6, 0, 0.2, 1]) }),
] as const;

describe('balls within a part', () => {
  it.each(SHAPES.map((s, i) => [s.shape, i] as const))('%s (%i): lie wholly within it, and none is nearer, SEED=6', (_, index) => {
    const random = seeded(6);
    const shape = SHAPES[index] as (typeof SHAPES)[number];
    const solid = new Solid(shape, { position: pt(0, 0, 0), quaternion: [0, 0, 0, 1] });
    for (const core of coresOf(part('p', [shape]))) {
      const out = new Float64Array(6);
      for (let k = 0; k < 300; k++) {
        const from = [0, 1, 2].map(() => random.between(-8, 8)) as unknown as Vec3;
        nearestOfCore(core, ...from, out, 0);
        const way = Math.hypot(...from.map((x, d) => x - (out[d] as number)));
        // As far as the solid reaches in any direction, so far reaches no ball: support is the verifier's.
        for (let j = 0; j < 6; j++) {
          const u = unit(random);
          const top = dot(u, solid.support(u));
          expect(u[0] * (out[0] as number) + u[1] * (out[1] as number) + u[2] * (out[2] as number) + core.radius).toBeLessThanOrEqual(
            top + 1e-9,
          );
        }
        // Any other middle of the core is no nearer.
        nearestOfCore(core, random.between(-8, 8), random.between(-8, 8), random.between(-8, 8), out, 3);
        expect(way).toBeLessThanOrEqual(Math.hypot(...from.map((x, d) => x - (out[3 + d] as number))) + 1e-9);
      }
    }
  });
});

const unit = (random: Random) => normalize(pt<'ear'>(random.normal(), random.normal(), random.normal()));

describe('two parts, each in a cell of its poses', () => {
  const seat = seatplane(plane([1, 2, 3], [0.6, 0, 0.8]), 0.8);
  const wide: readonly [number, number] = [-5, 5];
  const spaceOf = (seated: boolean, points: Float64Array): PoseSpace =>
    seated
      ? new SeatedSpace(seat, [wide, wide], 6.3, points)
      : new FreeSpace([wide, wide, wide], unitQuat([0.3, 0.2, -0.4, 1]), [false, false, false], points);
  const poseOf = (space: PoseSpace, at: readonly number[]): Pose<'ear'> => {
    const cell: Cell = { c: Float64Array.from(at), h: new Float64Array(at.length), base: 0 };
    if (space instanceof FreeSpace)
      return { position: pt(at[0] as number, at[1] as number, at[2] as number), quaternion: space.quaternion(cell) };
    const [a, b, spin] = at as unknown as Vec3;
    const x = add(scale(seat.u, Math.cos(spin)), scale(seat.v, Math.sin(spin)));
    return { position: add(add(seat.origin, scale(seat.u, a)), scale(seat.v, b)), quaternion: quatFromAxes(x, cross(seat.n, x), seat.n) };
  };

  // Reference: the verifier's separation of the two solids, which shares no code with the bound.
  it.each([1, 2, 3, 4])('are nowhere in them farther apart than each row says, nor than the plain bound, SEED=%i', (seed) => {
    const random = seeded(seed);
    let rowsSeen = 0;
    let tight = 0;
    for (let k = 0; k < 500; k++) {
      const kinds = [random.below(2) === 0, false] as const;
      const shapes = [SHAPES[random.below(4)], SHAPES[random.below(4)]] as [Primitive, Primitive];
      const parts = shapes.map((s, i) => part(`p${i}`, [s])) as [Part, Part];
      const spaces = parts.map((p, i) => spaceOf(kinds[i] as boolean, pointsOf(p))) as [PoseSpace, PoseSpace];
      const size = 10 ** random.between(-2.5, 0);
      const cells = spaces.map((s, i): Cell => {
        const about = kinds[i] ? [0, 0, 0] : [1, 2, 3, 0, 0, 0];
        const c = Float64Array.from({ length: s.size }, (_, v) => (about[v] as number) + random.between(-1, 1) * (v < 3 ? 4 : 0.8));
        return { c, h: Float64Array.from({ length: s.size }, (_, v) => size * random.next() * (v < 3 && !kinds[i] ? 1 : 0.3)), base: 0 };
      }) as [Cell, Cell];
      const contact = new Contact(meetsOf(parts[0]), meetsOf(parts[1]), 0.35, [spaces[0].size, spaces[1].size]);
      const rows = new RowSet(spaces[0].size + spaces[1].size);
      const [a, b] = spaces.map((space, i) => ({ space, cell: cells[i] as Cell, frame: space.frame(cells[i] as Cell) })) as [
        InCell,
        InCell,
      ];
      const plain = contact.bound(a, b, -Infinity, Infinity, rows, [0, spaces[0].size]);
      const kept = rows.kept(99);
      const m = spaces[0].size + spaces[1].size + 1;
      rowsSeen += kept.length / m;
      for (let j = 0; j < 6; j++) {
        const [za, zb] = cells.map((c) => within(random, c.c, c.h)) as [ReturnType<typeof within>, ReturnType<typeof within>];
        const solids = [new Solid(shapes[0], poseOf(spaces[0], za.at)), new Solid(shapes[1], poseOf(spaces[1], zb.at))] as const;
        const has = separation(...solids).least - 0.35;
        expect(has).toBeLessThanOrEqual(plain + 1e-9);
        const z = [...za.z, ...zb.z];
        for (let r = 0; r < kept.length; r += m) {
          const row = z.reduce((s, x, v) => s + x * (kept[r + v + 1] as number), kept[r] as number);
          expect(has).toBeLessThanOrEqual(row);
          if (row - has < 0.05) tight++;
        }
      }
    }
    // The bounds are of use: many rows, some of them near the truth.
    expect(rowsSeen).toBeGreaterThan(3000);
    expect(tight).toBeGreaterThan(300);
  });
});

describe('a needle that points at a block far off', () => {
  // Turned by t its tip draws back by 3 (1 - cos t), 0.06 mm at 0.2: that is of second order, and no curvature of a far witness's ball pays for it.
  it('is, turned, as far from it as the rows say at the most', () => {
    const shapes = [primitive('cylinder', [0.1, 0.1, 6]), primitive('box', [2, 2, 2])] as const;
    const parts = shapes.map((s, i) => part(`p${i}`, [s])) as [Part, Part];
    const wide: readonly [number, number] = [-20, 20];
    const spaces = parts.map((p) => new FreeSpace([wide, wide, wide], [0, 0, 0, 1], [false, false, false], pointsOf(p))) as [
      FreeSpace,
      FreeSpace,
    ];
    const cells: [Cell, Cell] = [
      { c: new Float64Array(6), h: Float64Array.of(0, 0, 0, 0, 0.1, 0), base: 0 },
      { c: Float64Array.of(0, 0, 14, 0, 0, 0), h: new Float64Array(6), base: 0 },
    ];
    const inCell = (i: 0 | 1): InCell => ({ space: spaces[i], cell: cells[i], frame: spaces[i].frame(cells[i]) });
    const [a, b] = [inCell(0), inCell(1)];
    const rows = new RowSet(12);
    new Contact(meetsOf(parts[0]), meetsOf(parts[1]), 0, [6, 6]).bound(a, b, -Infinity, Infinity, rows, [0, 6]);
    const kept = rows.kept(99);
    expect(kept.length).toBeGreaterThan(0);
    const end: Cell = { ...cells[0], c: Float64Array.of(0, 0, 0, 0, 0.1, 0) };
    const turned = new Solid(shapes[0], { position: pt(0, 0, 0), quaternion: spaces[0].quaternion(end) });
    const has = separation(turned, new Solid(shapes[1], { position: pt(0, 0, 14), quaternion: [0, 0, 0, 1] })).least;
    // Tangent of half the angle 0.1: cos 0.99 / 1.01, sin 0.2 / 1.01; the tip's lower rim is what faces the block (derived).
    expect(has).toBeCloseTo(13 - (3 * 0.99 + 0.05 * 0.2) / 1.01, 6);
    for (let r = 0; r < kept.length; r += 13) expect((kept[r] as number) + (kept[r + 5] as number)).toBeGreaterThanOrEqual(has);
  });
});

describe('the ports rule over cells', () => {
  it.each([1, 2, 3])('cells that hold two ports which keep to it are never ruled out, and some are that hold none, SEED=%i', (seed) => {
    const random = seeded(seed);
    const rules = { ...RULES };
    const body = ellipticTube(16, 14, 9, 40, 16);
    const box = (id: string): Part => part(id, [primitive('box', [1, 1, 1], { position: [0, 0, -0.5] })], { at: 'faceplate' });
    const parts = [box('front'), box('rear')] as const;
    const rule = {
      rule: 'ports',
      front: 'front',
      rear: 'rear',
      least: 4,
      most: random.between(5, 8),
      tilt: random.between(0.1, 0.6),
    } as const;
    const outer = body.cuts[0]?.plane as Plane<'ear'>;
    const seat = seatplane(outer, rules.faceplate);
    const oracle = new WallOracle(body);
    const trees = parts.map((p) => {
      const space = new SeatedSpace(
        seat,
        [
          [-8, 8],
          [-8, 8],
        ],
        WHOLE_TURN,
        pointsOf(p),
      );
      return { tree: new PoseTree(new CellBounder(space, pointsOf(p), oracle, { wall: 0.7, planes: [] }), 100) };
    });
    const [front, rear] = trees as [(typeof trees)[number], (typeof trees)[number]];
    const ports = new Ports(rule, front, rear, { front: 0, rear: 1 });
    let [kept, ruledOut] = [0, 0];
    for (let k = 0; k < 6000; k++) {
      const size = 10 ** random.between(-3, 0.3);
      const at = [0, 1].map(() => [random.between(-5, 5), random.between(-5, 5), random.between(0, 6)]);
      const nodes = at.map((x) => {
        const h = Float64Array.from(x, () => size * random.next());
        return { cell: { c: Float64Array.from(x, (y, i) => y + random.between(-1, 1) * (h[i] as number)), h, base: 0 } };
      });
      const poses = at.map(([a, b]) => ({
        position: add(add(seat.origin, scale(seat.u, a as number)), scale(seat.v, b as number)),
        quaternion: quatFromAxes(seat.u, seat.v, seat.n),
      }));
      const keeps = seatFaults(body, rules, kitOf(parts, [rule]), poses).length === 0;
      if (keeps) expect(ports.ruledOut(nodes)).toBe(false);
      if (keeps) kept++;
      else if (ports.ruledOut(nodes)) ruledOut++;
    }
    expect(kept).toBeGreaterThan(50);
    expect(ruledOut).toBeGreaterThan(500);
  });
});

describe('what a part looks like to a proof', () => {
  it('its points lie on its surface; half turns and roundness are seen', () => {
    const box = pointsOf(part('a', [primitive('box', [4, 3, 2])]));
    for (let i = 0; i < box.length; i += 3) {
      expect(Math.max(Math.abs(box[i] as number) / 2, Math.abs(box[i + 1] as number) / 1.5, Math.abs(box[i + 2] as number))).toBeCloseTo(
        1,
        12,
      );
    }
    expect(halfTurns(box)).toEqual([true, true, true]);
    expect(halfTurns(pointsOf(BOX))).toEqual([false, false, false]);
    const cellPoints = pointsOf(
      part('c', [primitive('cylinder', [6, 6, 4], { position: [0, 0, -3], quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2] })]),
    );
    expect(halfTurns(cellPoints)[2]).toBe(true);
    expect(isRound(part('m', [primitive('cylinder', [2, 2, 3], { position: [0, 0, -1.5] })]))).toBe(true);
    expect(isRound(BOX)).toBe(false);
    expect(pt<'ear'>(0, 0, 0)).toEqual([0, 0, 0]);
  });
});

it('rows kept in 32 bits say no less than before, whatever their size', () => {
  const random = seeded(31);
  for (let turn = 0; turn < 2000; turn++) {
    const size = 1 + random.below(6);
    const scale = 10 ** random.between(-3, 6);
    const row = new RowSet(size);
    const at = row.add(scale * random.between(-1, 1));
    for (let k = 0; k < size; k++) row.slope(at, k, scale * random.between(-1, 1));
    const again = new RowSet(size);
    again.addKept(row.kept(1), size, 0);
    expect(again.alone(0)).toBeGreaterThanOrEqual(row.alone(at));
    // And hardly more: the last of 24 digits of each number.
    expect(again.alone(0) - row.alone(at)).toBeLessThanOrEqual((2 * size + 2) * scale * 2 ** -23);
  }
});
