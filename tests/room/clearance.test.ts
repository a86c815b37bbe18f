import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { conjugate, rotate } from '../../src/geometry/rotation.ts';
import { type Pose, pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { Primitive } from '../../src/model/parts.ts';
import { DEPTH_ERROR } from '../../src/room/depth.ts';
import { carveRoom, measureCast, posedSolids } from '../../src/room/index.ts';
import { bodyOf, canal, loft, solid, tube, USUAL } from '../support/rooms.ts';
import { meshToSolid, pointToSolid, randomTurn, supportOf, toWorld } from './reference.ts';

const PARTS: Record<string, Primitive> = {
  box: solid('box', [5, 2.7, 1.9]),
  cylinder: solid('cylinder', [5.8, 5.8, 3.6]),
  capsule: solid('capsule', [1.4, 1.4, 4]),
};
const cast = canal(1.2, 8000);
const field = measureCast(cast);
const far = 60;
// Cuts far away, so that the whole cast is the body's surface.
const room = carveRoom(
  field,
  bodyOf(cast, { point: pt(0, 0, far), normal: pt(0, 0, 1) }, { point: pt(0, 0, -far), normal: pt(0, 0, -1) }, pt(0, 0, 0)),
  USUAL,
);

describe('clearance of a solid to the cast', () => {
  for (const [name, p] of Object.entries(PARTS)) {
    test(`${name}: agrees with every triangle searched to the end, seed 3`, () => {
      const random = seeded(3);
      let clear = 0;
      let crossing = 0;
      for (let k = 0; k < 400 && (clear < 12 || crossing < 8); k++) {
        const z = random.between(-14, 8);
        const pose: Pose<'ear'> = { position: pt(random.between(-2, 2), random.between(-2, 2), z), quaternion: randomTurn(random) };
        const has = room.wallClearance(posedSolids([p], pose), 0);
        if (has > 0 ? clear >= 12 : crossing >= 8) continue;
        if (has > 0) {
          clear++;
          const reference = meshToSolid(cast, p, pose);
          expect(has).toBeLessThanOrEqual(reference + 1e-9);
          expect(has).toBeGreaterThan(reference - 1e-6);
        } else {
          crossing++;
          // The sampled depth is from below: on a rim sampled every 0.1 mm, or a face every 0.2, it may be short.
          expect(-has).toBeGreaterThan(deepest(p, pose) - DEPTH_ERROR);
          expect(-has).toBeLessThan(deepest(p, pose) + 0.06);
        }
      }
      expect(clear).toBe(12);
      expect(crossing).toBe(8);
    });
  }

  test('a wall of one plane: the exact height over it, crossing or not', () => {
    const slab = carveRoom(
      measureCast(box(20, 20, 10)),
      bodyOf(box(20, 20, 10), { point: pt(0, 0, far), normal: pt(0, 0, 1) }, { point: pt(0, 0, -far), normal: pt(0, 0, -1) }, pt(0, 0, 0)),
      USUAL,
    );
    const random = seeded(5);
    for (const p of Object.values(PARTS)) {
      for (let k = 0; k < 20; k++) {
        const pose: Pose<'ear'> = {
          position: pt(random.between(-2, 2), random.between(-2, 2), random.between(2, 5)),
          quaternion: randomTurn(random),
        };
        // Highest point by closed form: the slab's top is z = 5.
        const top = highest(p, pose);
        const has = slab.wallClearance(posedSolids([p], pose), 0);
        if (top < 5) expect(has).toBeCloseTo(5 - top, 6);
        else expect(Math.abs(has - (5 - top))).toBeLessThanOrEqual(0.01);
      }
    }
  });

  test('a spike thinner than the grid is never missed', () => {
    // A needle 0.02 mm thick that reaches from the wall into the room: far below the field's step of 0.25 mm.
    const needled = withNeedle();
    const spiked = carveRoom(
      measureCast(needled),
      bodyOf(needled, { point: pt(0, 0, far), normal: pt(0, 0, 1) }, { point: pt(0, 0, -far), normal: pt(0, 0, -1) }, pt(0, 0, 0)),
      USUAL,
    );
    const chip = solid('box', [3, 3, 3]);
    const at = (x: number): number => spiked.wallClearance(posedSolids([chip], { position: pt(x, 0, 0), quaternion: [0, 0, 0, 1] }), 0);
    // The needle's point is at x = 0.5 (from the wall at x = 10): a cube whose side is at x = 0 clears it by 0.5.
    expect(at(-1.5)).toBeCloseTo(0.5, 3);
    expect(at(-1.01)).toBeCloseTo(0.01, 3);
    expect(at(-0.99)).toBeLessThanOrEqual(0);
    expect(at(2)).toBeLessThanOrEqual(0);
  });

  test('only what lies within the cuts is the body: a solid past a cut does not meet the cast there', () => {
    const pipe = tube(
      (s) => pt(0, 0, 15 - 30 * s),
      (s) => (s < 0.3 ? [1, 1] : [4, 4]),
      { steps: 60, around: 64 },
    );
    const f = measureCast(pipe);
    const cut = (z: number) =>
      carveRoom(
        f,
        bodyOf(pipe, { point: pt(0, 0, z), normal: pt(0, 0, 1) }, { point: pt(0, 0, -14), normal: pt(0, 0, -1) }, pt(0, 0, 0)),
        USUAL,
      );
    const stub = posedSolids([solid('cylinder', [4, 4, 6.8])], { position: pt(0, 0, 3), quaternion: [0, 0, 0, 1] });
    // Its top at z = 6.4 meets the shoulder (from z = 6 to 6.5) of the whole cast, but not of the body cut at z = 4.
    expect(cut(14).wallClearance(stub, 0)).toBeLessThan(0);
    expect(cut(4).wallClearance(stub, 0)).toBeGreaterThan(1.9);
  });
});

/** Depth of the deepest of many points of a solid outside the cast, by the tree's plain queries. */
function deepest(p: Primitive, pose: Pose<'ear'>): number {
  let most = 0;
  const look = (v: Vec3): void => {
    if (pointToSolid(p, v) > 1e-12) return;
    const w = toWorld(pose, v);
    const q = pt<'ear'>(w[0], w[1], w[2]);
    const d = field.near.tree.nearest(q)?.distance ?? 0;
    if (d > most && !field.near.tree.contains(q)) most = d;
  };
  const [a, b, c] = p.size;
  const n = 24;
  const many = p.shape === 'cylinder' ? 192 : n;
  for (let i = 0; i <= many; i++) {
    for (let j = 0; j <= n; j++) {
      const u = i / many - 0.5;
      const v = j / n - 0.5;
      if (p.shape === 'box') {
        for (const e of [-0.5, 0.5]) {
          look([u * a, v * b, e * c]);
          look([u * a, e * b, v * c]);
          look([e * a, u * b, v * c]);
        }
      } else if (p.shape === 'cylinder') {
        for (const t of [2 * Math.PI * u]) {
          look([(a / 2) * Math.cos(t), (a / 2) * Math.sin(t), v * c]);
          for (const e of [-0.5, 0.5]) look([v * a * Math.cos(t), v * a * Math.sin(t), e * c]);
        }
      } else {
        const t = 2 * Math.PI * u;
        look([(a / 2) * Math.cos(t), (a / 2) * Math.sin(t), v * (c - a)]);
        const r = (a / 2) * Math.cos(Math.PI * v);
        for (const e of [-1, 1]) look([r * Math.cos(t), r * Math.sin(t), e * ((c - a) / 2 + (a / 2) * Math.abs(Math.sin(Math.PI * v)))]);
      }
    }
  }
  return most;
}

/** Highest coordinate of a posed solid, by its closed-form support. */
const highest = (p: Primitive, pose: Pose<'ear'>): number => pose.position[2] + supportOf(p, rotate(conjugate(pose.quaternion), [0, 0, 1]));

function box(x: number, y: number, z: number) {
  const ring = (h: number): Vec3[] => [
    [x / 2, y / 2, h],
    [x / 2, -y / 2, h],
    [-x / 2, -y / 2, h],
    [-x / 2, y / 2, h],
  ];
  return loft([ring(z / 2), ring(-z / 2)]);
}

/** A box with a square needle pressed into it from the side at x = 10: the mesh's surface runs along the needle. */
function withNeedle() {
  const whole = box(20, 20, 20);
  const positions = [...whole.positions];
  const indices: number[] = [];
  // Replace the side x = +10 by one with a tiny square hole whose rim runs to the needle's point.
  for (let t = 0; t < whole.indices.length; t += 3) {
    const corners = [0, 1, 2].map((k) => whole.indices[t + k] as number);
    if (corners.every((c) => whole.positions[3 * c] === 10)) continue;
    indices.push(...corners);
  }
  const base = positions.length / 3;
  const e = 0.01;
  positions.push(10, 10, 10, 10, -10, 10, 10, -10, -10, 10, 10, -10);
  positions.push(10, e, e, 10, -e, e, 10, -e, -e, 10, e, -e, 0.5, 0, 0);
  for (let k = 0; k < 4; k++) {
    const a = base + k;
    const b = base + ((k + 1) % 4);
    const c = a + 4;
    const d = base + 4 + ((k + 1) % 4);
    indices.push(a, c, b, b, c, d, c, base + 8, d);
  }
  return { frame: 'ear' as const, positions: new Float64Array(positions), indices: new Uint32Array(indices) };
}
