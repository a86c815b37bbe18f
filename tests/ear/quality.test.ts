/** What is said of an impression's quality: planted dents found at their place, clean casts without alarm, the wrong side seen. */
import { describe, expect, test } from 'vitest';
import { dentsOf } from '../../src/ear/dents.ts';
import { pointToScan } from '../../src/ear/frame.ts';
import { edgeOf, noiseOf } from '../../src/ear/grain.ts';
import { judgeEar, sideContradicted, surveyEar, surveyWithSide } from '../../src/ear/index.ts';
import { tipFaceOf } from '../../src/ear/tipface.ts';
import { loadKernel, withArena } from '../../src/geometry/kernel.ts';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { addScaled, distance, dot, normalize, type Point, pointAt, pt, scale, sub } from '../../src/geometry/vec.ts';
import { readScan } from '../../src/scan/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { ball } from '../support/solids.ts';

const clean = (seed: number) => {
  const { mesh, truth } = makeEar({ ...drawEar(seed, { resolution: 0.5, bubbles: 0, seams: 0, holes: 0 }) }, seed);
  return { mesh, truth, scan: readScan(encodeStl(mesh), `clean-${seed}.stl`) };
};

describe('dents of the canal', () => {
  test('none on clean casts, SEED=700..707', () => {
    for (let seed = 700; seed < 708; seed++) {
      const { scan, truth } = clean(seed);
      expect(dentsOf(surveyEar(scan, truth.side)), `seed ${seed}`).toEqual([]);
    }
  });

  test.each([701, 704, 707])('a void and a lump of 0.8 mm planted half-way down are found where they are, SEED=%i', (seed) => {
    for (const by of [-0.8, 0.8]) {
      const { scan, truth } = clean(seed);
      const ear = surveyEar(scan, truth.side);
      const middle = ear.sections.reduce((a, b) => (Math.abs(b.depth - ear.end.depth / 2) < Math.abs(a.depth - ear.end.depth / 2) ? b : a));
      const centre = pointToScan(ear.frame, middle.at);
      const { positions, indices } = scan.mesh;
      // The vertex farthest out along the section's shortest way; the dent lies about it, towards or away from the centre.
      const out = normalize(sub(pointToScan(ear.frame, addScaled(middle.at, middle.minorDirection, 1)), centre));
      const planted = rank(positions, centre, out);
      const moved = positions.slice();
      for (let v = 0; v < positions.length / 3; v++) {
        const p = pointAt<'scan'>(positions, v);
        const r = distance(p, planted) / 1.1;
        if (r < 1) moved.set(addScaled(p, out, by * (1 - r * r) ** 2), 3 * v);
      }
      const again = surveyEar({ ...scan, mesh: { frame: 'scan', positions: moved, indices } }, truth.side);
      const dents = dentsOf(again);
      expect(dents.length).toBeGreaterThan(0);
      const nearest = dents.find((d) => distance(pointToScan(again.frame, d.at), planted) < 1.5);
      expect(nearest, `seed ${seed}, ${by}`).toBeDefined();
      expect(Math.sign(nearest?.by ?? 0)).toBe(Math.sign(by));
      const finding = judgeEar(again).find((f) => f.code === (by < 0 ? 'ear/void' : 'ear/lump'));
      expect(finding?.text).toMatch(by < 0 ? /void or fold/ : /lump/);
      expect(distance(finding?.at ?? pt<'scan'>(0, 0, 0), planted)).toBeLessThan(3);
    }
  });
});

/** The vertex near the ray from `centre` along `out`. */
function rank(positions: Float64Array, centre: Point<'scan'>, out: Point<'scan'>): Point<'scan'> {
  let best = centre;
  let least = Infinity;
  for (let v = 0; v < positions.length / 3; v++) {
    const d = sub(pointAt<'scan'>(positions, v), centre);
    const along = dot(d, out);
    if (along <= 0 || along > 8) continue;
    const off = distance(d, scale(out, along));
    if (off < least) {
      least = off;
      best = pointAt<'scan'>(positions, v);
    }
  }
  return best;
}

