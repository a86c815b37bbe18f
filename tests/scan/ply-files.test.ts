/** PLY files beside the project, of other programs (see SOURCES.md beside them). */
import { expect, test } from 'vitest';
import { readPly } from '../../src/scan/files/ply.ts';
import { readScan } from '../../src/scan/index.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { faultOf, textsOf } from './helpers.ts';

describeShared('PLY files from elsewhere', 'scans', () => {
  test.each<[name: string, triangles: number, single: boolean]>([
    ['ply_ascii_mixed_polys', 968, false],
    ['ply_bin_le_lists_colour', 1000, true],
    ['ply_ascii_vertex_index_char', 2, false],
    ['ply_bin_data_starts_with_newline', 12, true],
    ['impression_right_a_be_double', 14048, false],
  ])('%s', (name, triangles, single) => {
    const soup = readPly(sharedFile(`scans/${name}.ply`));
    expect([soup.triangles, soup.corners.length / 9, soup.single]).toEqual([triangles, triangles, single]);
    if (name.includes('newline'))
      expect(soup.corners.reduce((a, c, i) => (i % 3 === 0 ? Math.min(a, c) : a), Infinity)).toBeCloseTo(5.9675, 4);
  });

  test('without triangles', () => {
    expect(faultOf(sharedFile('scans/ply_points_only.ply')).message).toMatch(/10 201 points but no faces/);
    expect(faultOf(sharedFile('scans/ply_empty.ply')).message).toMatch(/no triangles in file/);
  });

  test('the impression in big-endian doubles is the one of the binary STL', () => {
    const ply = readScan(sharedFile('scans/impression_right_a_be_double.ply'), 'a.ply');
    const stl = readScan(sharedFile('scans/impression_right_a.stl'), 'a.stl');
    expect(textsOf(ply)).toBe(textsOf(stl));
    expect(Math.abs(ply.volume - stl.volume)).toBeLessThan(0.01);
    expect(ply.mesh.indices).toEqual(stl.mesh.indices);
  });
});
