/** glTF 2.0 and GLB: containers, files that do not hold together, damage, and the files beside the project. Rules from the Khronos specification. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readGlb, readGltf } from '../../src/scan/files/gltf.ts';
import type { Soup } from '../../src/scan/files/soup.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { cornersOf } from '../support/solids.ts';
import { CUBE, Draft, draftOf, FLOAT, glbOf, MESH } from './gltf-drafts.ts';
import { faultOf, readSound, textsOf } from './helpers.ts';
import { bytesOf, damaged, damages, extentOf, le, refusalOf, SEED, told, verdictOf, volumeOf } from './readers.ts';

const cubeWith = (more: object): Soup => readGlb(draftOf(CUBE).glb(MESH, more));
const corners = (s: Soup): number[] => [...s.corners];
const refusal = (bytes: Uint8Array): string => {
  const fault = refusalOf(() => readGlb(bytes));
  return `${fault.code}: ${fault.message}`;
};

describe('what does not hold together', () => {
  test.each<[what: string, edit: (d: Draft) => Uint8Array, says: RegExp]>([
    [
      'an index out of range',
      (d) => d.amendByte(96, 8).glb(MESH),
      /triangle 1 uses vertex 8, there are 8 \(0 to 7\) \(\/meshes\/0\/primitives\/0\)/,
    ],
    [
      'an accessor past its view',
      (d) => d.amendAccessor(0, { count: 9 }).glb(MESH),
      /9 elements need 108 bytes, buffer view 0 has 96 \(\/accessors\/0\)/,
    ],
    ['an offset past its view', (d) => d.amendAccessor(0, { byteOffset: 4 }).glb(MESH), /8 elements need 100 bytes/],
    [
      'a view past its buffer',
      (d) => d.amendView(1, { byteLength: 999 }).glb(MESH),
      /the view ends at byte 1 095, buffer 0 has 168 \(\/bufferViews\/1\)/,
    ],
    ['a buffer past the chunk', (d) => glbOf(d.json(MESH), d.bytes.slice(0, 100)), /scan\/truncated: buffer 0 says 168 bytes and has 100/],
    ['no chunk', (d) => glbOf(d.json(MESH), undefined), /buffer 0 has no bytes: neither a uri nor a binary chunk/],
    ['positions of two numbers', (d) => d.amendAccessor(0, { type: 'VEC2' }).glb(MESH), /positions are VEC2 of component type 5126/],
    ['positions of ints', (d) => d.amendAccessor(0, { componentType: 5125 }).glb(MESH), /positions are VEC3 of component type 5125/],
    ['indices of floats', (d) => d.amendAccessor(1, { componentType: 5126 }).glb(MESH), /indices are SCALAR of component type 5126/],
    ['an unknown component type', (d) => d.amendAccessor(1, { componentType: 5124 }).glb(MESH), /\/accessors\/1\/componentType/],
    ['a stride too small', (d) => d.amendView(0, { byteStride: 8 }).glb(MESH), /byteStride 8 is less than an element \(12 bytes\)/],
    [
      'an accessor that is not there',
      (d) => d.glb([{ primitives: [{ attributes: { POSITION: 7 } }] }]),
      /accessor 7 is asked for, there are 2 \(\/meshes\/0\/primitives\/0\/attributes\/POSITION\)/,
    ],
    ['a view that is not there', (d) => d.amendAccessor(0, { bufferView: 7 }).glb(MESH), /buffer view 7 is asked for, there are 2/],
    ['a buffer that is not there', (d) => d.amendView(0, { buffer: 7 }).glb(MESH), /buffer 7 is asked for, there is 1/],
    ['a negative number', (d) => d.amendView(0, { byteOffset: -4 }).glb(MESH), /\/bufferViews\/0\/byteOffset: /],
    ['half a count', (d) => d.amendAccessor(0, { count: 7.5 }).glb(MESH), /\/accessors\/0\/count: /],
    ['a list that is none', (d) => d.glb(MESH, { nodes: { 0: { mesh: 0 } } }), /\/nodes: /],
    ['a number as text', (d) => d.glb(MESH, { nodes: [{ mesh: '0' }] }), /\/nodes\/0\/mesh: /],
    ['no asset', (d) => d.glb(MESH, { asset: undefined }), /\/asset: /],
    [
      'version 1 in the JSON',
      (d) => d.glb(MESH, { asset: { version: '1.0' } }),
      /other-format: this is glTF version 1\.0; version 2\.0 is read/,
    ],
    ['a later minVersion', (d) => d.glb(MESH, { asset: { version: '2.1', minVersion: '2.1' } }), /glTF version 2\.1/],
    ['a JSON that is none', (d) => glbOf('{"asset": }', d.bytes), /not JSON/],
    ['a JSON cut off', (d) => glbOf('{"asset": {"version": "2.0"', d.bytes), /scan\/truncated: the JSON of this glTF ends in the middle/],
    ['a string cut off', (d) => glbOf('{"asset": "2.0\\"', d.bytes), /scan\/truncated: the JSON of this glTF ends in the middle/],
    [
      'deep nesting',
      (d) => glbOf(`{"a":${'['.repeat(5000)}${']'.repeat(5000)}}`, d.bytes),
      /scan\/unsafe: the JSON of this glTF is nested more than 100 deep/,
    ],
    ['a flood of values', () => glbOf(`{"a":[${'1,'.repeat(5_000_001)}1]}`, undefined), /holds more than 5 000 000 values/],
    [
      'draco, required',
      (d) => d.glb(MESH, { extensionsRequired: ['KHR_draco_mesh_compression'] }),
      /compressed by KHR_draco_mesh_compression, which is not read \(\/extensionsRequired\/0\)/,
    ],
    ['meshopt, required', (d) => d.glb(MESH, { extensionsRequired: ['EXT_meshopt_compression'] }), /compressed by EXT_meshopt_compression/],
    [
      'meshopt in a view',
      (d) => d.amendView(0, { extensions: { EXT_meshopt_compression: {} } }).glb(MESH),
      /compressed by EXT_meshopt_compression.*\/bufferViews\/0/,
    ],
    [
      'draco without a fallback',
      (d) =>
        d
          .amendAccessor(0, { bufferView: undefined })
          .glb([
            { primitives: [{ attributes: { POSITION: 0 }, indices: 1, extensions: { KHR_draco_mesh_compression: { bufferView: 0 } } }] },
          ]),
      /compressed by KHR_draco_mesh_compression.*\/meshes\/0\/primitives\/0/,
    ],
  ])('%s', (_what, edit, says) => {
    expect(refusal(edit(draftOf(CUBE)))).toMatch(says);
  });

  test('draco with a fallback is read; unknown required extensions are told, harmless ones are not', () => {
    const fallback = draftOf(CUBE).glb([
      { primitives: [{ attributes: { POSITION: 0 }, indices: 1, extensions: { KHR_draco_mesh_compression: {} } }] },
    ]);
    expect(corners(readGlb(fallback))).toEqual(cornersOf(CUBE));
    expect(told(cubeWith({ extensionsRequired: ['KHR_materials_unlit', 'KHR_texture_transform'] }))).toBe('');
    expect(told(cubeWith({ extensionsRequired: ['XYZ_twist'] }))).toMatch(
      /scan\/extension warning: The file requires the extension 'XYZ_twist'/,
    );
    expect(told(cubeWith({ nodes: [{ mesh: 0, extensions: { EXT_mesh_gpu_instancing: {} } }] }))).toMatch(
      /repeated by EXT_mesh_gpu_instancing/,
    );
  });

  test('keys of the language are only keys', () => {
    const text = JSON.stringify(draftOf(CUBE).json(MESH)).replace('{', '{"__proto__":{"nodes":[]},"constructor":{"prototype":1},');
    const soup = readGlb(glbOf(text.replace('"nodes":[{', '"nodes":[{"__proto__":{"mesh":9},'), draftOf(CUBE).bytes));
    expect(corners(soup)).toEqual(cornersOf(CUBE));
    expect(Object.hasOwn(Object.prototype, 'nodes')).toBe(false);
  });
});

describe('containers', () => {
  const draft = draftOf(CUBE);
  const json = draft.json(MESH);

  test('GLB: unknown chunks, bytes behind, a JSON padded with NUL, extras everywhere', () => {
    const extra = glbOf(json, draft.bytes, { chunks: [...le(4, 4), ...le(0x12345678, 4), 1, 2, 3, 4] });
    expect(readGlb(extra).findings).toEqual([]);
    const behind = Uint8Array.from([...glbOf(json, draft.bytes), 1, 2, 3]);
    expect(told(readGlb(behind))).toBe('scan/trailing-bytes note: 3 bytes after the end of the GLB ignored.');
    expect(corners(readGlb(glbOf(`${JSON.stringify(json)}\0\0\0`, draft.bytes)))).toEqual(cornersOf(CUBE));
    expect(corners(cubeWith({ extras: { nodes: 1 }, nodes: [{ mesh: 0, extras: [1], name: '耳' }] }))).toEqual(cornersOf(CUBE));
  });

  test.each<[what: string, bytes: Uint8Array, says: RegExp]>([
    ['version 1', glbOf(json, draft.bytes, { version: 1 }), /GLB file of glTF version 1; version 2 is read/],
    [
      'a length too large',
      glbOf(json, draft.bytes, { length: 1_000_000 }),
      /scan\/truncated: the header says 1 000 000 bytes, the file has/,
    ],
    [
      'a length too small',
      glbOf(json, draft.bytes, { length: 40 }),
      /scan\/truncated: a chunk of .* runs past the end of the GLB \(40 bytes\)/,
    ],
    [
      'numbers first',
      Uint8Array.from([...bytesOf('glTF'), ...le(2, 4), ...le(24, 4), ...le(4, 4), ...le(0x004e4942, 4), 0, 0, 0, 0]),
      /first chunk of this GLB is not JSON/,
    ],
    ['nothing', Uint8Array.from([...bytesOf('glTF'), ...le(2, 4), ...le(12, 4)]), /holds no chunk of JSON/],
    ['eight bytes', Uint8Array.from([...bytesOf('glTF'), ...le(2, 4)]), /8 bytes: too short for a GLB file \(12 at least\)/],
    [
      'bytes that are not UTF-8',
      glbOf(json, draft.bytes).map((b, i) => (i === 25 ? 0xff : b)),
      /scan\/encoding: the JSON of this glTF is not valid UTF-8/,
    ],
  ])('GLB: %s', (_what, bytes, says) => {
    expect(refusal(bytes)).toMatch(says);
  });

  test('GLB cut anywhere: truncated', () => {
    const whole = glbOf(json, draft.bytes);
    for (let n = 4; n < whole.length; n++) expect(refusalOf(() => readGlb(whole.subarray(0, n))).code).toBe('scan/truncated');
  });

  test('text: base64 in all its forms, several buffers', () => {
    const text = (uri: string, more: object = {}): Soup => readGltf(bytesOf(JSON.stringify(draft.json(MESH, more, uri), undefined, 1)));
    const base64 = Buffer.from(draft.bytes).toString('base64');
    for (const uri of [
      draft.uri(),
      `data:;base64,${base64}`,
      `DATA:application/gltf-buffer;charset=x;BASE64,${base64.replace(/(.{70})/g, '$1\r\n')}`,
      `data:;base64,${base64.replace(/=+$/, '')}`,
    ]) {
      const soup = text(uri);
      expect(corners(soup)).toEqual(cornersOf(CUBE));
      expect(soup.format).toBe('gltf');
    }
    const whole = (uri: string): string => refusalOf(() => text(uri)).message;
    expect(whole('cube left.bin')).toMatch(
      /the numbers are in another file, 'cube left\.bin' \(\/buffers\/0\/uri\)\. Export the scan as GLB/,
    );
    expect(whole('https://example.org/a.bin')).toMatch(/in another file/);
    expect(whole('data:application/octet-stream,abc')).toMatch(/a data: uri that is not base64/);
    expect(whole(`data:;base64,${base64.slice(0, 40)}*${base64.slice(41)}`)).toMatch(/'\*' is no base64 digit \(character 54\)/);
    expect(whole(`data:;base64,${base64.slice(0, 100)}`)).toMatch(/scan\/truncated|buffer 0 says 168 bytes and has 75/);
    const part = (from: number, to: number): object => ({
      byteLength: to - from,
      uri: `data:;base64,${Buffer.from(draft.bytes.slice(from, to)).toString('base64')}`,
    });
    const two = text('', {
      buffers: [part(0, 96), part(96, 168)],
      bufferViews: [
        { buffer: 0, byteLength: 96 },
        { buffer: 1, byteLength: 72 },
      ],
    });
    expect(corners(two)).toEqual(cornersOf(CUBE));
    expect(corners(readGltf(bytesOf(`\uFEFF${JSON.stringify(draft.json(MESH, {}, draft.uri()))}\n`)))).toEqual(cornersOf(CUBE));
  });

  test(`base64 of any bytes comes back, SEED=${SEED}`, () => {
    fc.assert(
      fc.property(
        fc.array(fc.float({ noNaN: true, noDefaultInfinity: true, min: -1000, max: 1000 }), { minLength: 9, maxLength: 9 }),
        fc.nat(2),
        (xs, pad) => {
          const d = new Draft();
          d.list(xs, FLOAT, 'VEC3');
          for (let i = 0; i < pad; i++) d.bytes.push(i);
          const soup = readGltf(bytesOf(JSON.stringify(d.json([{ primitives: [{ attributes: { POSITION: 0 } }] }], {}, d.uri()))));
          expect(corners(soup)).toEqual(xs.map((x) => x + 0));
        },
      ),
      { seed: SEED, numRuns: 100 },
    );
  });
});

describe(`damaged bytes, SEED=${SEED}`, () => {
  const draft = draftOf(CUBE);
  const nodes = [
    { children: [1, 2] },
    { mesh: 0, rotation: [0, 0, 1, 0] },
    { mesh: 0, matrix: [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 5, 6, 7, 1] },
  ];
  test('of a GLB', () => {
    const whole = draft.glb(MESH, { nodes });
    fc.assert(
      fc.property(damages, (changes) => {
        expect(verdictOf(readGlb, damaged(whole, changes))).toBe('');
      }),
      { seed: SEED, numRuns: 800 },
    );
  });
  test('of a text, and of its words', () => {
    const text = JSON.stringify(draft.json(MESH, { nodes }, draft.uri()));
    const words = text.split(/(?<=[[\]{}:,])/);
    fc.assert(
      fc.property(damages, (changes) => {
        expect(verdictOf(readGltf, damaged(bytesOf(text), changes))).toBe('');
        const w = [...words];
        for (const [, x, y] of changes) w[x % w.length] = w[y % w.length] as string;
        expect(verdictOf(readGltf, bytesOf(w.join('')))).toBe('');
      }),
      { seed: SEED, numRuns: 500 },
    );
  });
  test('of single values', () => {
    const values = [-1, 0, 0.5, 1, 3, 255, 4096, 1e9, 2 ** 53, 1e308, '', 'x', null, true, [], {}, [0], [[]]];
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(), fc.nat(values.length - 1)), { minLength: 1, maxLength: 3 }), (edits) => {
        const json = JSON.stringify(draft.json(MESH, { nodes }));
        const slots = [...json.matchAll(/(?<=[:[,])(-?[\d.]+|"[^"]*")(?=[,\]}])/g)];
        let out = json;
        for (const [at, v] of [...edits].sort((a, b) => (b[0] % slots.length) - (a[0] % slots.length))) {
          const slot = slots[at % slots.length] as RegExpMatchArray;
          out = out.slice(0, slot.index) + JSON.stringify(values[v]) + out.slice((slot.index ?? 0) + slot[0].length);
        }
        expect(verdictOf(readGlb, glbOf(out, draft.bytes))).toBe('');
      }),
      { seed: SEED, numRuns: 700 },
    );
  });
});

describeShared('files beside the project', 'scans', () => {
  test('nested nodes: three boxes where the nodes put them', () => {
    const soup = readGlb(sharedFile('scans/gltf_nested_nodes.glb'));
    expect([soup.triangles, soup.unit]).toEqual([36, 'm']);
    for (const [k, e] of extentOf(soup).entries()) expect(Math.abs(e - ([1.4364, 3.3366, 0.5388][k] as number))).toBeLessThan(0.0001);
    expect(Math.abs(volumeOf(soup.corners) - 0.8988)).toBeLessThan(0.0001);
  });
  test('strips: 2786 triangles, degenerate ones counted', () => {
    const soup = readGltf(sharedFile('scans/gltf_strips_embedded.gltf'));
    expect(soup.triangles).toBe(2786);
    for (const [k, e] of extentOf(soup).entries()) expect(Math.abs(e - ([57.15, 64.5358, 76.1178][k] as number))).toBeLessThan(0.001);
    expect(Math.abs(volumeOf(soup.corners) - 49_156.4)).toBeLessThan(0.1);
    const scan = readSound(sharedFile('scans/gltf_strips_embedded.gltf'), 'mm');
    expect(textsOf(scan)).toMatch(/although the file states metres/);
  });
  test('no mesh', () => {
    const fault = faultOf(sharedFile('scans/gltf_no_mesh.glb'));
    expect(fault.code).toBe('scan/no-triangles');
    expect(fault.message).toMatch(/no triangles in file: it holds no mesh/);
  });
});
