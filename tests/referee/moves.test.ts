/** Ways in that can be told by hand: a square well 20 mm wide, its shell 0.6 mm, two small parts, the faceplate's plane at z = 20. */
import { describe, expect, test } from 'vitest';
import type { Vec3 } from '../../src/geometry/vec.ts';
import { cuboid } from '../support/referee-blocks.ts';
import type { MoveDocument, PartDocument, PoseFile, StyleDocument } from '../support/referee-document.ts';
import { followMoves, type Motion } from '../support/referee-motion.ts';
import { clip, surfaceOf } from '../support/referee-scan.ts';
import { axesOf, type Cut, type FourNumbers, type Solid } from '../support/referee-solids.ts';
import { VENT } from '../support/referee-vent.ts';

const OUTER: Cut = { point: [0, 0, 20], normal: [0, 0, 1] };
const TIP: Cut = { point: [0, 0, 1], normal: [0, 0, -1] };
const CAST = cuboid([-10, -10, 0], [10, 10, 24]);
const LEVEL: FourNumbers = [0, 0, 0, 1];

const about = (axis: 0 | 1 | 2, degrees: number): FourNumbers => {
  const [s, c] = [Math.sin((degrees * Math.PI) / 360), Math.cos((degrees * Math.PI) / 360)];
  return [axis === 0 ? s : 0, axis === 1 ? s : 0, axis === 2 ? s : 0, c];
};
const pose = (position: Vec3, quaternion = LEVEL): PoseFile => ({ position, quaternion });
const way = (id: string, ...poses: PoseFile[]): MoveDocument => ({ parts: [{ id, poses }] });

interface Thing {
  readonly id: string;
  readonly size: Vec3;
  readonly seat?: PartDocument['seat'];
  /** Its box's middle over the part's origin, mm. */
  readonly up?: number;
}

/** The referee on things that stand where their moves end. */
function follow(things: readonly Thing[], moves: MoveDocument[], least = 0, tube?: Solid): Motion {
  const solids = new Map<string, Solid[]>(tube ? [[VENT, [tube]]] : []);
  for (const { id, size, up = 0 } of things) {
    const last = moves
      .flatMap((m) => m.parts)
      .find((p) => p.id === id)
      ?.poses.at(-1) as PoseFile;
    const at: Vec3 = [last.position[0], last.position[1], last.position[2] + up];
    solids.set(id, [{ part: id, shape: 'box', size, kind: 'solid', at, axes: axesOf(last.quaternion) }]);
  }
  const parts = things.map(({ id, seat = 'free' }): PartDocument => ({ id, seat, margin: 0, primitives: [], clearance: null }));
  if (tube) parts.push({ id: VENT, seat: 'shell', margin: 0, primitives: [], clearance: null });
  const style: StyleDocument = {
    style: 'ITE',
    verdict: 'fits',
    found: 0.2,
    ceiling: null,
    cuts: [],
    parts,
    sound: true,
    assembly: { least, moves },
  };
  return followMoves({
    closed: CAST,
    surface: surfaceOf(CAST.flatMap((t) => clip(t, [OUTER, TIP]))),
    style,
    rules: { wall: 0.6, faceplate: 0.8, gap: 0.1, partGap: 0.1, suspension: 0.25, tolerance: 0.1 },
    outer: OUTER,
    others: [TIP],
    solids,
  });
}

const A: Thing = { id: 'a', size: [2, 2, 2] };
const B: Thing = { id: 'b', size: [2, 2, 2] };
const inA = way('a', pose([0, 0, 25]), pose([0, 0, 10]));

