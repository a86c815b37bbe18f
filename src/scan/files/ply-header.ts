/** The header of a PLY file: how its data are written, and what each element consists of. */
import { Fault } from '../../model/fault.ts';

export type Encoding = 'ascii' | 'little' | 'big';
export type NumberType = 'int8' | 'uint8' | 'int16' | 'uint16' | 'int32' | 'uint32' | 'float32' | 'float64';

export interface Property {
  readonly name: string;
  /** Of the number, or of the numbers of the list. */
  readonly type: NumberType;
  /** Of a list: how its length is written. */
  readonly count?: NumberType;
}

export interface Element {
  readonly name: string;
  readonly count: number;
  /** The count as the file writes it. */
  readonly claim: string;
  readonly properties: readonly Property[];
  readonly line: number;
}

export interface PlyHeader {
  readonly encoding: Encoding;
  readonly elements: readonly Element[];
  /** Byte at which the data begin, and its line. */
  readonly start: number;
  readonly line: number;
}

/** Bytes of each type. */
export const SIZE: Record<NumberType, number> = { int8: 1, uint8: 1, int16: 2, uint16: 2, int32: 4, uint32: 4, float32: 4, float64: 8 };

const TYPES: ReadonlyMap<string, NumberType> = new Map<string, NumberType>([
  ...(Object.keys(SIZE) as NumberType[]).map((t): [string, NumberType] => [t, t]),
  ['char', 'int8'],
  ['uchar', 'uint8'],
  ['short', 'int16'],
  ['ushort', 'uint16'],
  ['int', 'int32'],
  ['uint', 'uint32'],
  ['float', 'float32'],
  ['double', 'float64'],
]);

const ENCODINGS: ReadonlyMap<string, Encoding> = new Map([
  ['ascii', 'ascii'],
  ['binary_little_endian', 'little'],
  ['binary_big_endian', 'big'],
]);

/** Comments may be long; longer than this the header is none. */
const MOST_HEADER = 1_048_576;

const LF = 0x0a;
const CR = 0x0d;

export const REPAIR = 'Export the scan again, as binary PLY or STL.';

/** "vertices", "faces", "edges". */
export const plural = (element: string): string => (element === 'vertex' ? 'vertices' : element.endsWith('s') ? element : `${element}s`);

/**
 * Reads the header. Words count in any case; comments may stand anywhere in it.
 * @throws Fault that names the line of what is wrong.
 */
export function readPlyHeader(bytes: Uint8Array): PlyHeader {
  return new HeaderReader(bytes).read();
}

class HeaderReader {
  readonly #bytes: Uint8Array;
  /** The first line's end tells what ends a line: after CR alone, a line feed belongs to the data. */
  readonly #end: number;
  #at = 0;
  #line = 0;
  #encoding: Encoding | undefined;
  readonly #elements: (Element & { properties: Property[] })[] = [];

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
    const first = bytes.subarray(0, MOST_HEADER).findIndex((c) => c === LF || c === CR);
    this.#end = bytes[first] === CR && bytes[first + 1] !== LF ? CR : LF;
  }

  read(): PlyHeader {
    const magic = this.#next();
    if (magic.length !== 1 || magic[0] !== 'ply') throw this.#fault(`'${shown(magic.join(' '))}' found, 'ply' needed`);
    for (let words = this.#next(); words[0] !== 'end_header'; words = this.#next()) {
      const [word] = words;
      if (word === undefined || word === 'comment' || word === 'obj_info') continue;
      if (word === 'format') this.#format(words);
      else if (word === 'element') this.#element(words);
      else if (word === 'property') this.#property(words);
      else throw this.#fault(`'${shown(word)}' found, 'element', 'property' or 'end_header' needed`);
    }
    if (this.#encoding === undefined) throw this.#fault("the header has no 'format' line");
    return { encoding: this.#encoding, elements: this.#elements, start: this.#at, line: this.#line + 1 };
  }

  /** The words of the next line, in small letters. */
  #next(): string[] {
    this.#line++;
    const b = this.#bytes;
    const most = Math.min(b.length, MOST_HEADER);
    let i = this.#at;
    while (i < most && b[i] !== this.#end) i++;
    let text = '';
    for (let k = this.#at; k < i; k++) text += String.fromCharCode(b[k] as number);
    const words = text
      .toLowerCase()
      .split(/[\s\0]+/)
      .filter((w) => w !== '');
    if (i === most && words[0] !== 'end_header') {
      throw new Fault(
        'scan/truncated',
        i === b.length ? "the file ends before the header's 'end_header'" : "no 'end_header' in the file's first megabyte",
        `line ${this.#line}`,
        i === b.length ? 'The file was cut off while it was saved or copied: export or copy it again.' : REPAIR,
      );
    }
    this.#at = Math.min(i + 1, b.length);
    return words;
  }

  #format([, name, version]: string[]): void {
    const encoding = ENCODINGS.get(name ?? '');
    if (encoding === undefined)
      throw this.#fault(`format '${shown(name ?? '')}' is not known (ascii, binary_little_endian and binary_big_endian are)`);
    if (version !== '1.0') throw this.#fault(`format version '${shown(version ?? '')}' is not known (1.0 is)`);
    if (this.#encoding !== undefined) throw this.#fault("a second 'format' line");
    this.#encoding = encoding;
  }

  #element([, name, claim, ...more]: string[]): void {
    if (name === undefined || claim === undefined || more.length > 0)
      throw this.#fault("an element needs a name and a count: 'element vertex 100'");
    if (!/^\d+$/.test(claim)) throw this.#fault(`'${shown(claim)}' is not a count`);
    if (this.#elements.some((e) => e.name === name)) throw this.#fault(`a second element '${shown(name)}'`);
    this.#elements.push({ name, count: Number(claim), claim: shown(claim, 40), properties: [], line: this.#line });
  }

  #property(words: string[]): void {
    const element = this.#elements.at(-1);
    if (element === undefined) throw this.#fault("'property' before the first 'element'");
    const list = words[1] === 'list';
    const name = words[list ? 4 : 2];
    if (name === undefined || words.length !== (list ? 5 : 3)) throw this.#fault("a property needs a type and a name: 'property float x'");
    if (element.properties.some((p) => p.name === name))
      throw this.#fault(`a second property '${shown(name)}' of the element '${shown(element.name)}'`);
    const type = this.#type(words[list ? 3 : 1] as string);
    if (!list) {
      element.properties.push({ name, type });
      return;
    }
    const count = this.#type(words[2] as string);
    if (count === 'float32' || count === 'float64') throw this.#fault(`a list's length cannot be of type '${words[2]}'`);
    element.properties.push({ name, type, count });
  }

  #type(word: string): NumberType {
    const type = TYPES.get(word);
    if (type === undefined)
      throw this.#fault(`type '${shown(word)}' is not known (char, uchar, short, ushort, int, uint, float and double are)`);
    return type;
  }

  #fault(found: string): Fault {
    return new Fault('scan/syntax', found, `line ${this.#line}`, REPAIR);
  }
}

/** A word of the file, shortened, with anything that is not plain text as "?". */
export function shown(word: string, most = 24): string {
  const plain = word.slice(0, most).replace(/[^\x20-\x7e]/g, '?');
  return word.length > most ? `${plain}...` : plain;
}
