import { describe, expect, test } from 'vitest';
import { assembleKit, moveAt } from '../../src/assemble/index.ts';
import { seeded } from '../../src/geometry/random.ts';
import { multiply, place, unitQuat } from '../../src/geometry/rotation.ts';
import { distance, type Pose, pt } from '../../src/geometry/vec.ts';
import type { Move } from '../../src/model/fit.ts';
import { poseBetween, travel } from '../../src/verify/between.ts';
import { TOUCH, verifyMoves } from '../../src/verify/motion.ts';
import { FAR, Mover, Shell } from '../../src/verify/shell.ts';
import { kitOf, part, plane, primitive } from '../support/bodies.ts';
import { at, bentCorridor, rulesOf, vessel } from './shells.ts';

const WALL = 0.5;
const RULES = rulesOf(WALL);
const seated = { at: 'faceplate' } as const;
const move = (id: string, ...poses: Pose<'ear'>[]): Move => ({ parts: [id], poses: poses.map((p) => [p]) });

describe('a ball of radius 1 in a tube of radius 4: what is measured is what there is', () => {
  const shell = vessel(() => 4, 12, WALL);
  const kit = kitOf([part('ball', [primitive('capsule', [2, 2, 2])])]);
  // Between the tube's 96 flat sides and the circle through its corners, mm.
  const FLAT = 4 * (1 - Math.cos(Math.PI / 96));

  test('random ways: sound just where the least distance to the wall by formula is not below 0, and that least is told', () => {
    const random = seeded(11);
    let sound = 0;
    for (let k = 0; k < 60; k++) {
      const spread = 1 + random.next() * 3.2;
      const points = [6, 3, 0, -3, -6, -9].map((z) =>
        z > 2 || z < -8 ? at(0, 0, z) : at(random.between(-spread, spread), random.between(-1, 1), z),
      );
      let least = Infinity;
      for (let i = 0; i + 1 < points.length; i++) {
        for (let s = 0; s <= 300; s++) {
          const [x, y, z] = poseBetween(points[i] as Pose<'ear'>, points[i + 1] as Pose<'ear'>, s / 300).position;
          // Clearance of a ball to a tube open at the top: to the wall, or beyond the outer cut as a whole.
          least = Math.min(least, Math.max(4 - WALL - Math.sqrt(x * x + y * y) - 1, z - 1));
        }
      }
      const end = points.at(-1) as Pose<'ear'>;
      const evidence = verifyMoves(shell.body, RULES, kit, [end], [move('ball', ...points)]);
      // Within what facets and the circle differ by, either answer is right.
      if (least < -TOUCH - 1e-4) expect(evidence.sound, `least ${least}`).toBe(false);
      if (least > FLAT + 0.001) expect(evidence.sound, `least ${least}`).toBe(true);
      if (!evidence.sound) continue;
      sound++;
      expect(evidence.least).toBeLessThanOrEqual(Math.min(FAR, least) + 1e-4);
      expect(evidence.least).toBeGreaterThan(Math.min(FAR, least) - FLAT - 0.051);
    }
    expect(sound).toBeGreaterThan(10);
    expect(sound).toBeLessThan(50);
  });

  test('the wedge behind the outer cut and within the wall of the tip face stops it', () => {
    const end = at(0, 0, -12 + 1 + WALL - 0.01);
    expect(verifyMoves(shell.body, RULES, kit, [at(0, 0, -9)], [move('ball', at(0, 0, 3), end, at(0, 0, -9))]).sound).toBe(false);
    const near = at(0, 0, -12 + 1 + WALL + 0.01);
    expect(verifyMoves(shell.body, RULES, kit, [at(0, 0, -9)], [move('ball', at(0, 0, 3), near, at(0, 0, -9))]).sound).toBe(true);
  });
});