describe('one part after the other', () => {
  test('past one that is in, at a known distance, is upheld', () => {
    const motion = follow([A, B], [inA, way('b', pose([2.3, 0, 25]), pose([2.3, 0, 5]), pose([0, 0, 5]))]);
    expect(motion.flaws).toEqual([]);
    expect(motion.least).toBeCloseTo(0.3, 4);
    expect(motion.poses).toBeGreaterThan((15 + 20 + 2.3) / 0.1);
  });

  test('through one that is in is refuted, however thin the overlap', () => {
    expect(follow([A, B], [inA, way('b', pose([0, 0, 25]), pose([0, 0, 5]))]).flaws.join()).toMatch(/^b: b to a on leg 1/);
    expect(follow([A, B], [inA, way('b', pose([1.99, 0, 25]), pose([1.99, 0, 5]))]).flaws.join()).toMatch(/^b: b to a on leg 1/);
    expect(follow([A, B], [inA, way('b', pose([2.01, 0, 25]), pose([2.01, 0, 5]))]).flaws).toEqual([]);
  });

  test('along the wall: 0.6 mm are the shell', () => {
    const by = (x: number): Motion => follow([B], [way('b', pose([x, 0, 21.2]), pose([x, 0, 18]))]);
    expect(by(8.39).flaws).toEqual([]);
    expect(by(8.39).least).toBeCloseTo(0.01, 2);
    expect(by(8.41).flaws.join()).toMatch(/^b: b to the shell on leg 1 .* there is -0\.01\d\d mm/);
  });

  test('in front of the outer cut nothing is in the way', () => {
    expect(follow([B], [way('b', pose([30, 0, 25]), pose([0, 0, 25]), pose([0, 0, 5]))]).flaws).toEqual([]);
  });

  test('into the shell only between two poses, in the middle of a turn', () => {
    // A rod 2 mm wide, turned about its middle: half-way to lying flat its corners sweep sqrt(1 + (length / 2)^2), and 9.4 are free.
    const turned = (length: number): Motion =>
      follow([{ id: 'b', size: [2, length, 2] }], [way('b', pose([0, 0, 21.2]), pose([0, 0, 18]), pose([0, 0, 18], about(2, 30)))]);
    expect(turned(18.68).flaws).toEqual([]); // 9.393
    expect(turned(18.76).flaws.join()).toMatch(/^b: b to the shell on leg 2/); // 9.433, though 9.38 at both ends
    const round = follow(
      [{ id: 'b', size: [2, 2, 2] }],
      // The origin runs straight, but the box turns by 90 degrees on the way: half-way its corner is 1.414 out, not 1.
      [way('b', pose([8.2, 0, 21.5]), pose([8.2, 0, 18]), pose([8.2, 0, 16], about(2, 90)))],
    );
    expect(round.flaws.join()).toMatch(/^b: b to the shell on leg 2 of 2 at 0\.\d+ there is -0\.\d+ mm/);
  });

  test('a claim of more room than there is', () => {
    expect(follow([A, B], [inA, way('b', pose([2.3, 0, 25]), pose([2.3, 0, 5]))], 0.29).flaws).toEqual([]);
    expect(follow([A, B], [inA, way('b', pose([2.3, 0, 25]), pose([2.3, 0, 5]))], 0.32).flaws.join()).toMatch(/claims 0\.32 mm all along/);
  });

  test('moves that are none', () => {
    expect(follow([A], [inA, inA]).flaws.join()).toMatch(/moves in twice/);
    expect(follow([A], [way('a', pose([0, 0, 10]))]).flaws.join()).toMatch(/has no way/);
    expect(follow([A], [way('a', pose([0, 0, 20.5]), pose([0, 0, 10]))]).flaws.join()).toMatch(/begins 0\.500 mm inside/);
  });
});

