/** From the files that were dropped to the case that is meant: a scan, a case with its scan, or something said about the scan that is shown. */
import { type CaseFile, isCase, readCase } from '../casefile/index.ts';
import { Fault } from '../model/fault.ts';
import { isOrder, readOrder } from '../order/index.ts';
import { catalogueFileName, isCatalogue, type OwnCatalogue, readOwnCatalogue } from './own-catalogue.ts';
import type { Source } from './store.ts';

/** Files above this are refused before they are read, bytes. */
const LARGEST = 256 * 1024 * 1024;

interface Read {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** A scan, a case or an order, a catalogue. */
const MOST_FILES = 3;

/**
 * @param files a scan; or what is said about one (a case or an order, a catalogue), alone or with it.
 * @param shown what the page shows: what comes without a scan is about it.
 * @throws Fault where a file cannot be read, or they do not belong together; FlawedFile for a catalogue with faults.
 */
export async function droppedSource(files: readonly File[], shown: Source | undefined): Promise<Source> {
  if (files.length === 0) throw new Fault('open/no-file', 'what was dropped holds no file', 'the drop', 'Drop one scan.');
  if (files.length > MOST_FILES) throw several(`${files.length} files at once`, 'the drop');
  const read: Read[] = [];
  for (const file of files) read.push({ name: file.name, bytes: await bytesOf(file) });
  return sourceOf(read, shown);
}

/**
 * The shown case with the catalogue of a file.
 * @throws Fault as `droppedSource`.
 */
export async function cataloguedSource([file, ...more]: readonly File[], shown: Source | undefined): Promise<Source> {
  if (!file || more.length > 0) throw several(`${more.length + (file ? 1 : 0)} files at once`, 'the choice');
  const own = readOwnCatalogue(await bytesOf(file), file.name);
  if (!shown) throw withoutScan('a catalogue', file.name);
  return { ...shown, catalogue: own };
}

const several = (found: string, where: string): Fault =>
  new Fault('open/several', found, where, 'Drop one scan at a time, alone or with its case or order and its catalogue.');

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
  const only = (what: (f: Read) => boolean): Read | undefined => {
    const [first, ...more] = files.filter(what);
    if (first && more.length > 0)
      throw several(`${more.length + 1} files of one kind at once`, [first, ...more].map((f) => f.name).join(' and '));
    return first;
  };
  const said = only((f) => isCase(f.bytes) || isOrder(f.bytes));
  const listed = only((f) => isCatalogue(f.bytes));
  const scan = only((f) => f !== said && f !== listed);
  const own = listed && readOwnCatalogue(listed.bytes, listed.name);
  // The lab's catalogue stays from one scan to the next; what was said about a client does not.
  const kept = shown?.catalogue ? { catalogue: shown.catalogue } : {};
  if (said && isCase(said.bytes)) return fromCase(readCase(said.bytes, said.name), said.name, scan ?? shown, { own, kept: kept.catalogue });
  const about = scan ? { ...scan, ...kept } : shown;
  if (!about) throw withoutScan(said ? 'an order' : 'a catalogue', (said ?? listed)?.name ?? '');
  const order = said && readOrder(said.bytes, said.name);
  return { ...about, ...(order ? { order, ...(order.side ? { side: order.side } : {}) } : {}), ...(own ? { catalogue: own } : {}) };
}

const withoutScan = (what: string, name: string): Fault =>
  new Fault('open/no-scan', `${what} without a scan`, name, `Open the scan first, then ${what.replace(/^an? /, 'the ')}.`);

interface Lists {
  /** Opened together with the case. */
  readonly own: OwnCatalogue | undefined;
  /** Rules already: taken where the case names it. */
  readonly kept: OwnCatalogue | undefined;
}

function fromCase(file: CaseFile, name: string, scan: Source | undefined, { own, kept }: Lists): Source {
  const { scan: named, side, unit, corrections, order, catalogue: listed, ...also } = file;
  if (scan?.name !== named) throw new Fault('open/case', `a case of the scan ${named}`, name, `Drop the case together with ${named}.`);
  const catalogue = own ?? (listed === undefined ? undefined : kept);
  if (listed !== undefined && (!catalogue || catalogueFileName(catalogue) !== listed))
    throw new Fault('open/case', `the case takes the catalogue ${listed}`, name, `Drop the case together with ${listed}.`);
  return {
    name: scan.name,
    bytes: scan.bytes,
    ...(side ? { side } : {}),
    ...(unit ? { unit } : {}),
    ...(corrections ? { corrections } : {}),
    ...(order ? { order } : {}),
    ...(catalogue ? { catalogue } : {}),
    ...(Object.keys(also).length > 0 ? { also } : {}),
  };
}

/** The case file of what is shown. */
export const caseFileOf = ({ name, side, unit, corrections, order, catalogue, also }: Source): CaseFile => ({
  ...also,
  scan: name,
  ...(side ? { side } : {}),
  ...(unit ? { unit } : {}),
  ...(corrections && Object.keys(corrections).length > 0 ? { corrections } : {}),
  ...(order && Object.keys(order).length > 0 ? { order } : {}),
  ...(catalogue ? { catalogue: catalogueFileName(catalogue) } : {}),
});

export const caseName = (scan: string): string => `${scan.replace(/\.[^.]*$/, '')}.case.json`;
