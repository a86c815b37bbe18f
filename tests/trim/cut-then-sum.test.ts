/**
 * Conservation: whatever a scan looked like, once it is read any plane cuts it into two closed halves that add up to the
 * whole. Every readable file of the two folders beside the project, damaged solids of our own, and the sample casts.
 * Exact by geometry; the kernel takes 32-bit coordinates, so meshes are moved to their own middle first.
 */
import { describe, expect, test } from 'vitest';
import { loadKernel, withArena } from '../../src/geometry/kernel.ts';
import { boundsOf, type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { readScan } from '../../src/scan/index.ts';
import { BAD_READ } from '../scan/corpus/bad-inputs.ts';
import { SCANS_READ } from '../scan/corpus/scans.ts';
import { sampleBytes, samples } from '../support/samples.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { ball, openPlug, textFile, without } from '../support/solids.ts';
import { faultsOf, isClosed } from '../support/validate.ts';

const PLANES = 50;
/** Of a scan that is used as it is. */
const FEW = 5;
/** So many of the cuts are looked at by the slow validator too. */
const CLOSELY = 2;
const SEED = Number(process.env['SEED'] ?? 20260301);
const kernel = await loadKernel();

/** A direction on the unit sphere, evenly spread (Marsaglia 1972). */
function direction(rng: Random): [number, number, number] {
  for (;;) {
    const x = 2 * rng.next() - 1;
    const y = 2 * rng.next() - 1;
    const s = x * x + y * y;
    if (s >= 1) continue;
    const r = 2 * Math.sqrt(1 - s);
    return [x * r, y * r, 1 - 2 * s];
  }
}

function centred(mesh: Mesh<'scan'>): Mesh<'scan'> {
  const { min, max } = boundsOf<'scan'>(mesh.positions);
  return { ...mesh, positions: mesh.positions.map((x, i) => x - ((min[i % 3] as number) + (max[i % 3] as number)) / 2) };
}

/** What is wrong with the halves of 50 cuts; empty when each pair is closed and adds up within 1e-6 of the whole. */
function cutAndSum(scanned: Mesh<'scan'>, planes = PLANES): string[] {
  const mesh = centred(scanned);
  const { min, max } = boundsOf<'scan'>(mesh.positions);
  const rng = seeded(SEED);
  const wrong: string[] = [];
  withArena((arena) => {
    const whole = kernel.toManifold(mesh, arena);
    const volume = whole.volume();
    const small = mesh.indices.length < 60_000;
    // The kernel drops sides shorter than its 32-bit tolerance: this only tells that it holds the same body.
    if (Math.abs(volume - volumeOf(mesh)) > 3e-5 * volume) wrong.push(`the kernel holds ${volume} of ${volumeOf(mesh)} mm3`);
    for (let k = 0; k < planes; k++) {
      const n = direction(rng);
      const through = [0, 1, 2].map((a) => (min[a] as number) + (0.1 + 0.8 * rng.next()) * ((max[a] as number) - (min[a] as number)));
      const height = n.reduce((h, c, a) => h + c * (through[a] as number), 0);
      const halves = whole.splitByPlane(n, height).map((h) => arena.keep(h));
      const sum = halves.reduce((v, h) => v + h.volume(), 0);
      if (!(Math.abs(sum - volume) <= 1e-6 * volume)) wrong.push(`plane ${k}: ${sum} mm3 instead of ${volume}`);
      if (halves.some((h) => h.isEmpty())) continue;
      for (const half of halves) {
        const { mesh: cut } = kernel.fromManifold(half, 'scan');
        if ((small || k < 8) && !isClosed(cut)) wrong.push(`plane ${k}: a half is not closed`);
        if (k < CLOSELY) for (const f of faultsOf(cut).slice(0, 2)) wrong.push(`plane ${k}: ${f}`);
      }
    }
  });
  return wrong.slice(0, 5);
}

for (const [folder, rows] of [
  ['bad-inputs', BAD_READ],
  ['scans', SCANS_READ],
] as const) {
  describeShared(`${folder}: cut, then sum`, folder, () => {
    test.each(rows)(`$name, SEED=${SEED}`, (row) => {
      const scan = readScan(sharedFile(`${folder}/${row.name}`), row.name, row.unit ? { unit: row.unit } : {});
      const repaired = scan.findings.some((f) => f.level === 'changed' || f.code === 'scan/hole' || f.code === 'scan/rebuilt');
      expect(cutAndSum(scan.mesh, repaired ? PLANES : FEW)).toEqual([]);
    });
  });
}

describe('our own: cut, then sum', () => {
  test.each([
    ['an open plug', openPlug(40)],
    ['a ball with eight holes', without(ball(12, 4), (t) => t % 97 === 0)],
    ['a ball without its cap', without(ball(12, 4), (_t, m) => (m[2] as number) > 9)],
  ])('%s', (_name, solid) => {
    expect(cutAndSum(readScan(textFile(solid), 'own.stl').mesh)).toEqual([]);
  });

  // The sample whose scan needs the most mending; the others are read as they are.
  const ragged = samples().find(({ file }) => file.includes('ragged'))?.file ?? '';
  test(ragged, () => {
    expect(cutAndSum(readScan(sampleBytes(ragged), ragged).mesh)).toEqual([]);
  });
});
