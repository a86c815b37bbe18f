/**
 * Every file of the two folders beside the project, against its row: read with these figures and changes, or refused in
 * these words. All that differs in one file is told at once. A file without a row fails.
 */
import { readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { Fault } from '../../../src/model/fault.ts';
import type { Scan } from '../../../src/model/scan.ts';
import { readScan } from '../../../src/scan/index.ts';
import { describeShared, sharedFile, sharedPath } from '../../support/shared.ts';
import { faultsOf } from '../../support/validate.ts';
import { changesOf, textsOf, warningsOf } from '../helpers.ts';
import { BAD_READ, BAD_REFUSED } from './bad-inputs.ts';
import type { Refused, Row } from './row.ts';
import { SCANS_READ, SCANS_REFUSED } from './scans.ts';

/** Reads, or gives the Fault; anything else that is thrown is a bug and goes on. */
function outcome(bytes: Uint8Array, row: { name: string; unit?: Row['unit'] }): Scan | Fault {
  try {
    return readScan(bytes, row.name, row.unit ? { unit: row.unit } : {});
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
}

function differences(scan: Scan, row: Row): string[] {
  const told: string[] = [];
  const same = (what: string, found: unknown, expected: unknown): void => {
    if (expected === undefined || JSON.stringify(found) === JSON.stringify(expected)) return;
    told.push(`${what}: ${JSON.stringify(found)} instead of ${JSON.stringify(expected)}`);
  };
  const near = (what: string, found: number, expected: number | undefined, within: number): void => {
    if (expected !== undefined && !(Math.abs(found - expected) <= within))
      told.push(`${what}: ${found} instead of ${expected} within ${within}`);
  };
  same('unit', scan.unit, row.unit ?? row.states ?? 'mm');
  same('triangles', scan.read.triangles, row.triangles);
  same('vertices', scan.read.vertices, row.vertices);
  same('pieces', scan.read.pieces, row.pieces ?? 1);
  near('volume', scan.volume, row.volume, row.within ?? 0.01);
  near('area', scan.area, row.area, 0.01);
  for (const [k, e] of (row.extent ?? []).entries())
    near('extent', (scan.bounds.max[k] as number) - (scan.bounds.min[k] as number), e, 0.06);
  const loops = scan.read.openLoops;
  same(
    'open edges',
    loops.reduce((n, l) => n + l.edges, 0),
    row.openEdges,
  );
  if (row.loops)
    same(
      'loops',
      loops.map((l) => [l.role, l.edges]),
      row.loops.map(([role, edges]) => [role, edges]),
    );
  for (const [i, [, , length]] of (row.loops ?? []).entries()) near('loop length', loops[i]?.length ?? 0, length, 0.001);
  same('changes', changesOf(scan), row.changes);
  same('warnings', warningsOf(scan), row.warnings);
  for (const text of row.says ?? []) if (!text.test(textsOf(scan))) told.push(`nothing says ${text}: ${textsOf(scan)}`);
  return [...told, ...faultsOf(scan.mesh)];
}

function unkind(fault: Fault, [, code, ...says]: Refused): string[] {
  const told = fault.code === code ? [] : [`code ${fault.code} instead of ${code}`];
  for (const text of says) if (!text.test(fault.message)) told.push(`does not say ${text}`);
  if (fault.next === '') told.push('does not say what next');
  if (/NaN of|undefined|RangeError|\[object/.test(fault.message)) told.push('speaks like a program');
  return told.map((t) => `${t}: ${fault.message}`);
}

/** Every figure in it that is none, wherever it stands. */
function notFinite(x: unknown, path: string): string[] {
  if (typeof x === 'number') return Number.isFinite(x) ? [] : [`${path} is ${x}`];
  if (ArrayBuffer.isView(x)) return Array.from(x as Float64Array).every(Number.isFinite) ? [] : [`${path} holds no number somewhere`];
  if (typeof x !== 'object' || x === null) return [];
  return Object.entries(x).flatMap(([key, value]) => notFinite(value, `${path}/${key}`));
}

for (const [folder, read, refused] of [
  ['bad-inputs', BAD_READ, BAD_REFUSED],
  ['scans', SCANS_READ, SCANS_REFUSED],
] as const) {
  describeShared(folder, folder, () => {
    test('every file has a row', () => {
      const files = readdirSync(sharedPath(folder)).filter((f) => !f.endsWith('.md'));
      const rows = new Set([...read.map((r) => r.name), ...refused.map(([name]) => name)]);
      expect([...rows].sort()).toEqual(files.sort());
    });

    test.each(read)('$name is read', (row) => {
      const bytes = sharedFile(`${folder}/${row.name}`);
      const before = bytes.slice();
      const scan = outcome(bytes, row);
      if (scan instanceof Fault) throw new Error(`refused: ${scan.code}: ${scan.message}`);
      expect(differences(scan, row)).toEqual([]);
      expect(notFinite(scan, '')).toEqual([]);
      expect(scan.name).toBe(row.name);
      expect(Buffer.compare(bytes, before)).toBe(0);
    });

    test.each(refused.map((row) => ({ name: row[0], row })))('$name is refused', ({ name, row }) => {
      const fault = outcome(sharedFile(`${folder}/${name}`), { name });
      if (!(fault instanceof Fault)) throw new Error(`was read: ${textsOf(fault)}`);
      expect(unkind(fault, row)).toEqual([]);
    });
  });
}
