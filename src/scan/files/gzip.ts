/** gzip (RFC 1952): headers with all their options, several members one after another, check sums and lengths checked. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { Budget } from './zip-budget.ts';
import { crc32 } from './zip-crc.ts';
import { type Ending, Inflater } from './zip-inflate.ts';

/** Enough for 2 million triangles as text; what is unpacked is held whole, and for a moment twice. */
const MOST_UNPACKED = 600_000_000;

/** Files in one, one after another: tools that pack in parallel write one for each 64 kB or more. */
const MOST_MEMBERS = 20_000;

const WHAT = 'the gzip data';
const HEADER_SUM = 2;
const EXTRA = 4;
const NAME = 8;
const COMMENT = 16;
const RESERVED = 0xe0;
const AGAIN = 'Export the scan again, or copy the file again.';

const isMember = (b: Uint8Array, at: number): boolean => b[at] === 0x1f && b[at + 1] === 0x8b;

/**
 * Unpacks the whole of a gzip file and says so.
 * @throws Fault scan/truncated, scan/damaged; scan/too-large as soon as more than the limit has come out
 */
export function unpackGzip(bytes: Uint8Array): { bytes: Uint8Array; finding: Finding } {
  const pieces: Uint8Array[] = [];
  const budget = new Budget(bytes.length, MOST_UNPACKED);
  let at = 0;
  let total = 0;
  let members = 0;
  do {
    if (++members > MOST_MEMBERS) {
      throw new Fault('scan/too-large', `${WHAT} has more than ${grouped(MOST_MEMBERS)} members`, `byte ${grouped(at)}`, AGAIN);
    }
    const inflater = new Inflater(bytes, afterHeader(bytes, at), WHAT);
    let sum = 0;
    let size = 0;
    for (let piece = inflater.next(); piece !== undefined; piece = inflater.next()) {
      sum = crc32(piece, sum);
      size += piece.length;
      budget.take(piece.length, WHAT);
      pieces.push(piece);
    }
    total += size;
    at = afterTrailer(bytes, inflater.ending, sum, size);
  } while (isMember(bytes, at));
  const rest = bytes.subarray(at);
  const told = `Unpacked from gzip: ${counted(bytes.length, 'byte')} to ${grouped(total)}.`;
  const finding: Finding = rest.every((b) => b === 0) // tapes and disks pad with zeros
    ? { code: 'scan/gzip', level: 'note', text: told }
    : { code: 'scan/gzip', level: 'warning', text: `${told} ${counted(rest.length, 'byte')} after its end ignored.` };
  return { bytes: joined(pieces, total), finding };
}

function joined(pieces: Uint8Array[], total: number): Uint8Array {
  const all = new Uint8Array(total);
  let at = total;
  for (let piece = pieces.pop(); piece !== undefined; piece = pieces.pop()) {
    at -= piece.length;
    all.set(piece, at);
  }
  return all;
}

/** Past the header that begins at `start`. */
function afterHeader(b: Uint8Array, start: number): number {
  if (start + 10 > b.length) throw truncated(b.length);
  const flags = b[start + 3] as number;
  if (b[start + 2] !== 8 || (flags & RESERVED) !== 0) {
    throw new Fault('scan/damaged', 'the gzip header is none: unknown method or flags', `byte ${grouped(start + 2)}`, AGAIN);
  }
  let at = start + 10;
  if (flags & EXTRA) at += 2 + ((b[at] ?? 0) | ((b[at + 1] ?? 0) << 8));
  if (flags & NAME) at = afterZero(b, at);
  if (flags & COMMENT) at = afterZero(b, at);
  if (flags & HEADER_SUM) {
    const sum = (b[at] ?? 0) | ((b[at + 1] ?? 0) << 8);
    if (at + 2 <= b.length && sum !== (crc32(b.subarray(start, at)) & 0xffff)) throw damaged(at, 'the check sum of its header is wrong');
    at += 2;
  }
  if (at >= b.length) throw truncated(b.length);
  return at;
}

function afterZero(b: Uint8Array, from: number): number {
  const zero = b.indexOf(0, from);
  if (zero < 0) throw truncated(b.length);
  return zero + 1;
}

/** Check sum and length stand right after the data; where its end is not known to the byte they are searched. */
function afterTrailer(b: Uint8Array, { least, most }: Ending, sum: number, size: number): number {
  if (least + 8 > b.length) throw truncated(b.length);
  const view = new DataView(b.buffer, b.byteOffset, b.byteLength);
  for (let at = least; at <= most; at++) {
    if (view.getUint32(at, true) === sum && view.getUint32(at + 4, true) === size) return at + 8;
  }
  if (least < most) throw damaged(least, 'the check sum or the length of its contents is wrong');
  if (view.getUint32(least, true) !== sum) throw damaged(least, 'the check sum of its contents is wrong');
  throw damaged(least + 4, `it holds ${counted(size, 'byte')} and says ${grouped(view.getUint32(least + 4, true))}`);
}

const truncated = (length: number): Fault =>
  new Fault(
    'scan/truncated',
    `${WHAT} ends in the middle`,
    `byte ${grouped(length)}`,
    'The file was cut off while it was saved or copied: export or copy it again.',
  );

const damaged = (at: number, how: string): Fault => new Fault('scan/damaged', `${WHAT} is damaged: ${how}`, `byte ${grouped(at)}`, AGAIN);
