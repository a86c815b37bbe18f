/**
 * 3MF: a zip package with a model in XML. Read are the bodies that the build's items place, through components and
 * their matrices, with support left out; nothing else that lies in the file.
 */
import { Fault } from '../../model/fault.ts';
import type { Finding, Unit } from '../../model/scan.ts';
import { counted } from '../wording.ts';
import { Corners } from './corners.ts';
import { type Affine, apply, composed, determinant, IDENTITY, isSingular, mirrored } from './matrix.ts';
import { findNotFinite, refuseEmpty, refuseTooMany, type Soup } from './soup.ts';
import { type MfModel, type MfObject, readModel, type Use } from './threemf-model.ts';
import { entryNameOf, findModel } from './threemf-package.ts';
import { shown, Zip } from './zip.ts';

/** Unit and how many of it. */
const UNITS: Readonly<Record<string, readonly [Unit, number]>> = {
  micron: ['um', 1],
  millimeter: ['mm', 1],
  centimeter: ['cm', 1],
  inch: ['inch', 1],
  foot: ['inch', 12],
  meter: ['m', 1],
};

/** Components of components. */
const DEEPEST = 64;

/** @throws Fault for anything that is not read whole: a package without a model, damage, loops, unknown objects ... */
export function read3mf(bytes: Uint8Array): Soup {
  return new Assembly(new Zip(bytes)).build();
}

class Assembly {
  readonly #zip: Zip;
  readonly #findings: Finding[] = [];
  readonly #models = new Map<string, MfModel>();
  /** Triangles that an object comes to with all its components; 'open' while they are counted. */
  readonly #counts = new Map<MfObject, number | 'open'>();
  /** What an object with components is made of, as far as there are triangles in it. */
  readonly #parts = new Map<MfObject, readonly { object: MfObject; matrix: Affine }[]>();
  readonly #support = new Set<MfObject>();
  readonly #empty = new Set<MfObject>();
  #unit = '';
  #scale = 1;
  #corners = new Corners(1);
  readonly #mirrored = { bodies: 0, triangles: 0 };

  constructor(zip: Zip) {
    this.#zip = zip;
  }

