/** Posed parts and grazing points whose states were worked out by hand, from the shared set of hard inputs. */
import { expect, it } from 'vitest';
import { pt, type Vec3 } from '../../src/geometry/vec.ts';
import { Columns } from '../../src/verify/inside.ts';
import { Solid } from '../../src/verify/solid.ts';
import { Wall } from '../../src/verify/wall.ts';
import { noCutsBody, primitive } from '../support/bodies.ts';
import { readTriangles } from '../support/recheck.ts';
import { describeShared, sharedFile } from '../support/shared.ts';

interface PoseCase {
  readonly size: number[];
  readonly centre: Vec3;
  readonly state: string;
  readonly clearance_mm?: number;
  readonly depth_mm?: number;
}
interface PointCase {
  readonly p: Vec3;
  readonly inside: boolean;
}

/** Welded by equal coordinates. */
function meshOf(file: string) {
  const corners = readTriangles(sharedFile(file));
  const index = new Map<string, number>();
  const positions: number[] = [];
  const indices = Uint32Array.from({ length: corners.length / 3 }, (_, i) => {
    const p = [corners[3 * i], corners[3 * i + 1], corners[3 * i + 2]] as number[];
    const found = index.get(p.join());
    if (found !== undefined) return found;
    index.set(p.join(), positions.length / 3);
    positions.push(...p);
    return positions.length / 3 - 1;
  });
  return { frame: 'ear' as const, positions: Float64Array.from(positions), indices };
}

const json = (file: string): unknown => JSON.parse(new TextDecoder().decode(sharedFile(file)));
const clearance = (wall: Wall, size: number[], centre: Vec3): number =>
  wall.clearance(
    new Solid(primitive('box', size), { position: pt<'ear'>(...(centre as [number, number, number])), quaternion: [0, 0, 0, 1] }),
  ).has;

describeShared('hard poses', 'bad-inputs', () => {
  it('c21 in c22: inside and touching to 1e-6, crossing by its depth, outside never clear', () => {
    const wall = new Wall(noCutsBody(meshOf('bad-inputs/c22-block.stl')));
    const { cases } = json('bad-inputs/c21-shell-poses.json') as { cases: PoseCase[] };
    expect(cases.length).toBeGreaterThan(5);
    for (const c of cases) {
      const has = clearance(wall, c.size, c.centre);
      if (c.clearance_mm !== undefined) expect(Math.abs(has - c.clearance_mm)).toBeLessThanOrEqual(1e-6);
      else if (c.depth_mm !== undefined) {
        expect(has).toBeLessThanOrEqual(-c.depth_mm + 1e-9);
        expect(has).toBeGreaterThan(-c.depth_mm - 0.01);
      } else expect(has).toBeLessThan(-1);
    }
  });

  it('c20: a spike through the part is seen, 2.000 mm clear below it', () => {
    const wall = new Wall(noCutsBody(meshOf('bad-inputs/c20-inward-spike.stl')));
    expect(clearance(wall, [8, 8, 2], [0, 0, 7])).toBeLessThan(0);
    expect(clearance(wall, [8, 8, 2], [0, 0, 3])).toBeCloseTo(2, 6);
  });

  it('c24 in c23: lines through corners and along edges decide nothing', () => {
    const inside = new Columns(meshOf('bad-inputs/c23-octahedron.stl'));
    const data = json('bad-inputs/c24-grazing-points.json') as { points: PointCase[] };
    expect(data.points.length).toBe(15);
    for (const { p, inside: expected } of data.points) {
      for (const nudge of [0, 1e-9, -1e-9]) expect(inside.contains(p[0] + nudge, p[1] + nudge, p[2] - nudge)).toBe(expected);
    }
  });
});
