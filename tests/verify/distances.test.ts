import { describe, expect, it } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { unitQuat } from '../../src/geometry/rotation.ts';
import { type Pose, pt, type Quat } from '../../src/geometry/vec.ts';
import type { Primitive } from '../../src/model/parts.ts';
import { separation } from '../../src/verify/separation.ts';
import { Solid } from '../../src/verify/solid.ts';
import { Wall } from '../../src/verify/wall.ts';
import { blockMesh, ellipticTube, noCutsBody, primitive, sphereMesh } from '../support/bodies.ts';

const IDENTITY: Quat = [0, 0, 0, 1];
const at = (x: number, y: number, z: number, q: Quat = IDENTITY): Pose<'ear'> => ({ position: pt(x, y, z), quaternion: unitQuat(q) });
const solid = (p: Primitive, pose: Pose<'ear'>): Solid => new Solid(p, pose);
/** A turn of `deg` degrees about an axis. */
const turn = (axis: [number, number, number], deg: number): Quat => {
  const l = Math.hypot(...axis);
  const s = Math.sin((deg * Math.PI) / 360) / l;
  return [axis[0] * s, axis[1] * s, axis[2] * s, Math.cos((deg * Math.PI) / 360)];
};

describe('solid to cast surface', () => {
  // Block 20 x 16 x 24 from (-10, -8, 0); box part 6 x 3 x 2: exact by subtraction.
  const block = new Wall(noCutsBody(blockMesh([-10, -8, 0], [10, 8, 24], 3)));
  const box = primitive('box', [6, 3, 2]);

  it.each([
    ['in the middle', 0, 6.5],
    ['touching', 7, 0],
    ['inside by 0.01', 6.99, 0.01],
    ['through by 0.01', 7.01, -0.01],
    ['through by 1', 8, -1],
  ])('box in a block, %s', (_name, x, exact) => {
    const has = block.clearance(solid(box, at(x, 0, 12))).has;
    if (exact >= 0) expect(has).toBeCloseTo(exact, 6);
    else {
      expect(has).toBeLessThanOrEqual(exact + 1e-9);
      expect(has).toBeGreaterThan(exact - 0.01);
    }
  });

  it('a part wholly outside is never clear: minus its deepest point', () => {
    // Farthest corner x = 30 + 3: 23 mm from the block's face x = 10.
    const has = block.clearance(solid(box, at(30, 0, 12))).has;
    expect(has).toBeLessThanOrEqual(-23);
    expect(has).toBeGreaterThan(-23.1);
  });

  it('a box round the whole body is outside too', () => {
    expect(block.clearance(solid(primitive('box', [60, 60, 60]), at(0, 0, 12))).has).toBeLessThan(-15);
  });

  it('box turned by 45 degrees about its z: half width (6 + 3) / 2 / sqrt 2', () => {
    const has = block.clearance(solid(box, at(0, 0, 12, turn([0, 0, 1], 45)))).has;
    expect(has).toBeCloseTo(8 - 4.5 / Math.SQRT2, 6);
  });

  it('capsule in a sphere: 10 - 3 along any line through the centre, less the facets', () => {
    const wall = new Wall(noCutsBody(sphereMesh(10, 96)));
    const has = wall.clearance(solid(primitive('capsule', [2, 2, 6]), at(0, 0, 0, turn([1, 2, 3], 50)))).has;
    // Corners lie on the sphere, so facets come nearer by at most 10 (1 - cos(pi/96) cos(pi/96)) = 0.0107.
    expect(has).toBeLessThanOrEqual(7);
    expect(has).toBeGreaterThan(7 - 0.0108);
  });

  it('cylinder off the axis of a round tube: R - r - offset, less the facets', () => {
    const wall = new Wall(ellipticTube(8, 8, 20, 360, 40));
    const has = wall.clearance(solid(primitive('cylinder', [5, 5, 4]), at(0.3, 0.4, -10))).has;
    expect(has).toBeLessThanOrEqual(1);
    expect(has).toBeGreaterThan(1 - 4 * (1 - Math.cos(Math.PI / 360)) - 1e-6);
  });

  it('cell on edge in an elliptic tube, corners by formula (reference: w/A and h/B in an ellipse)', () => {
    // 5.8 x 3.6 in 9 x 6: (5.8/9)^2 + (3.6/6)^2 = 0.7753 < 1: inside. 7.9 x 3.6: 1.1305: outside.
    const wall = new Wall(ellipticTube(9, 6, 20, 720, 20));
    const edge = turn([1, 0, 0], 90); // axis along y
    expect(wall.clearance(solid(primitive('cylinder', [5.8, 5.8, 3.6]), at(0, 0, -10, edge))).has).toBeGreaterThan(0.1);
    expect(wall.clearance(solid(primitive('cylinder', [7.9, 7.9, 3.6]), at(0, 0, -10, edge))).has).toBeLessThan(-0.1);
  });

  it('a spike thinner than anything through the face of a part is caught', () => {
    // Block with a needle 0.02 wide from the roof down to (0, 0, 6), made by pulling in a roof vertex of a fine grid.
    const mesh = blockMesh([-10, -10, 0], [10, 10, 20], 10);
    const positions = mesh.positions.slice();
    for (let v = 0; v < positions.length; v += 3)
      if (positions[v] === 0 && positions[v + 1] === 0 && positions[v + 2] === 20) positions[v + 2] = 6;
    const wall = new Wall(noCutsBody({ ...mesh, positions }));
    const flat = primitive('box', [8, 8, 2]);
    expect(wall.clearance(solid(flat, at(0, 0, 7))).has).toBeLessThan(0);
    expect(wall.clearance(solid(flat, at(0, 0, 3))).has).toBeCloseTo(2, 6); // 6 - 4
  });

  it.each(['box', 'cylinder', 'capsule'] as const)('%s: certified, and within 0.002 of a dense sample, SEED=11', (shape) => {
    const random = seeded(11);
    const body = noCutsBody(sphereMesh(6, 32));
    const wall = new Wall(body);
    for (let k = 0; k < 12; k++) {
      const q: Quat = [random.normal(), random.normal(), random.normal(), random.normal()];
      const size = shape === 'box' ? [2, 3, 4] : [2, 2, 4];
      const s = solid(primitive(shape, size), at(random.between(-2, 2), random.between(-2, 2), random.between(-2, 2), q));
      const has = wall.clearance(s).has;
      let sampled = Infinity;
      const { positions: p, indices: t } = body.mesh;
      for (let f = 0; f < t.length; f += 3) {
        const c = [0, 1, 2].map((j) => [0, 1, 2].map((i) => p[3 * (t[f + j] as number) + i] as number));
        for (let a = 0; a <= 24; a++) {
          for (let b = 0; a + b <= 24; b++) {
            const m = [0, 1, 2].map((i) => ((c[0]?.[i] ?? 0) * (24 - a - b) + (c[1]?.[i] ?? 0) * a + (c[2]?.[i] ?? 0) * b) / 24);
            sampled = Math.min(sampled, s.distance(...(m as [number, number, number])));
          }
        }
      }
      if (sampled > 0) {
        expect(has).toBeLessThanOrEqual(sampled);
        expect(has).toBeGreaterThan(sampled - 0.002); // samples 0.05 mm apart on faces 0.6 mm wide
      } else expect(has).toBeLessThan(0);
    }
  });
});

