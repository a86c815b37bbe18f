/**
 * The numbers of a glTF file: buffers, the views into them, and the accessors that say what the bytes mean. They are
 * read where they lie, one at a time; what the JSON claims is checked against the bytes that are there.
 */
import { Fault } from '../../model/fault.ts';
import { counted, grouped } from '../wording.ts';
import type { GltfAccessor, GltfFile } from './gltf-json.ts';
import { shown } from './zip.ts';

const AGAIN = 'Export the scan again, or as STL.';

/** By component type: bytes, how to read one, and what a normalised one is divided by. */
interface Kind {
  readonly size: number;
  readonly read: (view: DataView, at: number) => number;
  readonly one: number;
}
const KINDS: Readonly<Record<GltfAccessor['componentType'], Kind>> = {
  5120: { size: 1, read: (v, at) => v.getInt8(at), one: 127 },
  5121: { size: 1, read: (v, at) => v.getUint8(at), one: 255 },
  5122: { size: 2, read: (v, at) => v.getInt16(at, true), one: 32_767 },
  5123: { size: 2, read: (v, at) => v.getUint16(at, true), one: 65_535 },
  5125: { size: 4, read: (v, at) => v.getUint32(at, true), one: 1 },
  5126: { size: 4, read: (v, at) => v.getFloat32(at, true), one: 1 },
};

/** A list of numbers: `each` of them an element. */
export interface Numbers {
  readonly count: number;
  /** Component k of element i. The caller has checked i. */
  at(i: number, k: number): number;
}

/** All sparse replacements of a file together: they are the one thing that is copied. */
const MOST_SPARSE = 1_000_000;

export class Buffers {
  readonly #file: GltfFile;
  readonly #bin: Uint8Array | undefined;
  readonly #buffers = new Map<number, DataView>();
  readonly #accessors = new Map<number, Numbers>();
  #sparse = 0;

  /** `bin`: the binary chunk of a GLB. */
  constructor(file: GltfFile, bin: Uint8Array | undefined) {
    this.#file = file;
    this.#bin = bin;
  }

  /** Points: three floats each, or whole numbers (KHR_mesh_quantization). `path` is where the JSON asks for them. */
  points(index: number, path: string): Numbers {
    const accessor = this.#accessor(index, path);
    if (accessor.type !== 'VEC3' || accessor.componentType === 5125) {
      throw fault(
        `positions are ${shown(accessor.type)} of component type ${accessor.componentType}; VEC3 of floats needed`,
        `/accessors/${index}`,
      );
    }
    return this.#numbers(index, accessor, 3);
  }

  /** Vertex numbers: unsigned bytes, shorts or ints. */
  indices(index: number, path: string): Numbers {
    const accessor = this.#accessor(index, path);
    if (accessor.type !== 'SCALAR' || ![5121, 5123, 5125].includes(accessor.componentType)) {
      throw fault(
        `indices are ${shown(accessor.type)} of component type ${accessor.componentType}; SCALAR of unsigned numbers needed`,
        `/accessors/${index}`,
      );
    }
    return this.#numbers(index, accessor, 1);
  }

  /** Is the accessor without any bytes of its own? */
  isBare(index: number): boolean {
    const accessor = this.#file.accessors[index];
    return accessor !== undefined && accessor.bufferView === undefined && accessor.sparse === undefined;
  }

  #accessor(index: number, path: string): GltfAccessor {
    const accessor = this.#file.accessors[index];
    if (accessor === undefined) throw missing('accessor', index, this.#file.accessors.length, path);
    return accessor;
  }

