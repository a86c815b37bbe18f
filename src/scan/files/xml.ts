/**
 * Reads XML element by element straight from its bytes: no tree, so that 200 MB of vertices cost no memory, and no
 * strings but those that are asked for. Strict about what could lose or swap data: tags must match, attributes must
 * be quoted and stand once, names must have their namespaces declared. A DOCTYPE is refused: it could define entities.
 * Text between tags is passed over, for what is read here stands in attributes.
 *
 * Source: Extensible Markup Language 1.0 and Namespaces in XML 1.0.
 */
import { Fault } from '../../model/fault.ts';
import { TextTokens } from './tokens.ts';
import { utf8Of } from './xml-text.ts';
import { type Source, shown } from './zip.ts';

/** Bytes of one tag: attributes can be long, but not that long. */
const LONGEST_TAG = 1_000_000;
const MOST_ATTRIBUTES = 64;
/** Namespaces that are declared at one place: each name is looked up among them. */
const MOST_SCOPES = 100;
/** Elements within elements. */
const DEEPEST = 200;

const LF = 0x0a;
const CR = 0x0d;
const COLON = 0x3a;
const LESS = 0x3c;
const EQUALS = 0x3d;
const GREATER = 0x3e;
const SLASH = 0x2f;
const AMPERSAND = 0x26;

const isSpace = (c: number): boolean => c === 0x20 || c === LF || c === CR || c === 0x09;
const isQuote = (c: number): boolean => c === 0x22 || c === 0x27;
/** Not what ends a name; which letters it may hold is left open. */
const isName = (c: number): boolean => (c > SLASH && (c < 0x3b || c > 0x3f)) || c === 0x2d || c === 0x2e;

const ENTITIES: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" };

/** The namespace that the prefix xml stands for without being declared. */
const XML_SPACE = 'http://www.w3.org/XML/1998/namespace';

export class XmlReader {
  /** Of the tag last read, from 1. */
  line = 1;
  /** Namespace of the element last opened; '' for none. */
  space = '';
  /** Elements that are open. */
  depth = 0;
  readonly #part: string;
  readonly #source: Source;
  #buffer = new Uint8Array(1 << 19);
  #at = 0;
  #end = 0;
  #lines = 1; // to #at
  #last = 0; // the byte before #at
  #local = 0; // where the local name begins and ends
  #localEnd = 0;
  /** Four numbers an attribute: its name from .. to, its value from .. to. */
  readonly #spans = new Uint32Array(4 * MOST_ATTRIBUTES);
  #attributes = 0;
  #closing = false; // the element last opened closed itself
  #begun = false; // the root element was met
  #names = new Uint8Array(256); // of the open elements, one after another
  readonly #starts = new Uint32Array(DEEPEST + 1);
  readonly #scopes: { prefix: string; uri: string; depth: number }[] = [];

  /** `part`: the file's name in messages. */
  constructor(source: Source, part: string) {
    this.#part = part;
    this.#source = utf8Of(source, part);
  }

