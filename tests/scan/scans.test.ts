/**
 * Openly licensed meshes (and shapes derived from them), with counts and volumes measured by an independent script:
 * triangles as stored, "watertight" after merging bit-equal vertices.
 */
import { expect, test } from 'vitest';
import type { Scan, Unit } from '../../src/model/scan.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { changesOf, codesOf, faultOf, readSound, textsOf } from './helpers.ts';

const file = (name: string): Uint8Array => sharedFile(`scans/${name}`);
const extentOf = (s: Scan): number[] => [0, 1, 2].map((k) => (s.bounds.max[k] as number) - (s.bounds.min[k] as number));

interface Row {
  readonly name: string;
  readonly unit?: Unit;
  readonly triangles: number;
  readonly volume: number;
  readonly extent: readonly [number, number, number];
  readonly digits?: number; // of the volume
}

/** Sound files: nothing may change. */
const SOUND: readonly Row[] = [
  { name: 'ear_right_a.stl', triangles: 59188, volume: 36307.6, extent: [36.4781, 47.0256, 73.4645], digits: 1 },
  { name: 'ear_left_b.stl', triangles: 3862, volume: 31512.8, extent: [51.9604, 76.2057, 30.1715], digits: 1 },
  { name: 'stl_ascii_leading_space_crlf.stl', unit: 'mm', triangles: 12, volume: 8, extent: [2, 2, 2] },
  { name: 'stl_bin_colour_attr.stl', triangles: 260, volume: 7938.68, extent: [20, 20, 20] },
  { name: 'stl_ascii_bone.stl', unit: 'mm', triangles: 5924, volume: 673428, extent: [148.773, 447.235, 100.98], digits: 0 },
  { name: 'impression_right_a.stl', triangles: 14048, volume: 2231.97, extent: [19.8289, 22.9539, 22.3208] },
  { name: 'impression_right_a_inch.stl', unit: 'inch', triangles: 14048, volume: 2231.97, extent: [19.8289, 22.9539, 22.3208] },
];

