/**
 * Zip archives, as far as packages of parts need them: the directory at the end rules (so that lengths written after
 * the data do not matter), entries are stored or deflated, sizes beyond 32 bits are read. What an entry holds comes out
 * piece by piece and is counted, summed and checked on the way: nothing that the directory claims is ever reserved.
 */
import { Fault } from '../../model/fault.ts';
import { counted, grouped } from '../wording.ts';
import { Budget } from './zip-budget.ts';
import { crc32 } from './zip-crc.ts';
import { Inflater } from './zip-inflate.ts';

/** All entries together: a model of 5 million triangles as text takes some 700 MB. */
const MOST_INFLATED = 1_000_000_000;

/** Of one piece of an entry that is stored as it is. */
const PIECE = 262_144;

const AGAIN = 'Export the scan again, or copy the file again.';

/** Gives the next piece at each call, undefined at the end. A piece is valid until the next call. */
export type Source = () => Uint8Array | undefined;

export interface ZipEntry {
  /** As stored, with / for \. */
  readonly name: string;
  readonly flags: number;
  readonly method: number;
  readonly sum: number;
  readonly packed: number;
  readonly size: number;
  readonly at: number; // of the local header
}

const END = 0x06054b50;
const END_64 = 0x06064b50;
const LOCATOR_64 = 0x07064b50;
const ENTRY = 0x02014b50;
const LOCAL = 0x04034b50;

export class Zip {
  readonly entries: readonly ZipEntry[];
  readonly #bytes: Uint8Array;
  readonly #view: DataView;
  readonly #budget: Budget;
  readonly #byName = new Map<string, ZipEntry | 'several'>();

