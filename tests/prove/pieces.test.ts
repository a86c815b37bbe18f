/** The pieces of a proof, each against brute force over what it claims to bound. */
import { describe, expect, it } from 'vitest';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { rotate, unitQuat } from '../../src/geometry/rotation.ts';
import { pt, type Vec3 } from '../../src/geometry/vec.ts';
import { RowSet } from '../../src/prove/linear.ts';
import { coneOf, type Direction, reachOf } from '../../src/prove/pair.ts';
import { halfTurns, isRound, pointsOf } from '../../src/prove/points.ts';
import { type Cell, FreeSpace, Moved, SeatedSpace, seatplane } from '../../src/prove/space.ts';
import { part, plane, primitive } from '../support/bodies.ts';

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

describe('support over a cell and a cone', () => {
  it('is a lower bound for every pose and direction in them, SEED=9', () => {
    const random = seeded(9);
    const points = pointsOf(BOX);
    for (let k = 0; k < 3000; k++) {
      const c = Float64Array.of(random.between(-3, 3), random.between(-3, 3), random.between(0, 6));
      const size = 10 ** random.between(-2, 0);
      const h = Float64Array.from([0, 0, 0], () => size * random.next());
      const half = 0.5 * 10 ** random.between(-2, 0);
      const [face, s, t] = [random.below(6), random.between(-1 + half, 1 - half), random.between(-1 + half, 1 - half)];
      const cone = coneOf(face, s, t, half, [random.between(-2, 2), random.between(-2, 2), -1]);
      const sign = random.below(2) === 0 ? 1 : -1;
      const node = { cell: { c, h, base: 0 }, spin: [Math.cos(c[2] as number), Math.sin(c[2] as number)] as const };
      const { least } = reachOf(points, node, cone, sign);
      for (let j = 0; j < 8; j++) {
        const { at } = within(random, c, h);
        const u = coneOf(face, s + half * random.between(-1, 1), t + half * random.between(-1, 1), 1e-9, [0, 0, 0]).u.map(
          (x) => sign * x,
        ) as unknown as Direction;
        let support = -Infinity;
        for (let i = 0; i < points.length; i += 3) {
          const [px, py, pz] = [points[i] as number, points[i + 1] as number, points[i + 2] as number];
          const x = (at[0] as number) + Math.cos(at[2] as number) * px - Math.sin(at[2] as number) * py - cone.about[0];
          const y = (at[1] as number) + Math.sin(at[2] as number) * px + Math.cos(at[2] as number) * py - cone.about[1];
          support = Math.max(support, u[0] * x + u[1] * y + u[2] * (pz - cone.about[2]));
        }
        expect(least).toBeLessThanOrEqual(support + 1e-9);
      }
    }
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