describe('the tip', () => {
  test.each([702, 705])('cut off square 3 mm before its end: a flat face there, of about the section cut, SEED=%i', async (seed) => {
    const { scan, truth } = clean(seed);
    const ear = surveyEar(scan, truth.side);
    const kernel = await loadKernel();
    const depth = ear.end.depth - 3;
    const section = ear.sections.reduce((a, b) => (Math.abs(b.depth - depth) < Math.abs(a.depth - depth) ? b : a));
    const cut = withArena((arena) => {
      const solid = kernel.toManifold(ear.cast, arena);
      const [x, y, z] = section.tangent;
      const left = arena.keep(solid.trimByPlane([-x, -y, -z], -dot(section.tangent, section.at)));
      return kernel.fromManifold(left, 'ear').mesh;
    });
    const mesh = { frame: 'scan', positions: flat(cut.positions, (p) => pointToScan(ear.frame, p)), indices: cut.indices } as const;
    const again = surveyEar({ mesh: readScan(encodeStl(outward(mesh, truth.side)), 'cut.stl').mesh }, truth.side);
    const face = tipFaceOf(again);
    expect(face).toBeGreaterThan(0.75 * section.area);
    expect(face).toBeLessThan(1.25 * section.area);
    expect(judgeEar(again).map((f) => f.code)).toContain('ear/tip-face');
  });

  test('a ball on a stick ends round', () => {
    const { scan, truth } = clean(703);
    const ear = surveyEar(scan, truth.side);
    // The end's faces bent into a dome: every vertex past 4 mm before the end is drawn towards the end's middle.
    const positions = flat(ear.cast.positions, (p) => {
      const d = sub(p, ear.end.at);
      const r = Math.sqrt(dot(d, d));
      return r < 5 ? addScaled(p, pointAt<'ear'>(ear.centreline.tangents, ear.centreline.depths.length - 1), 2.5 * (1 - (r / 5) ** 2)) : p;
    });
    expect(tipFaceOf({ ...ear, cast: { ...ear.cast, positions } })).toBeUndefined();
  });
});

const flat = <F extends 'ear', G extends 'ear' | 'scan'>(positions: Float64Array, move: (p: Point<F>) => Point<G>): Float64Array =>
  Float64Array.from({ length: positions.length / 3 }, (_, v) => v).reduce((out, v) => {
    out.set(move(pointAt<F>(positions, v)), 3 * v);
    return out;
  }, new Float64Array(positions.length));

/** A left ear's frame mirrors: its triangles turn over on the way back. */
const outward = (mesh: Mesh<'scan'>, side: 'left' | 'right'): Mesh<'scan'> => ({
  ...mesh,
  indices: side === 'right' ? mesh.indices : mesh.indices.map((_, i, all) => all[i % 3 === 1 ? i + 1 : i % 3 === 2 ? i - 1 : i] as number),
});

describe('how finely and quietly', () => {
  test.each([0.01, 0.03, 0.08])('independent noise of %f mm on a ball comes back within a tenth', (sd) => {
    const rng = seeded(11);
    const s = ball(10, 6);
    const mesh: Mesh<'ear'> = {
      frame: 'ear',
      positions: Float64Array.from(
        s.points.flatMap((p) =>
          p.map(
            (
              (k) => (c: number) =>
                c * (1 + k / 10)
            )(sd * rng.normal()),
          ),
        ),
      ),
      indices: Uint32Array.from(s.triangles.flat()),
    };
    expect(Math.abs(noiseOf(mesh) / sd - 1)).toBeLessThan(0.1);
    expect(edgeOf(mesh)).toBeGreaterThan(0.1);
    expect(edgeOf(mesh)).toBeLessThan(0.35);
  });
});

describe('which ear', () => {
  test('ten casts tell their own side; the wrong one said is contradicted, the right one not', () => {
    let told = 0;
    for (let seed = 800; seed < 810; seed++) {
      const { scan, truth } = clean(seed);
      const right = surveyWithSide(scan, truth.side);
      const { guess } = right;
      if (guess.side === truth.side) told++;
      else expect(guess.confidence).toBeLessThan(0.9);
      const wrong = truth.side === 'left' ? 'right' : 'left';
      if (guess.side === truth.side) expect(sideContradicted(right.ear, right.guess)).toEqual([]);
      const other = surveyWithSide(scan, wrong);
      const said = sideContradicted(other.ear, other.guess);
      if (guess.side === truth.side && guess.confidence >= 0.8) expect(said[0]?.text).toMatch(`speaks for a ${truth.side} one`);
    }
    expect(told).toBeGreaterThanOrEqual(9);
  });
});
