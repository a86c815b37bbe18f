/**
 * A set of deliberately bad files, each with its expected numbers. Volumes there are of the mesh as stored, computed in
 * double precision by the script that wrote the files; counts are exact.
 */
import { expect, test } from 'vitest';
import type { Unit } from '../../src/model/scan.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { changesOf, faultOf, readSound, textsOf, warningsOf } from './helpers.ts';

const file = (name: string): Uint8Array => sharedFile(`bad-inputs/${name}`);

interface Row {
  readonly name: string;
  readonly unit?: Unit;
  readonly triangles: number; // in the file
  readonly vertices: number; // after welding
  readonly volume: number; // of the closed mesh
  readonly pieces?: number;
  readonly loops?: readonly (readonly ['base' | 'hole', edges: number, length?: number])[];
  /** Codes with level "changed": what was done to the mesh. */
  readonly changes?: readonly string[];
  readonly warnings?: readonly string[];
  /** What the findings must tell. */
  readonly says?: readonly RegExp[];
}

const PLUG = 1291.974;
const COARSE = 1249.06;

const ROWS: readonly Row[] = [
  { name: 'a01-binary-solid-header.stl', triangles: 480, vertices: 242, volume: PLUG },
  { name: 'a02-binary-header-facet-words.stl', triangles: 480, vertices: 242, volume: PLUG },
  { name: 'a03-crlf.stl', triangles: 144, vertices: 74, volume: COARSE },
  { name: 'a04-cr-only-tabs-uppercase.stl', triangles: 144, vertices: 74, volume: COARSE },
  {
    name: 'a05-decimal-comma.stl',
    triangles: 144,
    vertices: 74,
    volume: COARSE,
    warnings: ['scan/decimal-comma'],
    says: [/Decimal commas read as points/],
  },
  { name: 'a06-exponent-forms.stl', triangles: 144, vertices: 74, volume: COARSE },
  {
    name: 'a11-count-too-small.stl',
    triangles: 480,
    vertices: 242,
    volume: PLUG,
    warnings: ['scan/count'],
    says: [/header says 240 triangles, the file holds 480/],
  },
  { name: 'a12-trailing-bytes.stl', triangles: 480, vertices: 242, volume: PLUG, says: [/37 bytes after the last triangle ignored/] },
  {
    name: 'a22-two-solids-ascii.stl',
    triangles: 24,
    vertices: 16,
    volume: 768,
    pieces: 2,
    changes: ['scan/piece'],
    warnings: ['scan/pieces'],
    says: [/2 pieces/, /the largest, 768\.000 mm³, is used/, /360\.000 mm³/],
  },
  { name: 'a23-normals-zero.stl', triangles: 480, vertices: 242, volume: PLUG },
  { name: 'a24-normals-contradict-winding.stl', triangles: 480, vertices: 242, volume: PLUG },
  { name: 'a26 Gehör links (ä) 100% & 耳 č.stl', triangles: 480, vertices: 242, volume: PLUG },
  { name: 'b01-inches.stl', unit: 'inch', triangles: 480, vertices: 242, volume: PLUG, says: [/inches/] },
  { name: 'b02-metres.stl', unit: 'm', triangles: 480, vertices: 242, volume: PLUG, says: [/metres/] },
  { name: 'b03-micrometres.stl', unit: 'um', triangles: 480, vertices: 242, volume: PLUG, says: [/micrometres/] },
  { name: 'b04-far-from-origin.stl', triangles: 144, vertices: 74, volume: COARSE },
  {
    name: 'b05-far-from-origin-binary.stl',
    triangles: 480,
    vertices: 242,
    volume: 1293.294,
    warnings: ['scan/coarse'],
    says: [/step by 0\.125 mm/],
  },
  {
    name: 'c01-all-inverted.stl',
    triangles: 480,
    vertices: 242,
    volume: PLUG,
    changes: ['scan/turned'],
    says: [/All 480 triangles turned over/],
  },
  {
    name: 'c02-some-inverted.stl',
    triangles: 480,
    vertices: 242,
    volume: PLUG,
    changes: ['scan/turned'],
    says: [/48 triangles turned over/],
  },
  {
    name: 'c03-open-base.stl',
    triangles: 456,
    vertices: 241,
    volume: PLUG,
    loops: [['base', 24, 40.829]],
    changes: ['scan/base'],
    says: [/24 edges, 40\.829 mm/],
  },
  {
    name: 'c05-two-shells-apart.stl',
    triangles: 960,
    vertices: 484,
    volume: PLUG,
    pieces: 2,
    changes: ['scan/piece'],
    warnings: ['scan/pieces'],
    says: [/2 pieces/, /1291\.974 mm³, is used/, /279\.066 mm³/],
  },
  {
    name: 'c06-two-shells-overlapping.stl',
    triangles: 24,
    vertices: 16,
    volume: 1000,
    pieces: 2,
    warnings: ['scan/pieces', 'scan/overlap'],
    says: [/overlaps the piece in use by about 500\.0 mm³/],
  },
  {
    name: 'c07-internal-bubbles.stl',
    triangles: 36,
    vertices: 26,
    volume: 7680,
    pieces: 4,
    changes: ['scan/inner-piece', 'scan/inner-piece', 'scan/inner-piece'],
    warnings: ['scan/pieces'],
    says: [/3 inner pieces found/, /2\.304 mm³/, /0\.167 mm³/, /0\.683 mm³/],
  },
  {
    name: 'c08-real-cavity.stl',
    triangles: 24,
    vertices: 16,
    volume: 7680,
    pieces: 2,
    changes: ['scan/inner-piece'],
    warnings: ['scan/pieces'],
    says: [/Cavity left out: 12 triangles, 1152\.000 mm³/, /the volume of its outer surface counts, 7680\.000 mm³/],
  },
  {
    name: 'c10-t-junction.stl',
    triangles: 13,
    vertices: 9,
    volume: 7680,
    changes: ['scan/junctions'],
    says: [/1 T-junction/, /\(0, -8, 24\)/],
  },
  { name: 'c11-zero-area-slivers.stl', triangles: 20, vertices: 12, volume: 7680, says: [/4 triangles without area kept/] },
  { name: 'c12-needle-triangles.stl', triangles: 164, vertices: 84, volume: COARSE },
  {
    name: 'c13-non-manifold-edge.stl',
    triangles: 24,
    vertices: 14,
    volume: 1000,
    pieces: 2,
    changes: ['scan/piece'],
    warnings: ['scan/shared-edges', 'scan/pieces'],
    says: [/1 edge is shared by 4 triangles, from \(10, 10, 0\) to \(10, 10, 10\)/, /2000\.000 mm³ together/],
  },
  {
    name: 'c14-fin.stl',
    triangles: 13,
    vertices: 9,
    volume: 7680,
    changes: ['scan/fin'],
    warnings: ['scan/shared-edges'],
    says: [/1 edge is shared by 3 triangles, from \(-10, -8, 24\) to \(10, -8, 24\)/, /1 fin .* left out: 1 triangle/],
  },
  {
    name: 'c15-non-manifold-vertex.stl',
    triangles: 24,
    vertices: 15,
    volume: 1000,
    pieces: 2,
    changes: ['scan/piece'],
    warnings: ['scan/pieces'],
    says: [/touching another in 1 vertex at \(10, 10, 10\)/, /2000\.000 mm³ together/],
  },
  {
    name: 'c16-all-faces-twice.stl',
    triangles: 960,
    vertices: 242,
    volume: PLUG,
    changes: ['scan/duplicates'],
    says: [/480 duplicate triangles removed/],
  },
  {
    name: 'c17-some-faces-twice.stl',
    triangles: 483,
    vertices: 242,
    volume: PLUG,
    changes: ['scan/duplicates'],
    says: [/3 duplicate triangles removed, 1 of them back to front/],
  },
  { name: 'c18-off-by-1e-7.stl', triangles: 144, vertices: 74, volume: COARSE, changes: ['scan/welded'], says: [/tolerance 0\.001 mm/] },
  {
    name: 'c19-off-by-2e-4.stl',
    triangles: 144,
    vertices: 74,
    volume: COARSE,
    changes: ['scan/welded'],
    says: [/0\.000200 mm at most \(tolerance 0\.001 mm\)/],
  },
  { name: 'c20-inward-spike.stl', triangles: 22, vertices: 13, volume: 7981.333 },
  { name: 'c22-block.stl', triangles: 12, vertices: 8, volume: 7680 },
  { name: 'c23-octahedron.stl', triangles: 8, vertices: 6, volume: 1333.333 },
];

