/**
 * Rooms whose answer is a theorem. Each part is tried 0.05 mm too small (must be found, spare above 0) and 0.05 mm too
 * large (must be refused, spare below 0), with rules that ask for nothing.
 *
 * Sources: elementary geometry, derived in each test's comment; the rectangle in a longer rectangle is Carver 1957.
 */
import { describe, expect, test } from 'vitest';
import { arrangeKit } from '../../src/arrange/index.ts';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { Effort } from '../../src/model/fit.ts';
import type { Part } from '../../src/model/parts.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { BARE, bodyOf, type Ear, kitOf, loft, part, solid, tube } from '../support/rooms.ts';

const ROUND = 240; // 6 mm (1 - cos(pi/240)) < 0.0006 mm: faceting is far below the 0.05 mm in question

interface Site {
  readonly cast: Mesh<'ear'>;
  readonly top?: number;
  readonly bottom?: number;
  readonly seed?: Ear;
}

const roomOf = ({ cast, top = 50, bottom = -50, seed = pt(0, 0, 0) }: Site) =>
  carveRoom(
    measureCast(cast),
    bodyOf(cast, { point: pt(0, 0, top), normal: pt(0, 0, 1) }, { point: pt(0, 0, bottom), normal: pt(0, 0, -1) }, seed),
    BARE,
  );

const spareOf = (site: Site, parts: readonly Part[], effort: Effort = 'normal'): number =>
  arrangeKit(roomOf(site), kitOf(parts), { seed: 1, effort, enough: 0.5 }).best?.spare ?? -Infinity;

/** The part with sizes changed by 0.05 mm either way. */
function decides(site: Site, make: (grow: number) => readonly Part[]): void {
  const small = spareOf(site, make(-0.05));
  const large = spareOf(site, make(0.05));
  expect(small).toBeGreaterThan(0);
  expect(large).toBeLessThan(0);
  // Shrinking by 0.05 across gives half of it a side; along a box's diagonal up to twice that.
  expect(small).toBeLessThanOrEqual(0.06);
  expect(large).toBeGreaterThan(-0.08);
}

const straight = (radii: readonly [number, number], length: number, around = ROUND): Mesh<'ear'> =>
  tube(
    (s) => pt(0, 0, length / 2 - length * s),
    () => radii,
    { steps: 24, around },
  );

describe('one part in a simple room', () => {
  // Cell on edge in a straight elliptic canal: its shadow is the d x h rectangle; it fits iff (d/A)^2 + (h/B)^2 <= 1
  // (the corner of the centred rectangle lies on the ellipse). PR70 5.8 x 3.6 (IEC 60086-2, from memory) with A from it.
  test('a cell on edge under a faceplate, in an elliptic canal', () => {
    const [d, h, narrow] = [5.8, 3.6, 6] as const;
    const wide = d / Math.sqrt(1 - (h / narrow) ** 2);
    const cast = straight([wide / 2, narrow / 2], 24);
    const onEdge = [0, Math.SQRT1_2, 0, Math.SQRT1_2] as const;
    decides({ cast, top: 9, bottom: -11, seed: pt(0, 0, 0) }, (grow) => {
      const k = (d + grow) / d;
      return [part('cell', [solid('cylinder', [d * k, d * k, h * k], [0, 0, (-d * k) / 2], onEdge)], { at: 'faceplate' })];
    });
  });

  // Cylinder across a round tube, coaxial is best: passes iff its diameter <= D. Box l >= w >= t along a round tube: iff
  // D >= sqrt(w^2 + t^2) (its shadow along the long edge is the least; triangle inequality on the half-diagonals).
  test('a receiver-like box and a coil-like cylinder along a round tube', () => {
    const [l, w, t] = [6.3, 4.3, 2.9] as const;
    const d = Math.sqrt(w * w + t * t); // 5.1865
    const cast = straight([d / 2, d / 2], 16);
    decides({ cast, top: 7, bottom: -7 }, (grow) => [part('receiver', [solid('box', [w * (1 + grow / d), t * (1 + grow / d), l])])]);
    decides({ cast, top: 7, bottom: -7 }, (grow) => [part('coil', [solid('cylinder', [d + grow, d + grow, 8])])]);
    // Too long for the room: the cuts refuse it.
    decides({ cast, top: 4, bottom: -4 }, (grow) =>
      [part('coil', [solid('cylinder', [2, 2, Math.sqrt(64 + 0) + grow])])].map((p) => cramped(p, d)),
    );
  });

  // Coaxial cylinder r, h in a cone R, H fits iff r <= R (1 - h/H); the largest by volume has h = H/3. Coaxial is best here
  // because a cylinder that fits tilted also fits upright about the cone's axis (its shadows only shrink).
  test('a cylinder in a cone', () => {
    const [r0, height] = [6, 9] as const;
    const cone = tube(
      (s) => pt(0, 0, 4.5 - height * s),
      (s) => [Math.max(1e-3, r0 * (1 - s)), Math.max(1e-3, r0 * (1 - s))],
      { steps: 60, around: ROUND },
    );
    const h = height / 3;
    const r = r0 * (1 - h / height);
    decides({ cast: cone, seed: pt(0, 0, 3) }, (grow) => [part('chip', [solid('cylinder', [2 * r + grow, 2 * r + grow, h])])]);
  });

  // Fixed-shape box in an ellipsoid, axes aligned and centred: largest scale 1/sqrt(sum (h/a)^2) with half-sides h.
  test('a box in an ellipsoid', () => {
    const [a, b, c] = [8, 5.5, 4] as const;
    const half = [3, 2, 1.5] as const;
    const scale = 1 / Math.sqrt((half[0] / a) ** 2 + (half[1] / b) ** 2 + (half[2] / c) ** 2);
    const egg = ellipsoid(a, b, c);
    decides({ cast: egg }, (grow) => {
      const k = 2 * scale * (1 + grow / (2 * scale * half[2]));
      return [part('chip', [solid('box', [half[0] * k, half[1] * k, half[2] * k])])];
    });
  });

  // Box L x d x t at rest in a torus tube (centreline radius rho, tube radius R), t square to the bend's plane:
  // R' = sqrt(R^2 - t^2/4); fits iff L <= 2 sqrt((2R' - d)(2 rho + d)) (inner long edge touches the inner wall at its
  // middle, outer corners the outer wall), among boxes tangent to the bend: here d and t leave no other way.
  test('a box at rest in a bent tube', () => {
    const [rho, big, d, t] = [15, 3.5, 3, 4] as const;
    const flat = Math.sqrt(big * big - (t * t) / 4);
    const length = 2 * Math.sqrt((2 * flat - d) * (2 * rho + d)); // 19.0337
    const sweep = 2.4;
    const bend = tube(
      (s) => {
        const q = sweep * (s - 0.5);
        return pt(rho * Math.cos(q) - rho, 0, -rho * Math.sin(q));
      },
      () => [big, big],
      { steps: 400, around: 360, side: [0, 1, 0] },
    );
    const found = (grow: number): number => spareOf({ cast: bend }, [part('long', [solid('box', [d, t, length + grow])])]);
    // The length's slack reaches the walls at a slant, so that 0.4 of length is little clearance.
    expect(found(-0.4)).toBeGreaterThan(0);
    expect(found(0.4)).toBeLessThan(0);
  });

  // Flat disc of height 0.1 in a cube of edge 4: widest upright to a body diagonal, (4 - 0.1/sqrt(3)) / sqrt(2/3).
  test('a thin disc in a cube lies square to a body diagonal', () => {
    const thick = 0.2;
    const d = (4 - thick / Math.sqrt(3)) / Math.sqrt(2 / 3);
    decides({ cast: block(4, 4, 4) }, (grow) => [part('disc', [solid('cylinder', [d + grow, d + grow, thick])])]);
  });
});

