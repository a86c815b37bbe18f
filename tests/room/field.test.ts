import { describe, expect, test } from 'vitest';
import { volumeOf } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { pt } from '../../src/geometry/vec.ts';
import { Fault } from '../../src/model/fault.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { interpolate } from '../../src/room/room.ts';
import { BARE, bodyOf, canal, tube } from '../support/rooms.ts';
import { pointToSolid } from './reference.ts';

describe('distance field', () => {
  test('within its stated error of the exact distance at random points, seed 1', () => {
    const cast = canal(1.1, 20_000);
    const f = measureCast(cast);
    const random = seeded(1);
    let near = 0;
    let deep = 0;
    for (let k = 0; k < 4000; k++) {
      const x = random.between(-8, 8);
      const y = random.between(-9, 9);
      const z = random.between(-18, 11);
      const exact = f.near.tree.signedDistance(pt(x, y, z));
      if (exact <= 0) continue;
      const v = interpolate(f, f.values, x, y, z);
      if (exact < f.band) {
        near++;
        expect(Math.abs(v - exact)).toBeLessThanOrEqual(f.error);
      } else {
        deep++;
        expect(Math.abs(v - exact)).toBeLessThanOrEqual(f.deepError);
      }
    }
    expect(near).toBeGreaterThan(100);
    expect(deep).toBeGreaterThan(100);
  });

  test('nodes: exact near the wall, right sign everywhere, against all triangles', () => {
    const cast = canal(1, 4000);
    const f = measureCast(cast);
    const { grid: g } = f;
    const random = seeded(2);
    for (let k = 0; k < 600; k++) {
      const i = random.below(g.nx);
      const j = random.below(g.ny);
      const l = random.below(g.nz);
      const p = pt<'ear'>(g.x0 + g.h * i, g.y0 + g.h * j, g.z0 + g.h * l);
      const v = f.values[(l * g.ny + j) * g.nx + i] as number;
      const exact = f.near.tree.signedDistance(p);
      expect(v > 0).toBe(exact > 0);
      if (exact > 0 && exact < 1) expect(Math.abs(v - exact)).toBeLessThan(1e-5);
      if (exact > 0) expect(Math.abs(v - exact)).toBeLessThan(f.deepError);
    }
  });

  test('inside nodes fill the volume (divergence theorem)', () => {
    const cast = canal(1.2, 20_000);
    const f = measureCast(cast);
    const inside = f.values.reduce((s, v) => s + (v > 0 ? 1 : 0), 0) * f.grid.h ** 3;
    expect(Math.abs(inside / volumeOf(cast) - 1)).toBeLessThan(0.01);
  });

  test('a doubled surface counts like a single one; a hole in the lateral base spoils nothing below it', () => {
    const cast = canal(1, 4000);
    const twice = { ...cast, indices: new Uint32Array([...cast.indices, ...cast.indices]) };
    const open = { ...cast, indices: cast.indices.filter((_, k) => !lateral(cast, Math.floor(k / 3))) };
    expect(open.indices.length).toBeLessThan(cast.indices.length);
    const a = measureCast(cast);
    for (const [other, top] of [
      [twice, Infinity],
      [open, 11],
    ] as const) {
      const b = measureCast(other);
      // The open one has another box, hence another grid: compare by points.
      const random = seeded(4);
      for (let k = 0; k < 2000; k++) {
        const p = [random.between(-8, 8), random.between(-9, 9), random.between(-18, Math.min(top, 11))] as const;
        const d = interpolate(a, a.values, ...p);
        if (Math.abs(d) > 0.5) expect(interpolate(b, b.values, ...p) > 0).toBe(d > 0);
      }
    }
  });

  test('an analytic cast: a straight round tube', () => {
    const pipe = tube(
      (s) => pt(0, 0, 10 - 20 * s),
      () => [4, 4],
      { steps: 40, around: 720 },
    );
    const f = measureCast(pipe);
    const random = seeded(6);
    const can = { shape: 'cylinder', size: [8, 8, 20], position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' } as const;
    for (let k = 0; k < 500; k++) {
      const p = [random.between(-4.2, 4.2), random.between(-4.2, 4.2), random.between(-10.2, 10.2)] as const;
      const r = Math.hypot(p[0], p[1]);
      const outside = pointToSolid(can, p);
      const exact = outside > 0 ? -outside : Math.min(4 - r, 10 - Math.abs(p[2]));
      // Faceting: 4 (1 - cos(pi/720)) < 4e-5.
      expect(Math.abs(f.near.tree.signedDistance(pt(...p)) - exact)).toBeLessThan(5e-5);
      if (exact > 0) expect(Math.abs(interpolate(f, f.values, ...p) - exact)).toBeLessThan(f.deepError);
    }
  });

  test('a region restricts the grid; no cast is a fault', () => {
    const cast = canal(1, 4000);
    const f = measureCast(cast, { min: pt(-50, -50, -12), max: pt(50, 50, 2) });
    expect(f.grid.z0).toBeGreaterThan(-13);
    expect(f.grid.z0 + f.grid.h * f.grid.nz).toBeLessThan(5);
    expect(interpolate(f, f.values, 0, 0, -4)).toBeGreaterThan(1);
    expect(() => measureCast({ frame: 'ear', positions: new Float64Array(), indices: new Uint32Array() })).toThrow(Fault);
    expect(() => measureCast(cast, { min: pt(90, 90, 90), max: pt(91, 91, 91) })).toThrow(Fault);
  });
});

describe('reach', () => {
  test('lumps of the cast behind the same planes are not room', () => {
    // A tube bent like a hook: the outer cut's plane passes its canal and, beside it, the hook's far end.
    const hook = tube(
      (s) => {
        const a = Math.PI * 1.5 * s;
        return pt(8 - 8 * Math.cos(a), 0, -8 * Math.sin(a) + 2);
      },
      () => [2.5, 2.5],
      { steps: 120, around: 48, side: [0, 1, 0] },
    );
    const f = measureCast(hook);
    const body = bodyOf(hook, { point: pt(0, 0, 0), normal: pt(0, 0, 1) }, { point: pt(4, 0, -20), normal: pt(0, 0, -1) }, pt(1, 0, -3));
    const room = carveRoom(f, body, BARE);
    const cutOff = carveRoom(
      f,
      bodyOf(hook, { point: pt(0, 0, -1), normal: pt(0, 0, 1) }, { point: pt(5, 0, 0), normal: pt(1, 0, 0) }, pt(0.8, 0, -3)),
      BARE,
    );
    expect(room.distance(15.5, 0, -1)).toBeGreaterThan(1);
    expect(cutOff.distance(1, 0, -3)).toBeGreaterThan(1);
    // Behind both planes only the near limb is reached.
    for (const n of cutOff.reachable) {
      const x = f.grid.x0 + f.grid.h * (n % f.grid.nx);
      expect(x).toBeLessThanOrEqual(5);
    }
    expect(cutOff.reachable.length).toBeGreaterThan(100);
  });
});

function lateral(cast: ReturnType<typeof canal>, t: number): boolean {
  return [0, 1, 2].every((k) => (cast.positions[3 * (cast.indices[3 * t + k] as number) + 2] as number) > 11.9);
}