describeShared('bad inputs that are read', 'bad-inputs', () => {
  test.each(ROWS)('$name', (row) => {
    const scan = readSound(file(row.name), row.unit, row.name);
    expect(scan.name).toBe(row.name);
    expect(scan.unit).toBe(row.unit ?? 'mm');
    expect(scan.read.triangles).toBe(row.triangles);
    expect(scan.read.vertices).toBe(row.vertices);
    expect(scan.read.pieces).toBe(row.pieces ?? 1);
    expect(Math.abs(scan.volume - row.volume)).toBeLessThan(0.01);
    expect(scan.read.openLoops.map((l) => [l.role, l.edges])).toEqual((row.loops ?? []).map(([role, edges]) => [role, edges]));
    row.loops?.forEach(([, , length], i) => {
      if (length !== undefined) expect(scan.read.openLoops[i]?.length).toBeCloseTo(length, 3);
    });
    expect(changesOf(scan)).toEqual(row.changes ?? []);
    expect(warningsOf(scan)).toEqual(row.warnings ?? []);
    for (const text of row.says ?? []) expect(textsOf(scan)).toMatch(text);
  });

  test('c03: the base is flat in z = 0 and its cap is told apart', () => {
    const scan = readSound(file('c03-open-base.stl'));
    expect(scan.base?.plane.normal.map((c) => Math.round(c * 1e9) / 1e9 + 0)).toEqual([0, 0, -1]);
    expect(scan.base?.plane.point[2]).toBe(0);
    const cap = [...(scan.base?.cap ?? [])];
    expect(cap.filter((c) => c === 1)).toHaveLength(22);
    cap.forEach((c, t) => {
      const heights = [0, 1, 2].map((k) => scan.mesh.positions[3 * (scan.mesh.indices[3 * t + k] as number) + 2]);
      expect(heights.every((z) => z === 0)).toBe(c === 1);
    });
  });

  test('c04: the long loop is the base, the short one at z = 5.3 a hole', () => {
    const scan = readSound(file('c04-open-base-and-hole.stl'));
    const byRole = Object.fromEntries(scan.read.openLoops.map((l) => [l.role, l]));
    expect(scan.read.openLoops).toHaveLength(2);
    expect(byRole['base']?.edges).toBe(24);
    expect(byRole['hole']?.edges).toBe(5);
    expect(Math.abs((byRole['hole']?.at[2] ?? 0) - 5.3)).toBeLessThan(0.3);
    expect(changesOf(scan)).toEqual(['scan/base', 'scan/hole']);
    // Five edges span three triangles; the whole plug has 24 base triangles where the cap has 22.
    expect(scan.mesh.indices.length / 3).toBe(453 + 3 + 22);
    expect(Math.abs(scan.volume - PLUG)).toBeLessThan(0.002 * PLUG);
  });

  test('c09: read, and nothing says that the surface is free of crossings', () => {
    const scan = readSound(file('c09-self-intersection.stl'));
    expect(scan.volume).toBeCloseTo(500, 6);
    expect(textsOf(scan)).not.toMatch(/cross/);
  });
});

