import { readdirSync, readFileSync, statSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../src/geometry/trig.ts';
import { type EarTruth, makeSample, SAMPLES, type SampleEntry, sampleIndex } from '../../src/synth/index.ts';

const folder = new URL('../../sample-scans/', import.meta.url);
const truthOf = (file: string): EarTruth =>
  JSON.parse(readFileSync(new URL(file.replace('.stl', '.truth.json'), folder), 'utf8')) as EarTruth;
const named = (part: string): EarTruth => truthOf((SAMPLES.find((s) => s.entry.file.includes(part)) as { entry: SampleEntry }).entry.file);

describe('sample-scans', () => {
  test('holds what the index names, and nothing else', () => {
    const index = JSON.parse(readFileSync(new URL('index.json', folder), 'utf8')) as SampleEntry[];
    expect(index.length).toBe(8);
    const expected = [...index.flatMap((e) => [e.file, e.file.replace('.stl', '.truth.json')]), 'index.json', 'README.md'];
    expect(readdirSync(folder).sort()).toEqual(expected.sort());
    for (const file of sampleIndex()) expect(readFileSync(new URL(file.name, folder)).equals(file.bytes)).toBe(true);
  });

  test('binary STL of 40 000 to 150 000 triangles, under 45 MB together, the side in each name', () => {
    let total = 0;
    for (const { entry } of SAMPLES) {
      const bytes = readFileSync(new URL(entry.file, folder));
      const n = bytes.readUInt32LE(80);
      expect(bytes.length).toBe(84 + 50 * n);
      expect(n).toBeGreaterThan(40_000);
      expect(n).toBeLessThan(150_000);
      total += bytes.length;
      expect(entry.file).toContain(`-${entry.side}-`);
      expect(truthOf(entry.file).side).toBe(entry.side);
    }
    for (const f of readdirSync(folder)) if (f.endsWith('.json')) total += statSync(new URL(f, folder)).size;
    expect(total).toBeLessThan(45e6);
  });

  test.each([0, 5])('is made again byte for byte: sample %i', (i) => {
    for (const file of makeSample(SAMPLES[i] as (typeof SAMPLES)[number])) {
      expect(readFileSync(new URL(file.name, folder)).equals(file.bytes), file.name).toBe(true);
    }
  });

  // A d x h rectangle (a cell on edge seen down the canal) lies in an ellipse with full axes A, B iff (d/A)^2 + (h/B)^2 <= 1:
  // exact geometry. Cell 10: 5.8 x 3.6 (IEC 60086-2, from memory). Wall 0.6 on either side.
  const load = (t: EarTruth, depth: number, width: number, height: number): number => {
    const s = t.sections.find((x) => x.depth === depth);
    if (!s) throw new Error(`no section at ${depth}`);
    const [a, b] = [s.major - 1.2, s.minor - 1.2];
    return (width / a) * (width / a) + (height / b) * (height / b);
  };
  test('teach what they say: wide, narrow, sharp, short', () => {
    // With its drawer and gaps the cell takes about 6.3 x 4.1.
    for (const depth of [3, 5, 7, 9]) expect(load(named('wide'), depth, 6.3, 4.1)).toBeLessThan(0.8);
    for (const depth of [2, 4, 6, 8]) expect(load(named('narrow'), depth, 5.8, 3.6)).toBeGreaterThan(1);
    const sharp = named('sharp');
    expect(degrees(sharp.firstBend?.angle ?? 0)).toBeGreaterThan(40);
    expect(degrees(sharp.secondBend?.angle ?? 0)).toBeGreaterThan(40);
    expect(named('short').secondBend).toBeUndefined();
    expect(named('short').firstBend).toBeDefined();
  });
});
