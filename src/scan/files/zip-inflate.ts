/**
 * DEFLATE (RFC 1951), pulled piece by piece. Ours because two things are needed that inflating libraries do
 * not give: it stops after each piece, so that whoever reads decides how far to go and nothing that a file claims is
 * ever reserved; and it tells where the data ended, which gzip's trailer and its further members need.
 */
import { Fault } from '../../model/fault.ts';

/** A match reaches back so far at most. */
const WINDOW = 32_768;
/** Of one piece, bytes. */
const PIECE = 262_144;
/** The longest match: what a piece may run over by. */
const LONGEST = 258;

/** The order in which the lengths of the code-length code are stored. */
const ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

/** Smallest value and extra bits of each symbol: `group` symbols share a number of bits, then it grows by one. */
function steps(symbols: number, group: number, first: number): { base: Uint16Array; extra: Uint8Array } {
  const base = new Uint16Array(symbols);
  const extra = new Uint8Array(symbols);
  for (let s = 0, next = first; s < symbols; s++) {
    extra[s] = s < 2 * group ? 0 : Math.floor(s / group) - 1;
    base[s] = next;
    next += 1 << (extra[s] as number);
  }
  return { base, extra };
}

const MATCH = steps(29, 4, 3);
MATCH.base[28] = LONGEST; // the one exception: 258 has a symbol of its own, without extra bits
MATCH.extra[28] = 0;
const DISTANCE = steps(30, 2, 1);

/** A prefix code as one table: by the next bits of the data, symbol * 16 + length; 0 where no code begins so. */
interface Codes {
  readonly table: Uint16Array;
  readonly mask: number;
}

/** Undefined where more codes are asked for than the lengths leave room for. */
function codesOf(lengths: Uint8Array): Codes | undefined {
  const count = new Uint16Array(16);
  let longest = 0;
  for (const n of lengths) {
    if (n > 0) count[n] = (count[n] as number) + 1;
    if (n > longest) longest = n;
  }
  const next = new Uint32Array(17);
  for (let n = 1, code = 0; n <= longest; n++) {
    next[n] = code;
    code += count[n] as number;
    if (code > 1 << n) return undefined;
    code <<= 1;
  }
  const table = new Uint16Array(1 << longest);
  for (let s = 0; s < lengths.length; s++) {
    const n = lengths[s] as number;
    if (n === 0) continue;
    const code = next[n] as number;
    next[n] = code + 1;
    for (let at = reversed(code, n); at < table.length; at += 1 << n) table[at] = (s << 4) | n;
  }
  return { table, mask: table.length - 1 };
}

function reversed(code: number, bits: number): number {
  let r = 0;
  for (let k = 0; k < bits; k++) r |= ((code >> k) & 1) << (bits - 1 - k);
  return r;
}

const fixed = (...runs: readonly (readonly [length: number, times: number])[]): Codes =>
  codesOf(Uint8Array.from(runs.flatMap(([length, times]) => new Array<number>(times).fill(length)))) as Codes;
const FIXED_MATCH = fixed([8, 144], [9, 112], [7, 24], [8, 8]);
const FIXED_DISTANCE = fixed([5, 32]);

const HEADER = 0;
const STORED = 1;
const CODED = 2;
const DONE = 3;

export class Inflater {
  readonly #in: Uint8Array;
  readonly #what: string;
  #at: number;
  #hold = 0; // bits taken from the input and not yet used, the next one lowest
  #held = 0;
  readonly #out = new Uint8Array(WINDOW + PIECE + LONGEST);
  #used = WINDOW;
  #behind = 0; // bytes of the window that hold data
  #stage: 0 | 1 | 2 | 3 = HEADER;
  #last = false;
  #left = 0; // of a stored block
  #match: Codes = FIXED_MATCH;
  #distance: Codes = FIXED_DISTANCE;

  /** `what`: the data's name in messages, "the gzip data". The data begins at byte `from`; it may end before the bytes do. */
  constructor(bytes: Uint8Array, from: number, what: string) {
    this.#in = bytes;
    this.#at = from;
    this.#what = what;
  }

  /** The first byte after the data. To be asked once `next` has said that all is out. */
  get end(): number {
    return this.#at - (this.#held >> 3);
  }

