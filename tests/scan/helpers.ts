/** What the tests of reading have in common. */
import { expect } from 'vitest';
import { Fault } from '../../src/model/fault.ts';
import type { Scan, Unit } from '../../src/model/scan.ts';
import { readScan } from '../../src/scan/index.ts';
import { faultsOf } from '../support/validate.ts';

/** Reads, and checks by the independent validator that the result is closed, two-sided, outward and finite. */
export function readSound(bytes: Uint8Array, unit?: Unit, name = 'test.stl'): Scan {
  const before = bytes.slice();
  const scan = readScan(bytes, name, unit ? { unit } : {});
  expect(Buffer.compare(bytes, before)).toBe(0);
  expect(faultsOf(scan.mesh)).toEqual([]);
  expect(Number.isFinite(scan.volume) && Number.isFinite(scan.area)).toBe(true);
  if (scan.base) expect(scan.base.cap.length).toBe(scan.mesh.indices.length / 3);
  return scan;
}

/** The Fault that reading throws. */
export function faultOf(bytes: Uint8Array, unit?: Unit, name = 'test.stl'): Fault {
  try {
    readScan(bytes, name, unit ? { unit } : {});
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
  throw new Error('was read without a Fault');
}

export const codesOf = (scan: Scan): string[] => scan.findings.map((f) => f.code);
export const textsOf = (scan: Scan): string => scan.findings.map((f) => f.text).join('\n');
/** What differs from the file, by code. */
export const changesOf = (scan: Scan): string[] => scan.findings.filter((f) => f.level === 'changed').map((f) => f.code);
/** Findings that ask a person to look, but for those about the shape: many test solids are built of plane faces. */
export const warningsOf = (scan: Scan): string[] =>
  scan.findings.filter((f) => f.level === 'warning' && f.code !== 'scan/built' && f.code !== 'scan/size').map((f) => f.code);

/** Reads damaged bytes and judges what came of it: '' when it is a sound, finite mesh or a Fault with all its parts. */
export function readingFaults(bytes: Uint8Array, unit?: Unit): string {
  try {
    const scan = readScan(bytes, 'fuzz.stl', unit ? { unit } : {});
    const faults = faultsOf(scan.mesh);
    const numbers = [
      scan.volume,
      scan.area,
      ...scan.bounds.min,
      ...scan.bounds.max,
      ...scan.read.openLoops.flatMap((l) => [l.length, ...l.at]),
    ];
    if (!numbers.every(Number.isFinite)) faults.push('a figure is not finite');
    if (scan.findings.some((f) => /NaN|Infinity|undefined/.test(f.text.replace(/is NaN|\(nan\)/g, ''))))
      faults.push('a text holds no number');
    return faults.slice(0, 3).join('; ');
  } catch (e) {
    if (!(e instanceof Fault)) return `${(e as Error).stack}`;
    return e.code.startsWith('scan/') && e.found !== '' && e.next !== '' && !/undefined|NaN mm/.test(e.message)
      ? ''
      : `poor fault: ${e.message}`;
  }
}
