/**
 * PLY (Turk 1994): a header that says what follows, then elements with numbers and lists of them, as text or binary in
 * either byte order. Whatever else the elements hold is passed over. Strict: the data must be as the header says, every
 * index must lie among the vertices, a file that ends early is refused.
 */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { Faces, type OddNumber, Points, refusePoints, refuseTooManyPoints } from './faces.ts';
import { BinaryData, itemName, type PlyData, TextData } from './ply-data.ts';
import { type Element, type PlyHeader, type Property, plural, REPAIR, readPlyHeader, SIZE, shown } from './ply-header.ts';
import { refuseTooMany, type Soup } from './soup.ts';
import { DecimalMarks, TextTokens } from './tokens.ts';

const AXES = ['x', 'y', 'z'];

/** Elements that hold triangles, and the names of their lists of corners. */
const FACES = ['face', 'tristrips'];
const CORNERS = ['vertex_indices', 'vertex_index'];

/** Fewer stray bytes than this at the end of binary data are padding, not lost data. */
const PADDING = 16;

/** In a strip: the next number begins another strip. The second is -1 in 32 bits without sign. */
const restarts = (v: number): boolean => v === -1 || v === 0xffffffff;

/**
 * Reads a PLY file. Corners are in the file's own unit, as written, in file order.
 * @throws Fault that names the line, or the byte of a binary file, of what cannot be read.
 */
export function readPly(bytes: Uint8Array): Soup {
  return new PlyReader(bytes, readPlyHeader(bytes)).read();
}

class PlyReader {
  readonly #bytes: number;
  readonly #header: PlyHeader;
  readonly #text: TextTokens | undefined;
  readonly #data: PlyData;
  readonly #marks = new DecimalMarks();
  readonly #findings: Finding[] = [];
  readonly #vertex: Element;
  /** Of each property of a vertex: its axis, -1 for none. */
  readonly #axes: readonly number[];
  readonly #points: Points;
  readonly #xyz = [0, 0, 0];
  readonly #odd: (OddNumber | undefined)[] = [undefined, undefined, undefined];
  #faces: Faces;

  constructor(bytes: Uint8Array, header: PlyHeader) {
    this.#bytes = bytes.length;
    this.#header = header;
    this.#vertex = settleElements(header.elements);
    this.#axes = this.#vertex.properties.map((p) => AXES.indexOf(p.name));
    const { encoding, start, line } = header;
    this.#text = encoding === 'ascii' ? new TextTokens(bytes, start, line) : undefined;
    this.#data = this.#text ? new TextData(this.#text, bytes.length) : new BinaryData(bytes, start, encoding === 'little');
    for (const e of header.elements) this.#checkRoom(e);
    refuseTooManyPoints(this.#vertex.count);
    const faces = header.elements.find((e) => e.name === 'face')?.count ?? 0;
    refuseTooMany(faces);
    this.#points = new Points(this.#vertex.count);
    this.#faces = this.#newFaces(faces);
  }

  read(): Soup {
    for (const element of this.#header.elements) {
      this.#checkRoom(element);
      if (element.properties.length === 0) continue; // nothing of it is in the data
      for (let i = 0; i < element.count; i++) this.#item(element, i);
    }
    if (this.#text) this.#textLeft(this.#text);
    else this.#bytesLeft();
    this.#marks.settle(this.#findings, REPAIR);
    const single = !this.#text && this.#vertex.properties.some((p) => AXES.includes(p.name) && p.type === 'float32');
    return this.#faces.soup(this.#points, { format: 'ply', single }, this.#findings);
  }

  #newFaces(guess: number): Faces {
    return new Faces(this.#text ? 'line' : 'face', guess);
  }

  /** A claim that what is left of the file cannot hold costs nothing. */
  #checkRoom(element: Element): void {
    const { left } = this.#data;
    const least = element.properties.reduce((n, p) => n + (this.#text ? 2 : SIZE[p.count ?? p.type]), 0);
    const ending = this.#text ? 1 : 0; // the last number needs no blank after it
    if (least * element.count <= left + ending) return;
    throw new Fault(
      'scan/truncated',
      `the header says ${element.claim} ${plural(shown(element.name))}, the file has ${grouped(this.#bytes)} bytes: room for ${grouped(Math.floor((left + ending) / least))}`,
      `line ${element.line}`,
      'Either the file was cut off, or it is damaged: export or copy it again.',
    );
  }

  #item(element: Element, index: number): void {
    const data = this.#data;
    const isVertex = element === this.#vertex;
    const corners = cornersOf(element);
    data.begin(element, index);
    for (let k = 0; k < element.properties.length; k++) {
      const p = element.properties[k] as Property;
      if (p.count !== undefined) {
        const n = data.count(p.count, p.type);
        if (p !== corners) data.skip(p.type, n);
        else if (element.name === 'face') this.#face(element, index, p, n);
        else this.#strip(element, index, p, n);
        continue;
      }
      const x = data.number(p.type);
      const axis = isVertex ? (this.#axes[k] as number) : -1;
      if (axis >= 0) this.#coordinate(axis, x);
    }
    data.end();
    if (isVertex) for (let k = 0; k < 3; k++) this.#points.push(this.#xyz[k] as number, this.#odd[k]);
  }

  #coordinate(axis: number, x: number): void {
    if (this.#text) this.#marks.note(this.#text);
    this.#xyz[axis] = x;
    this.#odd[axis] = this.#data.odd;
  }

  #face(element: Element, index: number, p: Property, n: number): void {
    this.#faces.begin(this.#data.line ?? index + 1);
    for (let k = 0; k < n; k++) this.#faces.corner(this.#point(this.#data.number(p.type), element, index));
    this.#faces.end();
  }

  /** Each corner makes a triangle with the two before it, every other one the other way round. Triangles with a corner twice only lead on. */
  #strip(element: Element, index: number, p: Property, n: number): void {
    let [a, b, seen] = [0, 0, 0];
    for (let k = 0; k < n; k++) {
      const next = this.#data.number(p.type);
      if (restarts(next)) {
        seen = 0;
        continue;
      }
      const c = this.#point(next, element, index);
      if (seen >= 2 && a !== b && b !== c && c !== a) {
        if (seen % 2 === 0) this.#faces.triangle(a, b, c);
        else this.#faces.triangle(b, a, c);
      }
      a = b;
      b = c;
      seen++;
    }
  }

  /** An index of the file, checked. */
  #point(v: number, element: Element, index: number): number {
    const { count } = this.#vertex;
    if (v >= 0 && v < count && Number.isInteger(v)) return v;
    const there = count === 0 ? 'there are none' : `there are ${grouped(count)} (0 to ${grouped(count - 1)})`;
    throw new Fault(
      'scan/syntax',
      `${itemName(element, index)} uses vertex ${v}, ${Number.isInteger(v) ? `but ${there}` : 'not a whole number'}`,
      this.#data.where,
      REPAIR,
    );
  }

