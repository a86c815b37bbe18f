import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { cos, PI, sin } from '../../src/geometry/trig.ts';
import { heightOver, normalize, pointAt, pt } from '../../src/geometry/vec.ts';
import type { Ear } from '../../src/model/ear.ts';
import { STYLE_TABLE, styleNamed } from '../../src/parts/index.ts';
import { solidCast, trimCast } from '../../src/trim/index.ts';

/**
 * A straight elliptic canal (half axes 5 x 4) that ends 18 mm deep and opens laterally into a cone: known volumes.
 * A ring's polygon of n corners holds (n / 2 pi) sin(2 pi / n) of its ellipse.
 */
const N = 128;
const share = (N / (2 * PI)) * sin((2 * PI) / N);
const END = 18;
const open = (z: number): number => (z <= 0 ? 1 : 1 + z / 10);
function castMesh(): Mesh<'ear'> {
  const heights: number[] = [];
  for (let z = -END; z <= 14; z += 0.5) heights.push(z);
  const positions: number[] = [];
  const indices: number[] = [];
  for (const z of heights) {
    for (let k = 0; k < N; k++) positions.push(4 * open(z) * cos((2 * PI * k) / N), 5 * open(z) * sin((2 * PI * k) / N), z);
  }
  for (let r = 0; r + 1 < heights.length; r++) {
    for (let k = 0; k < N; k++) {
      const a = r * N + k;
      const b = r * N + ((k + 1) % N);
      indices.push(a, b, b + N, a, b + N, a + N);
    }
  }
  const cap = (ring: number, z: number, up: boolean): void => {
    const at = positions.length / 3;
    positions.push(0, 0, z);
    for (let k = 0; k < N; k++) {
      const a = ring * N + k;
      const b = ring * N + ((k + 1) % N);
      indices.push(...(up ? [at, a, b] : [at, b, a]));
    }
  };
  cap(0, -END, false);
  cap(heights.length - 1, 14, true);
  return { frame: 'ear', positions: Float64Array.from(positions), indices: Uint32Array.from(indices) };
}

function earOf(overrides: Partial<Ear> = {}): Ear {
  const depths = Float64Array.from({ length: 61 }, (_, k) => -12 + 0.5 * k);
  const along = (z: (depth: number) => number): Float64Array => Float64Array.from([...depths].flatMap((d) => [0, 0, z(d)]));
  const line = { points: along((d) => -d), tangents: along(() => -1), depths };
  const mark = (depth: number) => ({ at: pt<'ear'>(0, 0, -depth), depth, confidence: 1 });
  return {
    frame: { side: 'right', origin: pt(0, 0, 0), anterior: pt(1, 0, 0), superior: pt(0, 1, 0), lateral: pt(0, 0, 1) },
    cast: castMesh(),
    centreline: line,
    sections: [],
    aperture: mark(0),
    firstBend: { ...mark(9), angle: 0.4 },
    secondBend: { ...mark(15), angle: 0.4 },
    end: mark(END),
    rim: { plane: { point: pt(0, 0, 10), normal: normalize(pt(0.1, 0, 1)) }, confidence: 1 },
    crus: { at: pt(0, 3, 6), confidence: 1 },
    ...overrides,
  };
}

