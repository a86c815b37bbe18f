import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Side } from '../../src/model/ear.ts';

const folder = join(dirname(fileURLToPath(import.meta.url)), '../../sample-scans');

export interface Sample {
  readonly file: string;
  readonly side: Side;
  readonly title: string;
  readonly teaches: string;
}

/** The sample casts, as their index lists them. */
export const samples = (): Sample[] => JSON.parse(readFileSync(join(folder, 'index.json'), 'utf8')) as Sample[];
export const sampleBytes = (file: string): Uint8Array => new Uint8Array(readFileSync(join(folder, file)));
/** What the maker of a sample knows of it. */
export const sampleTruth = <T>(file: string): T =>
  JSON.parse(readFileSync(join(folder, file.replace(/\.stl$/, '.truth.json')), 'utf8')) as T;
