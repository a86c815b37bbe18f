/** glTF 2.0: numbers, primitives, scenes; files built here. Rules from the Khronos glTF 2.0 specification and KHR_mesh_quantization. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readGlb } from '../../src/scan/files/gltf.ts';
import type { Soup } from '../../src/scan/files/soup.ts';
import { cornersOf, plug, plugVolume, type Solid } from '../support/solids.ts';
import { CUBE, Draft, draftOf, FLOAT, flat, glbOf, type Kind, MESH, packedAs } from './gltf-drafts.ts';
import { changesOf, faultOf, readSound, warningsOf } from './helpers.ts';
import { refusalOf, SEED, through, told, volumeOf } from './readers.ts';

const cubeWith = (more: object): Soup => readGlb(draftOf(CUBE).glb(MESH, more));
const corners = (s: Soup): number[] => [...s.corners];
const refusal = (bytes: Uint8Array): string => {
  const fault = refusalOf(() => readGlb(bytes));
  return `${fault.code}: ${fault.message}`;
};

describe('numbers', () => {
  test('a plug: every 32-bit number exact, metres stated, nothing else told', () => {
    const soup = readGlb(draftOf(plug()).glb(MESH));
    expect(corners(soup)).toEqual(cornersOf(plug()).map((x) => Math.fround(x) + 0));
    expect(soup).toMatchObject({ format: 'glb', unit: 'm', triangles: 284, single: true, findings: [] });
  });

  test('through readScan: metres of an ear, and millimetres that claim to be metres are asked about', () => {
    const small: Solid = { points: plug().points.map((p) => p.map((x) => x / 1000)), triangles: plug().triangles };
    const scan = readSound(draftOf(small).glb(MESH));
    expect([scan.unit, warningsOf(scan), changesOf(scan)]).toEqual(['m', [], []]);
    expect(Math.abs(scan.volume / plugVolume() - 1)).toBeLessThan(1e-6);
    const fault = faultOf(draftOf(plug()).glb(MESH));
    expect(fault.code).toBe('scan/unit');
    expect(fault.choices).toContain('mm');
    expect(Math.abs(readSound(draftOf(plug()).glb(MESH), 'mm').volume / plugVolume() - 1)).toBeLessThan(1e-6);
  });

  test('indices of every width, or none', () => {
    for (const kind of [5121, 5123, 5125] as const) expect(corners(readGlb(draftOf(CUBE, kind).glb(MESH)))).toEqual(cornersOf(CUBE));
    const draft = new Draft();
    draft.list(cornersOf(CUBE), FLOAT, 'VEC3');
    expect(corners(readGlb(draft.glb([{ primitives: [{ attributes: { POSITION: 0, NORMAL: 99 } }] }])))).toEqual(cornersOf(CUBE));
  });

  test('interleaved, offset, with min and max that lie', () => {
    const draft = new Draft();
    const rows = CUBE.points.flatMap((p) => [...packedAs([9, 9], FLOAT), ...packedAs(p, FLOAT), ...packedAs([7], FLOAT)]);
    const view = draft.view([1, 2, 3, 4, ...rows], { byteStride: 24 });
    draft.accessors.push({
      bufferView: view,
      byteOffset: 12,
      componentType: FLOAT,
      count: 8,
      type: 'VEC3',
      min: [5, 5, 5],
      max: [-1, 0, 0],
    });
    draft.list([9, ...CUBE.triangles.flat()], 5121, 'SCALAR', { byteOffset: 1, count: 36 });
    expect(corners(readGlb(draft.glb(MESH)))).toEqual(cornersOf(CUBE));
  });

  test.each<[kind: Kind, normalized: boolean, scale: number]>([
    [5120, false, 1],
    [5121, false, 1],
    [5122, false, 1],
    [5123, false, 1],
    [5120, true, 127],
    [5121, true, 255],
    [5122, true, 32_767],
    [5123, true, 65_535],
  ])('quantised positions: component type %d, normalised %s', (kind, normalized, scale) => {
    const draft = new Draft();
    const signed = kind === 5120 || kind === 5122;
    const points = CUBE.points.map((p) => p.map((x) => (signed && x === 0 ? -100 : 25 * x)));
    draft.list(points.flat(), kind, 'VEC3', { normalized });
    draft.list(CUBE.triangles.flat(), 5121, 'SCALAR');
    const soup = readGlb(draft.glb(MESH, { extensionsRequired: ['KHR_mesh_quantization'], extensionsUsed: ['KHR_mesh_quantization'] }));
    expect(corners(soup)).toEqual(cornersOf({ points, triangles: CUBE.triangles }).map((x) => x / scale));
    expect(soup.findings).toEqual([]);
  });

  test('normalised -128 is -1, not less', () => {
    const draft = new Draft();
    draft.list([-128, 0, 0, 127, 0, 0, 0, 127, 0], 5120, 'VEC3', { normalized: true });
    expect(corners(readGlb(draft.glb([{ primitives: [{ attributes: { POSITION: 0 } }] }])))).toEqual([-1, 0, 0, 1, 0, 0, 0, 1, 0]);
  });

  test('sparse accessors: over a view, and over nothing', () => {
    const [moved, places] = [CUBE.points.map((p) => [...p]), [2, 5]];
    const draft = new Draft();
    const wrong = moved.map((p, i) => (places.includes(i) ? [99, 99, 99] : p));
    draft.list(wrong.flat(), FLOAT, 'VEC3', {
      sparse: sparseOf(
        draft,
        places,
        places.flatMap((i) => moved[i] as number[]),
      ),
    });
    draft.list(CUBE.triangles.flat(), 5123, 'SCALAR');
    expect(corners(readGlb(draft.glb(MESH)))).toEqual(cornersOf(CUBE));
    const bare = new Draft();
    const all = [0, 1, 2, 3, 4, 5, 6, 7];
    bare.accessors.push({ componentType: FLOAT, count: 8, type: 'VEC3', sparse: sparseOf(bare, all, flat(CUBE)) });
    bare.list(CUBE.triangles.flat(), 5123, 'SCALAR');
    expect(corners(readGlb(bare.glb(MESH)))).toEqual(cornersOf(CUBE));
    const far = new Draft();
    far.accessors.push({ componentType: FLOAT, count: 8, type: 'VEC3', sparse: sparseOf(far, [8], [0, 0, 0]) });
    far.list(CUBE.triangles.flat(), 5123, 'SCALAR');
    expect(refusal(far.glb(MESH))).toMatch(/sparse element 0 replaces element 8 of 8 \(\/accessors\/0\/sparse\/indices\)/);
  });

  test('a few numbers that are none among many: left out as in any file', () => {
    const many: Solid = {
      points: Array.from({ length: 4000 }, (_, i) => CUBE.points[i % 8] as number[]),
      triangles: Array.from({ length: 2000 }, (_, i) => [2 * i, (2 * i + 1) % 4000, (2 * i + 3) % 4000]),
    };
    many.points[700] = [0, Number.NaN, 0];
    const soup = readGlb(draftOf(many).glb(MESH));
    expect(told(soup)).toMatch(/scan\/not-finite warning: 1 triangle of 2 000 left out: triangle 351, vertex 1: y is NaN/);
    expect(soup.corners.length / 9).toBe(1999);
    const bad = {
      points: [
        [0, 0, 0],
        [1, Infinity, 0],
        [1, 1, 1],
      ],
      triangles: [[0, 1, 2]],
    };
    expect(refusal(draftOf(bad).glb(MESH))).toMatch(/scan\/not-finite: 1 of 1 triangle has.*vertex 2: y is infinite/);
  });
});

function sparseOf(draft: Draft, places: readonly number[], values: readonly number[]): object {
  return {
    count: places.length,
    indices: { bufferView: draft.view(packedAs(places, 5121)), componentType: 5121 },
    values: { bufferView: draft.view(packedAs(values, FLOAT)) },
  };
}

describe('primitives', () => {
  const draftWith = (points: readonly number[][], indices: readonly number[]): Draft =>
    draftOf({ points: points.map((p) => [...p]), triangles: [[...indices]] });
  const P = [0, 1, 2, 3, 4, 5].map((i) => [i, i * i, 1]);
  const numbersOf = (s: Soup): number[] => corners(s).filter((_c, i) => i % 3 === 0);

  test('strips and fans, wound as the standard says', () => {
    const as = (mode: number): number[] =>
      numbersOf(readGlb(draftWith(P, [0, 1, 2, 3, 4, 5]).glb([{ primitives: [{ attributes: { POSITION: 0 }, indices: 1, mode }] }])));
    expect(as(5)).toEqual([0, 1, 2, 1, 3, 2, 2, 3, 4, 3, 5, 4]);
    expect(as(6)).toEqual([1, 2, 0, 2, 3, 0, 3, 4, 0, 4, 5, 0]);
    expect(as(4)).toEqual([0, 1, 2, 3, 4, 5]);
  });

  test('a strip of a mirrored node is turned over whole', () => {
    const glb = draftWith(P, [0, 1, 2, 3]).glb([{ primitives: [{ attributes: { POSITION: 0 }, indices: 1, mode: 5 }] }], {
      nodes: [{ mesh: 0, scale: [1, 1, -1] }],
    });
    const soup = readGlb(glb);
    expect(numbersOf(soup)).toEqual([0, 2, 1, 1, 2, 3]);
    expect(told(soup)).toMatch(/scan\/mirrored changed: A mesh is mirrored by its matrix: 2 triangles turned over/);
  });

  test('points and lines are left out and told; alone they are no scan; corners left over are told', () => {
    const primitive = (mode: number): object => ({ attributes: { POSITION: 0 }, indices: 1, mode });
    const soup = readGlb(draftOf(CUBE).glb([{ primitives: [primitive(0), primitive(4), primitive(3)] }]));
    expect(corners(soup)).toEqual(cornersOf(CUBE));
    expect(told(soup)).toMatch(/Left out: 2 primitives of points or lines/);
    expect(refusal(draftOf(CUBE).glb([{ primitives: [primitive(0)] }]))).toMatch(
      /scan\/no-triangles: no triangles in file: it holds points or lines only \(1 primitive\)/,
    );
    const over = readGlb(draftWith(P, [0, 1, 2, 3, 4]).glb(MESH));
    expect([over.triangles, told(over)]).toEqual([1, expect.stringMatching(/scan\/left-over warning: 2 corners left over/)]);
    expect(refusal(draftOf(CUBE).glb([{ primitives: [{ ...primitive(4), mode: 7 }] }]))).toMatch(/\/meshes\/0\/primitives\/0\/mode/);
  });

  test('what can change shape is read at rest, with a warning', () => {
    const morph = readGlb(
      draftOf(CUBE).glb([{ primitives: [{ attributes: { POSITION: 0 }, indices: 1, targets: [{ POSITION: 0 }] }], weights: [0.5] }]),
    );
    expect(told(morph)).toMatch(/scan\/base-shape warning: 1 mesh part can change shape/);
    expect(told(cubeWith({ nodes: [{ mesh: 0, skin: 0 }], skins: [{ joints: [0] }] }))).toMatch(/1 mesh moved by a skeleton/);
    expect(corners(morph)).toEqual(cornersOf(CUBE));
  });

  test('a mesh without positions is empty; no mesh, no node, an empty scene', () => {
    expect(refusal(draftOf(CUBE).glb([{ primitives: [{ attributes: {} }] }]))).toMatch(/no triangles in file/);
    expect(refusal(draftOf(CUBE).glb([{ primitives: [] }]))).toMatch(/no triangles in file/);
    expect(refusal(draftOf(CUBE).glb([], { nodes: [{}] }))).toMatch(/no triangles in file: it holds no mesh/);
    expect(refusal(draftOf(CUBE).glb(MESH, { scenes: [{}] }))).toMatch(/none of its 1 mesh stands in the scene/);
    expect(refusal(glbOf({ asset: { version: '2.0' } }, undefined))).toMatch(/no triangles in file/);
  });
});

describe('the scene', () => {
  /** Columns of a rotation by the quaternion, by turning the axes with q v q*, the definition. */
  const byQuaternion = ([x, y, z, w]: readonly [number, number, number, number]): number[] =>
    [0, 1, 2].flatMap((axis) => {
      const v = [0, 1, 2].map((k) => (k === axis ? 1 : 0)) as [number, number, number];
      const cross = (a: readonly number[], b: readonly number[]): [number, number, number] => [
        (a[1] as number) * (b[2] as number) - (a[2] as number) * (b[1] as number),
        (a[2] as number) * (b[0] as number) - (a[0] as number) * (b[2] as number),
        (a[0] as number) * (b[1] as number) - (a[1] as number) * (b[0] as number),
      ];
      const t = cross([x, y, z], v).map((c) => 2 * c);
      const u = cross([x, y, z], t);
      return v.map((c, k) => c + w * (t[k] as number) + (u[k] as number));
    });

  test(`translation, rotation, scale, nested in a matrix, against the definition, SEED=${SEED}`, () => {
    const n = fc.integer({ min: -40, max: 40 }).map((k) => k / 8);
    const scale = fc.tuple(...[0, 1, 2].map(() => fc.constantFrom(-2, -1, 0.5, 1, 3))) as fc.Arbitrary<[number, number, number]>;
    const quaternion = fc
      .tuple(n, n, n, n)
      .filter((q) => q.some((c) => c !== 0))
      .map((q) => {
        const length = Math.sqrt(q.reduce((s, c) => s + c * c, 0));
        return q.map((c) => c / length) as [number, number, number, number];
      });
    fc.assert(
      fc.property(fc.tuple(n, n, n), quaternion, scale, fc.tuple(n, n, n), (t, q, s, move) => {
        const outer = [0, 1, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, ...move, 1]; // columns: x to y, y to z, z to x
        const soup = cubeWith({
          nodes: [
            { children: [1], matrix: outer },
            { mesh: 0, translation: t, rotation: q, scale: s },
          ],
        });
        const turned = byQuaternion(q);
        const inner = [...turned.map((c, k) => c * (s[Math.floor(k / 3)] as number)), ...t];
        const expected = through(through(cornersOf(CUBE), inner), [0, 1, 0, 0, 0, 1, 1, 0, 0, ...move]);
        const turns = (s[0] as number) * (s[1] as number) * (s[2] as number) < 0;
        for (let i = 0; i < expected.length; i += 3) {
          const k = (i / 3) % 3;
          const from = turns && k > 0 ? i + 3 * (k === 1 ? 1 : -1) : i;
          for (let c = 0; c < 3; c++) expect(Math.abs((soup.corners[i + c] as number) - (expected[from + c] as number))).toBeLessThan(1e-9);
        }
        expect(volumeOf(soup.corners)).toBeGreaterThan(0);
        expect(soup.findings.map((f) => f.code)).toEqual(turns ? ['scan/mirrored'] : []);
      }),
      { seed: SEED, numRuns: 200 },
    );
  });

  test('the scene that counts: the one named, the first, or all roots', () => {
    const nodes = [{ mesh: 0 }, { children: [2] }, { mesh: 0, translation: [100, 0, 0] }];
    const first = (soup: Soup): (number | undefined)[] => [soup.triangles, soup.corners[0]];
    expect(first(cubeWith({ nodes, scene: 1, scenes: [{ nodes: [0] }, { nodes: [1] }] }))).toEqual([12, 100]);
    expect(told(cubeWith({ nodes, scene: 1, scenes: [{ nodes: [0] }, { nodes: [1] }] }))).toMatch(
      /holds 2 scenes: the one that it shows is read/,
    );
    expect(first(cubeWith({ nodes, scene: undefined, scenes: [{ nodes: [0] }, { nodes: [1] }] }))).toEqual([12, 0]);
    const all = cubeWith({ nodes, scene: undefined, scenes: undefined });
    expect([...first(all), told(all)]).toEqual([24, 0, expect.stringMatching(/holds no scene: all its nodes are read/)]);
    expect(cubeWith({ nodes, scenes: [{ nodes: [0, 1] }] }).triangles).toBe(24);
  });

  test('a node in two places is two bodies', () => {
    const nodes = [{ children: [1, 2] }, { children: [3] }, { children: [3], translation: [9, 0, 0] }, { mesh: 0 }];
    const soup = cubeWith({ nodes });
    expect(soup.triangles).toBe(24);
    expect(volumeOf(soup.corners)).toBeCloseTo(128, 9);
  });

  test.each<[what: string, more: object, says: RegExp]>([
    ['a node in itself', { nodes: [{ mesh: 0, children: [0] }] }, /scan\/syntax: node 0 contains itself/],
    ['a ring of nodes', { nodes: [{ children: [1] }, { children: [2] }, { children: [1], mesh: 0 }] }, /node 1 contains itself/],
    ['a node that is not there', { nodes: [{ children: [5] }] }, /node 5 is asked for, there is 1 \(\/nodes\/0\/children\)/],
    ['a scene that is not there', { scene: 3 }, /scene 3 is asked for, there is 1/],
    ['a mesh that is not there', { nodes: [{ mesh: 4 }] }, /mesh 4 is asked for, there is 1 \(\/nodes\/0\/mesh\)/],
    [
      'a chain too deep',
      { nodes: [...Array.from({ length: 3000 }, (_, i) => ({ children: [i + 1] })), { mesh: 0 }] },
      /nodes nested more than 1000 deep/,
    ],
    [
      'a flood of nodes',
      { nodes: [...Array.from({ length: 30 }, (_, i) => ({ children: new Array(10).fill(i + 1) })), { mesh: 0 }] },
      /comes to more than 200 000 nodes/,
    ],
    ['more roots than any', { scenes: [{ nodes: new Array(300_000).fill(0) }] }, /comes to more than 200 000 nodes/],
    ['a flat node', { nodes: [{ mesh: 0, scale: [1, 1, 0] }] }, /singular.*\/nodes\/0/],
    ['a node beyond all numbers', { nodes: [{ mesh: 0, scale: [1e200, 1e200, 1e200] }] }, /scan\//],
    ['no rotation', { nodes: [{ mesh: 0, rotation: [0, 0, 0, 0] }] }, /a rotation without length \(\/nodes\/0\/rotation\)/],
    [
      'two ways to place a node',
      { nodes: [{ mesh: 0, scale: [1, 1, 1], matrix: [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1] }] },
      /a node with a matrix has a translation/,
    ],
    [
      'a perspective',
      { nodes: [{ mesh: 0, matrix: [1, 0, 0, 0.5, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1] }] },
      /last row of a matrix is 0\.5 0 0 1, not 0 0 0 1/,
    ],
    ['fifteen numbers', { nodes: [{ mesh: 0, matrix: new Array(15).fill(1) }] }, /\/nodes\/0\/matrix: /],
  ])('%s', (_what, more, says) => {
    expect(refusal(draftOf(CUBE).glb(MESH, more))).toMatch(says);
  });

  test('nodes scaled to nothing are hidden; told', () => {
    const soup = cubeWith({ scenes: [{ nodes: [0, 1] }], nodes: [{ mesh: 0 }, { mesh: 0, scale: [0, 0, 0] }] });
    expect([soup.triangles, told(soup)]).toEqual([12, expect.stringMatching(/Left out: 1 node scaled to nothing/)]);
  });

  test('many copies of many triangles are counted, not made', () => {
    const nodes = [{ children: new Array(1000).fill(1) }, { children: new Array(150).fill(2) }, { mesh: 0 }];
    const big = new Draft();
    big.accessors.push({ componentType: FLOAT, count: 9e15, type: 'VEC3' });
    expect(refusal(big.glb([{ primitives: [{ attributes: { POSITION: 0 } }] }]))).toMatch(
      /scan\/too-large: the file holds 3 000 000 000 000 000 triangles/,
    );
    const many: Solid = { points: CUBE.points, triangles: Array.from({ length: 400 }, (_, i) => CUBE.triangles[i % 12] as number[]) };
    expect(refusal(draftOf(many).glb(MESH, { nodes }))).toMatch(/scan\/too-large: the file holds 60 000 000 triangles/);
    const empty = [{ primitives: new Array(100).fill({ attributes: {} }) }];
    expect(refusal(draftOf(CUBE).glb(empty, { nodes }))).toMatch(/repeat more than 1 000 000 primitives/);
  });
});
