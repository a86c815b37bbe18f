/** Bytes replaced, cut, dropped, repeated and mixed, for the tests of readers. Seeded. */
import type { Random } from '../../src/geometry/random.ts';

/** Bytes that a reader looks at: digits, signs, blanks, line ends, slashes, and the edges of a byte's range. */
const TELLING = [...'0123456789-+.,eE/\\# \t\n\rvfpnai', '\0', '\x7f', '\xff', '\x80', '\x01'].map((c) => c.charCodeAt(0));

/** One of the files with one to four damages. */
export function damaged(r: Random, files: readonly Uint8Array[]): Uint8Array {
  const one = (): Uint8Array => files[r.below(files.length)] as Uint8Array;
  let bytes = [...one()];
  for (let times = 1 + r.below(4); times > 0; times--) {
    const at = r.below(bytes.length + 1);
    const some = 1 + r.below(12);
    const kind = r.below(6);
    if (kind === 0) bytes = bytes.slice(0, at);
    else if (kind === 1) bytes.splice(at, some);
    else if (kind === 2) bytes.splice(at, 0, ...bytes.slice(at, at + some));
    else if (kind === 3) bytes.splice(at, some, ...one().slice(at, at + some));
    else if (kind === 4) bytes[at] = r.below(256);
    else bytes[at] = TELLING[r.below(TELLING.length)] as number;
  }
  return Uint8Array.from(bytes);
}
