/** Of the deliberately bad files, what a row of the table cannot say (tests/scan/corpus). */
import { expect, test } from 'vitest';
import { describeShared, sharedFile } from '../support/shared.ts';
import { readSound } from './helpers.ts';

const file = (name: string): Uint8Array => sharedFile(`bad-inputs/${name}`);

describeShared('bad inputs, closer', 'bad-inputs', () => {
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
    // Five edges span three triangles; the whole plug has 24 base triangles where the cap has 22.
    expect(scan.mesh.indices.length / 3).toBe(453 + 3 + 22);
  });
});