const REFUSED: readonly [name: string, code: string, ...says: RegExp[]][] = [
  ['a07-vertex-two-numbers.stl', 'scan/syntax', /line 12/, /vertex has 2 numbers, needs 3/],
  ['a08-nan-ascii.stl', 'scan/not-finite', /line 26/, /y is not a finite number \(nan\)/],
  [
    'a09-nan-inf-binary.stl',
    'scan/not-finite',
    /triangle 8, vertex 2: y is NaN/,
    /triangle 302, vertex 3: x is infinite/,
    /2 of 480 triangles/,
  ],
  ['a10-truncated-binary.stl', 'scan/truncated', /480 triangles \(24 084 bytes\)/, /15 107 bytes/, /300 whole triangles/],
  ['a13-count-4e9.stl', 'scan/truncated', /4 000 000 000 triangles \(200 GB\)/, /184 bytes/],
  ['a14-zero-triangles-binary.stl', 'scan/no-triangles', /no triangles in file/],
  ['a15-zero-triangles-ascii.stl', 'scan/no-triangles', /no triangles in file/],
  ['a16-empty.stl', 'scan/empty', /file is empty \(0 bytes\)/],
  ['a17-text-note.stl', 'scan/not-a-mesh', /not an STL file/, /starts with 'Dear lab,'/],
  ['a18-png-renamed.stl', 'scan/other-format', /this is a PNG picture, not an STL file/],
  ['a19-gzip.stl', 'scan/other-format', /this is gzip-compressed data/],
  ['a20-truncated-ascii.stl', 'scan/truncated', /line 501/, /file ends inside a facet/],
  ['a21-missing-endfacet.stl', 'scan/syntax', /line 148/, /a facet is opened before the last one was closed/],
  ['a25-four-vertices-in-loop.stl', 'scan/syntax', /line 21/, /fourth vertex in a loop/],
  ['a27-80-byte-solid.stl', 'scan/no-triangles', /no triangles in file/],
  ['b01-inches.stl', 'scan/unit', /largest extent 0\.732/, /as millimetres that is too small/, /in inches it is 18\.6 mm/],
  ['b02-metres.stl', 'scan/unit', /largest extent 0\.0186/, /in metres it is 18\.6 mm/],
  ['b03-micrometres.stl', 'scan/unit', /largest extent 18 600/, /too large/, /in micrometres it is 18\.6 mm/],
  ['d02-big-endian.ply', 'scan/other-format', /this is a PLY file/],
  ['d08-huge-vertex-count.ply', 'scan/other-format', /this is a PLY file/],
  ['e01-negative-groups-vt-vn.obj', 'scan/other-format', /this is an OBJ file/],
  ['f01-unit-inch.3mf', 'scan/other-format', /this is a 3MF file/],
  ['f05-zip-without-model.3mf', 'scan/other-format', /this is a zip archive/],
  ['g00-good-case.json', 'scan/other-format', /this is a JSON file/],
  ['g10-utf16.json', 'scan/other-format', /this is UTF-16 text/],
];

describeShared('bad inputs that are refused', 'bad-inputs', () => {
  test.each(REFUSED.map(([name, code, ...says]) => ({ name, code, says })))('$name', ({ name, code, says }) => {
    const fault = faultOf(file(name), undefined, name);
    expect(fault.code).toBe(code);
    for (const text of says) expect(fault.message).toMatch(text);
    expect(fault.next).not.toBe('');
    expect(fault.message).not.toMatch(/NaN of|undefined|RangeError/);
  });
});