describe('a vent', () => {
  const along: Solid = { part: VENT, shape: 'capsule', size: [2, 2, 26], kind: 'solid', at: [0, 0, 10], axes: axesOf(LEVEL) };
  const past = (x: number, from = 25): Motion => follow([B], [way('b', pose([x, 0, from]), pose([x, 0, 5]))], 0, along);

  test('is not to be touched by what goes in beside it', () => {
    expect(past(2.05).flaws).toEqual([]);
    expect(past(2.05).least).toBeCloseTo(0.05, 4);
    expect(past(1.99).flaws.join()).toMatch(/^b: b to the vent on leg 1/);
    const through = follow([B], [way('b', pose([4, 0, 25]), pose([4, 0, 10]), pose([-4, 0, 10]))], 0, along);
    expect(through.flaws.join()).toMatch(/^b: b to the vent on leg 2/);
  });

  test('ends at the outer cut: what passes in front of it is free', () => {
    // Its end reaches 23 mm up, 3 beyond the cut; the box passes over the cut with 0.2 mm to spare.
    const over = (z: number): Motion => follow([B], [way('b', pose([-5, 0, z]), pose([5, 0, z]), pose([5, 0, 10]))], 0, along);
    expect(over(21.2).flaws).toEqual([]);
    expect(over(21.2).least).toBeCloseTo(0.2, 4);
  });

  test('leaning, is cut off where the outer cut is, not where its round end is', () => {
    // The middle line passes the cut at x = 3 and leans by 45 degrees: its end beyond the cut hangs over x = 5.
    const leaning: Solid = { ...along, at: [0, 0, 17], size: [2, 2, 14], axes: axesOf(about(1, 45)) };
    const down = (x: number): Motion => follow([B], [way('b', pose([x, 0, 23]), pose([x, 0, 18.9]))], 0, leaning);
    // Its highest line on the right side meets the cut at x = 3 + sqrt 2.
    expect(down(5.43).flaws).toEqual([]);
    expect(down(5.43).least).toBeCloseTo(4.43 - 3 - Math.SQRT2, 3);
    expect(down(5.39).flaws.join()).toMatch(/^b: b to the vent on leg 1/);
  });

  test('moves no more than the shell', () => {
    const carried = way(VENT, pose([0, 0, 40]), pose([0, 0, 10]));
    expect(follow([B], [carried, way('b', pose([4, 0, 25]), pose([4, 0, 5]))], 0, along).flaws.join()).toMatch(
      /^vent: moves in twice, or is no part that moves/,
    );
  });
});

describe('the faceplate with what is seated at it', () => {
  const C: Thing = { id: 'cell', size: [4, 4, 4], up: -2, seat: 'faceplate' };
  const M: Thing = { id: 'microphone', size: [2, 2, 2], up: -1, seat: 'faceplate' };
  const group = (cell: PoseFile[], microphone: PoseFile[]): MoveDocument => ({
    parts: [
      { id: 'cell', poses: cell },
      { id: 'microphone', poses: microphone },
    ],
  });
  const together = (from: number): MoveDocument =>
    group([pose([0, 0, from]), pose([0, 0, 19.2])], [pose([5, 0, from]), pose([5, 0, 19.2])]);

  test('straight in, as one, is upheld', () => {
    expect(follow([C, M, A], [inA, together(30)]).flaws).toEqual([]);
  });

  test('onto a part that is in the way', () => {
    const high = way('a', pose([0, 0, 30]), pose([0, 0, 16]));
    expect(follow([C, M, A], [high, together(30)]).flaws.join()).toMatch(/cell to a on leg 1/);
  });

  test('parting on the way, not last, or apart', () => {
    const torn = group([pose([0, 0, 30]), pose([0, 0, 19.2])], [pose([5, 0.01, 30]), pose([5, 0, 19.2])]);
    expect(follow([C, M, A], [inA, torn]).flaws.join()).toMatch(/microphone: leaves its place beside cell on leg 1/);
    expect(follow([C, M, A], [together(30), inA]).flaws.join()).toMatch(
      /cell: is seated at the faceplate, but does not go in with it, last/,
    );
  });

  test('a plate that dips behind the edge of the shell on its way', () => {
    // Once in, 0.1 mm too deep, and back.
    const deep = group(
      [pose([0, 0, 30]), pose([0, 0, 19.1]), pose([0, 0, 19.2])],
      [pose([5, 0, 30]), pose([5, 0, 19.1]), pose([5, 0, 19.2])],
    );
    expect(follow([C, M], [deep]).flaws.join()).toMatch(/the faceplate to the shell's edge .* there is -0\.\d+ mm/);
  });
});