  /** @throws Fault scan/truncated without a directory, scan/damaged where it makes no sense */
  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
    this.#budget = new Budget(bytes.length, MOST_INFLATED);
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.entries = this.#directory();
    for (const entry of this.entries) {
      const name = entry.name.toLowerCase();
      this.#byName.set(name, this.#byName.has(name) ? 'several' : entry);
    }
  }

  /** The entry of this name; capitals count as small, as in packages they do. @throws Fault where two have it */
  named(name: string): ZipEntry | undefined {
    const found = this.#byName.get(name.toLowerCase());
    if (found === 'several') throw damaged(`two files in it are called ${shown(name)}`, '');
    return found;
  }

  /** @throws Fault, at once or from the source: encrypted, an unknown method, damage, more than the limit */
  open(entry: ZipEntry): Source {
    const what = `${shown(entry.name)} in the zip archive`;
    if ((entry.flags & 0x2041) !== 0) throw new Fault('scan/other-format', `${what} is encrypted`, '', 'Save the scan without a password.');
    if (entry.method !== 0 && entry.method !== 8) {
      throw new Fault(
        'scan/other-format',
        `${what} is packed by method ${entry.method}; stored (0) and deflated (8) are read`,
        '',
        'Export the scan again, or as STL.',
      );
    }
    const from = this.#dataOf(entry, what);
    return this.#checked(entry, what, entry.method === 0 ? this.#stored(entry, from, what) : this.#deflated(entry, from, what));
  }

  #dataOf(entry: ZipEntry, what: string): number {
    if (entry.at + 30 > this.#bytes.length || this.#view.getUint32(entry.at, true) !== LOCAL) {
      throw damaged(`${what} is not where the directory says`, `byte ${grouped(entry.at)}`);
    }
    const from = entry.at + 30 + this.#view.getUint16(entry.at + 26, true) + this.#view.getUint16(entry.at + 28, true);
    if (from + entry.packed > this.#bytes.length) throw cutOff(`${what} runs past the end of the file`, this.#bytes.length);
    return from;
  }

  #stored(entry: ZipEntry, from: number, what: string): Source {
    if (entry.packed !== entry.size) throw damaged(`${what} is stored as it is, but with two sizes`, `byte ${grouped(entry.at)}`);
    let done = 0;
    return () => {
      const piece = this.#bytes.subarray(from + done, from + Math.min(done + PIECE, entry.size));
      done += piece.length;
      return piece.length > 0 ? piece : undefined;
    };
  }

  #deflated(entry: ZipEntry, from: number, what: string): Source {
    const end = from + entry.packed;
    const inflater = new Inflater(this.#bytes.subarray(0, end), from, what);
    return () => {
      const piece = inflater.next();
      if (piece === undefined && inflater.ending.least !== end)
        throw damaged(`${what} ends before the place that the directory says`, `byte ${grouped(end)}`);
      return piece;
    };
  }

  #checked(entry: ZipEntry, what: string, source: Source): Source {
    let size = 0;
    let sum = 0;
    let ended = false;
    return () => {
      if (ended) return undefined;
      const piece = source();
      if (piece !== undefined) {
        size += piece.length;
        this.#budget.take(piece.length, what);
        sum = crc32(piece, sum);
      }
      ended = piece === undefined;
      if (size > entry.size || (ended && size < entry.size)) {
        throw damaged(
          `${what} holds ${size > entry.size ? 'more than' : 'less than'} the ${counted(entry.size, 'byte')} that the directory says`,
          '',
        );
      }
      if (ended && sum !== entry.sum) throw damaged(`the check sum of ${what} is wrong`, '');
      return piece;
    };
  }

  #directory(): ZipEntry[] {
    const { count, at, end } = this.#ending();
    const entries: ZipEntry[] = [];
    let next = at;
    for (let n = 0; n < count; n++) {
      if (next + 46 > end || this.#view.getUint32(next, true) !== ENTRY)
        throw damaged(`its directory ends after ${n} of ${counted(count, 'file')}`, `byte ${grouped(next)}`);
      const [name, extra, note] = [28, 30, 32].map((k) => this.#view.getUint16(next + k, true)) as [number, number, number];
      const after = next + 46 + name + extra + note;
      if (after > end) throw damaged(`its directory ends after ${n} of ${counted(count, 'file')}`, `byte ${grouped(next)}`);
      entries.push(this.#entry(next, name, extra));
      next = after;
    }
    return entries;
  }

  #entry(at: number, name: number, extra: number): ZipEntry {
    const v = this.#view;
    const sizes = { size: v.getUint32(at + 24, true), packed: v.getUint32(at + 20, true), at: v.getUint32(at + 42, true) };
    if (Math.max(sizes.size, sizes.packed, sizes.at) === 0xffffffff) this.#widen(sizes, at + 46 + name, extra);
    return {
      name: textOf(this.#bytes.subarray(at + 46, at + 46 + name)).replaceAll('\\', '/'),
      flags: v.getUint16(at + 8, true),
      method: v.getUint16(at + 10, true),
      sum: v.getUint32(at + 16, true),
      ...sizes,
    };
  }

  /** Sizes that do not fit 32 bits stand in extra field 1, in this order, only those that do not. */
  #widen(sizes: { size: number; packed: number; at: number }, from: number, length: number): void {
    for (let at = from; at + 4 <= from + length; at += 4 + this.#view.getUint16(at + 2, true)) {
      if (this.#view.getUint16(at, true) !== 1) continue;
      const end = Math.min(at + 4 + this.#view.getUint16(at + 2, true), from + length);
      let next = at + 4;
      for (const key of ['size', 'packed', 'at'] as const) {
        if (sizes[key] !== 0xffffffff || next + 8 > end) continue;
        sizes[key] = this.#wide(next);
        next += 8;
      }
    }
  }

  /** 64 bits as a double: exact as far as a file can reach. */
  #wide(at: number): number {
    return this.#view.getUint32(at, true) + 4294967296 * this.#view.getUint32(at + 4, true);
  }

  /** Where the directory lies. Its own end is searched from the back: a comment may follow. */
  #ending(): { count: number; at: number; end: number } {
    const v = this.#view;
    const length = this.#bytes.length;
    for (let i = length - 22; i >= Math.max(0, length - 22 - 65_535); i--) {
      if (v.getUint32(i, true) !== END || i + 22 + v.getUint16(i + 20, true) > length) continue;
      if (v.getUint16(i + 4, true) % 0xffff !== 0) throw damaged('it is one of several volumes', `byte ${grouped(i)}`);
      let count = v.getUint16(i + 10, true);
      let at = v.getUint32(i + 16, true);
      const wide = i >= 20 && v.getUint32(i - 20, true) === LOCATOR_64 ? this.#wide(i - 12) : -1;
      if (wide >= 0 && wide + 56 <= i && v.getUint32(wide, true) === END_64) {
        count = this.#wide(wide + 32);
        at = this.#wide(wide + 48);
      }
      if (at > i) throw damaged('its directory lies outside the file', `byte ${grouped(i)}`);
      return { count, at, end: i };
    }
    throw cutOff('the zip archive has no directory at its end', length);
  }
}

/** Names are UTF-8, or of an old code page: what is not UTF-8 is shown as it best can be. */
const textOf = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);

/** A name from a file, safe to show. */
export const shown = (name: string): string => {
  const plain = name.replace(/[\p{C}]/gu, '?');
  return plain.length > 60 ? `${plain.slice(0, 57)}...` : plain;
};

const damaged = (how: string, where: string): Fault => new Fault('scan/damaged', `the zip archive is damaged: ${how}`, where, AGAIN);

const cutOff = (found: string, length: number): Fault =>
  new Fault(
    'scan/truncated',
    found,
    `byte ${grouped(length)}`,
    'The file was cut off while it was saved or copied: export or copy it again.',
  );
