import { describe, expect, test } from 'vitest';
import { assembleKit } from '../../src/assemble/index.ts';
import type { Pose } from '../../src/geometry/vec.ts';
import type { Assembly } from '../../src/model/fit.ts';
import type { Kit } from '../../src/model/parts.ts';
import { verifyMoves } from '../../src/verify/motion.ts';
import { kitOf, part, primitive } from '../support/bodies.ts';
import { at, bentCorridor, rulesOf, type ShellCase, vessel } from './shells.ts';

const WALL = 0.5;
const assemble = (shell: ShellCase, kit: Kit, poses: readonly Pose<'ear'>[], wall = WALL): Assembly => {
  const result = assembleKit(shell.room, kit, poses, shell.line, { seed: 1, effort: 'normal' });
  if (!result) throw new Error('stopped');
  // Whatever is claimed holds when it is verified once more, from the moves alone.
  if (result.kind === 'way-in') expect(verifyMoves(shell.body, rulesOf(wall), kit, poses, result.moves).faults).toEqual([]);
  return result;
};
const ball = (id: string, radius: number) => part(id, [primitive('capsule', [2 * radius, 2 * radius, 2 * radius])]);
const ALONG_X: Pose<'ear'>['quaternion'] = [0, Math.SQRT1_2, 0, Math.SQRT1_2];

describe('a straight tube of radius 4, 12 deep', () => {
  const shell = vessel(() => 4, 12, WALL);

  test('lets a box in along its axis, from wholly outside to its place', () => {
    const kit = kitOf([part('box', [primitive('box', [3, 2, 5])])]);
    const result = assemble(shell, kit, [at(0.5, 0, -8)]);
    expect(result.kind).toBe('way-in');
    if (result.kind !== 'way-in') return;
    const [move] = result.moves;
    expect(move?.parts).toEqual(['box']);
    expect(move?.poses[0]?.[0]?.position[2]).toBeGreaterThan(2.5);
    expect(move?.poses.at(-1)).toEqual([at(0.5, 0, -8)]);
    expect(result.least).toBeGreaterThan(0.1);
  });

  test('what stands in front of another goes in after it', () => {
    const kit = kitOf([ball('front', 2.8), ball('back', 2.8)]);
    const result = assemble(shell, kit, [at(0, 0, -3), at(0, 0, -9)]);
    expect(result.kind === 'way-in' && result.moves.map((m) => m.parts)).toEqual([['back'], ['front']]);
  });

  test('what the faceplate carries goes in last, as one body', () => {
    const seated = { at: 'faceplate' } as const;
    const kit = kitOf([
      part('cell', [primitive('box', [2, 2, 3], { position: [0, 0, -1.5] })], seated),
      part('chip', [primitive('box', [2, 2, 2])]),
      part('microphone', [primitive('box', [1, 1, 1], { position: [0, 0, -0.5] })], seated),
    ]);
    const result = assemble(shell, kit, [at(-1, 0, 0), at(0, 0, -8), at(1.5, 0, 0)]);
    expect(result.kind === 'way-in' && result.moves.map((m) => m.parts)).toEqual([['chip'], ['cell', 'microphone']]);
  });

  test('the same input gives the same bytes', () => {
    const kit = kitOf([part('box', [primitive('box', [4.2, 3, 5])]), ball('back', 1)]);
    const poses = [at(0, 0, -4), at(0, 1, -9)];
    expect(JSON.stringify(assemble(shell, kit, poses))).toBe(JSON.stringify(assemble(shell, kit, poses)));
  });
});