describeShared('open meshes', 'scans', () => {
  test.each(SOUND)('$name is read unchanged', ({ name, unit, triangles, volume, extent, digits }) => {
    const scan = readSound(file(name), unit);
    expect(scan.read.triangles).toBe(triangles);
    expect(scan.mesh.indices.length / 3).toBe(triangles);
    expect(scan.read.openLoops).toEqual([]);
    expect(scan.base).toBeUndefined();
    expect(changesOf(scan)).toEqual([]);
    expect(Math.abs(scan.volume - volume)).toBeLessThan(0.51 * 10 ** -(digits ?? 2));
    const off = extentOf(scan).map((e, k) => Math.abs(e - (extent[k] as number)));
    expect(Math.max(...off)).toBeLessThan(0.01);
  });

  test('whole ears and bones get a warning or a refusal, never silence', () => {
    for (const name of ['ear_right_a.stl', 'ear_left_b.stl']) {
      expect(textsOf(readSound(file(name)))).toMatch(/large for an ear impression/);
    }
    const fault = faultOf(file('stl_ascii_bone.stl'));
    expect(fault.code).toBe('scan/unit');
    expect(fault.message).toMatch(/447.*too large.*In no unit is it one/);
    expect(codesOf(readSound(file('stl_ascii_bone.stl'), 'mm'))).toContain('scan/size');
  });

  test('a cube is read with a warning that it was built', () => {
    expect(codesOf(readSound(file('stl_bin_colour_attr.stl')))).toContain('scan/built');
    expect(codesOf(readSound(file('impression_right_a.stl')))).not.toContain('scan/built');
  });

  test('units that cannot be millimetres are asked for', () => {
    for (const [name, unit] of [
      ['impression_right_a_inch.stl', 'inch'],
      ['stl_bin_solid_header_open.stl', 'inch'],
      ['stl_ascii_sphere_hole.stl', 'cm'],
    ] as const) {
      const fault = faultOf(file(name));
      expect(fault.code).toBe('scan/unit');
      expect(fault.next).toContain(unit);
    }
    expect(faultOf(file('stl_bin_solid_header_metres.stl')).code).toBe('scan/unit');
  });

  test('double-sided: 14048 copies dropped, outward', () => {
    const scan = readSound(file('impression_right_a_double_sided.stl'));
    expect(scan.read.triangles).toBe(28096);
    expect(scan.mesh.indices.length / 3).toBe(14048);
    expect(Math.abs(scan.volume - 2231.97)).toBeLessThan(0.005);
    expect(textsOf(scan)).toMatch(/14 048 duplicate triangles removed, back to front/);
  });

  test('three round holes: closed, volume within 2 percent', () => {
    const scan = readSound(file('impression_right_a_holes.stl'));
    expect(scan.read.triangles).toBe(13768);
    expect(scan.read.openLoops.map((l) => l.role)).toEqual(['hole', 'hole', 'hole']);
    expect(scan.read.openLoops.reduce((n, l) => n + l.edges, 0)).toBe(86);
    expect(Math.abs(scan.volume / 2231.97 - 1)).toBeLessThan(0.02);
    expect(scan.base).toBeUndefined();
  });

  test('three damaged triangles of 14048: left out with a warning, three holes of three edges', () => {
    const scan = readSound(file('impression_right_a_nan.stl'));
    expect(textsOf(scan)).toMatch(/3 triangles of 14 048 left out/);
    expect(scan.read.openLoops.map((l) => l.edges)).toEqual([3, 3, 3]);
    expect(Math.abs(scan.volume - 2231.97)).toBeLessThan(0.01);
  });

  test('cut off in the middle of a triangle: refused with both counts', () => {
    const fault = faultOf(file('impression_right_a_truncated.stl'));
    expect(fault.message).toMatch(/14 048 triangles.*421 507 bytes: 8 428 whole triangles/);
  });

  test('nine open edges where three triangles are missing: closed again', () => {
    const scan = readSound(file('stl_ascii_sphere_hole.stl'), 'mm');
    expect(scan.read.triangles).toBe(285);
    expect(scan.read.openLoops.reduce((n, l) => n + l.edges, 0)).toBe(9);
    expect(scan.mesh.indices.length / 3).toBe(288);
  });

  test('inconsistent winding is repaired', () => {
    const scan = readSound(file('stl_bin_mixed_winding.stl'), 'mm');
    expect(changesOf(scan)).toEqual(['scan/turned']);
    expect(scan.mesh.indices.length / 3).toBe(10);
    const two = readSound(file('stl_ascii_two_solids_crlf.stl'), 'mm');
    expect(two.read.triangles).toBe(32);
    expect(two.read.pieces).toBe(2);
    expect(changesOf(two)).toContain('scan/turned');
  });

  test('cracks of an exporter are welded: 166 open edges, then none', () => {
    const scan = readSound(file('stl_bin_solid_header_open.stl'), 'inch');
    expect(scan.read.triangles).toBe(704);
    expect(scan.read.openLoops).toEqual([]);
    // 1.1455 cubic inches measured with the cracks open.
    expect(Math.abs(scan.volume / (1.1455 * 25.4 ** 3) - 1)).toBeLessThan(1e-4);
  });

  test('24 parts and 16 edges with three triangles: named, the largest part is closed', () => {
    const scan = readSound(file('stl_bin_nonmanifold_parts.stl'));
    expect(scan.read.triangles).toBe(2000);
    expect(scan.read.pieces).toBe(24);
    expect(textsOf(scan)).toMatch(/16 edges are shared by 3 triangles/);
  });

  test('the synthetic long canal: one body of 2749 mm³, specks of no volume named', () => {
    const scan = readSound(file('impression_right_a_long_canal.stl'));
    expect(scan.read.triangles).toBe(26404);
    expect(Math.abs(scan.volume - 2749)).toBeLessThan(1);
    expect(scan.findings.filter((f) => f.code === 'scan/inner-piece').every((f) => f.text.includes('0.000 mm³'))).toBe(true);
  });

  test('soup, loose triangles, empty and text files are refused', () => {
    expect(faultOf(file('stl_bin_soup.stl')).code).toBe('scan/unit');
    const soup = faultOf(file('stl_bin_soup.stl'), 'inch');
    expect(soup.code).toBe('scan/loose');
    expect(soup.message).toMatch(/300 of 300 triangle sides have no neighbour/);
    expect(faultOf(file('stl_ascii_two_solids_tiny.stl')).code).toBe('scan/too-few');
    expect(faultOf(file('stl_ascii_empty.stl')).code).toBe('scan/no-triangles');
    expect(faultOf(file('text_not_mesh.stl')).code).toBe('scan/not-a-mesh');
  });

  test.each([
    ['ply_points_only.ply', 'PLY'],
    ['ply_ascii_mixed_polys.ply', 'PLY'],
    ['obj_negative_indices.obj', 'OBJ'],
    ['obj_multiple_spaces.obj', 'OBJ'],
    ['obj_bad_relative_index.obj', 'OBJ'],
    ['mf_inch.3mf', '3MF'],
    ['mf_not_utf.3mf', '3MF'],
    ['gltf_nested_nodes.glb', 'glTF'],
  ])('%s is named and refused', (name, what) => {
    const fault = faultOf(file(name), undefined, name);
    expect(fault.code).toBe('scan/other-format');
    expect(fault.message).toContain(what);
  });
});
