/** Words and numbers of a text file, straight from its bytes, with line numbers. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';

const SPACE = 0x20;
const LF = 0x0a;
const CR = 0x0d;
const COMMA = 0x2c;
const POINT = 0x2e;
const SLASH = 0x2f;
const BACKSLASH = 0x5c;

/** Powers of ten that doubles hold exactly. */
const TEN = Float64Array.from({ length: 23 }, (_, k) => Number(`1e${k}`));

export class TextTokens {
  /** Of the word last read, from 1. CR LF, LF and CR alone each end one line. */
  line = 1;
  /** The decimal mark of the number last read: the character, or 0 for none. */
  mark = 0;
  readonly #bytes: Uint8Array;
  #start = 0;
  #end = 0;

  /** Reads from byte `start`, which lies on line `line`. */
  constructor(bytes: Uint8Array, start = 0, line = 1) {
    this.#bytes = bytes;
    this.#end = start;
    this.line = line;
    if (start === 0 && bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf) this.#end = 3; // UTF-8 byte-order mark
  }

  /** Moves to the next word; false at the end of the file (NUL and Ctrl-Z padding counts as white space). */
  next(): boolean {
    const b = this.#bytes;
    let i = this.#end;
    for (; i < b.length; i++) {
      const c = b[i] as number;
      if (c > SPACE) break;
      if (c === LF || (c === CR && b[i + 1] !== LF)) this.line++;
    }
    return this.#word(i);
  }

  /** Moves to the next word of the same line, or of a line joined to it by a backslash; false, and no further, at the line's end. */
  nextOnLine(): boolean {
    const b = this.#bytes;
    let i = this.#end;
    for (; i < b.length; i++) {
      const c = b[i] as number;
      if (c === LF || c === CR) break;
      if (c <= SPACE) continue;
      const joined = c === BACKSLASH ? this.#joined(i) : 0;
      if (joined === 0) break;
      this.line++;
      i = joined - 1;
    }
    return this.#word(i);
  }

