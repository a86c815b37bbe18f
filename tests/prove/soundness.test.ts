/** A proof must never be false: bounds against poses measured by other code (the verifier's, which shares nothing with them). */
import { describe, expect, it } from 'vitest';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { multiply, quatFromAxes, unitQuat } from '../../src/geometry/rotation.ts';
import { add, heightOver, type Pose, pt, scale } from '../../src/geometry/vec.ts';
import type { Body } from '../../src/model/fit.ts';
import type { Part, Rules } from '../../src/model/parts.ts';
import { CellBounder } from '../../src/prove/bound.ts';
import { boundSpare, Prover } from '../../src/prove/index.ts';
import { halfTurns, pointsOf } from '../../src/prove/points.ts';
import { type Cell, FreeSpace, SeatedSpace, seatplane } from '../../src/prove/space.ts';
import { WallOracle } from '../../src/prove/wall.ts';
import { Columns, Nearest } from '../../src/verify/inside.ts';
import { seatFaults } from '../../src/verify/seats.ts';
import { separation } from '../../src/verify/separation.ts';
import { Solid } from '../../src/verify/solid.ts';
import { Surface } from '../../src/verify/surface.ts';
import { Wall } from '../../src/verify/wall.ts';
import { BARE, ellipticTube, kitOf, part, primitive, RULES, torusTube } from '../support/bodies.ts';

const cell = (d: number, h: number): Part =>
  part('cell', [primitive('cylinder', [d, d, h], { position: [0, 0, -d / 2], quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2] })], {
    at: 'faceplate',
  });
const seatedBox = (x: number, y: number, z: number): Part =>
  part('box', [primitive('box', [x, y, z], { position: [0.3, 0, -z / 2] })], { at: 'faceplate' });
const chip = (x: number, y: number, z: number): Part => part('chip', [primitive('box', [x, y, z])]);

/** The spare of one part alone by the verifier's distances. */
function spareOf(wall: Wall, body: Body, rules: Rules, p: Part, pose: Pose<'ear'>): number {
  let spare = Infinity;
  for (const s of p.primitives.map((q) => new Solid(q, pose))) {
    spare = Math.min(spare, wall.clearance(s).has - (rules.wall + rules.gap + p.margin));
    for (const c of body.cuts) {
      const has = -heightOver(c.plane, s.support(c.plane.normal));
      if (c.name !== 'outer') spare = Math.min(spare, has - (rules.wall + rules.gap + p.margin));
      else if (p.seat.at !== 'faceplate') spare = Math.min(spare, has - (rules.faceplate + rules.gap + p.margin));
    }
  }
  return spare;
}

function seatedPose(body: Body, rules: Rules, a: number, b: number, spin: number): Pose<'ear'> {
  const { origin, u, v, n } = seatplane((body.cuts[0] as Body['cuts'][number]).plane, rules.faceplate);
  const x = add(scale(u, Math.cos(spin)), scale(v, Math.sin(spin)));
  const y = add(scale(u, -Math.sin(spin)), scale(v, Math.cos(spin)));
  return { position: add(add(origin, scale(u, a)), scale(v, b)), quaternion: quatFromAxes(x, y, n) };
}

const rooms = (random: Random): Body =>
  random.below(2) === 0
    ? ellipticTube(random.between(6, 11), random.between(4, 8), random.between(8, 16), 72, 30)
    : torusTube(random.between(8, 20), random.between(2.5, 4.5), random.between(0.5, 0.9), 72, 40);

describe('ceilings of seated parts', () => {
  it.each([1, 2, 3, 4, 5, 6, 7, 8])('no sampled or climbed pose beats the ceiling, and one comes near it, SEED=%i', (seed) => {
    const random = seeded(seed);
    const body = rooms(random);
    const p =
      random.below(2) === 0
        ? cell(random.between(4, 8), random.between(3, 5))
        : seatedBox(random.between(2, 5), random.between(2, 4), random.between(1, 4));
    const { ceiling } = new Prover(body, RULES).single(p, { target: 50, cells: 3000, close: 0.02 }) ?? { ceiling: Number.NaN };
    const wall = new Wall(body);
    let best = { s: -Infinity, at: [0, 0, 0] };
    const look = (at: number[]): void => {
      const s = spareOf(wall, body, RULES, p, seatedPose(body, RULES, ...(at as [number, number, number])));
      if (s > best.s) best = { s, at };
    };
    for (let k = 0; k < 150; k++) look([random.between(-2, 2), random.between(-2, 2), random.between(0, 2 * Math.PI)]);
    for (let step = 0.5; step > 0.003; step *= 0.7) for (let k = 0; k < 14; k++) look(best.at.map((x) => x + step * random.normal()));
    expect(best.s).toBeLessThanOrEqual(ceiling + 1e-9);
    // The verifier's figure is up to some hundredths low where something sticks out, and a part's points are a subset of it.
    expect(ceiling - best.s).toBeLessThan(0.15);
  });
});

