import { describe, expect, test } from 'vitest';
import { TriangleTree } from '../../src/geometry/bvh.ts';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { outlineHolds, sectionOf } from '../../src/geometry/section.ts';
import { cross, dot, length, type Point, pt, scale, sub } from '../../src/geometry/vec.ts';
import { drawEar, type EarParameters, type EarTruth, makeEar, makePair } from '../../src/synth/index.ts';
import { openLoops, volumeFrom } from './support.ts';

const COARSE = 0.55;
const SMOOTH: Partial<EarParameters> = { resolution: COARSE, noise: 0, waviness: 0, bubbles: 0, seams: 0 };

/** Area of the outline round the centreline, measured on the mesh. */
function measured(mesh: Mesh<'scan'>, at: Point<'scan'>, tangent: Point<'scan'>): number {
  const section = sectionOf(mesh, { point: at, normal: scale(tangent, -1) });
  const round = section.outlines.filter((o) => o.closed && o.area > 0 && outlineHolds(o, 0, 0));
  expect(round.length).toBe(1);
  return (round[0] as { area: number }).area;
}
const stationAt = (truth: EarTruth, depth: number) => {
  const s = truth.centreline.find((c) => Math.abs(c.depth - depth) < 1e-6);
  if (!s) throw new Error(`no centreline point at depth ${depth}`);
  return s;
};
const inEar = (t: EarTruth, p: Point<'scan'>): [number, number, number] => {
  const q = sub(p, t.aperture);
  return [dot(q, t.anterior), dot(q, t.superior), dot(q, t.lateral)];
};

describe('truth agrees with the mesh', () => {
  test.each([11, 12, 13, 14, 15, 16])('section areas at all depths, noise-free, within 2 %%: seed %i', (seed) => {
    const { mesh, truth } = makeEar(drawEar(seed, SMOOTH), seed);
    expect(truth.sections.length).toBeGreaterThan(12);
    for (const s of truth.sections) {
      const c = stationAt(truth, s.depth);
      const area = measured(mesh, c.at, c.tangent);
      expect(Math.abs(area / s.area - 1), `depth ${s.depth}`).toBeLessThan(0.02);
    }
  });

  test.each([11, 12, 13])('medially of the aperture sections are the ellipses asked for: pi/4 major minor, seed %i', (seed) => {
    const p = drawEar(seed, SMOOTH);
    const { truth } = makeEar(p, seed);
    const well = truth.sections.filter((s) => s.depth >= 3);
    for (const s of well) expect(Math.abs(s.area / ((Math.PI / 4) * s.major * s.minor) - 1), `depth ${s.depth}`).toBeLessThan(0.005);
    expect(truth.sections[0]?.area).toBeCloseTo(p.areaAperture, 0);
  });

  test.each([21, 22, 23, 24])('the centreline runs within the cast from the aperture to its end: seed %i', (seed) => {
    const { mesh, truth } = makeEar(drawEar(seed, { resolution: COARSE }), seed);
    const tree = new TriangleTree(mesh);
    for (const c of truth.centreline.filter((s) => s.depth >= 0 && s.depth <= truth.end.depth - 1)) {
      // Seen across the canal in four directions, the wall is on every side and faces outward.
      const u = Math.abs(c.tangent[0]) < 0.6 ? pt<'scan'>(1, 0, 0) : pt<'scan'>(0, 1, 0);
      const a = cross(c.tangent, u);
      for (const d of [a, scale(a, -1), cross(c.tangent, a), scale(cross(c.tangent, a), -1)]) {
        let first = Infinity;
        let facing = 0;
        tree.alongRay(c.at, scale(d, 1 / length(d)) as unknown as [number, number, number], (_t, far, f) => {
          if (far >= first) return;
          first = far;
          facing = f;
        });
        expect(facing, `depth ${c.depth}`).toBe(1);
      }
    }
    const end = tree.nearest(truth.end.at);
    expect(end?.distance).toBeLessThan(0.6);
    for (const p of [truth.crus, truth.tragus, truth.intertragalNotch]) expect(tree.nearest(p)?.distance).toBeLessThan(0.35);
  });

  test('bends: turn of the tangents, depth by arc length, opposite senses', () => {
    for (const seed of [31, 32, 33, 34, 35]) {
      const { truth } = makeEar(drawEar(seed, { ...SMOOTH, resolution: 0.8 }), seed);
      const { firstBend, secondBend } = truth;
      if (!firstBend || !secondBend) throw new Error('no bends');
      // Arc length by chords of 0.5 mm, brute force.
      let run = 0;
      const line = truth.centreline.filter((c) => c.depth >= 0);
      for (let i = 1; i < line.length; i++)
        run += length(sub((line[i] as { at: Point<'scan'> }).at, (line[i - 1] as { at: Point<'scan'> }).at));
      expect(run).toBeCloseTo((line.at(-1) as { depth: number }).depth, 1);
      const axis = (from: number, to: number) => cross(stationAt(truth, from).tangent, stationAt(truth, to).tangent);
      const half = (d: number): number => Math.round(2 * d) / 2;
      const a = axis(half(firstBend.depth) - 1, half(firstBend.depth) + 1);
      const b = axis(half(secondBend.depth) - 1, half(secondBend.depth) + 1);
      expect(dot(a, b)).toBeLessThan(0);
      expect(firstBend.depth).toBeLessThan(secondBend.depth);
      expect(length(sub(firstBend.at, stationAt(truth, half(firstBend.depth)).at))).toBeLessThan(0.3);
    }
  });

  test('anatomy lies where it belongs: cymba and hook above, notch below and in front, concha lateral, cavum behind', () => {
    for (const seed of [41, 42, 43]) {
      const { mesh, truth } = makeEar(drawEar(seed, { resolution: 0.8 }), seed);
      expect(dot(truth.lateral, truth.rim.normal)).toBeGreaterThan(0.8);
      const [, crusY, crusZ] = inEar(truth, truth.crus);
      expect(crusY).toBeGreaterThan(0);
      expect(crusZ).toBeGreaterThan(0);
      expect(inEar(truth, truth.tragus)[0]).toBeGreaterThan(0);
      expect(inEar(truth, truth.intertragalNotch)[1]).toBeLessThan(-5);
      const [endX, , endZ] = inEar(truth, truth.end.at);
      expect(endZ).toBeLessThan(-12);
      expect(endX).toBeLessThan(2); // from the aperture's axis the first bend goes back
      let back = 0;
      let front = 0;
      for (let i = 0; i < mesh.positions.length; i += 3) {
        const p = pt<'scan'>(mesh.positions[i] as number, mesh.positions[i + 1] as number, mesh.positions[i + 2] as number);
        const [x, y, z] = inEar(truth, p);
        if (z < 2 || Math.abs(y) > 4) continue;
        back = Math.min(back, x);
        front = Math.max(front, x);
      }
      expect(-back).toBeGreaterThan(front);
    }
  });
});

