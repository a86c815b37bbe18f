/** Whole arrangements: one that is in order, and each rule of the model broken once. */
import { beforeAll, describe, expect, it } from 'vitest';
import { type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { multiply, unitQuat } from '../../src/geometry/rotation.ts';
import { type Pose, pt, type Quat } from '../../src/geometry/vec.ts';
import type { Body, Evidence } from '../../src/model/fit.ts';
import type { Kit, Part } from '../../src/model/parts.ts';
import { verifyArrangement } from '../../src/verify/index.ts';
import { ellipticTube, kitOf, part, primitive, RULES } from '../support/bodies.ts';

let kernel: Kernel;
beforeAll(async () => {
  kernel = await loadKernel();
});

const ON_EDGE: Quat = [0, Math.SQRT1_2, 0, Math.SQRT1_2];
const DOWN: Quat = [1, 0, 0, 0]; // +z of the part medially, its x kept
const about = (axis: readonly [number, number, number], deg: number): Quat => {
  const s = Math.sin((deg * Math.PI) / 360);
  return unitQuat([axis[0] * s, axis[1] * s, axis[2] * s, Math.cos((deg * Math.PI) / 360)]);
};
const at = (x: number, y: number, z: number, q: Quat = [0, 0, 0, 1]): Pose<'ear'> => ({ position: pt(x, y, z), quaternion: q });

const CELL = part('cell', [primitive('cylinder', [6, 6, 4], { position: [0, 0, -3], quaternion: ON_EDGE })], { at: 'faceplate' });
const RECEIVER = part(
  'receiver',
  [primitive('box', [3, 2, 5]), primitive('capsule', [1.4, 1.4, 3], { position: [0, 0, 3.5], kind: 'service' })],
  { at: 'tip', spout: [0, 0, 2.5], reach: 4, cone: Math.PI / 6 },
  0.25,
);
const port = (id: string): Part => part(id, [primitive('cylinder', [2, 2, 1.5], { position: [0, 0, -0.75] })], { at: 'faceplate' });
const KIT: Kit = kitOf(
  [CELL, RECEIVER, port('front'), port('rear')],
  [{ rule: 'ports', front: 'front', rear: 'rear', least: 4, most: 12, tilt: Math.PI / 9 }],
);
/** 16 x 12 across, 24 long: roomy. */
const ROOM: Body = ellipticTube(16, 12, 24, 180, 48);
/** Cell in the middle; receiver aiming down the axis, spout 2.4 above the tip opening; ports either side of the cell. */
const GOOD: Pose<'ear'>[] = [at(0, 0, -0.8), at(0, 0, -19.1, DOWN), at(4.5, 0, -0.8), at(-4.5, 0, -0.8)];

const judge = (poses: Pose<'ear'>[], kit = KIT, body = ROOM): Evidence => verifyArrangement(kernel, body, RULES, kit, poses);
const withPose = (i: number, pose: Pose<'ear'>): Pose<'ear'>[] => GOOD.map((p, k) => (k === i ? pose : p));

describe('an arrangement in order', () => {
  it('is sound, with every clearance as calculated by hand', () => {
    const e = judge(GOOD);
    expect(e.faults).toEqual([]);
    expect(e.sound).toBe(true);
    expect(e.overlapVolume).toBe(0);
    // Port radius 1 at x = 4.5; the cell is 4 wide along x: 4.5 - 1 - 2 = 1.5 apart, 0.1 asked.
    const pair = e.measured.find((m) => m.part === 'cell' && m.other === 'front');
    expect(pair?.has).toBeCloseTo(1.5, 5);
    // Receiver's end z = -19.1 - 2.5 = -21.6: 2.4 to the tip cut, 0.6 + 0.1 + 0.25 asked.
    const tip = e.measured.find((m) => m.kind === 'tip' && m.part === 'receiver');
    expect(tip?.has).toBeCloseTo(2.4, 9);
    expect(tip?.asked).toBeCloseTo(0.95, 12);
    // Receiver's other end z = -16.6 against the cell's lowest line z = -0.8 - 6: 9.8, 0.1 + 0.25 asked.
    const apart = e.measured.find((m) => m.part === 'cell' && m.other === 'receiver');
    expect(apart?.has).toBeCloseTo(9.8, 5);
    expect(apart?.asked).toBeCloseTo(0.35, 12);
    expect(e.measured.find((m) => m.kind === 'faceplate' && m.part === 'receiver')?.has).toBeCloseTo(16.6, 9);
    expect(e.measured.some((m) => m.kind === 'faceplate' && m.part === 'cell')).toBe(false);
    expect(e.spare).toBe(Math.min(...e.measured.map((m) => m.spare)));
    expect(e.clearance[0]?.faceplate).toBeCloseTo(0.8, 9);
  });

  it('gives the same evidence twice', () => {
    expect(judge(GOOD)).toEqual(judge(GOOD));
  });

  it('a pose counts with its negated quaternion just the same', () => {
    const q = GOOD[1]?.quaternion as Quat;
    expect(judge(withPose(1, at(0, 0, -19.1, [-q[0], -q[1], -q[2], -q[3]]))).spare).toBeCloseTo(judge(GOOD).spare, 9);
  });
});

describe('each rule broken once', () => {
  it.each<[string, Pose<'ear'>[], RegExp]>([
    ['a seated part too deep', withPose(0, at(0, 0, -0.81)), /cell: sits 0.81/],
    ['a seated part tilted', withPose(0, at(0, 0, -0.8, about([0, 1, 0], 0.01))), /cell: is not square/],
    ['a seated part upside down', withPose(2, at(4.5, 0, -0.8, DOWN)), /front: is not square/],
    ['a spout out of reach', withPose(1, at(0, 0, -17.4, DOWN)), /receiver: its spout is 4.1/],
    ['a spout out of its cone', withPose(1, at(0, 0, -18, multiply(about([0, 1, 0], 31), DOWN))), /receiver: points 31/],
    ['ports too far apart', GOOD.map((p, i) => (i === 2 ? at(6.2, 0, -0.8) : i === 3 ? at(-6.2, 0, -0.8) : p)), /ports are 12.4/],
    ['ports too near', withPose(2, at(-0.6, 0, -0.8)), /ports are 3.9/],
    ['ports too steep', withPose(2, at(4.5, 3.4, -0.8)), /off the horizontal/],
    ['front and rear exchanged', GOOD.map((p, i) => (i === 2 ? at(-4.5, 0, -0.8) : i === 3 ? at(4.5, 0, -0.8) : p)), /behind the rear/],
    ['a quaternion that is none', withPose(0, at(0, 0, -0.8, [0, 0, 0, 1.1])), /quaternion/],
    ['a pose that is no number', withPose(0, at(Number.NaN, 0, -0.8)), /not a number/],
    ['two parts in one place', withPose(2, at(1, 0, -0.8)), /overlap by/],
    ['a part through the wall', withPose(3, at(-7.5, 0, -0.8)), /lie outside the body/],
    ['a part outside altogether', withPose(1, at(60, 0, -19.1, DOWN)), /lie outside the body/],
  ])('%s', (_name, poses, what) => {
    const e = judge(poses);
    expect(e.sound).toBe(false);
    expect(e.faults.join('\n')).toMatch(what);
  });

  it('too near to wall, tip, faceplate or part: negative spare, nothing overlapping', () => {
    const near = (poses: Pose<'ear'>[], kind: string): void => {
      const e = judge(poses);
      expect(e.tightest.kind).toBe(kind);
      expect(e.spare).toBeLessThan(0);
      expect(e.spare).toBeGreaterThan(-0.7);
      expect(e.overlapVolume).toBe(0);
    };
    near(withPose(3, at(-6.5, 0, -0.8)), 'wall');
    near(withPose(1, at(0, 0, -21.2, DOWN)), 'tip');
    near(withPose(2, at(3.05, 0, -0.8)), 'parts');
    const chip = part('chip', [primitive('box', [3, 1, 1])]);
    const e = verifyArrangement(kernel, ROOM, RULES, kitOf([chip]), [at(0, 0, -1.2)]);
    expect(e.tightest.kind).toBe('faceplate');
    expect(e.spare).toBeCloseTo(1.2 - 0.5 - 0.9, 6);
  });

  it('service room: may pass the tip cut, may not leave the cast, and keeps other parts out', () => {
    const long = part(
      'receiver',
      [primitive('box', [3, 2, 5]), primitive('capsule', [1.4, 1.4, 8], { position: [0, 0, 6], kind: 'service' })],
      RECEIVER.seat,
    );
    expect(judge(GOOD, kitOf([CELL, long, port('front'), port('rear')])).sound).toBe(true);
    const sideways = part(
      'receiver',
      [primitive('box', [3, 2, 5]), primitive('capsule', [1.4, 1.4, 14], { position: [4, 0, 0], quaternion: ON_EDGE, kind: 'service' })],
      RECEIVER.seat,
    );
    const out = judge(GOOD, kitOf([CELL, sideways, port('front'), port('rear')]));
    expect(out.tightest.kind).toBe('service');
    expect(out.spare).toBeLessThan(-2);
    const up = part(
      'receiver',
      [primitive('box', [3, 2, 5]), primitive('capsule', [1.4, 1.4, 14], { position: [0, 0, -9], kind: 'service' })],
      RECEIVER.seat,
    );
    const hit = judge(GOOD, kitOf([CELL, up, port('front'), port('rear')]));
    expect(hit.measured.find((m) => m.part === 'cell' && m.other === 'receiver')?.has).toBeLessThan(0);
    expect(hit.sound).toBe(false);
  });

  it('a body that is not what it says: open, mislabelled, or beyond its cuts', () => {
    const open = { ...ROOM, mesh: { ...ROOM.mesh, indices: ROOM.mesh.indices.slice(3) }, face: ROOM.face.slice(1) };
    expect(judge(GOOD, KIT, open).faults.join()).toMatch(/not closed: 3 unpaired/);
    // A stretch of wall called a cut face would hide it from the wall's clearance.
    const hidden = { ...ROOM, face: ROOM.face.map((f, i) => (i < 40 ? 1 : f)) };
    expect(judge(GOOD, KIT, hidden).faults.join()).toMatch(/lie off their cut's plane/);
    const cuts = ROOM.cuts.map((c) => (c.name === 'tip' ? { ...c, plane: { ...c.plane, point: pt<'ear'>(0, 0, -23) } } : c));
    expect(judge(GOOD, KIT, { ...ROOM, cuts }).faults.join()).toMatch(/beyond one of its cuts/);
  });

  it('refuses poses that are not one a part', () => {
    expect(() => judge(GOOD.slice(1))).toThrow(/3 poses for 4 parts/);
  });
});
