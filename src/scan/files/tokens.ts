/** Words and numbers of a text file, straight from its bytes, with line numbers. */

const SPACE = 0x20;
const LF = 0x0a;
const CR = 0x0d;
const COMMA = 0x2c;
const POINT = 0x2e;

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

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
    if (bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf) this.#end = 3; // UTF-8 byte-order mark
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
    this.#start = i;
    while (i < b.length && (b[i] as number) > SPACE) i++;
    this.#end = i;
    return this.#start < this.#end;
  }

  /** To the end of the line, whatever stands there. */
  skipLine(): void {
    const b = this.#bytes;
    while (this.#end < b.length && b[this.#end] !== LF && b[this.#end] !== CR) this.#end++;
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
    const c = this.#bytes[this.#start] as number;
    const letter = (c | 0x20) === 0x6e || (c | 0x20) === 0x69; // n, i
    const hash = this.#bytes[this.#start + 2] === 0x23 || this.#bytes[this.#start + 3] === 0x23;
    if (!letter && !hash && c !== 0x2d && c !== 0x2b) return '';
    const s = this.text();
    return /^[+-]?(nan(\(.*\))?|inf(inity)?|1[.,]#.*)$/i.test(s) ? s : '';
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