describe('mesh', () => {
  test.each(Array.from({ length: 12 }, (_, i) => 51 + i))('is a manifold with one open loop, outward: seed %i', (seed) => {
    const { mesh, truth } = makeEar(drawEar(seed, { resolution: 0.6 }), seed);
    const { sizes, faulty } = openLoops(mesh);
    expect(faulty).toBe(0);
    expect(sizes.length).toBe(1);
    expect(sizes[0]).toBeGreaterThan(50);
    expect(volumeFrom(mesh, truth.rim.point)).toBeGreaterThan(500);
  });

  test('has as many holes as asked for beside the base', () => {
    const { mesh } = makeEar(drawEar(71, { resolution: 0.45, holes: 4 }), 71);
    const { sizes, faulty } = openLoops(mesh);
    expect(faulty).toBe(0);
    expect(sizes.length).toBe(5);
  });

  test('of a left ear mirrors that of the right with equal sizes', () => {
    const p = drawEar(81, { resolution: 0.8 });
    const right = makeEar({ ...p, side: 'right' }, 81);
    const left = makeEar({ ...p, side: 'left' }, 81);
    expect(left.mesh.positions.length).toBe(right.mesh.positions.length);
    for (let i = 0; i < right.mesh.positions.length; i += 3) {
      const at = (m: Mesh<'scan'>): Point<'scan'> =>
        pt(m.positions[i] as number, m.positions[i + 1] as number, m.positions[i + 2] as number);
      const a = inEar(left.truth, at(left.mesh));
      const b = inEar(right.truth, at(right.mesh));
      for (let k = 0; k < 3; k++) expect(a[k]).toBeCloseTo(b[k] as number, 9);
    }
    // Right-handed for a right ear, left-handed for a left one; both outward.
    const hand = (t: EarTruth): number => dot(cross(t.anterior, t.superior), t.lateral);
    expect(hand(right.truth)).toBeCloseTo(1, 9);
    expect(hand(left.truth)).toBeCloseTo(-1, 9);
    expect(volumeFrom(left.mesh, left.truth.rim.point)).toBeGreaterThan(500);
    expect(volumeFrom(right.mesh, right.truth.rim.point)).toBeGreaterThan(500);
  });

  test('same seed, same bytes; another seed, another cast', () => {
    const p = drawEar(91, { resolution: 0.8 });
    const a = makeEar(p, 91);
    const b = makeEar(p, 91);
    expect(Buffer.from(b.mesh.positions.buffer).equals(Buffer.from(a.mesh.positions.buffer))).toBe(true);
    expect(Buffer.from(b.mesh.indices.buffer).equals(Buffer.from(a.mesh.indices.buffer))).toBe(true);
    expect(JSON.stringify(b.truth)).toBe(JSON.stringify(a.truth));
    expect(Buffer.from(makeEar(p, 92).mesh.positions.buffer).equals(Buffer.from(a.mesh.positions.buffer))).toBe(false);
  });

  test('noise has the size asked for: distance of the noisy surface from the smooth one, rms', () => {
    const smooth = makeEar(drawEar(95, { ...SMOOTH, tumbled: false }), 95);
    const noisy = makeEar(drawEar(95, { ...SMOOTH, tumbled: false, noise: 0.03 }), 95);
    const n = smooth.mesh.positions.length;
    expect(noisy.mesh.positions.length).toBe(n);
    let sum = 0;
    for (let i = 0; i < n; i++) {
      const d = (noisy.mesh.positions[i] as number) - (smooth.mesh.positions[i] as number);
      sum += d * d;
    }
    expect(Math.sqrt(sum / (n / 3))).toBeCloseTo(0.03, 3);
  });

  test('an impression that ends early has no second bend, and none of its surface lies deeper', () => {
    const { mesh, truth } = makeEar(drawEar(96, { ...SMOOTH, pastSecondBend: -3 }), 96);
    expect(truth.firstBend).toBeDefined();
    expect(truth.secondBend).toBeUndefined();
    const tree = new TriangleTree(mesh);
    expect(tree.nearest(truth.end.at)?.distance).toBeLessThan(0.6);
  });

  test('a pair is two different meshes, left and right', () => {
    const { left, right } = makePair(97, { resolution: 0.8 });
    expect(left.truth.side).toBe('left');
    expect(right.truth.side).toBe('right');
    expect(left.truth.parameters.areaFirstBend).not.toBe(right.truth.parameters.areaFirstBend);
    expect(Math.abs(left.truth.parameters.areaFirstBend / right.truth.parameters.areaFirstBend - 1)).toBeLessThan(0.3);
  });
});
