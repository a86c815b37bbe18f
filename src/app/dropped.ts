/** From the files that were dropped to the case that is meant: a scan, a case with its scan, or something said about the scan that is shown. */
import { type CaseFile, isCase, readCase } from '../casefile/index.ts';
import { Fault } from '../model/fault.ts';
import { isOrder, readOrder } from '../order/index.ts';
import type { Source } from './store.ts';

/** Files above this are refused before they are read, bytes. */
const LARGEST = 256 * 1024 * 1024;

interface Read {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/**
 * @param files a scan; or a case or an order, alone or with its scan.
 * @param shown what the page shows: an order, and a case of the same scan, are about it.
 * @throws Fault where a file cannot be read, or they do not belong together.
 */
export async function droppedSource(files: readonly File[], shown: Source | undefined): Promise<Source> {
  if (files.length === 0) throw new Fault('open/no-file', 'what was dropped holds no file', 'the drop', 'Drop one scan.');
  if (files.length > 2)
    throw new Fault('open/several', `${files.length} files at once`, 'the drop', 'Drop one scan at a time, or a case with its scan.');
  const read: Read[] = [];
  for (const file of files) read.push({ name: file.name, bytes: await bytesOf(file) });
  return sourceOf(read, shown);
}

async function bytesOf(file: File): Promise<Uint8Array> {
  if (file.size > LARGEST) {
    const found = `the file has ${(file.size / 1048576).toFixed(0)} MB; the page reads up to ${LARGEST / 1048576} MB`;
    throw new Fault('open/too-large', found, 'whole file', 'Thin the scan out to below 5 million triangles, or use the command line.');
  }
  try {
    return new Uint8Array(await file.arrayBuffer());
  } catch (error) {
    const found = `the browser could not read it: ${String(error)}`;
    throw new Fault('open/unreadable', found, 'the file or folder', 'Drop a file, not a folder; check that it may be read.');
  }
}

function sourceOf(files: readonly Read[], shown: Source | undefined): Source {
  const said = files.find((f) => isCase(f.bytes) || isOrder(f.bytes));
  const scan = files.find((f) => f !== said);
  if (!said) {
    if (scan && files.length === 1) return scan;
    throw new Fault('open/several', '2 files at once', files.map((f) => f.name).join(' and '), 'Drop one scan at a time.');
  }
  if (isCase(said.bytes)) return fromCase(readCase(said.bytes, said.name), said.name, scan ?? shown);
  const order = readOrder(said.bytes, said.name);
  const about = scan ?? shown;
  if (!about) throw new Fault('open/order', 'an order without a scan', said.name, 'Open the scan first, then the order.');
  return { ...about, order, ...(order.side ? { side: order.side } : {}) };
}

function fromCase(file: CaseFile, name: string, scan: Source | undefined): Source {
  const { scan: named, side, unit, corrections, order, catalogue, ...also } = file;
  if (scan?.name !== named) throw new Fault('open/case', `a case of the scan ${named}`, name, `Drop the case together with ${named}.`);
  if (catalogue !== undefined)
    throw new Fault(
      'open/case',
      `the case takes the catalogue ${catalogue}, which the page cannot read`,
      name,
      'Judge it on the command line.',
    );
  return {
    name: scan.name,
    bytes: scan.bytes,
    ...(side ? { side } : {}),
    ...(unit ? { unit } : {}),
    ...(corrections ? { corrections } : {}),
    ...(order ? { order } : {}),
    ...(Object.keys(also).length > 0 ? { also } : {}),
  };
}

/** The case file of what is shown. */
export const caseFileOf = ({ name, side, unit, corrections, order, also }: Source): CaseFile => ({
  ...also,
  scan: name,
  ...(side ? { side } : {}),
  ...(unit ? { unit } : {}),
  ...(corrections && Object.keys(corrections).length > 0 ? { corrections } : {}),
  ...(order && Object.keys(order).length > 0 ? { order } : {}),
});

export const caseName = (scan: string): string => `${scan.replace(/\.[^.]*$/, '')}.case.json`;
