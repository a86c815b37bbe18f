/** Bytes of a text file -> its text: UTF-8 only, with or without a byte-order mark. */
import type { Flaw } from './flaw.ts';

/** Bytes: an order takes some hundreds, a whole catalogue some ten thousand. */
export const LARGEST_FILE = 1_000_000;

/** The text of the bytes (or the text as given), or the one flaw that keeps it from being read. */
export function decodeText(input: string | Uint8Array): { readonly text: string } | { readonly flaw: Flaw } {
  const flaw = (code: Flaw['code'], text: string): { flaw: Flaw } => ({ flaw: { code, at: '', text } });
  if (input.length > LARGEST_FILE) return flaw('json/too-large', `the file has ${input.length} bytes; ${LARGEST_FILE} are read`);
  if (input.length === 0) return flaw('json/empty', 'the file is empty (0 bytes)');
  if (typeof input !== 'string' && isUtf16(input)) return flaw('json/encoding', 'the file is UTF-16; UTF-8 is needed');
  const text = typeof input === 'string' ? input : utf8(input);
  if (text === undefined) return flaw('json/encoding', `line ${badLine(input as Uint8Array)} holds bytes that are not UTF-8`);
  const bare = text.startsWith('\uFEFF') ? text.slice(1) : text;
  if (bare.trim() === '') return flaw('json/empty', 'the file holds only blanks');
  return { text: bare };
}

/** By its mark, or by a zero byte beside the first sign, which JSON never has. */
const isUtf16 = ([a, b]: Uint8Array): boolean =>
  (a === 0xff && b === 0xfe) || (a === 0xfe && b === 0xff) || (b !== undefined && (a === 0) !== (b === 0));

function utf8(bytes: Uint8Array): string | undefined {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return undefined; // the decoder's own words differ between engines
  }
}

/** The first line that does not decode by itself. A line feed is never part of a longer sign in UTF-8. */
function badLine(bytes: Uint8Array): number {
  let line = 1;
  for (let from = 0; from < bytes.length; line++) {
    const end = bytes.indexOf(0x0a, from);
    const to = end < 0 ? bytes.length : end + 1;
    if (utf8(bytes.subarray(from, to)) === undefined) return line;
    from = to;
  }
  return line;
}
