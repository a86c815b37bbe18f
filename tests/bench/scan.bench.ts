/**
 * Reading a scan of 150 000 and of 2 000 000 triangles: bytes to closed mesh, beside the least that any reader must do
 * (every coordinate fetched once). TRIANGLES sets another number. Prints; asserts nothing about time.
 */
import { expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { readScan } from '../../src/scan/index.ts';

const SIZES = process.env['TRIANGLES'] ? [Number(process.env['TRIANGLES'])] : [150_000, 2_000_000];

/** A dented, noisy ball, open at its base as scans are: n x n quads in rings, as binary STL. */
function scanned(triangles: number, seed: number): Uint8Array {
  const rings = Math.round(Math.sqrt(triangles / 4));
  const around = 2 * rings;
  const rng = seeded(seed);
  const point = new Float64Array(3 * (rings + 1) * around);
  for (let i = 0; i <= rings; i++) {
    const a = (0.8 * Math.PI * i) / rings;
    for (let j = 0; j < around; j++) {
      const b = (2 * Math.PI * j) / around;
      const r = i === 0 ? 14 : 14 + 1.5 * Math.sin(5 * a) * Math.cos(4 * b) + 0.01 * rng.next();
      point.set([r * Math.sin(a) * Math.cos(b), r * Math.sin(a) * Math.sin(b), r * Math.cos(a)], 3 * (i * around + j));
    }
  }
  const corners: number[] = [];
  for (let i = 0; i < rings; i++) {
    for (let j = 0; j < around; j++) {
      const [p, q] = [i * around + j, i * around + ((j + 1) % around)];
      if (i > 0) corners.push(p, p + around, q);
      corners.push(q, p + around, q + around);
    }
  }
  const bytes = new Uint8Array(84 + (50 * corners.length) / 3);
  const view = new DataView(bytes.buffer);
  view.setUint32(80, corners.length / 3, true);
  for (const [c, p] of corners.entries()) {
    const at = 84 + 50 * Math.floor(c / 3) + 12 + 12 * (c % 3);
    for (let k = 0; k < 3; k++) view.setFloat32(at + 4 * k, point[3 * p + k] as number, true);
  }
  return bytes;
}

function fetchOnce(bytes: Uint8Array): number {
  const view = new DataView(bytes.buffer);
  let sum = 0;
  for (let at = 84; at < bytes.length; at += 50) for (let k = 12; k < 48; k += 4) sum += view.getFloat32(at + k, true);
  return sum;
}

test.each(SIZES)('%i triangles', (triangles) => {
  const bytes = scanned(triangles, 1);
  const t0 = performance.now();
  const sum = fetchOnce(bytes);
  const t1 = performance.now();
  const scan = readScan(bytes, 'bench.stl');
  const t2 = performance.now();
  expect(scan.read.openLoops.map((l) => l.role)).toEqual(['base']);
  expect(Number.isFinite(sum)).toBe(true);
  process.stdout.write(
    `${scan.read.triangles} triangles: ${((t2 - t1) / 1000).toFixed(2)} s, ${((t2 - t1) / (t1 - t0)).toFixed(0)} times fetching them; ` +
      `peak ${(process.resourceUsage().maxRSS / 1024).toFixed(0)} MB; volume ${scan.volume.toFixed(6)} mm3, ${scan.findings.map((f) => f.code).join(' ')}\n`,
  );
});