test('behind a third cut lies a wedge: a ball is as far from it as the formula says, within what nine directions miss', () => {
  const shell = vessel(() => 4, 12, WALL);
  const cuts = [...shell.body.cuts, { name: 'upper' as const, plane: plane([2.5, 0, 0], [1, 0, 0]) }];
  const known = new Shell({ ...shell.body, cuts }, WALL, plane([0, 0, 0], [0, 0, 1]));
  const random = seeded(21);
  let told = 0;
  for (let k = 0; k < 400; k++) {
    const [x, z] = [random.between(0.5, 2.4), random.between(-0.5, 1.4)];
    // The wedge x >= 2, z <= 0 (the wall of 0.5 within the cut at 2.5); a ball of radius 1, with the tube's own wall far off.
    const toWedge = Math.sqrt(Math.max(0, 2 - x) ** 2 + Math.max(0, z) ** 2) - 1;
    const has = known.clearance(new Mover(primitive('capsule', [2, 2, 2])), at(x, 0, z));
    const there = Math.min(FAR, Math.max(z - 1, Math.min(toWedge, 4 - WALL - x - 1)));
    if (there < 0) continue;
    told++;
    expect(has).toBeLessThanOrEqual(there + 1e-6);
    expect(has).toBeGreaterThan(there - 0.012);
  }
  expect(told).toBeGreaterThan(50);
});

describe('moves that are not what they claim', () => {
  const shell = bentCorridor(4, 3, 14, 16, 0.3);
  const rules = rulesOf(0.3);
  const kit = kitOf([part('rod', [primitive('capsule', [1, 1, 4])])]);
  const home = at(10, 0, -12, [0, Math.SQRT1_2, 0, Math.SQRT1_2]);
  const found = assembleKit(shell.room, kit, [home], shell.line, { seed: 1, effort: 'normal' });
  if (found?.kind !== 'way-in') throw new Error('no way in to make mutants of');
  const good = found.moves[0] as Move;
  const judge = (m: Move) => verifyMoves(shell.body, rules, kit, [home], [m]);
  const shifted = (p: Pose<'ear'>, x: number, y: number, z: number): Pose<'ear'> => ({
    ...p,
    position: pt(p.position[0] + x, p.position[1] + y, p.position[2] + z),
  });
  const changed = (k: number, change: (p: Pose<'ear'>) => Pose<'ear'>): Move => ({
    ...good,
    poses: good.poses.map((s, i) => (i === k ? s.map(change) : s)),
  });

  test('as found it is sound', () => expect(judge(good).faults).toEqual([]));

  test('any one pose that is shifted into the wall', () => {
    const random = seeded(3);
    for (let k = 1; k + 1 < good.poses.length; k++) {
      // The corridor is 3 high: the rod's side is in the wall once it leaves the middle by 0.7.
      const y = (random.next() < 0.5 ? -1 : 1) * random.between(0.75, 1.5);
      const mutant = judge(changed(k, (p) => ({ ...p, position: pt(p.position[0], y, p.position[2]) })));
      expect(mutant.sound, `pose ${k}`).toBe(false);
    }
  });

  test('a short cut from outside to the end', () => {
    const cut = { ...good, poses: [good.poses[0], good.poses.at(-1)] as Move['poses'] };
    expect(judge(cut).sound).toBe(false);
    const half = { ...good, poses: good.poses.filter((_, k) => k % 9 === 0 || k === good.poses.length - 1) };
    // Fewer poses may pass only if the straight motion between them does.
    for (const p of [half]) if (judge(p).sound) expect(judge(p).least).toBeGreaterThanOrEqual(-TOUCH);
  });

  test('one that begins inside, or ends beside its place', () => {
    expect(judge({ ...good, poses: good.poses.slice(5) }).faults).toEqual(['rod does not begin outside']);
    expect(judge(changed(good.poses.length - 1, (p) => shifted(p, 1e-4, 0, 0))).faults).toEqual(['rod does not end at its place']);
  });

  test('poses that are no numbers, none at all, or too many', () => {
    expect(judge(changed(2, (p) => shifted(p, Number.NaN, 0, 0))).sound).toBe(false);
    expect(judge({ ...good, poses: [] }).sound).toBe(false);
    expect(judge({ ...good, poses: good.poses.map((s) => [...s, ...s]) }).sound).toBe(false);
  });

  test('a turn of more than 60 degrees in one step says nothing of its way', () => {
    const turned = changed(1, (p) => ({ ...p, quaternion: unitQuat(multiply([0, 0, 1, 1], p.quaternion)) }));
    expect(judge(turned).faults.join()).toMatch(/turns too far/);
  });

  test('a part left out, or brought in twice, or a stranger', () => {
    const all = (moves: Move[]) => verifyMoves(shell.body, rules, kit, [home], moves).sound;
    expect(all([])).toBe(false);
    expect(all([good, good])).toBe(false);
    expect(all([good, { ...good, parts: ['stranger'] }])).toBe(false);
  });
});

