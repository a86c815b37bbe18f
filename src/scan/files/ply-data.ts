/** The numbers of a PLY file's elements, one after the other, from text or from binary data. */
import { Fault } from '../../model/fault.ts';
import { counted, grouped } from '../wording.ts';
import type { OddNumber } from './faces.ts';
import { type Element, type NumberType, plural, REPAIR, SIZE, shown } from './ply-header.ts';
import type { TextTokens } from './tokens.ts';

/** Gives the numbers of the item that was begun, in the file's order. Every method throws a Fault where the file has none. */
export interface PlyData {
  /** Begins item number `index` (from 0) of the element. */
  begin(element: Element, index: number): void;
  /** The next number. NaN and the infinities are given as they are. */
  number(type: NumberType): number;
  /** The length of a list of such numbers; as many are surely there as far as the file's size tells. */
  count(type: NumberType, of: NumberType): number;
  /** Passes over so many numbers. */
  skip(type: NumberType, count: number): void;
  /** Ends the item. */
  end(): void;
  /** Bytes not read yet. */
  readonly left: number;
  /** Where the number last read stands, for messages; in a text file its line. */
  readonly where: string;
  readonly line?: number;
  /** How a text file writes the number last read, where it is none. */
  readonly odd?: OddNumber | undefined;
}

/** "vertex 3", "face 18", "strip 1" (from 1). */
export const itemName = (element: Element, index: number): string =>
  `${element.name === 'tristrips' ? 'strip' : shown(element.name)} ${grouped(index + 1)}`;

/** The file ends before or within item number `index`. */
function endsEarly(element: Element, index: number, where: string): Fault {
  return new Fault(
    'scan/truncated',
    `the header says ${element.claim} ${plural(shown(element.name))}, the file ends after ${grouped(index)}`,
    where,
    'The file was cut off while it was saved or copied: export or copy it again.',
  );
}

const wrongCount = (element: Element, index: number, n: number | string, where: string): Fault =>
  new Fault('scan/syntax', `${itemName(element, index)} has a list of length ${n}`, where, REPAIR);

/** Binary data from byte `start` on. */
export class BinaryData implements PlyData {
  readonly #view: DataView;
  readonly #little: boolean;
  #at: number;
  #element: Element | undefined;
  #index = 0;

  constructor(bytes: Uint8Array, start: number, little: boolean) {
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#at = start;
    this.#little = little;
  }

  get left(): number {
    return this.#view.byteLength - this.#at;
  }

  get where(): string {
    return `byte ${grouped(this.#at)}`;
  }

  begin(element: Element, index: number): void {
    this.#element = element;
    this.#index = index;
  }

  end(): void {}

  number(type: NumberType): number {
    const size = SIZE[type];
    if (size > this.left) throw this.#ends();
    const at = this.#at;
    this.#at += size;
    switch (type) {
      case 'float32':
        return this.#view.getFloat32(at, this.#little);
      case 'uint8':
        return this.#view.getUint8(at);
      case 'int32':
        return this.#view.getInt32(at, this.#little);
      case 'uint32':
        return this.#view.getUint32(at, this.#little);
      case 'float64':
        return this.#view.getFloat64(at, this.#little);
      case 'int8':
        return this.#view.getInt8(at);
      case 'int16':
        return this.#view.getInt16(at, this.#little);
      case 'uint16':
        return this.#view.getUint16(at, this.#little);
    }
  }

  count(type: NumberType, of: NumberType): number {
    const n = this.number(type);
    if (n < 0) throw wrongCount(this.#element as Element, this.#index, n, this.where);
    if (n * SIZE[of] > this.left) throw this.#ends();
    return n;
  }

  skip(type: NumberType, count: number): void {
    if (SIZE[type] * count > this.left) throw this.#ends();
    this.#at += SIZE[type] * count;
  }

  #ends(): Fault {
    return endsEarly(this.#element as Element, this.#index, this.where);
  }
}

/** Longer lists may run over several lines. */
const LONG_LIST = 16;

/** Text: one item a line. */
export class TextData implements PlyData {
  readonly #in: TextTokens;
  readonly #bytes: number;
  #element: Element | undefined;
  #index = 0;
  #read = 0;
  /** The word last moved to is not read yet. */
  #waiting = false;
  #wraps = false;
  odd: OddNumber | undefined;

  /** `words` stands before the data; `bytes`: the file's length. */
  constructor(words: TextTokens, bytes: number) {
    this.#in = words;
    this.#bytes = bytes;
  }

  get left(): number {
    return this.#bytes - this.#in.at;
  }

  get line(): number {
    return this.#in.line;
  }

  get where(): string {
    return `line ${this.#in.line}`;
  }

  begin(element: Element, index: number): void {
    this.#element = element;
    this.#index = index;
    this.#read = 0;
    this.#wraps = false;
    do if (!this.#in.next()) throw this.#ends();
    while (this.#passRemark());
    this.#waiting = true;
  }

  number(_type?: NumberType): number {
    this.#move();
    this.#read++;
    const odd = this.#in.oddNumber();
    const x = odd === '' ? this.#in.number() : Number.NaN;
    if (x === undefined) {
      const word = this.#in.text();
      if (this.#in.atEnd()) throw this.#ends();
      throw this.#fault(`'${word}' is not a number${word.includes(',') ? ' (comma as decimal mark?)' : ''}`);
    }
    if (Number.isFinite(x)) {
      this.odd = undefined;
      return x;
    }
    this.odd = { line: this.#in.line, what: odd || this.#in.text() };
    return x;
  }

  count(_type: NumberType, _of: NumberType): number {
    const n = this.number();
    if (!Number.isInteger(n) || n < 0) throw wrongCount(this.#element as Element, this.#index, shown(this.#in.text()), this.where);
    if (2 * n - 1 > this.left) throw this.#ends();
    this.#wraps = n > LONG_LIST;
    return n;
  }

  skip(_type: NumberType, count: number): void {
    for (let k = 0; k < count; k++) this.number();
  }

  end(): void {
    if (this.#in.nextOnLine()) throw this.#fault(`${this.#name()} has more numbers than the header names (${grouped(this.#read)})`);
  }

  /** To the next word, which must be there. */
  #move(): void {
    if (this.#waiting) {
      this.#waiting = false;
      return;
    }
    if (this.#in.nextOnLine()) return;
    if (this.#wraps && this.#in.next()) return;
    if (this.left === 0) throw this.#ends();
    const { properties } = this.#element as Element;
    const needs = properties.some((p) => p.count) ? 'more' : grouped(properties.length);
    throw this.#fault(`${this.#name()} has ${counted(this.#read, 'number')}, needs ${needs}`);
  }

  /** Some programs write comments among the data. */
  #passRemark(): boolean {
    if (!this.#in.is('comment') && !this.#in.is('obj_info')) return false;
    this.#in.skipLine();
    return true;
  }

  #name(): string {
    return itemName(this.#element as Element, this.#index);
  }

  #ends(): Fault {
    return endsEarly(this.#element as Element, this.#index, this.where);
  }

  #fault(found: string): Fault {
    return new Fault('scan/syntax', found, this.where, REPAIR);
  }
}
