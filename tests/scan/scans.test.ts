/**
 * Openly licensed meshes (and shapes derived from them), with counts and volumes measured by an independent script:
 * triangles as stored, "watertight" after merging bit-equal vertices.
 */
import { expect, test } from 'vitest';
import { describeShared, sharedFile } from '../support/shared.ts';
import { codesOf, faultOf, readSound, textsOf } from './helpers.ts';

const file = (name: string): Uint8Array => sharedFile(`scans/${name}`);

describeShared('open meshes', 'scans', () => {
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

  test('three round holes: closed, volume within 2 percent', () => {
    const scan = readSound(file('impression_right_a_holes.stl'));
    expect(scan.read.triangles).toBe(13768);
    expect(scan.read.openLoops.map((l) => l.role)).toEqual(['hole', 'hole', 'hole']);
    expect(scan.read.openLoops.reduce((n, l) => n + l.edges, 0)).toBe(86);
    expect(Math.abs(scan.volume / 2231.97 - 1)).toBeLessThan(0.02);
    expect(scan.base).toBeUndefined();
  });

  test('nine open edges where three triangles are missing: closed again', () => {
    const scan = readSound(file('stl_ascii_sphere_hole.stl'), 'mm');
    expect(scan.read.triangles).toBe(285);
    expect(scan.read.openLoops.reduce((n, l) => n + l.edges, 0)).toBe(9);
    expect(scan.mesh.indices.length / 3).toBe(288);
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
});
