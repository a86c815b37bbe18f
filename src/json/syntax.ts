/**
 * The grammar of JSON (RFC 8259), checked on the text before it is parsed.
 *
 * JSON.parse says where it stumbled in words that differ between engines, keeps the last of two equal keys in silence,
 * and makes an own "__proto__" key. This scan gives line and column in our own words, counts the depth without
 * recursion, and names repeated and forbidden keys. It accepts exactly the texts that JSON.parse accepts, up to the
 * depth (tests/json/syntax.test.ts holds the two against each other).
 */
import { type Flaw, shown, step } from './flaw.ts';

/** Levels of lists and objects. The deepest file of ours has 7. */
export const DEEPEST = 32;

/** Keys that reach an object's prototype, or that code might mistake for it. */
export const FORBIDDEN_KEYS: readonly string[] = ['__proto__', 'constructor', 'prototype'];

/** Told of one file; a file with more is no slip. */
const MOST_KEY_FLAWS = 50;

interface Frame {
  readonly close: '}' | ']';
  readonly from: number; // where it was opened
  readonly keys: Set<string>;
  at: string | number; // the key or index now being read
}

/** Every flaw that can be told from the text alone: one of syntax or depth, or all of its keys. */
export function syntaxFlaws(text: string): Flaw[] {
  const scan = new Syntax(text);
  try {
    scan.run();
    return scan.keyFlaws;
  } catch (e) {
    if (e instanceof Stumble) return [e.flaw];
    throw e;
  }
}

/** Ends the scan at the first thing that is not JSON. */
class Stumble extends Error {
  readonly flaw: Flaw;
  constructor(flaw: Flaw) {
    super(flaw.text);
    this.flaw = flaw;
  }
}

const NUMBER = /-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?/y;
const WORD = /[A-Za-z_$][\w$]*/y;
const BLANKS = /[ \t\n\r]*/y;
/** What may follow a number, so that 012, 1.5.2 and 3mm are not taken for two things. */
const ENDS_NUMBER = /[\s,\]}]/;

class Syntax {
  readonly keyFlaws: Flaw[] = [];
  readonly #text: string;
  readonly #open: Frame[] = [];
  #pos = 0;

  constructor(text: string) {
    this.#text = text;
  }