  /**
   * The next piece, undefined at the end. It is overwritten by the next call.
   * @throws Fault scan/truncated, scan/damaged
   */
  next(): Uint8Array | undefined {
    const out = this.#out;
    out.copyWithin(0, this.#used - WINDOW, this.#used);
    this.#behind = Math.min(WINDOW, this.#behind + this.#used - WINDOW);
    this.#used = WINDOW;
    while (this.#used < WINDOW + PIECE && this.#stage !== DONE) {
      if (this.#stage === HEADER) this.#block();
      else if (this.#stage === STORED) this.#copy();
      else this.#decode();
    }
    return this.#used > WINDOW ? out.subarray(WINDOW, this.#used) : undefined;
  }

  #block(): void {
    if (this.#last) {
      this.#stage = DONE;
      return;
    }
    this.#last = this.#bits(1) === 1;
    const kind = this.#bits(2);
    if (kind === 0) this.#stored();
    else if (kind === 1) {
      this.#match = FIXED_MATCH;
      this.#distance = FIXED_DISTANCE;
    } else if (kind === 2) this.#readCodes();
    else throw this.#damaged();
    this.#stage = kind === 0 ? STORED : CODED;
  }

  #stored(): void {
    this.#at -= this.#held >> 3; // whole bytes go back
    this.#hold = 0;
    this.#held = 0;
    if (this.#at + 4 > this.#in.length) throw this.#truncated();
    const [a, b, c, d] = this.#in.subarray(this.#at, this.#at + 4) as Uint8Array & [number, number, number, number];
    const size = a | (b << 8);
    if (size !== ((c | (d << 8)) ^ 0xffff)) throw this.#damaged(); // stored twice, once inverted
    this.#at += 4;
    this.#left = size;
  }

  #copy(): void {
    const n = Math.min(this.#left, WINDOW + PIECE - this.#used, this.#in.length - this.#at);
    this.#out.set(this.#in.subarray(this.#at, this.#at + n), this.#used);
    this.#at += n;
    this.#used += n;
    this.#left -= n;
    if (this.#left === 0) this.#stage = HEADER;
    else if (this.#at === this.#in.length) throw this.#truncated();
  }

  /** The two codes of a block, themselves stored in a code. */
  #readCodes(): void {
    const matches = this.#bits(5) + 257;
    const distances = this.#bits(5) + 1;
    const few = this.#bits(4) + 4;
    const short = new Uint8Array(19);
    for (let k = 0; k < few; k++) short[ORDER[k] as number] = this.#bits(3);
    const code = codesOf(short);
    if (code === undefined) throw this.#damaged();
    const lengths = new Uint8Array(matches + distances);
    for (let k = 0; k < lengths.length; ) {
      const symbol = this.#symbol(code);
      if (symbol < 16) {
        lengths[k++] = symbol;
        continue;
      }
      if (symbol === 16 && k === 0) throw this.#damaged();
      const value = symbol === 16 ? (lengths[k - 1] as number) : 0;
      const times = symbol === 16 ? 3 + this.#bits(2) : symbol === 17 ? 3 + this.#bits(3) : 11 + this.#bits(7);
      if (k + times > lengths.length) throw this.#damaged();
      lengths.fill(value, k, k + times);
      k += times;
    }
    const match = codesOf(lengths.subarray(0, matches));
    const distance = codesOf(lengths.subarray(matches));
    if (match === undefined || distance === undefined) throw this.#damaged();
    this.#match = match;
    this.#distance = distance;
  }

  /** Up to 25 bits stand ready after this, fewer only at the end of the input. */
  #fill(): void {
    while (this.#held <= 24 && this.#at < this.#in.length) {
      this.#hold |= (this.#in[this.#at++] as number) << this.#held;
      this.#held += 8;
    }
  }

  #bits(n: number): number {
    this.#fill();
    if (this.#held < n) throw this.#truncated();
    const value = this.#hold & ((1 << n) - 1);
    this.#hold >>>= n;
    this.#held -= n;
    return value;
  }

  #symbol(codes: Codes): number {
    this.#fill();
    const entry = codes.table[this.#hold & codes.mask] as number;
    const n = entry & 15;
    if (n > this.#held) throw this.#truncated();
    if (n === 0) throw this.#held < 15 ? this.#truncated() : this.#damaged();
    this.#hold >>>= n;
    this.#held -= n;
    return entry >> 4;
  }

  /** Symbols until the block or the room ends. (State in locals, as a faster loop would have it, measured no gain.) */
  #decode(): void {
    const out = this.#out;
    while (this.#used < WINDOW + PIECE) {
      const symbol = this.#symbol(this.#match);
      if (symbol < 256) out[this.#used++] = symbol;
      else if (symbol === 256) {
        this.#stage = HEADER;
        return;
      } else this.#back(symbol - 257);
    }
  }

  /** Repeats what was given out before. It may overlap itself, hence byte by byte. */
  #back(symbol: number): void {
    if (symbol > 28) throw this.#damaged();
    const length = (MATCH.base[symbol] as number) + this.#bits(MATCH.extra[symbol] as number);
    const far = this.#symbol(this.#distance);
    if (far > 29) throw this.#damaged();
    const distance = (DISTANCE.base[far] as number) + this.#bits(DISTANCE.extra[far] as number);
    const out = this.#out;
    let to = this.#used;
    if (distance > this.#behind + to - WINDOW) throw this.#damaged();
    const end = to + length;
    if (distance === 1) out.fill(out[to - 1] as number, to, end);
    else for (let from = to - distance; to < end; ) out[to++] = out[from++] as number;
    this.#used = end;
  }

  #truncated(): Fault {
    return new Fault(
      'scan/truncated',
      `${this.#what} ends in the middle`,
      `byte ${this.#in.length}`,
      'The file was cut off while it was saved or copied: export or copy it again.',
    );
  }

  #damaged(): Fault {
    return new Fault(
      'scan/damaged',
      `${this.#what} is damaged: it cannot be unpacked`,
      `near byte ${this.end}`,
      'Export the scan again, or copy the file again.',
    );
  }
}