  #numbers(index: number, accessor: GltfAccessor, each: number): Numbers {
    const known = this.#accessors.get(index);
    if (known !== undefined) return known;
    const kind = KINDS[accessor.componentType];
    // A normalised number stands for a share of one, signed ones down to exactly -1.
    const scaled = accessor.normalized && each === 3 && kind.one > 1;
    const value = scaled ? (view: DataView, at: number): number => Math.max(-1, kind.read(view, at) / kind.one) : kind.read;
    const base = this.#base(index, accessor, kind, each, value);
    const numbers = accessor.sparse === undefined ? base : this.#replaced(index, accessor, accessor.sparse, kind, each, base, value);
    this.#accessors.set(index, numbers);
    return numbers;
  }

  #base(index: number, accessor: GltfAccessor, kind: Kind, each: number, value: Kind['read']): Numbers {
    const { count } = accessor;
    if (accessor.bufferView === undefined) return { count, at: () => 0 }; // zeros, says the standard
    const path = `/accessors/${index}`;
    const { view, stride } = this.#view(accessor.bufferView, path);
    const step = stride ?? each * kind.size;
    if (step < each * kind.size)
      throw fault(`byteStride ${step} is less than an element (${each * kind.size} bytes)`, `/bufferViews/${accessor.bufferView}`);
    const end = accessor.byteOffset + step * (count - 1) + each * kind.size;
    if (end > view.byteLength)
      throw fault(
        `${counted(count, 'element')} need ${counted(end, 'byte')}, buffer view ${accessor.bufferView} has ${grouped(view.byteLength)}`,
        path,
      );
    return { count, at: (i, k) => value(view, accessor.byteOffset + i * step + k * kind.size) };
  }

  /** A sparse accessor: some elements stand elsewhere, listed by number. */
  #replaced(
    index: number,
    accessor: GltfAccessor,
    sparse: NonNullable<GltfAccessor['sparse']>,
    kind: Kind,
    each: number,
    base: Numbers,
    value: Kind['read'],
  ): Numbers {
    const path = `/accessors/${index}/sparse`;
    this.#sparse += sparse.count;
    if (this.#sparse > MOST_SPARSE) throw new Fault('scan/too-large', `more than ${grouped(MOST_SPARSE)} sparse elements`, path, AGAIN);
    const where = this.#dense(sparse.indices, sparse.count, KINDS[sparse.indices.componentType].size, `${path}/indices`);
    const values = this.#dense(sparse.values, sparse.count, each * kind.size, `${path}/values`);
    const read = KINDS[sparse.indices.componentType];
    const moved = new Map<number, number>();
    for (let n = 0; n < sparse.count; n++) {
      const i = read.read(where, sparse.indices.byteOffset + n * read.size);
      if (i >= accessor.count) throw fault(`sparse element ${n} replaces element ${i} of ${accessor.count}`, `${path}/indices`);
      moved.set(i, sparse.values.byteOffset + n * each * kind.size);
    }
    return {
      count: accessor.count,
      at: (i, k) => {
        const at = moved.get(i);
        return at === undefined ? base.at(i, k) : value(values, at + k * kind.size);
      },
    };
  }

  #dense(of: { bufferView: number; byteOffset: number }, count: number, size: number, path: string): DataView {
    const { view } = this.#view(of.bufferView, path);
    const end = of.byteOffset + count * size;
    if (end > view.byteLength)
      throw fault(
        `${counted(count, 'element')} need ${counted(end, 'byte')}, buffer view ${of.bufferView} has ${grouped(view.byteLength)}`,
        path,
      );
    return view;
  }

  #view(index: number, asked: string): { view: DataView; stride: number | undefined } {
    const of = this.#file.bufferViews[index];
    if (of === undefined) throw missing('buffer view', index, this.#file.bufferViews.length, asked);
    const path = `/bufferViews/${index}`;
    const packed = Object.keys(of.extensions ?? {}).find((name) => /meshopt/i.test(name));
    if (packed !== undefined) throw compressed(packed, path);
    const buffer = this.#buffer(of.buffer, path);
    const end = of.byteOffset + of.byteLength;
    if (end > buffer.byteLength)
      throw fault(`the view ends at byte ${grouped(end)}, buffer ${of.buffer} has ${grouped(buffer.byteLength)}`, path);
    return { view: new DataView(buffer.buffer, buffer.byteOffset + of.byteOffset, of.byteLength), stride: of.byteStride };
  }

  #buffer(index: number, asked: string): DataView {
    const known = this.#buffers.get(index);
    if (known !== undefined) return known;
    const of = this.#file.buffers[index];
    if (of === undefined) throw missing('buffer', index, this.#file.buffers.length, asked);
    const path = `/buffers/${index}`;
    const bytes = of.uri === undefined ? this.#chunk(index, path) : fromUri(of.uri, `${path}/uri`);
    if (bytes.length < of.byteLength) {
      throw new Fault(
        'scan/truncated',
        `buffer ${index} says ${counted(of.byteLength, 'byte')} and has ${grouped(bytes.length)}`,
        path,
        AGAIN,
      );
    }
    const view = new DataView(bytes.buffer, bytes.byteOffset, of.byteLength);
    this.#buffers.set(index, view);
    return view;
  }

  #chunk(index: number, path: string): Uint8Array {
    if (index === 0 && this.#bin !== undefined) return this.#bin;
    throw fault(`buffer ${index} has no bytes: neither a uri nor a binary chunk`, path);
  }
}

/** Refuses geometry that is packed in a way that is not read. */
export const compressed = (extension: string, path: string): Fault =>
  new Fault(
    'scan/other-format',
    `the mesh is compressed by ${shown(extension)}, which is not read`,
    path,
    'Export the scan without compression, or as STL.',
  );

export const missing = (what: string, index: number, has: number, path: string): Fault =>
  fault(`${what} ${index} is asked for, there ${has === 1 ? 'is' : 'are'} ${has}`, path);

const fault = (found: string, path: string): Fault => new Fault('scan/syntax', found, path, AGAIN);

/** Data that stands in the file itself. Other files are not fetched: a scan is one file. */
function fromUri(uri: string, path: string): Uint8Array {
  const comma = uri.indexOf(',');
  if (!/^data:/i.test(uri)) {
    throw new Fault(
      'scan/other-files',
      `the numbers are in another file, '${shown(uri)}'`,
      path,
      'Export the scan as GLB: it holds everything in one file.',
    );
  }
  if (comma < 0 || !/;base64$/i.test(uri.slice(0, comma))) throw fault('a data: uri that is not base64', path);
  return fromBase64(uri, comma + 1, path);
}

const DIGITS = new Int8Array(128).fill(-1);
for (const [i, c] of [...'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/'].entries()) DIGITS[c.charCodeAt(0)] = i;
DIGITS['-'.charCodeAt(0)] = 62; // as in addresses
DIGITS['_'.charCodeAt(0)] = 63;

function fromBase64(text: string, from: number, path: string): Uint8Array {
  let end = text.length;
  while (end > from && text.charCodeAt(end - 1) === 0x3d) end--;
  const out = new Uint8Array(Math.floor(((end - from) * 3) / 4));
  let n = 0;
  let hold = 0;
  let bits = 0;
  for (let i = from; i < end; i++) {
    const c = text.charCodeAt(i);
    if (c === 0x0a || c === 0x0d || c === 0x20 || c === 0x09) continue;
    const digit = c < 128 ? (DIGITS[c] as number) : -1;
    if (digit < 0) throw fault(`'${shown(text[i] as string)}' is no base64 digit (character ${grouped(i + 1)})`, path);
    hold = ((hold << 6) | digit) & 0xffff;
    bits += 6;
    if (bits < 8) continue;
    bits -= 8;
    out[n++] = hold >> bits;
  }
  return out.subarray(0, n);
}