  build(): Soup {
    const entry = findModel(this.#zip, this.#findings);
    const root = this.#load(entry.name);
    const [unit, scale] = this.#settleUnit(root);
    this.#scale = scale;
    const items = this.#settleItems(root);
    const total = items.reduce((sum, item) => sum + this.#count(this.#objectOf(item, root), 0), 0);
    refuseTooMany(total);
    if (total === 0) throw this.#noTriangles();
    this.#corners = new Corners(total);
    for (const item of items) {
      const object = this.#objectOf(item, root);
      if (this.#counts.get(object) !== 0) this.#place(object, item.matrix);
    }
    this.#tellRest(root, items);
    const corners = this.#corners.take();
    const bad = findNotFinite(corners)[0];
    if (bad !== undefined) {
      throw new Fault(
        'scan/not-finite',
        'the matrices in this 3MF move a body beyond all numbers',
        `triangle ${bad.triangle + 1}`,
        'Export the scan again, or as STL.',
      );
    }
    return { format: '3mf', unit, corners, triangles: total, single: false, findings: this.#findings };
  }

  /** A model part, read once. */
  #load(name: string): MfModel {
    const entry = this.#zip.named(name);
    if (entry === undefined)
      throw new Fault('scan/no-model', `model part ${shown(name)} is not in this 3MF`, '', 'Export the scan again, or as STL.');
    let model = this.#models.get(entry.name);
    if (model === undefined) {
      model = readModel(this.#zip.open(entry), entry.name);
      this.#models.set(entry.name, model);
      for (const extension of model.unknown) {
        this.#findings.push({
          code: 'scan/extension',
          level: 'warning',
          text: `${shown(entry.name)} requires the extension ${extension}, which is not read: the shape may differ from what was meant.`,
        });
      }
      if (this.#unit !== '' && model.unit !== this.#unit) {
        throw new Fault(
          'scan/unit',
          `parts in two units: ${shown(this.#unit)}, and ${shown(model.unit)} in ${shown(entry.name)}`,
          '',
          'Export the scan again, or as STL.',
        );
      }
    }
    return model;
  }

  #settleUnit(root: MfModel): readonly [Unit, number] {
    this.#unit = root.unit;
    const unit = Object.hasOwn(UNITS, root.unit) ? UNITS[root.unit] : undefined;
    if (unit === undefined) {
      throw new Fault(
        'scan/syntax',
        `unit '${shown(root.unit)}' is none of ${Object.keys(UNITS).join(', ')}`,
        shown(root.part),
        'Export the scan again, or as STL.',
      );
    }
    if (unit[1] !== 1)
      this.#findings.push({ code: 'scan/unit', level: 'note', text: `The file states '${root.unit}': read as ${unit[1]} inches each.` });
    return unit;
  }

  #settleItems(root: MfModel): readonly Use[] {
    if (root.items === undefined || root.items.length === 0) {
      throw new Fault(
        'scan/no-triangles',
        `this 3MF builds nothing: it has ${root.items === undefined ? 'no build element' : 'no items in its build element'} (${counted(root.objects.size, 'object')} in it)`,
        shown(root.part),
        'Export the scan again with the body in the build, or as STL.',
      );
    }
    const items = root.items.filter((item) => item.printable);
    const off = root.items.length - items.length;
    if (items.length === 0) {
      throw new Fault(
        'scan/no-triangles',
        `all ${counted(off, 'item')} of this 3MF are marked as not to be printed`,
        shown(root.part),
        'Export the scan again with the body switched on.',
      );
    }
    if (off > 0) this.#leftOut(`${counted(off, 'item')} marked as not to be printed`, off);
    if (items.length > 1)
      this.#findings.push({
        code: 'scan/solids',
        level: 'note',
        text: `The file places ${items.length} items; all are read.`,
        count: items.length,
      });
    return items;
  }

  #objectOf(use: Use, from: MfModel): MfObject {
    const model = use.path === undefined ? from : this.#load(entryNameOf(use.path));
    const object = model.objects.get(use.id);
    if (object === undefined) {
      throw new Fault(
        'scan/syntax',
        `object ${use.id} is used, but there is none in ${shown(model.part)}`,
        use.place,
        'Export the scan again, or as STL.',
      );
    }
    return object;
  }

  /** Counted before anything is placed, each object once: a few lines of components can come to any number of triangles. */
  #count(object: MfObject, depth: number): number {
    const known = this.#counts.get(object);
    if (known === 'open') throw this.#loop(object, 'contains itself');
    if (known !== undefined) return known;
    if (depth > DEEPEST) throw this.#loop(object, `lies more than ${DEEPEST} components deep`);
    this.#counts.set(object, 'open');
    const triangles = object.components.length > 0 ? this.#countParts(object, depth) : this.#countMesh(object);
    this.#counts.set(object, triangles);
    return triangles;
  }

  #countParts(object: MfObject, depth: number): number {
    const parts: { object: MfObject; matrix: Affine }[] = [];
    let triangles = 0;
    for (const use of object.components) {
      const part = this.#objectOf(use, this.#models.get(object.part) as MfModel);
      const more = this.#count(part, depth + 1);
      if (more > 0) parts.push({ object: part, matrix: use.matrix });
      triangles += more;
    }
    refuseTooMany(triangles); // here already: level upon level it would outgrow all numbers
    this.#parts.set(object, parts);
    return triangles;
  }

  /** The type of an object with components is ignored: that of what it is made of counts (3MF Core, chapter 4). */
  #countMesh(object: MfObject): number {
    if (object.type === 'support' || object.type === 'solidsupport' || object.type === 'other') {
      this.#support.add(object);
      return 0;
    }
    if (object.triangles.length === 0) this.#empty.add(object);
    return object.triangles.length / 3;
  }

  #loop(object: MfObject, what: string): Fault {
    return new Fault('scan/syntax', `object ${object.id} ${what}`, object.place, 'Export the scan again, or as STL.');
  }

  /** Writes an object's triangles. Its depth is bounded, and its size: both were counted, and what is empty is not met again. */
  #place(object: MfObject, matrix: Affine): void {
    const parts = this.#parts.get(object);
    if (parts === undefined) this.#placeMesh(object, matrix);
    else for (const part of parts) this.#place(part.object, composed(part.matrix, matrix));
  }

  #placeMesh(object: MfObject, matrix: Affine): void {
    if (isSingular(matrix)) throw this.#loop(object, 'is flattened to nothing by its matrices together');
    const points = this.#moved(object.points, matrix);
    const turn = determinant(matrix) < 0;
    const t = object.triangles;
    for (let i = 0; i < t.length; i += 3) {
      const [a, b, c] = [t[i], t[i + 1], t[i + 2]] as [number, number, number];
      this.#corners.triangle(points, a, turn ? c : b, turn ? b : c);
    }
    if (!turn) return;
    this.#mirrored.bodies++;
    this.#mirrored.triangles += t.length / 3;
  }

  #moved(points: Float64Array, matrix: Affine): Float64Array {
    if (matrix === IDENTITY && this.#scale === 1) return points;
    const moved = new Float64Array(points.length);
    for (let i = 0; i < points.length; i += 3)
      apply(matrix, points[i] as number, points[i + 1] as number, points[i + 2] as number, moved, i);
    if (this.#scale !== 1) for (let i = 0; i < moved.length; i++) moved[i] = this.#scale * (moved[i] as number);
    return moved;
  }

  #leftOut(what: string, count: number): void {
    this.#findings.push({ code: 'scan/left-out', level: 'note', text: `Left out: ${what}.`, count });
  }

  #tellRest(root: MfModel, items: readonly Use[]): void {
    const support = this.#support.size;
    if (support > 0) this.#leftOut(`${counted(support, 'object')} of support, or of type 'other'`, support);
    const unused = [...root.objects.values()].filter((o) => !this.#counts.has(o)).length;
    if (unused > 0 && items.length > 0) this.#leftOut(`${counted(unused, 'object')} that nothing in the build uses`, unused);
    const { bodies, triangles } = this.#mirrored;
    if (bodies > 0) this.#findings.push(mirrored(bodies === 1 ? 'A body is' : `${bodies} bodies are`, triangles));
    for (const o of [...this.#empty, ...this.#withMore()]) {
      const what = o.triangles.length === 0 ? 'has no triangles' : 'has more than its triangles';
      const why = o.foreign.length > 0 ? `: ${shown(o.foreign.join(', '))} of an extension is not read` : '';
      this.#findings.push({ code: 'scan/extension', level: 'warning', text: `Object ${o.id} ${what}${why}.` });
    }
  }

  /** Objects in use with a beam lattice or the like beside their triangles. */
  #withMore(): MfObject[] {
    const named = (o: MfObject): boolean => o.foreign.some((name) => SHAPES.test(name));
    return [...this.#counts.keys()].filter((o) => o.triangles.length > 0 && !this.#support.has(o) && named(o));
  }

  #noTriangles(): Fault {
    const [empty] = this.#empty;
    if (empty === undefined && this.#support.size === 0) refuseEmpty();
    const found =
      empty === undefined
        ? `no triangles in file but those of support (${counted(this.#support.size, 'object')})`
        : `no triangles in object ${empty.id}${empty.foreign.length > 0 ? `: it is made of ${shown(empty.foreign.join(', '))}, which is not read` : ''}`;
    return new Fault('scan/no-triangles', found, (empty ?? [...this.#support][0])?.place ?? '', 'Export the scan as a mesh of triangles.');
  }
}

/** Elements of extensions that add to the shape or change it. */
const SHAPES = /^(beamlattice|booleanshape|displacementmesh|levelset|volumetricstack|volumedata)$/i;