describe('trimCast', () => {
  let kernel: Kernel;
  const arena = new Arena();
  beforeAll(async () => {
    kernel = await loadKernel();
  });
  afterAll(() => arena.free());
  const trim = (style: Parameters<typeof styleNamed>[0], ear: Ear = earOf()) =>
    trimCast(solidCast(kernel, ear, arena), ear, styleNamed(style));
  const bodyOf = (style: Parameters<typeof styleNamed>[0], ear?: Ear) => {
    const result = trim(style, ear);
    if (result.kind !== 'body') throw new Error(result.reason.text);
    return result;
  };

  test('an IIC of a straight canal is the elliptic cylinder from 2 mm to the second bend + 1: pi a b L', () => {
    const { body } = bodyOf('IIC');
    expect(body.volume).toBeCloseTo(share * PI * 4 * 5 * (16 - 2), 2);
    expect(body.cuts.map((c) => c.name)).toEqual(['outer', 'tip']);
    expect(body.tip.at[2]).toBeCloseTo(-16, 4);
    expect(Math.abs(body.tip.at[0]) + Math.abs(body.tip.at[1])).toBeLessThan(1e-4);
  });

  test('every style: closed, within its cuts, faces labelled, volume as kept + removed = whole', () => {
    const whole = volumeOf(castMesh());
    for (const style of STYLE_TABLE) {
      const { body } = bodyOf(style.name);
      const { mesh } = body;
      const edges = new Map<string, number>();
      for (let i = 0; i < mesh.indices.length; i++) {
        const a = mesh.indices[i] as number;
        const b = mesh.indices[i % 3 === 2 ? i - 2 : i + 1] as number;
        edges.set(`${a},${b}`, (edges.get(`${a},${b}`) ?? 0) + 1);
      }
      for (const [key, n] of edges) {
        expect(n).toBe(1);
        expect(edges.get(key.split(',').reverse().join())).toBe(1);
      }
      for (let i = 0; i < mesh.positions.length / 3; i++) {
        for (const cut of body.cuts) expect(heightOver(cut.plane, pointAt<'ear'>(mesh.positions, i))).toBeLessThan(1e-4);
      }
      body.cuts.forEach((_, k) => {
        expect(body.face.includes(1 + k), `${style.name} ${body.cuts[k]?.name}`).toBe(true);
      });
      expect(body.volume).toBeGreaterThan(0);
      expect(body.volume).toBeLessThan(whole);
    }
  });

  test('kept and removed make the whole', () => {
    const ear = earOf();
    const cast = solidCast(kernel, ear, arena);
    const { body } = bodyOf('CIC');
    let removed = 0;
    let rest = cast.solid;
    for (const { plane } of body.cuts) {
      const n = plane.normal;
      const off = n[0] * plane.point[0] + n[1] * plane.point[1] + n[2] * plane.point[2];
      removed += arena.keep(rest.trimByPlane([n[0], n[1], n[2]], off)).volume();
      rest = arena.keep(rest.trimByPlane([-n[0], -n[1], -n[2]], -off));
    }
    const whole = volumeOf(ear.cast);
    expect(Math.abs(body.volume + removed - whole) / whole).toBeLessThan(1e-6);
  });

  test('what the impression lacks is said in mm, and only the styles that need it are not judged', () => {
    const { secondBend: _none, ...shallow } = earOf({ end: { at: pt(0, 0, -14), depth: 14, confidence: 1 } });
    const iic = trim('IIC', shallow);
    expect(iic).toMatchObject({ kind: 'short', reason: { code: 'impression/no-bend', has: 14 } });
    expect(trim('ITC', shallow).kind).toBe('body');
    const shorter = trim('ITC', { ...shallow, end: { at: pt(0, 0, -13.5), depth: 13.5, confidence: 1 } });
    expect(shorter).toMatchObject({ kind: 'short', reason: { code: 'impression/too-short', needs: 14, has: 13.5 } });
  });

  test('an IIC stops a millimetre short of the end of the cast, but not of the bend itself', () => {
    const end = (depth: number): Ear => earOf({ end: { at: pt(0, 0, -depth), depth, confidence: 1 } });
    expect(bodyOf('IIC', end(16.5)).body.tip.at[2]).toBeCloseTo(-15.5, 4);
    expect(trim('IIC', end(15.9)).kind).toBe('short');
  });

  test('past 15 mm from the aperture a caution appears (21 CFR 800.30 as a yardstick), at 15 mm none', () => {
    expect(bodyOf('IIC').cautions.join()).toContain('21 CFR 800.30');
    expect(bodyOf('CIC').cautions).toEqual([]);
  });

  test('cuts that leave nothing are an answer, not an empty mesh', () => {
    const rim = { plane: { point: pt<'ear'>(0, 0, -14), normal: pt<'ear'>(0, 0, 1) }, confidence: 1 };
    expect(trim('ITE', earOf({ rim }))).toMatchObject({ kind: 'short', reason: { code: 'trim/nothing-left' } });
  });

  test('a half shell stays below the crus; a cast without one is not judged', () => {
    const { body } = bodyOf('HS');
    const top = Math.max(...Array.from({ length: body.mesh.positions.length / 3 }, (_, i) => body.mesh.positions[3 * i + 1] as number));
    expect(top).toBeCloseTo(2.5, 3);
    const { crus: _none, ...bare } = earOf();
    expect(trim('HS', bare)).toMatchObject({ kind: 'short', reason: { code: 'impression/no-crus' } });
  });
});