describe('exact limits', () => {
  // Reference: w x h rectangle in an ellipse with full axes A x B fits iff (w/A)^2 + (h/B)^2 <= 1 (derived).
  it('a cell on edge in an elliptic tube 9 x 6: PR41 (1.1305) cannot, PR70 (0.7753) can', () => {
    const tube = ellipticTube(9, 6, 20, 360, 40);
    const no = boundSpare(tube, BARE, kitOf([cell(7.9, 3.6)]));
    expect(no.ceiling).toBeLessThan(0);
    expect(no.parts).toEqual(['cell']);
    expect(boundSpare(tube, BARE, kitOf([cell(5.8, 3.6)])).ceiling).toBe(Infinity);
  });

  it('a box 0.05 mm over the largest rectangle is proved out, 0.02 under it is not, tolerance 0', () => {
    // Corners on the ellipse: w = 9 cos t, h = 6 sin t at t = 45 degrees.
    const [w, h] = [9 * Math.SQRT1_2, 6 * Math.SQRT1_2];
    const tube = ellipticTube(9, 6, 20, 720, 30);
    const box = (by: number): Part => part('box', [primitive('box', [w + by, h + by, 3], { position: [0, 0, -1.5] })], { at: 'faceplate' });
    expect(boundSpare(tube, BARE, kitOf([box(0.05)])).ceiling).toBeLessThan(0);
    expect(boundSpare(tube, BARE, kitOf([box(-0.02)])).ceiling).toBe(Infinity);
  });
});

describe('exact limits with six degrees of freedom', () => {
  // Reference: a box l >= w >= t lies in a long straight round tube D iff D >= sqrt(w^2 + t^2) (derived): 6.3 x 4.3 x 2.9 -> 5.1865.
  const receiver = part('receiver', [primitive('box', [4.3, 2.9, 6.3])], { at: 'tip', spout: [0, 0, 3.15], reach: 4, cone: Math.PI / 6 });
  it.each([0.05, 0.4])('0.7 all round and %f mm too narrow, tolerance 0: proved, and no lower than the truth', (short) => {
    // Corners of the mesh lie on the circle, so that its sides lie up to 0.001 mm within it.
    const across = 5.1865 + 1.4 - short;
    const { ceiling, parts } = boundSpare(ellipticTube(across, across, 16, 180, 32), { ...RULES, tolerance: 0 }, kitOf([receiver]), {
      depth: 'all',
      steps: 200_000,
    });
    expect(parts).toEqual(['receiver']);
    expect(ceiling).toBeLessThan(0);
    expect(ceiling).toBeGreaterThanOrEqual(-short / 2 - 1e-3);
  });

  it('with 0.7 asked all round: proved out of a tube 5.8 wide (4.4 left), not out of one 6.7 wide (5.3 left)', () => {
    const no = boundSpare(ellipticTube(5.8, 5.8, 16, 60, 32), RULES, kitOf([receiver]), { depth: 'all' });
    expect(no.ceiling).toBeLessThan(-RULES.tolerance);
    expect(no.parts).toEqual(['receiver']);
    // Along the tube and in its middle it lacks (5.1865 - 4.4) / 2: nothing worse may be claimed.
    expect(no.ceiling).toBeGreaterThanOrEqual(-(5.1865 - 4.4) / 2 - 1e-3);
    expect(boundSpare(ellipticTube(6.7, 6.7, 16, 60, 32), RULES, kitOf([receiver]), { depth: 'all', freeCells: 2000 }).ceiling).toBe(
      Infinity,
    );
  });
});

describe('planted parts', () => {
  it.each([11, 12, 13, 14, 15, 16])('what stands in a room with spare s is never said to have less, SEED=%i', (seed) => {
    const random = seeded(seed);
    for (let k = 0; k < 4; k++) {
      const body = rooms(random);
      const wall = new Wall(body);
      const seated = k % 2 === 0;
      const p = seated
        ? seatedBox(random.between(1, 3), random.between(1, 3), random.between(1, 3))
        : chip(random.between(1, 3), random.between(1, 2), random.between(1, 2));
      const pose: Pose<'ear'> = seated
        ? seatedPose(body, RULES, random.between(-0.5, 0.5), random.between(-0.5, 0.5), random.between(0, 6))
        : { position: body.seed, quaternion: unitQuat([random.normal(), random.normal(), random.normal(), random.normal()]) };
      const planted = spareOf(wall, body, RULES, p, pose);
      // The verdict turns exactly at the planted spare: nothing may be proved there.
      const rules = { ...RULES, tolerance: -planted + 1e-6 };
      expect(boundSpare(body, rules, kitOf([p]), { depth: 'all', freeCells: 2000 }).ceiling).toBeGreaterThanOrEqual(planted);
    }
  });
});