describe('solid to solid', () => {
  it('boxes corner to corner, edge to edge and face to face', () => {
    const cube = primitive('box', [2, 2, 2]);
    const a = solid(cube, at(0, 0, 0));
    expect(separation(a, solid(cube, at(5, 0, 0))).least).toBeCloseTo(3, 7);
    expect(separation(a, solid(cube, at(5, 6, 0))).least).toBeCloseTo(5, 7); // 3, 4
    expect(separation(a, solid(cube, at(4, 4, 3))).least).toBeCloseTo(3, 7); // 2, 2, 1
    // Upper edge along x against an edge along y of a cube on its edge, crossing: apart by 4 - 1 ... along z only.
    const tilted = solid(cube, at(0, 0, 4, turn([0, 1, 0], 45)));
    expect(separation(a, tilted).least).toBeCloseTo(4 - 1 - Math.SQRT2, 7);
    const crossed = separation(solid(cube, at(0, 0, 0, turn([1, 0, 0], 45))), tilted).least;
    expect(crossed).toBeCloseTo(4 - 2 * Math.SQRT2, 7);
  });

  it('touching is zero, overlap is minus the least move apart', () => {
    const a = solid(primitive('box', [4, 3, 2]), at(0, 0, 0));
    expect(separation(a, solid(primitive('box', [2, 2, 2]), at(3, 0, 0))).least).toBeCloseTo(0, 7);
    expect(separation(a, solid(primitive('box', [2, 2, 2]), at(2.9, 0, 0))).least).toBeCloseTo(-0.1, 7);
    // Contained: the cheapest way out is along z: 1 + 1.
    expect(separation(a, solid(primitive('box', [2, 2, 2]), at(0, 0, 0))).least).toBeCloseTo(-2, 7);
    const ball = primitive('capsule', [2, 2, 2]);
    expect(separation(solid(ball, at(0, 0, 0)), solid(ball, at(0, 0, 0))).least).toBeLessThanOrEqual(-2);
    expect(separation(solid(ball, at(0, 0, 0)), solid(ball, at(1.5, 0, 0))).least).toBeCloseTo(-0.5, 7);
  });

  it('cylinders and capsules by formula', () => {
    const cyl = primitive('cylinder', [4, 4, 2]);
    expect(separation(solid(cyl, at(0, 0, 0)), solid(cyl, at(5, 0, 0))).least).toBeCloseTo(1, 6);
    expect(separation(solid(cyl, at(0, 0, 0)), solid(cyl, at(7, 0, 6))).least).toBeCloseTo(5, 6); // 3, 4 rim to rim
    expect(separation(solid(cyl, at(0, 0, 0)), solid(cyl, at(0, 0, 1.5))).least).toBeCloseTo(-0.5, 6);
    const rod = primitive('capsule', [1, 1, 7]);
    // Skew rods, cores 3 apart.
    expect(separation(solid(rod, at(0, 0, 0)), solid(rod, at(3, 0, 0, turn([1, 0, 0], 70)))).least).toBeCloseTo(2, 6);
  });

  it.each(['box', 'cylinder', 'capsule'] as const)(
    '%s against each shape: never above, and close to, the best of 40 000 directions, SEED=5',
    (shape) => {
      const random = seeded(5);
      for (let k = 0; k < 36; k++) {
        const q = (): Quat => [random.normal(), random.normal(), random.normal(), random.normal()];
        const other = (['box', 'cylinder', 'capsule'] as const)[k % 3] as Primitive['shape'];
        const size = (s: string): number[] =>
          s === 'box' ? [random.between(1, 4), random.between(1, 4), random.between(1, 4)] : [2, 2, random.between(2, 5)];
        const far = k % 2 === 0 ? 1.2 : 3;
        const a = solid(primitive(shape, size(shape)), at(0, 0, 0, q()));
        const b = solid(
          primitive(other, size(other)),
          at(random.between(-far, far), random.between(-far, far), random.between(-far, far), q()),
        );
        let best = -Infinity;
        for (let i = 0; i < 40000; i++) {
          const z = 1 - (2 * i + 1) / 40000;
          const r = Math.sqrt(1 - z * z);
          const t = i * 2.399963229728653;
          const u = pt<'ear'>(r * Math.cos(t), r * Math.sin(t), z);
          const p = b.support(pt<'ear'>(-u[0], -u[1], -u[2]));
          const s = a.support(u);
          best = Math.max(best, u[0] * (p[0] - s[0]) + u[1] * (p[1] - s[1]) + u[2] * (p[2] - s[2]));
        }
        const least = separation(a, b).least;
        expect(least).toBeGreaterThanOrEqual(best - 1e-9);
        // Directions 0.01 rad apart on bodies 5 mm across miss the best one by at most 0.05 mm.
        expect(least).toBeLessThanOrEqual(best + 0.05);
      }
    },
  );
});