  /** Takes the word that begins at i; false when there is none. A backslash that joins two lines ends it, but is a word by itself. */
  #word(i: number): boolean {
    const b = this.#bytes;
    this.#start = i;
    for (; i < b.length; i++) {
      const c = b[i] as number;
      if (c <= SPACE || (c === BACKSLASH && i > this.#start && this.#joined(i) > 0)) break;
    }
    this.#end = i;
    return this.#start < this.#end;
  }

  /** To the end of the line, whatever stands there. */
  skipLine(): void {
    const b = this.#bytes;
    while (this.#end < b.length && b[this.#end] !== LF && b[this.#end] !== CR) this.#end++;
  }

  /** To the end of the line and of those joined to it by backslashes. */
  skipJoined(): void {
    for (;;) {
      this.skipLine();
      const next = this.#bytes[this.#end - 1] === BACKSLASH ? this.#joined(this.#end - 1) : 0;
      if (next === 0) return;
      this.line++;
      this.#end = next;
    }
  }

  /**
   * Where the next line begins when the backslash at i joins it to this one, else 0. It does so at the line's end, with
   * a blank before it or after: without one, a name that ends so (a folder's) and a number broken in two look the same.
   */
  #joined(i: number): number {
    const b = this.#bytes;
    let next = i + 1;
    if (b[next] === CR) next++;
    if (b[next] === LF) next++;
    if (next === i + 1) return 0;
    return (b[i - 1] ?? SPACE) <= SPACE || (b[next] ?? SPACE) <= SPACE ? next : 0;
  }

  /** Does the word begin with this character? */
  starts(character: string): boolean {
    return this.#bytes[this.#start] === character.charCodeAt(0);
  }

  /** Is the word this one (given in small letters)? Capitals count as small. */
  is(word: string): boolean {
    if (this.#end - this.#start !== word.length) return false;
    for (let i = 0; i < word.length; i++) {
      if (((this.#bytes[this.#start + i] as number) | 0x20) !== word.charCodeAt(i)) return false;
    }
    return true;
  }

  /** Does the word begin with a letter? */
  startsWord(): boolean {
    const c = (this.#bytes[this.#start] as number) | 0x20;
    return c >= 0x61 && c <= 0x7a;
  }

  /** Byte after the word last read. */
  get at(): number {
    return this.#end;
  }

  /** The word touches the end of the file: it may be cut off. */
  atEnd(): boolean {
    return this.#end === this.#bytes.length;
  }

  /** The word, shortened, with anything that is not plain text shown as "?". */
  text(): string {
    let s = '';
    for (let i = this.#start; i < Math.min(this.#end, this.#start + 24); i++) {
      const c = this.#bytes[i] as number;
      s += c > SPACE && c < 0x7f ? String.fromCharCode(c) : '?';
    }
    return this.#end - this.#start > 24 ? `${s}...` : s;
  }

  /** "nan", "-inf", "1.#IND" and their like, as the file writes them; '' for everything else. */
  oddNumber(): string {
    const sign = this.#bytes[this.#start] === 0x2d || this.#bytes[this.#start] === 0x2b ? 1 : 0;
    const c = (this.#bytes[this.#start + sign] as number) | 0x20;
    const letter = c === 0x6e || c === 0x69; // n, i
    if (!letter && this.#bytes[this.#start + sign + 2] !== 0x23) return ''; // #
    const s = this.text();
    return /^[+-]?(nan(\(.*\))?|inf(inity)?|1[.,]#.*)$/i.test(s) ? s : '';
  }

  /** The first number of "12", "-3", "12/5", "12//7" or "12/5/7"; undefined for any other word. */
  reference(): number | undefined {
    const b = this.#bytes;
    let i = this.#start;
    let negative = false;
    if (b[i] === 0x2d || b[i] === 0x2b) negative = b[i++] === 0x2d;
    let x = 0;
    const from = i;
    for (; i < this.#end; i++) {
      const d = (b[i] as number) - 0x30;
      if (d < 0 || d > 9) break;
      x = x * 10 + d;
    }
    if (i === from) return undefined;
    let slashes = 0;
    for (; i < this.#end; i++) {
      const c = b[i] as number;
      if (c === SLASH) slashes++;
      else if (slashes === 0 || !((c >= 0x30 && c <= 0x39) || (c === 0x2d && b[i - 1] === SLASH))) return undefined;
    }
    if (slashes > 2) return undefined;
    return negative ? -x : x;
  }

  /** The word as a number, correctly rounded, with a decimal point or comma; undefined when it is none. */
  number(): number | undefined {
    const b = this.#bytes;
    let i = this.#start;
    let negative = false;
    if (b[i] === 0x2d || b[i] === 0x2b) negative = b[i++] === 0x2d;
    let mantissa = 0;
    let digits = 0;
    let significant = 0;
    let decimals = 0;
    this.mark = 0;
    for (; i < this.#end; i++) {
      const c = b[i] as number;
      const d = c - 0x30;
      if (d >= 0 && d <= 9) {
        digits++;
        if (this.mark > 0) decimals++;
        if (significant > 0 || d > 0) significant++;
        if (significant <= 15) mantissa = mantissa * 10 + d;
      } else if ((c === POINT || c === COMMA) && this.mark === 0) this.mark = c;
      else break;
    }
    if (digits === 0) return undefined;
    const power = this.#exponent(i);
    if (power === undefined) return undefined;
    const shift = power - decimals;
    // Up to 15 digits and 22 tens, one exact product or quotient rounds once: the nearest double.
    let x: number;
    if (significant <= 15 && shift >= -22 && shift <= 22) {
      x = shift < 0 ? mantissa / (TEN[-shift] as number) : mantissa * (TEN[shift] as number);
    } else x = Math.abs(Number(this.#plain()));
    return negative ? -x : x;
  }

  /** The exponent that begins at i: 0 when the word ends there, undefined when something else stands there. */
  #exponent(from: number): number | undefined {
    const b = this.#bytes;
    let i = from;
    if (i === this.#end) return 0;
    if (((b[i] as number) | 0x20) !== 0x65) return undefined;
    i++;
    let negative = false;
    if (i < this.#end && (b[i] === 0x2d || b[i] === 0x2b)) negative = b[i++] === 0x2d;
    if (i === this.#end) return undefined;
    let e = 0;
    for (; i < this.#end; i++) {
      const d = (b[i] as number) - 0x30;
      if (d < 0 || d > 9) return undefined;
      if (e < 100000) e = e * 10 + d;
    }
    return negative ? -e : e;
  }

  /** The whole word for the language's own parser, which rounds correctly however long it is. */
  #plain(): string {
    let s = '';
    for (let i = this.#start; i < this.#end; i++) s += String.fromCharCode(this.#bytes[i] === COMMA ? POINT : (this.#bytes[i] as number));
    return s;
  }
}

/** Watches over the decimal marks of a file's coordinates: points, or commas throughout. */
export class DecimalMarks {
  /** Lines of the first number with a comma and of the first with a point, 0: none yet. */
  #comma = 0;
  #point = 0;

  /** Takes the number that `words` has read last into account. */
  note(words: TextTokens): void {
    if (words.mark === COMMA && this.#comma === 0) this.#comma = words.line;
    if (words.mark === POINT && this.#point === 0) this.#point = words.line;
  }

  /** Tells of commas; throws a Fault where there are both. `next`: what to do then. */
  settle(findings: Finding[], next: string): void {
    if (this.#comma === 0) return;
    if (this.#point > 0) {
      throw new Fault(
        'scan/syntax',
        `numbers with a decimal comma (line ${this.#comma}) and with a decimal point (line ${this.#point}) in one file`,
        `line ${this.#comma}`,
        next,
      );
    }
    findings.push({
      code: 'scan/decimal-comma',
      level: 'warning',
      text: `Decimal commas read as points (first on line ${this.#comma}): the file was written by a program under a comma locale.`,
    });
  }
}