describe('at the tip', () => {
  // A square bar in a round tube: room for it in four spins, but only one of them brings a spout that is off its axis near the tip's own place.
  const bar = (spout: readonly [number, number, number]): Part =>
    part('receiver', [primitive('box', [2, 2, 4])], { at: 'tip', spout, reach: 1.2, cone: 0.5 });
  it.each([
    [0.9, 0],
    [0, -0.9],
  ])('a spout off the axis is looked for in every spin: tip at %f, %f', (x, y) => {
    const tube = ellipticTube(4.8, 4.8, 9, 72, 30);
    const body: Body = { ...tube, tip: { ...tube.tip, at: pt(x, y, -9) } };
    // Standing on the tube's axis: 2.4 less half its diagonal, and 0.7 is asked.
    const there = (angle: number): Pose<'ear'> => ({
      position: pt(0, 0, -6),
      quaternion: [Math.sin(angle / 2), Math.cos(angle / 2), 0, 0],
    });
    const p = bar([0.9, 0, 2]);
    const poses = [0, 1, 2, 3].map((k) => there((k * Math.PI) / 2));
    const seated = poses.filter((pose) => seatFaults(body, RULES, kitOf([p]), [pose]).length === 0);
    expect(seated).toHaveLength(1);
    expect(spareOf(new Wall(body), body, RULES, p, seated[0] as Pose<'ear'>)).toBeGreaterThan(0.2);
    expect(new Prover(body, RULES).group([p], 0.1, { steps: 20_000 }).answer).not.toBe('proved');
  });
});

describe('pairs at the faceplate', () => {
  it.each([31, 32, 33, 34, 35, 36])('two parts that stand together are never proved apart, and much more room is, SEED=%i', (seed) => {
    const random = seeded(seed);
    const body = ellipticTube(random.between(8.5, 12), random.between(6, 8), 14, 48, 24);
    const wall = new Wall(body);
    const [a, b] = [cell(5.8, 3.6), part('microphone', [primitive('box', [2.6, 2, 1], { position: [0, 0, -0.5] })], { at: 'faceplate' })];
    const spare = (v: readonly number[], below: number): number => {
      const [pa, pb] = [
        seatedPose(body, RULES, v[0] as number, v[1] as number, v[2] as number),
        seatedPose(body, RULES, v[3] as number, v[4] as number, v[5] as number),
      ];
      const [first] = a.primitives;
      const [second] = b.primitives;
      if (!first || !second) return -Infinity;
      const apart = separation(new Solid(first, pa), new Solid(second, pb)).least - RULES.partGap;
      if (apart <= below) return apart;
      return Math.min(apart, spareOf(wall, body, RULES, a, pa), spareOf(wall, body, RULES, b, pb));
    };
    let best = -Infinity;
    for (let k = 0; k < 6; k++) {
      let at = [
        random.between(-1.5, 1.5),
        random.between(-1, 1),
        random.between(0, 3),
        random.between(-3, 3),
        random.between(-3, 3),
        random.between(0, 3),
      ];
      let s = spare(at, -Infinity);
      for (let step = 0.6; step > 0.01; step *= 0.8) {
        for (let j = 0; j < 10; j++) {
          const next = at.map((x) => x + step * random.normal());
          const n = spare(next, s);
          if (n > s) [s, at] = [n, next];
        }
      }
      best = Math.max(best, s);
    }
    const prover = new Prover(body, RULES);
    for (const below of [1e-6, 0.01, 0.05]) expect(prover.group([a, b], best - below, { steps: 5000 }).answer).not.toBe('proved');
    // Six restarts come within 0.6 of the best.
    expect(prover.group([a, b], best + 0.6, { steps: 40_000 }).answer).toBe('proved');
  });

  it('the sentence names both parts', () => {
    // The cell alone has a place here, a microphone 4 mm wide beside it has none.
    const tube = ellipticTube(9.4, 6.9, 14, 60, 30);
    const mic = part('microphone', [primitive('box', [4, 4, 4], { position: [0, 0, -2] })], { at: 'faceplate' });
    const kit = kitOf([cell(5.8, 3.6), mic]);
    expect(boundSpare(tube, RULES, kit).ceiling).toBe(Infinity);
    const c = boundSpare(tube, RULES, kit, { depth: 'rest' });
    expect(c.parts).toEqual(['cell', 'microphone']);
    expect(c.ceiling).toBeLessThan(-RULES.tolerance);
  });
});

