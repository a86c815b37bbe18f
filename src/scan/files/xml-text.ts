/** The bytes of an XML file as UTF-8, checked: UTF-8 as it is, UTF-16 rewritten, anything else refused. */
import { Fault } from '../../model/fault.ts';
import { grouped } from '../wording.ts';
import type { Source } from './zip.ts';

const NEXT = 'XML here must be UTF-8 or UTF-16: export the scan again, or as STL.';

/**
 * `part`: the file's name in messages. The byte-order mark is taken off.
 * @throws Fault scan/encoding, from the source that it returns
 */
export function utf8Of(source: Source, part: string): Source {
  const first = source();
  if (first === undefined) return () => undefined;
  const [a, b, c, d] = first;
  const mark = (a === 0xfe && b === 0xff) || (a === 0xff && b === 0xfe);
  if ((mark && b === 0xfe && c === 0 && d === 0) || (a === 0 && b === 0)) throw new Fault('scan/encoding', `${part} is UTF-32`, '', NEXT);
  if (mark || (a === 0 && b === 0x3c) || (a === 0x3c && b === 0)) {
    return rewritten(again(mark ? first.subarray(2) : first, source), a === 0xff || a === 0x3c, part);
  }
  const marked = a === 0xef && b === 0xbb && c === 0xbf;
  return checked(again(marked ? first.subarray(3) : first, source), marked ? 3 : 0, part);
}

/** The source as it was before `first` was taken from it. */
function again(first: Uint8Array, source: Source): Source {
  let taken = false;
  return () => {
    if (taken) return source();
    taken = true;
    return first;
  };
}

function checked(source: Source, skipped: number, part: string): Source {
  let before = skipped;
  let need = 0; // bytes of the character still to come, the next one within [low, high]
  let [low, high] = [0x80, 0xbf];
  return () => {
    const piece = source();
    if (piece === undefined) {
      if (need > 0) throw notUtf8(part, before);
      return undefined;
    }
    for (let i = 0; i < piece.length; i++) {
      const c = piece[i] as number;
      if (need === 0 && c < 0x80) continue;
      if (need > 0) {
        if (c < low || c > high) throw notUtf8(part, before + i);
        [low, high] = [0x80, 0xbf];
        need--;
      } else if (c >= 0xc2 && c <= 0xf4) {
        need = c < 0xe0 ? 1 : c < 0xf0 ? 2 : 3;
        // No longer form than needed, no surrogates, nothing past the last code point.
        low = c === 0xe0 ? 0xa0 : c === 0xf0 ? 0x90 : 0x80;
        high = c === 0xed ? 0x9f : c === 0xf4 ? 0x8f : 0xbf;
      } else throw notUtf8(part, before + i);
    }
    before += piece.length;
    return piece;
  };
}

const notUtf8 = (part: string, at: number): Fault =>
  new Fault('scan/encoding', `${part} is not valid UTF-8`, `byte ${grouped(at + 1)} of the part`, NEXT);

function rewritten(source: Source, little: boolean, part: string): Source {
  let odd = -1; // a byte whose other half is in the next piece
  let lead = 0; // the first half of a pair of surrogates
  return () => {
    const piece = source();
    const bad = (): Fault => new Fault('scan/encoding', `${part} is not valid UTF-16`, '', NEXT);
    if (piece === undefined) {
      if (odd >= 0 || lead > 0) throw bad();
      return undefined;
    }
    const out = new Uint8Array(2 * piece.length + 4);
    let n = 0;
    for (const byte of piece) {
      if (odd < 0) {
        odd = byte;
        continue;
      }
      let code = little ? odd | (byte << 8) : (odd << 8) | byte;
      odd = -1;
      const trail = code >= 0xdc00 && code <= 0xdfff;
      if (trail !== lead > 0) throw bad();
      if (code >= 0xd800 && code < 0xdc00) {
        lead = code;
        continue;
      }
      if (trail) code = 0x10000 + ((lead - 0xd800) << 10) + (code - 0xdc00);
      lead = 0;
      n = put(code, out, n);
    }
    return out.subarray(0, n);
  };
}

function put(code: number, out: Uint8Array, at: number): number {
  if (code < 0x80) {
    out[at] = code;
    return at + 1;
  }
  const more = code < 0x800 ? 1 : code < 0x10000 ? 2 : 3;
  out[at] = ([0, 0xc0, 0xe0, 0xf0][more] as number) | (code >> (6 * more));
  for (let k = more - 1, i = at + 1; k >= 0; k--, i++) out[i] = 0x80 | ((code >> (6 * k)) & 0x3f);
  return at + 1 + more;
}