  /** To the next tag. An element that closes itself gives both. */
  next(): 'open' | 'close' | 'end' {
    if (this.#closing) {
      this.#closing = false;
      this.#shut();
      return 'close';
    }
    for (;;) {
      if (!this.#toTag()) {
        if (this.depth > 0 || !this.#begun) throw this.#cut();
        return 'end';
      }
      this.line = this.#lines;
      const c = this.#peek(1);
      if (c === 0x3f) this.#instruction();
      else if (c === 0x21) this.#passOver();
      else return c === SLASH ? this.#closeTag() : this.#openTag();
    }
  }

  /** Passes over the element that was just opened, with all that is in it. */
  skip(): void {
    for (const outside = this.depth - 1; this.depth > outside; ) this.next();
  }

  /** Is this the local name of the element last opened? */
  is(name: string): boolean {
    return this.#matches(name, this.#local, this.#localEnd);
  }

  /** The local name of the element last opened. */
  name(): string {
    return textOf(this.#buffer.subarray(this.#local, this.#localEnd));
  }

  /** The number of an attribute of the tag last opened, to be given to the functions below; -1 where it is not there. */
  attribute(name: string): number {
    for (let i = 0; i < this.#attributes; i++) {
      if (this.#matches(name, this.#spans[4 * i] as number, this.#spans[4 * i + 1] as number)) return i;
    }
    return -1;
  }

  /** The same for an attribute of a namespace. */
  attributeOf(space: string, name: string): number {
    for (let i = 0; i < this.#attributes; i++) {
      const [from, to] = [this.#spans[4 * i] as number, this.#spans[4 * i + 1] as number];
      const colon = this.#buffer.subarray(from, to).indexOf(COLON);
      if (colon > 0 && this.#matches(name, from + colon + 1, to) && this.#uri(from, from + colon) === space) return i;
    }
    return -1;
  }

  /** An attribute's value as text. */
  text(attribute: number): string {
    const s = textOf(this.#value(attribute));
    return s.includes('&') ? s.replace(/&([^;&]*)(;?)/g, (_all, name: string, end: string) => this.#entity(name, end)) : s;
  }

  /** An attribute's value as a number, correctly rounded; undefined where it is none. */
  number(attribute: number): number | undefined {
    let bytes = this.#value(attribute);
    if (bytes.includes(AMPERSAND)) bytes = new TextEncoder().encode(this.text(attribute));
    const word = new TextTokens(bytes);
    if (!word.next()) return undefined;
    const x = word.number();
    return word.mark === 0x2c || word.next() ? undefined : x; // a decimal comma is no number in XML
  }

  /** An attribute's value as a whole number from 0 to 2^31 - 1; undefined where it is none. */
  whole(attribute: number): number | undefined {
    const from = this.#spans[4 * attribute + 2] as number;
    const to = this.#spans[4 * attribute + 3] as number;
    let n = 0;
    let i = from;
    for (; i < to && i < from + 9; i++) {
      const d = (this.#buffer[i] as number) - 0x30;
      if (d < 0 || d > 9) break;
      n = 10 * n + d;
    }
    if (i === to && i > from) return n; // plain digits, as nearly always
    const x = this.number(attribute);
    return x !== undefined && Number.isInteger(x) && x >= 0 && x < 2 ** 31 ? x : undefined;
  }

  /** The namespace that a prefix stands for here; undefined where it was not declared. */
  spaceOf(prefix: string): string | undefined {
    if (prefix === 'xml') return XML_SPACE;
    for (let i = this.#scopes.length - 1; i >= 0; i--) {
      const scope = this.#scopes[i] as { prefix: string; uri: string };
      if (scope.prefix === prefix) return scope.uri;
    }
    return prefix === '' ? '' : undefined;
  }

  /** A Fault at the tag last read. */
  fault(found: string, next = 'Export the scan again, or as STL.', code = 'scan/syntax'): Fault {
    return new Fault(code, found, this.place(), next);
  }

  /** Where the tag last read stands. */
  place(): string {
    return `${this.#part}, line ${this.line}`;
  }

  #value(attribute: number): Uint8Array {
    return this.#buffer.subarray(this.#spans[4 * attribute + 2] as number, this.#spans[4 * attribute + 3] as number);
  }

  #entity(name: string, end: string): string {
    const known = ENTITIES[name];
    if (end !== '' && known !== undefined && Object.hasOwn(ENTITIES, name)) return known;
    const digits = /^#(?:x([\da-fA-F]{1,6})|(\d{1,7}))$/.exec(name);
    const code = digits === null ? 0 : Number.parseInt(digits[1] ?? digits[2] ?? '0', digits[1] === undefined ? 10 : 16);
    if (end === '' || code === 0 || code > 0x10ffff) throw this.fault(`unknown entity '&${shown(name.slice(0, 20))}'`);
    return String.fromCodePoint(code);
  }

  #matches(name: string, from: number, to: number): boolean {
    if (to - from !== name.length) return false;
    for (let i = 0; i < name.length; i++) if (this.#buffer[from + i] !== name.charCodeAt(i)) return false;
    return true;
  }

  /** More bytes behind those from #at on, which move to the front; false at the end. */
  #more(): boolean {
    let piece = this.#source();
    while (piece !== undefined && piece.length === 0) piece = this.#source();
    if (piece === undefined) return false;
    const kept = this.#end - this.#at;
    let to = this.#buffer;
    if (kept + piece.length > to.length) to = new Uint8Array(2 * (kept + piece.length));
    to.set(this.#buffer.subarray(this.#at, this.#end));
    to.set(piece, kept);
    this.#buffer = to;
    this.#at = 0;
    this.#end = kept + piece.length;
    return true;
  }

  /** The byte so far ahead; -1 past the end. */
  #peek(ahead: number): number {
    while (this.#at + ahead >= this.#end) if (!this.#more()) return -1;
    return this.#buffer[this.#at + ahead] as number;
  }

  /** Takes the bytes up to `to`, counting lines. CR LF, LF and CR alone each end one. */
  #take(to: number): void {
    const b = this.#buffer;
    let last = this.#last;
    for (let i = this.#at; i < to; i++) {
      const c = b[i] as number;
      if (c === CR || (c === LF && last !== CR)) this.#lines++;
      last = c;
    }
    this.#last = last;
    this.#at = to;
  }

  /** Past text to the next "<"; false at the end of the file. Outside the root there must be no text. */
  #toTag(): boolean {
    for (;;) {
      const b = this.#buffer;
      const end = this.#end;
      let to = this.#at;
      while (to < end && b[to] !== LESS) to++;
      if (this.depth === 0) this.#refuseText(to);
      this.#take(to);
      if (to < end) return true;
      if (!this.#more()) return false;
    }
  }

  #refuseText(to: number): void {
    for (let i = this.#at; i < to; i++) {
      const c = this.#buffer[i] as number;
      if (isSpace(c) || (c === 0 && this.#begun)) continue; // some writers pad with NUL
      this.#take(i);
      this.line = this.#lines;
      throw this.fault(`text ${this.#begun ? 'after the last' : 'before the first'} tag: this is no sound XML`);
    }
  }

  /** Do the bytes at #at begin so? */
  #begins(mark: string): boolean {
    return this.#peek(mark.length - 1) >= 0 && this.#matches(mark, this.#at, this.#at + mark.length);
  }

  /** Takes all up to and with `mark`; the bytes taken last come back, to be looked at where they are few. */
  #through(mark: string): Uint8Array {
    const ender = mark.charCodeAt(mark.length - 1);
    for (;;) {
      const rest = this.#buffer.subarray(this.#at, this.#end);
      let i = rest.indexOf(ender, mark.length - 1);
      while (i >= 0 && !this.#matches(mark, this.#at + i + 1 - mark.length, this.#at + i + 1)) i = rest.indexOf(ender, i + 1);
      if (i >= 0) {
        this.#take(this.#at + i + 1);
        return rest.subarray(0, i + 1);
      }
      // Not here: let go of all but what the mark could begin with.
      this.#take(Math.max(this.#at, this.#end + 1 - mark.length));
      if (!this.#more()) throw this.#cut();
    }
  }

  /** Processing instructions mean nothing here; of the declaration at the very start, the encoding counts. */
  #instruction(): void {
    const first = !this.#begun && this.#lines === 1;
    const text = textOf(this.#through('?>').subarray(0, 1000));
    const named = first && /^<\?xml\s/.test(text) ? /\sencoding\s*=\s*["']([^"']*)["']/.exec(text)?.[1] : undefined;
    if (named === undefined || /^(utf-?8|utf-?16(le|be)?|us-ascii)$/i.test(named)) return;
    throw this.fault(
      `it says that it is written in ${shown(named)}`,
      'XML here must be UTF-8 or UTF-16: export the scan again, or as STL.',
      'scan/encoding',
    );
  }

  #passOver(): void {
    if (this.#begins('<!--')) {
      this.#take(this.#at + 4);
      this.#through('-->');
    } else if (this.depth > 0 && this.#begins('<![CDATA[')) this.#through(']]>');
    else if (this.#begins('<!DOCTYPE')) {
      throw this.fault('a DOCTYPE stands here: it can define entities and is not read', 'Export the scan again, or as STL.', 'scan/unsafe');
    } else throw this.fault("'<!' that begins neither a comment nor CDATA");
  }

  /** Makes sure that the whole tag at #at is in the buffer; returns where its ">" is. */
  #wholeTag(): number {
    let quote = 0;
    for (let i = 1; i < LONGEST_TAG; i++) {
      const c = this.#at + i < this.#end ? (this.#buffer[this.#at + i] as number) : this.#peek(i);
      if (c < 0) throw this.#cut();
      if (c === LESS) throw this.fault("'<' within a tag: a quote or a '>' is missing");
      if (quote === 0 && c === GREATER) return this.#at + i;
      if (isQuote(c)) quote = quote === 0 ? c : quote === c ? 0 : quote;
    }
    throw this.fault(`a tag of more than ${LONGEST_TAG} bytes`);
  }

  #closeTag(): 'close' {
    const end = this.#wholeTag();
    const from = this.#at + 2;
    const to = this.#nameEnd(from);
    const start = this.#starts[this.depth - 1] as number;
    let after = to;
    while (isSpace(this.#buffer[after] as number)) after++;
    const open = this.depth === 0 ? '' : textOf(this.#names.subarray(start, this.#starts[this.depth]));
    if (this.depth === 0 || after !== end || !this.#sameName(start, from, to)) {
      const found = textOf(this.#buffer.subarray(this.#at, Math.min(end + 1, this.#at + 40)));
      throw this.fault(`'${shown(found)}' found, ${this.depth === 0 ? 'nothing is open' : `'</${shown(open)}>' needed`}`);
    }
    this.#take(end + 1);
    this.#shut();
    return 'close';
  }

  #sameName(start: number, from: number, to: number): boolean {
    const length = (this.#starts[this.depth] as number) - start;
    if (to - from !== length) return false;
    for (let i = 0; i < length; i++) if (this.#names[start + i] !== this.#buffer[from + i]) return false;
    return true;
  }

  #shut(): void {
    while (this.#scopes.length > 0 && this.#scopes[this.#scopes.length - 1]?.depth === this.depth) this.#scopes.pop();
    this.depth--;
  }

  #openTag(): 'open' {
    if (this.depth === 0 && this.#begun) throw this.fault('a second root element');
    if (this.depth === DEEPEST)
      throw this.fault(`elements nested more than ${DEEPEST} deep`, 'Export the scan again, or as STL.', 'scan/unsafe');
    this.#begun = true;
    const end = this.#wholeTag();
    const b = this.#buffer;
    const from = this.#at + 1;
    const to = this.#nameEnd(from);
    this.#push(from, to);
    this.#closing = b[end - 1] === SLASH;
    this.#readAttributes(to, this.#closing ? end - 1 : end);
    this.#local = from;
    this.#localEnd = to;
    let colon = from;
    while (colon < to && b[colon] !== COLON) colon++;
    if (colon < to) this.#local = colon + 1;
    this.space = this.#scopes.length === 0 && colon === to ? '' : this.#uri(from, colon === to ? from : colon);
    this.#take(end + 1);
    return 'open';
  }

  #push(from: number, to: number): void {
    const start = this.#starts[this.depth] as number;
    if (start + to - from > this.#names.length) {
      const wider = new Uint8Array(2 * (start + to - from));
      wider.set(this.#names);
      this.#names = wider;
    }
    for (let i = from, n = start; i < to; i++, n++) this.#names[n] = this.#buffer[i] as number;
    this.depth++;
    this.#starts[this.depth] = start + to - from;
  }

  #nameEnd(from: number): number {
    let to = from;
    while (isName(this.#buffer[to] as number)) to++;
    if (to === from) throw this.fault("'<' without a name after it");
    return to;
  }

  #readAttributes(from: number, end: number): void {
    const b = this.#buffer;
    this.#attributes = 0;
    for (let i = from; ; ) {
      const gap = i;
      while (i < end && isSpace(b[i] as number)) i++;
      if (i === end) return;
      const name = i;
      while (i < end && isName(b[i] as number)) i++;
      const nameEnd = i;
      while (i < end && isSpace(b[i] as number)) i++;
      const equals = b[i] === EQUALS && i < end;
      i++;
      while (i < end && isSpace(b[i] as number)) i++;
      const quote = b[i] as number;
      const valueEnd = equals && i < end && isQuote(quote) ? b.indexOf(quote, i + 1) : -1;
      if (gap === name || name === nameEnd || valueEnd < 0 || valueEnd >= end) {
        throw this.fault(
          `'${shown(textOf(b.subarray(name, Math.min(end, name + 24))))}' is no attribute: name="value" needed, with a blank before it`,
        );
      }
      this.#keep(name, nameEnd, i + 1, valueEnd);
      i = valueEnd + 1;
    }
  }

  #keep(name: number, nameEnd: number, value: number, valueEnd: number): void {
    const b = this.#buffer;
    const n = this.#attributes;
    if (n === MOST_ATTRIBUTES) throw this.fault(`a tag with more than ${MOST_ATTRIBUTES} attributes`);
    for (let i = 0; i < n; i++) {
      const other = this.#spans[4 * i] as number;
      let k = 0;
      while (k < nameEnd - name && b[other + k] === b[name + k]) k++;
      if (k === nameEnd - name && (this.#spans[4 * i + 1] as number) - other === k) {
        throw this.fault(`attribute '${shown(textOf(b.subarray(name, nameEnd)))}' stands twice`);
      }
    }
    this.#spans[4 * n] = name;
    this.#spans[4 * n + 1] = nameEnd;
    this.#spans[4 * n + 2] = value;
    this.#spans[4 * n + 3] = valueEnd;
    this.#attributes++;
    const bare = nameEnd - name === 5;
    if (!this.#matches('xmlns', name, name + 5) || (!bare && b[name + 5] !== COLON)) return;
    const prefix = bare ? '' : textOf(b.subarray(name + 6, nameEnd));
    if (this.#scopes.length === MOST_SCOPES) throw this.fault(`more than ${MOST_SCOPES} namespaces declared`);
    this.#scopes.push({ prefix, uri: this.text(n), depth: this.depth });
  }

  #uri(from: number, to: number): string {
    if (from === to) {
      // The usual case, without a string: the innermost scope without a prefix.
      for (let i = this.#scopes.length - 1; i >= 0; i--) if (this.#scopes[i]?.prefix === '') return this.#scopes[i]?.uri ?? '';
      return '';
    }
    const prefix = textOf(this.#buffer.subarray(from, to));
    const uri = this.spaceOf(prefix);
    if (uri === undefined) throw this.fault(`prefix '${shown(prefix)}' is not declared`);
    return uri;
  }

  #cut(): Fault {
    this.line = this.#lines;
    return this.fault(
      this.#begun ? 'the XML ends before its root element is closed' : 'the XML holds no element',
      'The file was cut off while it was saved: export the scan again.',
      'scan/truncated',
    );
  }
}

const textOf = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);