  run(): void {
    do {
      this.#value();
      while (this.#open.length > 0 && this.#closes()) this.#open.pop();
    } while (this.#open.length > 0);
    this.#blanks();
    if (this.#pos < this.#text.length) this.#stumble(`nothing may follow the end, found ${this.#seen()}`);
  }

  /** A value, or the beginning of one: after it the next thing is a value within, a closing sign or a comma. */
  #value(): void {
    for (;;) {
      this.#blanks();
      const sign = this.#text[this.#pos];
      if (sign === '{' || sign === '[') {
        this.#push(sign === '{' ? '}' : ']');
        if (this.#opensEmpty()) return;
        continue;
      }
      if (sign === '"') this.#string();
      else if (sign === '-' || (sign !== undefined && sign >= '0' && sign <= '9')) this.#number();
      else this.#word();
      return;
    }
  }

  #push(close: Frame['close']): void {
    if (this.#open.length === DEEPEST) this.#stumble(`nested deeper than ${DEEPEST} levels`, 'json/too-deep');
    this.#open.push({ close, from: this.#pos, keys: new Set(), at: 0 });
    this.#pos++;
  }

  /** Just inside a list or object: true when it closes at once; else its first key is read. */
  #opensEmpty(): boolean {
    const frame = this.#open[this.#open.length - 1] as Frame;
    this.#blanks();
    if (this.#text[this.#pos] === frame.close) {
      this.#pos++;
      this.#open.pop();
      return true;
    }
    if (frame.close === '}') this.#key(frame);
    return false;
  }

  /** After a value: true at the closing sign; false after a comma, with the next key read. */
  #closes(): boolean {
    const frame = this.#open[this.#open.length - 1] as Frame;
    this.#blanks();
    const sign = this.#text[this.#pos];
    if (sign === frame.close) {
      this.#pos++;
      return true;
    }
    if (sign !== ',') this.#stumble(this.#afterValue(frame));
    this.#pos++;
    this.#blanks();
    if (this.#text[this.#pos] === frame.close) this.#stumble(`a comma stands before this ${frame.close}; take the comma away`);
    if (frame.close === '}') this.#key(frame);
    else frame.at = (frame.at as number) + 1;
    return false;
  }

  #afterValue(frame: Frame): string {
    if (this.#pos >= this.#text.length)
      return `the text ends, but the ${frame.close === '}' ? '{' : '['} of line ${this.#linesTo(frame.from).length} is not closed`;
    return `a comma or ${frame.close} is needed, found ${this.#seen()}`;
  }

  #key(frame: Frame): void {
    if (this.#text[this.#pos] !== '"') {
      if (this.#pos >= this.#text.length) this.#stumble(this.#afterValue(frame));
      const digit = /\d/.test(this.#text[this.#pos] ?? '');
      this.#stumble(`a key in double quotes is needed, found ${this.#seen()}${digit ? ' (numbers take a point, not a comma)' : ''}`);
    }
    const key: unknown = JSON.parse(this.#string());
    frame.at = String(key);
    if (FORBIDDEN_KEYS.includes(frame.at)) this.#keyFlaw('this key is not allowed');
    else if (frame.keys.has(frame.at)) this.#keyFlaw('this key stands here twice');
    frame.keys.add(frame.at);
    this.#blanks();
    if (this.#text[this.#pos] !== ':') this.#stumble(`a colon is needed after the key ${shown(frame.at)}, found ${this.#seen()}`);
    this.#pos++;
  }

  #keyFlaw(text: string): void {
    if (this.keyFlaws.length >= MOST_KEY_FLAWS) return;
    const at = this.#open.map((f) => step(f.at)).join('');
    this.keyFlaws.push({ code: 'json/keys', at, text: `${text} (line ${this.#linesTo(this.#pos).length})` });
  }

  /** Passes a text in quotes; returns it as it stands, quotes included. By hand: a pattern could run out of stack. */
  #string(): string {
    const from = this.#pos;
    for (this.#pos++; this.#pos < this.#text.length; this.#pos++) {
      const sign = this.#text[this.#pos] as string;
      if (sign === '"') return this.#text.slice(from, ++this.#pos);
      if (sign < ' ')
        this.#stumble(sign === '\n' || sign === '\r' ? 'this line ends inside a text: a " is missing' : 'a control sign stands in a text');
      if (sign === '\\') this.#escape();
    }
    this.#pos = from;
    return this.#stumble('a text begins here and never ends: a " is missing');
  }

  #escape(): void {
    const next = this.#text[this.#pos + 1] ?? '';
    if (next === 'u' && /^[0-9a-fA-F]{4}$/.test(this.#text.slice(this.#pos + 2, this.#pos + 6))) this.#pos += 5;
    else if (next !== '' && '"\\/bfnrt'.includes(next)) this.#pos++;
    else this.#stumble('a backslash stands before a sign that needs none (write \\\\ for a backslash)');
  }

  #number(): void {
    const from = this.#pos;
    const number = this.#match(NUMBER);
    const next = this.#text[this.#pos];
    if (number !== '' && (next === undefined || ENDS_NUMBER.test(next))) return;
    this.#pos = from;
    this.#stumble(`${this.#seen()} is not a number as JSON writes it`);
  }

  #word(): void {
    const from = this.#pos;
    const word = this.#match(WORD);
    if (word === 'true' || word === 'false' || word === 'null') return;
    this.#pos = from;
    if (from >= this.#text.length) {
      const frame = this.#open[this.#open.length - 1];
      this.#stumble(frame ? this.#afterValue(frame) : 'the text ends where a value is needed');
    }
    this.#stumble(`a value is needed, found ${this.#seen()}${this.#text[from] === "'" ? ' (texts take double quotes)' : ''}`);
  }

  #blanks(): void {
    this.#match(BLANKS);
  }

  #match(pattern: RegExp): string {
    pattern.lastIndex = this.#pos;
    const found = pattern.exec(this.#text)?.[0] ?? '';
    this.#pos += found.length;
    return found;
  }

  /** The word or sign at the place reached, as it stands. */
  #seen(): string {
    const rest = this.#text.slice(this.#pos, this.#pos + 24);
    return rest === '' ? 'the end of the text' : (/^[\w.+\-$]+/.exec(rest)?.[0] ?? Array.from(rest)[0] ?? '');
  }

  /** The lines before a place. Looks at all of them, so only for what is told. */
  #linesTo(pos: number): string[] {
    return this.#text.slice(0, pos).split(/\r\n|\n|\r/);
  }

  #stumble(text: string, code: Flaw['code'] = 'json/syntax'): never {
    const lines = this.#linesTo(this.#pos);
    const column = Array.from(lines[lines.length - 1] ?? '').length + 1;
    throw new Stumble({ code, at: `line ${lines.length}, column ${column}`, text });
  }
}