describe('several parts', () => {
  const shell = vessel(() => 4, 14, WALL);
  const ball = (id: string) => part(id, [primitive('capsule', [5, 5, 5])]);
  const down = (id: string, z: number): Move => move(id, at(0, 0, 4), at(0, 0, z));

  test('in the other order one goes through the other', () => {
    const kit = kitOf([ball('front'), ball('back')]);
    const ends = [at(0, 0, -4), at(0, 0, -10)];
    expect(verifyMoves(shell.body, RULES, kit, ends, [down('back', -10), down('front', -4)]).faults).toEqual([]);
    expect(verifyMoves(shell.body, RULES, kit, ends, [down('front', -4), down('back', -10)]).sound).toBe(false);
  });

  test('the parts of one move keep their places, and the faceplate goes on last', () => {
    const one = part('one', [primitive('box', [1, 1, 1], { position: [0, 0, -0.5] })], seated);
    const two = part('two', [primitive('box', [1, 1, 1], { position: [0, 0, -0.5] })], seated);
    const chip = part('chip', [primitive('box', [1, 1, 1])]);
    const kit = kitOf([one, two, chip]);
    const ends = [at(-1.5, 0, 0), at(1.5, 0, 0), at(0, 0, -6)];
    const lift = (z: number): Pose<'ear'>[] => [at(-1.5, 0, z), at(1.5, 0, z)];
    const plate: Move = { parts: ['one', 'two'], poses: [lift(2), lift(0)] };
    expect(verifyMoves(shell.body, RULES, kit, ends, [down('chip', -6), plate]).faults).toEqual([]);
    expect(verifyMoves(shell.body, RULES, kit, ends, [plate, down('chip', -6)]).sound).toBe(false);
    const loose: Move = { ...plate, poses: [[at(-1.5, 0, 2), at(1.4, 0, 2)], lift(0)] };
    expect(verifyMoves(shell.body, RULES, kit, ends, [down('chip', -6), loose]).faults.join()).toMatch(/against each other/);
  });

  test('a plate that is tilted through the edge of the shell is refused, though its parts touch nothing', () => {
    const kit = kitOf([part('button', [primitive('box', [1, 1, 1], { position: [0, 0, -0.5] })], seated)]);
    const tilt = unitQuat([0.15, 0, 0, 1]);
    const rocked = move('button', at(0, 0, 3), at(0, 0, 0, tilt), at(0, 0, 0));
    expect(verifyMoves(shell.body, RULES, kit, [at(0, 0, 0)], [rocked]).sound).toBe(false);
    const lifted = move('button', at(0, 0, 3), at(0, 0, 1.5, tilt), at(0, 0, 0));
    expect(verifyMoves(shell.body, RULES, kit, [at(0, 0, 0)], [lifted]).faults).toEqual([]);
  });
});

describe('the motion between two poses', () => {
  test('takes no point within reach farther than `travel`, whatever the turn', () => {
    const random = seeded(5);
    for (let k = 0; k < 400; k++) {
      const turn = (): Pose<'ear'>['quaternion'] => [random.between(-0.2, 0.2), random.between(-0.2, 0.2), random.between(-0.2, 0.2), 1];
      const a = at(0, 0, 0, unitQuat(turn()));
      const b = at(random.between(-1, 1), random.between(-1, 1), random.between(-1, 1), unitQuat(multiply(turn(), a.quaternion)));
      const q = unitQuat([random.normal(), random.normal(), random.normal(), 0]);
      const p = [3 * q[0], 3 * q[1], 3 * q[2]] as const;
      let way = 0;
      for (let s = 0; s < 20; s++) way += distance(place(poseBetween(a, b, s / 20), p), place(poseBetween(a, b, (s + 1) / 20), p));
      expect(way).toBeLessThanOrEqual(travel(a, b, 3) + 1e-9);
    }
  });

  test('a move is played from outside to its end at an even pace', () => {
    const way = move('ball', at(0, 0, 4), at(0, 0, 3), at(0, 0, -5));
    expect(moveAt(way, 0)).toEqual([at(0, 0, 4)]);
    expect(moveAt(way, 1)).toEqual([at(0, 0, -5)]);
    for (const t of [0.05, 0.2, 0.5, 0.9]) expect(moveAt(way, t)[0]?.position[2]).toBeCloseTo(4 - 9 * t, 9);
    expect(moveAt({ parts: ['ball'], poses: [[at(1, 0, 0)]] }, 0.5)).toEqual([at(1, 0, 0)]);
  });
});