  /** Text after the last element: numbers would be items that the header does not count. */
  #textLeft(words: TextTokens): void {
    if (!words.next()) return;
    if (words.number() !== undefined) throw this.#miscounted();
    this.#findings.push({
      code: 'scan/trailing-bytes',
      level: 'warning',
      text: `Line ${words.line}: '${words.text()}' and all after it ignored, the data end there.`,
    });
  }

  #bytesLeft(): void {
    const { left } = this.#data;
    if (left === 0) return;
    if (this.#facesLeft()) throw this.#miscounted();
    this.#findings.push({
      code: 'scan/trailing-bytes',
      level: left < PADDING ? 'note' : 'warning',
      text: `${counted(left, 'byte')} after the last ${shown(this.#last().name)} ignored.`,
      count: left,
    });
  }

  /** Does a whole face lie after the last one that the header counts? */
  #facesLeft(): boolean {
    const last = this.#last();
    if (last.name !== 'face') return false;
    const kept = this.#faces;
    this.#faces = this.#newFaces(1);
    try {
      this.#item(last, last.count);
      return this.#faces.triangles > 0;
    } catch (e) {
      if (e instanceof Fault) return false;
      throw e;
    } finally {
      this.#faces = kept;
    }
  }

  #last(): Element {
    return this.#header.elements.findLast((e) => e.properties.length > 0) as Element;
  }

  #miscounted(): Fault {
    const last = this.#last();
    return new Fault(
      'scan/count',
      `the header says ${last.claim} ${plural(shown(last.name))}, but more follow`,
      this.#data.where,
      'The header or the data are damaged: export the scan again.',
    );
  }
}

/** The element of the vertices, when the header has what makes a surface. */
function settleElements(elements: readonly Element[]): Element {
  const vertex = elements.find((e) => e.name === 'vertex');
  const faces = elements.filter((e) => FACES.includes(e.name) && e.count > 0);
  if (faces.length === 0) refusePoints(vertex?.count ?? 0);
  if (vertex === undefined) throw lacking("the header has no element 'vertex'", faces[0] as Element);
  for (const axis of AXES) {
    const p = vertex.properties.find((q) => q.name === axis);
    if (p === undefined) throw lacking(`the element 'vertex' has no property '${axis}'`, vertex);
    if (p.count !== undefined) throw lacking(`the property '${axis}' of the element 'vertex' is a list`, vertex);
  }
  for (const f of faces) if (cornersOf(f) === undefined) throw lacking(`the element '${f.name}' has no list '${CORNERS[0]}'`, f);
  return vertex;
}

const lacking = (found: string, element: Element): Fault => new Fault('scan/syntax', found, `line ${element.line}`, REPAIR);

/** The list of a face's or strip's corners; undefined for other elements. */
const cornersOf = (element: Element): Property | undefined =>
  FACES.includes(element.name) ? element.properties.find((p) => CORNERS.includes(p.name) && p.count !== undefined) : undefined;
