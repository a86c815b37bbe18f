import { beforeAll, describe, expect, test } from 'vitest';
import { check, readScan, verdictDocument } from '../../src/engine/index.ts';
import type { CaseResult } from '../../src/engine/types.ts';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { rotate, unitQuat } from '../../src/geometry/rotation.ts';
import type { Side } from '../../src/model/ear.ts';
import { encodeStl } from '../../src/synth/index.ts';
import { sampleBytes, samples } from '../support/samples.ts';

const average = samples().find((s) => s.file.includes('average')) ?? (samples()[0] as ReturnType<typeof samples>[number]);
const other: Side = average.side === 'left' ? 'right' : 'left';

type Change = (x: number, y: number, z: number) => readonly [number, number, number];
function changed(mesh: Mesh<'scan'>, change: Change, mirrored: boolean): Uint8Array {
  const positions = mesh.positions.slice();
  for (let i = 0; i < positions.length; i += 3) {
    positions.set(change(positions[i] as number, positions[i + 1] as number, positions[i + 2] as number), i);
  }
  const indices = mesh.indices.slice();
  if (mirrored) {
    for (let i = 0; i < indices.length; i += 3) {
      indices[i + 1] = mesh.indices[i + 2] as number;
      indices[i + 2] = mesh.indices[i + 1] as number;
    }
  }
  return encodeStl({ frame: 'scan', positions, indices });
}
const q = unitQuat([0.3, -0.5, 0.2, 0.7]);

describe(`${average.file}: the same ear, however it lies`, () => {
  let plain: CaseResult;
  let mesh: Mesh<'scan'>;
  beforeAll(async () => {
    const bytes = sampleBytes(average.file);
    mesh = readScan(bytes, average.file).mesh;
    plain = await check({ bytes: encodeStl(mesh), name: 'plain.stl', side: average.side });
  });

  test.each<[string, Change, boolean, Side]>([
    ['turned and moved', (x, y, z) => rotate(q, [x + 31.7, y - 12.3, z + 88.1]), false, average.side],
    ['mirrored, with the side swapped', (x, y, z) => [-x, y, z], true, other],
  ])('%s: same verdicts, spares within 0.03 mm', async (_name, change, mirrored, side) => {
    const again = await check({ bytes: changed(mesh, change, mirrored), name: 'again.stl', side });
    expect(again.rungs.map((r) => r.verdict)).toEqual(plain.rungs.map((r) => r.verdict));
    again.rungs.forEach((r, k) => {
      const before = plain.rungs[k]?.found;
      if (r.found !== undefined && before !== undefined) expect(Math.abs(r.found - before), r.style).toBeLessThanOrEqual(0.03);
    });
  });

  test('same scan, seed and order: the same bytes', async () => {
    const again = await check({ bytes: encodeStl(mesh), name: 'plain.stl', side: average.side });
    expect(JSON.stringify(verdictDocument(again))).toBe(JSON.stringify(verdictDocument(plain)));
  });
});
