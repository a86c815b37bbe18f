/**
 * Files that lie beside the project, not in it: sets of good and bad scans with what is expected of them. Where they are
 * not there, the tests that need them are skipped, and say so.
 */
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, test } from 'vitest';

const beside = join(dirname(fileURLToPath(import.meta.url)), '../../../shared');

export const sharedPath = (path: string): string => join(beside, path);

export const sharedFile = (path: string): Uint8Array => new Uint8Array(readFileSync(sharedPath(path)));

/** A describe block over the files of one folder; one skipped test with the reason where the folder is missing. */
export function describeShared(name: string, folder: string, body: () => void): void {
  if (existsSync(sharedPath(folder))) describe(name, body);
  else describe(name, () => test.skip(`skipped: no folder ${folder} beside the project`, () => {}));
}