describe('bounds of single cells', () => {
  /** The points' own spare at a pose, by the verifier's inside test and distances. */
  function pointSpare(
    body: Body,
    inside: Columns,
    nearest: Nearest,
    points: readonly (readonly [number, number, number])[],
    seated: boolean,
  ): number {
    const foot = new Float64Array(3);
    let spare = Infinity;
    for (const q of points) {
      const p = pt<'ear'>(...q);
      const heights = body.cuts.map((c) => heightOver(c.plane, p));
      const counted = body.cuts.map((c, i) => (seated && c.name === 'outer' ? -Infinity : (heights[i] as number)));
      for (const [i, h] of counted.entries()) {
        const outer = body.cuts[i]?.name === 'outer';
        spare = Math.min(spare, -h - (outer ? RULES.faceplate : RULES.wall) - RULES.gap);
      }
      if (Math.max(...counted) <= 0)
        spare = Math.min(spare, (inside.contains(...q) ? 1 : -1) * nearest.distance(...q, foot) - RULES.wall - RULES.gap);
    }
    return spare;
  }

  it.each([21, 22, 23, 24])('hold for every pose of the cell, seated and free, SEED=%i', (seed) => {
    const random = seeded(seed);
    const body = rooms(random);
    const oracle = new WallOracle(body);
    const inside = new Columns(body.mesh);
    const nearest = new Nearest(new Surface(body).corners);
    for (let k = 0; k < 500; k++) {
      const seated = k % 2 === 0;
      const p = seated ? (k % 4 === 0 ? cell(5, 3.6) : seatedBox(3, 2, 2)) : chip(3.6, 2.8, 1.4);
      const points = pointsOf(p, seated ? 24 : 8);
      const plane = seatplane((body.cuts[0] as Body['cuts'][number]).plane, RULES.faceplate);
      const start = unitQuat([random.normal(), random.normal(), random.normal(), random.normal()]);
      const space = seated
        ? new SeatedSpace(
            plane,
            [
              [-9, 9],
              [-9, 9],
            ],
            2 * Math.PI,
            points,
          )
        : new FreeSpace(
            [
              [-9, 9],
              [-9, 9],
              [-9, 9],
            ],
            start,
            halfTurns(points),
            points,
          );
      const size = 10 ** random.between(-2.5, 0.3);
      const middle = seated ? [0, 0, Math.PI] : [...body.seed, 0, 0, 0];
      const wide = seated ? [2, 2, Math.PI] : [2, 2, 2, 0.9, 0.9, 0.9];
      const c = Float64Array.from(middle, (m, i) => m + random.between(-1, 1) * (wide[i] as number));
      const h = Float64Array.from(middle, (_, i) => size * random.next() * (seated && i === 2 ? 0.5 : i > 2 ? 0.4 : 1));
      const asked = new Prover(body, RULES).asked(p);
      const bounder = new CellBounder(space, points, oracle, asked);
      const bound = bounder.bound({ c, h, base: 0 }, -Infinity);
      for (let j = 0; j < 4; j++) {
        const z = c.map((x, i) => x + (h[i] as number) * (j === 0 ? Math.sign(random.normal()) : random.between(-1, 1)));
        const one: Cell = { c: z, h: new Float64Array(z.length), base: 0 };
        const pose: Pose<'ear'> = seated
          ? seatedPose(body, RULES, z[0] as number, z[1] as number, z[2] as number)
          : { position: pt(z[0] as number, z[1] as number, z[2] as number), quaternion: (space as FreeSpace).quaternion(one) };
        const moved = Array.from({ length: points.length / 3 }, (_, i) => {
          const q = pose.quaternion;
          const v = [points[3 * i] as number, points[3 * i + 1] as number, points[3 * i + 2] as number, 0] as const;
          const r = multiply(multiply(q, v), [-q[0], -q[1], -q[2], q[3]]);
          return [r[0] + pose.position[0], r[1] + pose.position[1], r[2] + pose.position[2]] as const;
        });
        expect(pointSpare(body, inside, nearest, moved, seated)).toBeLessThanOrEqual(bound + 1e-7);
      }
    }
  });
});
