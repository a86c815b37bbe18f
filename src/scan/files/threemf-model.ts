/**
 * One model part of a 3MF package: unit, objects (meshes or components) and build items, as they stand in the XML.
 * Source: 3MF Core Specification 1.3, chapters 3 and 4; path attributes from the Production Extension.
 */
import { Corners } from './corners.ts';
import { type Affine, affineOf, IDENTITY, isSingular } from './matrix.ts';
import { MOST_TRIANGLES, refuseTooMany } from './soup.ts';
import { XmlReader } from './xml.ts';
import { type Source, shown } from './zip.ts';

/** The core's namespace, and the one that it had before it was published. */
const CORE = ['http://schemas.microsoft.com/3dmanufacturing/core/2015/02', 'http://schemas.microsoft.com/3dmanufacturing/2013/01', ''];

export const PRODUCTION = 'http://schemas.microsoft.com/3dmanufacturing/production/2015/06';

/** Extensions without a say in the shape of a mesh: materials, and names for groups of triangles. Production is read. */
const HARMLESS = [
  PRODUCTION,
  'http://schemas.microsoft.com/3dmanufacturing/material/2015/02',
  'http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07',
];

/** A use of an object: as a component of another or as an item of the build. */
export interface Use {
  readonly id: number;
  /** Of another model part, where the object is not in this one. */
  readonly path: string | undefined;
  readonly matrix: Affine;
  readonly printable: boolean;
  readonly place: string;
}

export interface MfObject {
  readonly id: number;
  /** The name of its model part in the archive. */
  readonly part: string;
  readonly place: string;
  readonly type: string;
  /** x y z of each vertex. */
  readonly points: Float64Array;
  /** Three vertex numbers each. All within the points. */
  readonly triangles: Float64Array;
  readonly components: readonly Use[];
  /** Elements of extensions in it, which are not read: "beamlattice". */
  readonly foreign: readonly string[];
}

export interface MfModel {
  readonly part: string;
  /** As written: "millimeter". */
  readonly unit: string;
  readonly objects: ReadonlyMap<number, MfObject>;
  /** Undefined without a build element. */
  readonly items: readonly Use[] | undefined;
  /** Extensions that the file requires and that are not known. */
  readonly unknown: readonly string[];
}

/** Reads a part. @throws Fault with the part's name and the line */
export const readModel = (source: Source, part: string): MfModel => new ModelReader(source, part).read();

class ModelReader {
  readonly #xml: XmlReader;
  readonly #part: string;
  readonly #objects = new Map<number, MfObject>();
  #core = '';
  #items: Use[] | undefined;
  #total = 0; // triangles of all meshes

  constructor(source: Source, part: string) {
    this.#part = part;
    this.#xml = new XmlReader(source, shown(part));
  }

  read(): MfModel {
    const xml = this.#xml;
    if (xml.next() !== 'open' || !xml.is('model') || !CORE.includes(xml.space)) {
      throw xml.fault(`the root element is '${shown(xml.name())}', 'model' of the 3MF core needed`);
    }
    this.#core = xml.space;
    const unit = this.#text('unit') ?? 'millimeter';
    const unknown = (this.#text('requiredextensions') ?? '')
      .split(/\s+/)
      .filter((prefix) => prefix !== '' && !HARMLESS.includes(xml.spaceOf(prefix) ?? ''))
      .map((prefix) => `'${shown(prefix)}' (${shown(xml.spaceOf(prefix) ?? 'not declared')})`);
    this.#children((name) => {
      if (name === 'resources') this.#children((inner) => this.#resource(inner));
      else if (name === 'build') this.#build();
      else xml.skip();
    });
    while (xml.next() !== 'end');
    return { part: this.#part, unit, objects: this.#objects, items: this.#items, unknown };
  }

  /** Calls `each` with every core element within the one that is open; it must read that element to its end. Others: `foreign`. */
  #children(each: (name: string) => void, foreign: (name: string) => void = () => {}): void {
    while (this.#xml.next() === 'open') {
      if (this.#xml.space === this.#core) each(this.#xml.name());
      else {
        foreign(this.#xml.name());
        this.#xml.skip();
      }
    }
  }

  #resource(name: string): void {
    if (name === 'object') this.#object();
    else this.#xml.skip();
  }