describe('several parts', () => {
  // Two cylinders side by side in a round tube: container radius 2 for unit circles (Kravitz 1967 for the table; two is
  // elementary); three: 1 + 2/sqrt(3); four: 1 + sqrt(2). Long cylinders in a snug tube can only lie along it.
  for (const [n, ratio] of [
    [2, 2],
    [3, 1 + 2 / Math.sqrt(3)],
    [4, 1 + Math.SQRT2],
  ] as const) {
    test(`${n} equal rods in a round tube`, () => {
      const big = 4;
      const r = big / ratio;
      const cast = straight([big, big], 14);
      const rods = (grow: number): Part[] =>
        Array.from({ length: n }, (_, k) => part(`rod-${k}`, [solid('cylinder', [2 * r + grow, 2 * r + grow, 11.5])]));
      const small = spareOf({ cast, top: 6, bottom: -6 }, rods(-0.05), 'quick');
      const large = spareOf({ cast, top: 6, bottom: -6 }, rods(0.05), 'quick');
      expect(small).toBeGreaterThan(0);
      expect(large).toBeLessThan(0);
    });
  }

  // Spheres in a sphere: capsules without length. n 2: 1/2; 3: 2 sqrt(3) - 3; 4: sqrt(6) - 2 (Gensane 2003).
  for (const [n, share] of [
    [2, 0.5],
    [3, 2 * Math.sqrt(3) - 3],
    [4, Math.sqrt(6) - 2],
  ] as const) {
    test(`${n} equal balls in a ball`, () => {
      const big = 5;
      const d = 2 * big * share;
      const egg = ellipsoid(big, big, big);
      const balls = (grow: number): Part[] =>
        Array.from({ length: n }, (_, k) => part(`ball-${k}`, [solid('capsule', [d + grow, d + grow, d + grow])]));
      expect(spareOf({ cast: egg }, balls(-0.05))).toBeGreaterThan(0);
      expect(spareOf({ cast: egg }, balls(0.05))).toBeLessThan(0);
    });
  }
});

/** A part that is thin itself, given fins as wide as the tube, so that it cannot lie aslant. */
function cramped(p: Part, d: number): Part {
  const rod = p.primitives[0] as (typeof p.primitives)[number];
  const fin = (z: number) => solid('cylinder', [d - 0.3, d - 0.3, 0.2], [0, 0, z]);
  return { ...p, primitives: [rod, fin(-3.4), fin(3.4)] };
}

function ellipsoid(a: number, b: number, c: number): Mesh<'ear'> {
  // 8 mm (1 - cos(pi/180)) < 0.0013 mm along each way.
  const steps = 120;
  const ring = (k: number): Vec3[] => {
    const t = (Math.PI * (k + 0.02)) / (steps + 0.04);
    const r = Math.sin(t);
    return Array.from({ length: 180 }, (_, i) => {
      const q = (-2 * Math.PI * i) / 180;
      return [a * r * Math.cos(q), b * r * Math.sin(q), c * Math.cos(t)] as Vec3;
    });
  };
  return loft(Array.from({ length: steps + 1 }, (_, k) => ring(k)));
}

function block(x: number, y: number, z: number): Mesh<'ear'> {
  const ring = (h: number): Vec3[] => [
    [x / 2, y / 2, h],
    [x / 2, -y / 2, h],
    [-x / 2, -y / 2, h],
    [-x / 2, y / 2, h],
  ];
  return loft([ring(z / 2), ring(-z / 2)]);
}