describe('a bottle: belly of radius 5, neck of radius 3 and so, within the wall, of 2.5', () => {
  // Corners of the 96-sided rings lie on the circle: the neck is narrower than the circle by 3 (1 - cos(pi/96)) = 0.0016.
  const shell = vessel((z) => (z > -4 ? 3 : z < -6 ? 5 : 3 + (-4 - z)), 14, WALL);

  test.each([2.3, 2.4, 2.45])('a ball of radius %f goes through the neck', (radius) => {
    expect(assemble(shell, kitOf([ball('ball', radius)]), [at(1, 0, -10)]).kind).toBe('way-in');
  });

  test.each([2.51, 2.55, 3, 4])('a ball of radius %f does not', (radius) => {
    const result = assemble(shell, kitOf([ball('ball', radius)]), [at(0, 0, -9.4)]);
    expect(result.kind).toBe('stuck');
    if (result.kind !== 'stuck') return;
    expect(result.parts).toEqual(['ball']);
    // It sticks under the neck: not deeper than where it was, nor in the neck.
    expect(result.depth).toBeGreaterThan(radius);
    expect(result.depth).toBeLessThan(9.4);
    expect(result.at[2]).toBeCloseTo(-result.depth, 6);
    expect(result.lacks).toBeGreaterThan(0);
  });

  test('a rod that lies across the belly is stood up to go out', () => {
    const rod = part('rod', [primitive('capsule', [1, 1, 7])]);
    expect(assemble(shell, kitOf([rod]), [at(0, 0, -10, ALONG_X)]).kind).toBe('way-in');
  });

  test('a small part behind a large one that sticks is not what is named', () => {
    const result = assemble(shell, kitOf([ball('small', 0.5), ball('large', 3)]), [at(0, 0, -12.9), at(0, 0, -9)]);
    expect(result.kind === 'stuck' && result.parts).toEqual(['large']);
  });
});

/**
 * The ladder problem: the longest segment that passes the square bend of a corridor `a` and `b` wide is
 * (a^(2/3) + b^(2/3))^(3/2) (textbook calculus). With all kept c away from walls and edge (a rod of radius r in a wall of
 * w: c = w + r), the least over the angle of ((a - c) sin t + (b - c) cos t - c) / (sin t cos t); for a = b that is at
 * 45 degrees: 2 sqrt 2 (a - c) - 2 c.
 */
describe('a rod round a square bend', () => {
  const WIDE = 4;
  const WALL_HERE = 0.3;
  const RADIUS = 0.4;
  const C = WALL_HERE + RADIUS;
  const longest = 2 * Math.SQRT2 * (WIDE - C) - 2 * C;
  // Room to lean out of the plane, which a rod may use to be longer: sqrt(longest^2 + LEAN^2) at most.
  const LEAN = 0.2;
  const shell = bentCorridor(WIDE, 2 * C + LEAN, 14, 16, WALL_HERE);
  const run = (core: number): Assembly => {
    const rod = part('rod', [primitive('capsule', [2 * RADIUS, 2 * RADIUS, core + 2 * RADIUS])]);
    return assemble(shell, kitOf([rod]), [at(15.5 - C - core / 2, 0, WIDE / 2 - 14, ALONG_X)], WALL_HERE);
  };

  test('the closed form agrees with the textbook where nothing is kept away, and with a scan over the angle', () => {
    expect(2 * Math.SQRT2 * WIDE).toBeCloseTo((2 * WIDE ** (2 / 3)) ** 1.5, 9);
    let least = Infinity;
    for (let k = 1; k < 9000; k++) {
      const t = (k / 9000) * (Math.PI / 2);
      least = Math.min(least, ((WIDE - C) * (Math.sin(t) + Math.cos(t)) - C) / (Math.sin(t) * Math.cos(t)));
    }
    expect(least).toBeCloseTo(longest, 6);
  });

  test.each([0.5, 0.7, 0.9])('%f of the longest passes', (share) => {
    expect(run(share * longest).kind).toBe('way-in');
  });

  test.each([1.005, 1.02, 1.1, 1.3])('%f of the longest is never given a way', (share) => {
    expect(run(share * Math.sqrt(longest * longest + LEAN * LEAN)).kind).toBe('stuck');
  });
});

test('a free part in the way of the faceplate goes in with it', () => {
  const shell = vessel(() => 5, 12, WALL);
  const seated = { at: 'faceplate' } as const;
  // A hook: the foot of an L-shaped part reaches under the chip, which fills the room to the side and above it.
  const hook = part(
    'cell',
    [primitive('box', [1, 5, 6], { position: [-2.5, 0, -3] }), primitive('box', [5.6, 5, 1], { position: [0, 0, -5.5] })],
    seated,
  );
  const chip = part('chip', [primitive('box', [4.4, 5, 3])]);
  const result = assemble(shell, kitOf([hook, chip]), [at(0, 0, 0), at(0.4, 0, -3)]);
  expect(result.kind === 'way-in' && result.moves.map((m) => m.parts)).toEqual([['cell', 'chip']]);
});

test('a search that is told to stop has no answer', () => {
  const shell = vessel(() => 4, 12, WALL);
  const options = { seed: 1, effort: 'normal', shouldStop: () => true } as const;
  expect(assembleKit(shell.room, kitOf([ball('ball', 1)]), [at(0, 0, -6)], shell.line, options)).toBeUndefined();
});
