/**
 * DEFLATE (RFC 1951), pulled piece by piece: fflate's stream behind the interface that zip and gzip need. It is fed in
 * small slices, so that whoever reads decides after each piece how far to go and nothing that a file claims is ever
 * reserved. fflate's plain `Inflate` keeps to itself where the data ended, which gzip's trailer and its further members
 * need; its `Gunzip` shows it by what it makes of the bytes behind. Hence the data go there, after a header of our own.
 * Of damaged data fflate lets some pass (a stored length whose copy differs, overlapping codes): check sums catch them.
 * `fflate/browser` is the same code as `fflate`, without a way to Node's threads.
 */
import { FlateErrorCode, Gunzip } from 'fflate/browser';
import { Fault } from '../../model/fault.ts';
import { grouped } from '../wording.ts';

/** Of the input at a time, bytes: at DEFLATE's most, 1032 to 1, they give 17 MB. */
const SLICE = 16_384;
/** The least that a gzip header can be. */
const HEADER = Uint8Array.of(0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255);
const TRAILER = 8;
/** Of deflated data, bytes: a block's kind and its end take 10 bits. */
const LEAST = 2;
/** fflate looks for a further header as soon as so many bytes stand after the trailer. */
const LOOK = 4;
const FILLER = new Uint8Array(1);

/** Where the data ended, bytes from the start of the input: at one place, or somewhere from `least` to `most`. */
export interface Ending {
  readonly least: number;
  readonly most: number;
}

export class Inflater {
  readonly #in: Uint8Array;
  readonly #from: number;
  readonly #what: string;
  readonly #gunzip: Gunzip;
  #at: number; // of what was fed; past the end of the input once fillers are
  #piece: Uint8Array | undefined; // what the last slice gave; undefined where it was not looked into
  #ending: Ending | undefined;

  /** `what`: the data's name in messages, "the gzip data". The data begins at byte `from`; it may end before the bytes do. */
  constructor(bytes: Uint8Array, from: number, what: string) {
    this.#in = bytes;
    this.#from = from;
    this.#at = from;
    this.#what = what;
    this.#gunzip = new Gunzip((piece) => {
      this.#piece = piece;
    });
    this.#gunzip.onmember = (offset) => {
      const end = from + offset - HEADER.length - TRAILER;
      throw this.#ended(end, end); // else fflate would go on, one call deeper for each member
    };
  }

  /**
   * Where the data ended, once `next` has said that all is out: exactly, but for bytes behind it that begin no gzip
   * member, or one whose header is longer than 16 kB; then to 16 kB.
   */
  get ending(): Ending {
    if (this.#ending === undefined) throw new Error('asked for the end before it was reached');
    return this.#ending;
  }

  /**
   * The next piece, undefined at the end. It stays as it is.
   * @throws Fault scan/truncated, scan/damaged
   */
  next(): Uint8Array | undefined {
    while (this.#ending === undefined) {
      const piece = this.#at < this.#in.length ? this.#feed() : this.#feedFiller();
      if (piece !== undefined && piece.length > 0) return piece;
    }
    return undefined;
  }

  #feed(): Uint8Array | undefined {
    const slice = this.#in.subarray(this.#at, this.#at + SLICE);
    const code = this.#push(slice);
    if (code !== undefined) throw this.#damaged();
    // Not looked into, it was put to a header: the data had ended before, and such a header may fill the rest of the file.
    if (this.#piece === undefined && this.#ending === undefined && slice.length >= TRAILER + LOOK)
      this.#ended(this.#at - slice.length - SLICE, this.#at - slice.length);
    return this.#piece;
  }

  /** All is fed, and no end was seen: it lies in the last bytes, which zeros behind them show, or the data goes on. */
  #feedFiller(): undefined {
    if (this.#at === this.#in.length + TRAILER + LOOK || this.#push(FILLER) !== undefined) throw this.#truncated();
  }

  /** fflate's error, but for the one that tells the end. */
  #push(slice: Uint8Array): number | undefined {
    this.#piece = undefined;
    const before = this.#at;
    this.#at += slice.length;
    try {
      this.#gunzip.push(before === this.#from ? headed(slice) : slice);
    } catch (e) {
      if (e === this.#ending) return undefined;
      const code = e instanceof Error && 'code' in e && typeof e.code === 'number' ? e.code : undefined;
      if (code === undefined) throw e;
      if (code !== FlateErrorCode.InvalidHeader) return code;
      // LOOK bytes after the trailer there are now, and were not before.
      this.#ended(before + 1 - TRAILER - LOOK, this.#at - TRAILER - LOOK);
    }
    return undefined;
  }

  #ended(least: number, most: number): Ending {
    this.#ending = { least: Math.max(this.#from + LEAST, least), most };
    return this.#ending;
  }

  #truncated(): Fault {
    return new Fault(
      'scan/truncated',
      `${this.#what} ends in the middle`,
      `byte ${grouped(this.#in.length)}`,
      'The file was cut off while it was saved or copied: export or copy it again.',
    );
  }

  #damaged(): Fault {
    return new Fault(
      'scan/damaged',
      `${this.#what} is damaged: it cannot be unpacked`,
      `near byte ${grouped(this.#at)}`,
      'Export the scan again, or copy the file again.',
    );
  }
}

/** The header goes with data behind it: after a push without any fflate would take distances before the beginning for zeros. */
function headed(slice: Uint8Array): Uint8Array {
  const all = new Uint8Array(HEADER.length + slice.length);
  all.set(HEADER);
  all.set(slice, HEADER.length);
  return all;
}