  #object(): void {
    const place = this.#xml.place();
    const id = this.#id('id');
    if (this.#objects.has(id)) throw this.#xml.fault(`a second object ${id}`);
    const type = this.#text('type') ?? 'model';
    if (!['model', 'solidsupport', 'support', 'surface', 'other'].includes(type))
      throw this.#xml.fault(`object ${id} is of unknown type '${shown(type)}'`);
    const foreign: string[] = [];
    let mesh: { points: Float64Array; triangles: Float64Array } | undefined;
    let components: Use[] | undefined;
    this.#children(
      (name) => {
        if (name !== 'mesh' && name !== 'components') return this.#xml.skip();
        if (mesh !== undefined || components !== undefined) throw this.#xml.fault(`object ${id} has a second body ('${name}')`);
        if (name === 'mesh') mesh = this.#mesh(id, foreign);
        else components = this.#uses('component', `object ${id}`);
      },
      (name) => foreign.push(name),
    );
    const { points, triangles } = mesh ?? { points: new Float64Array(0), triangles: new Float64Array(0) };
    this.#objects.set(id, { id, part: this.#part, place, type, points, triangles, components: components ?? [], foreign });
  }

  #mesh(id: number, foreign: string[]): { points: Float64Array; triangles: Float64Array } {
    const points = new Corners(1);
    const triangles = new Corners(1);
    this.#children(
      (name) => {
        if (name === 'vertices') this.#numbers('vertex', ['x', 'y', 'z'], points, (a) => this.#coordinate(a));
        else if (name === 'triangles') this.#numbers('triangle', ['v1', 'v2', 'v3'], triangles, (a) => this.#index(a));
        else this.#xml.skip();
      },
      (name) => foreign.push(name),
    );
    this.#total += triangles.length / 3;
    const uses = triangles.take();
    const vertices = points.length / 3;
    const bad = uses.findIndex((v) => v >= vertices);
    if (bad >= 0) {
      const range = vertices === 0 ? 'it has none' : `it has ${vertices} (0 to ${vertices - 1})`;
      throw this.#xml.fault(`triangle ${Math.floor(bad / 3) + 1} of object ${id} uses vertex ${uses[bad]}, ${range}`);
    }
    return { points: points.take(), triangles: uses };
  }

  /** The three numbers of each element of this name. The hot loop: by far most of a file is read here. */
  #numbers(element: string, names: readonly string[], out: Corners, read: (attribute: string) => number): void {
    const xml = this.#xml;
    while (xml.next() === 'open') {
      if (xml.space === this.#core && xml.is(element)) {
        for (const name of names) out.push(read(name));
        if (element === 'triangle' && out.length / 3 + this.#total > MOST_TRIANGLES) refuseTooMany(out.length / 3 + this.#total);
      }
      xml.skip();
    }
  }

  #coordinate(name: string): number {
    const x = this.#xml.number(this.#need(name));
    if (x === undefined || !Number.isFinite(x)) throw this.#notANumber(name);
    return x;
  }

  #index(name: string): number {
    const v = this.#xml.whole(this.#need(name));
    if (v === undefined) throw this.#xml.fault(`${name}="${shown(this.#text(name) ?? '')}" is not a vertex number`);
    return v;
  }

  #build(): void {
    if (this.#items !== undefined) throw this.#xml.fault('a second build element');
    this.#items = this.#uses('item', 'the build');
  }

  #uses(element: string, of: string): Use[] {
    const uses: Use[] = [];
    this.#children((name) => {
      if (name === element) uses.push(this.#use(`${element} ${uses.length + 1} of ${of}`));
      this.#xml.skip();
    });
    return uses;
  }

  #use(what: string): Use {
    const path = this.#xml.attributeOf(PRODUCTION, 'path');
    return {
      id: this.#id('objectid'),
      path: path < 0 ? undefined : this.#xml.text(path),
      matrix: this.#matrix(what),
      printable: !['0', 'false'].includes((this.#text('printable') ?? '').trim()),
      place: this.#xml.place(),
    };
  }

  #matrix(what: string): Affine {
    const text = this.#text('transform');
    if (text === undefined) return IDENTITY;
    const words = text.split(/[ \t\r\n]+/).filter((w) => w !== '');
    const numbers = words.map((w) => (/^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(w) ? Number(w) : Number.NaN));
    const odd = numbers.findIndex((x) => !Number.isFinite(x));
    if (odd >= 0) throw this.#xml.fault(`the matrix of ${what} holds '${shown(words[odd] as string)}', which is not a number`);
    if (numbers.length !== 12) throw this.#xml.fault(`the matrix of ${what} has ${numbers.length} numbers, needs 12`);
    const matrix = affineOf(numbers);
    if (isSingular(matrix)) throw this.#xml.fault(`the matrix of ${what} is singular: it flattens the body to nothing`);
    return matrix;
  }

  #id(name: string): number {
    const id = this.#xml.whole(this.#need(name));
    if (id === undefined || id === 0) throw this.#xml.fault(`${name}="${shown(this.#text(name) ?? '')}" is not an object number (from 1)`);
    return id;
  }

  #need(name: string): number {
    const at = this.#xml.attribute(name);
    if (at < 0) throw this.#xml.fault(`'${shown(this.#xml.name())}' without its attribute '${name}'`);
    return at;
  }

  #text(name: string): string | undefined {
    const at = this.#xml.attribute(name);
    return at < 0 ? undefined : this.#xml.text(at);
  }

  #notANumber(name: string): Error {
    const text = shown(this.#text(name) ?? '');
    return this.#xml.fault(`${name}="${text}" is not a finite number${text.includes(',') ? ' (comma as decimal mark?)' : ''}`);
  }
}
