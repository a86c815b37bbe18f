/** glTF files for the tests, built number by number. */
import { box, type Solid } from '../support/solids.ts';
import { bytesOf, le } from './readers.ts';

export const FLOAT = 5126;
const TYPES = { 5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4 } as const;
export type Kind = keyof typeof TYPES;

/** A file under construction: numbers are appended to one buffer, each list with its view and accessor. */
export class Draft {
  readonly bytes: number[] = [];
  readonly bufferViews: Record<string, unknown>[] = [];
  readonly accessors: Record<string, unknown>[] = [];

  view(bytes: readonly number[], more: object = {}): number {
    while (this.bytes.length % 4 !== 0) this.bytes.push(0);
    this.bufferViews.push({ buffer: 0, byteOffset: this.bytes.length, byteLength: bytes.length, ...more });
    for (const b of bytes) this.bytes.push(b);
    return this.bufferViews.length - 1;
  }

  list(numbers: readonly number[], kind: Kind, type: 'SCALAR' | 'VEC3', more: object = {}): number {
    const each = type === 'VEC3' ? 3 : 1;
    this.accessors.push({
      bufferView: this.view(packedAs(numbers, kind)),
      componentType: kind,
      count: numbers.length / each,
      type,
      ...more,
    });
    return this.accessors.length - 1;
  }

  amendAccessor(i: number, more: object): this {
    Object.assign(this.accessors[i] as object, more);
    return this;
  }

  amendView(i: number, more: object): this {
    Object.assign(this.bufferViews[i] as object, more);
    return this;
  }

  amendByte(i: number, byte: number): this {
    this.bytes[i] = byte;
    return this;
  }

  /** The JSON: one node with mesh 0 unless said otherwise. `uri` for a text file, none for a GLB. */
  json(meshes: unknown, more: object = {}, uri?: string): Record<string, unknown> {
    const { bytes, bufferViews, accessors } = this;
    const buffer = { byteLength: bytes.length, ...(uri === undefined ? {} : { uri }) };
    return {
      asset: { version: '2.0' },
      scene: 0,
      scenes: [{ nodes: [0] }],
      nodes: [{ mesh: 0 }],
      meshes,
      accessors,
      bufferViews,
      buffers: [buffer],
      ...more,
    };
  }

  glb(meshes: unknown, more: object = {}): Uint8Array {
    return glbOf(this.json(meshes, more), this.bytes);
  }

  uri(): string {
    return `data:application/octet-stream;base64,${Buffer.from(this.bytes).toString('base64')}`;
  }
}

export function packedAs(numbers: readonly number[], kind: Kind): number[] {
  const size = TYPES[kind];
  const bytes = new Uint8Array(size * numbers.length);
  const view = new DataView(bytes.buffer);
  for (const [i, x] of numbers.entries()) {
    if (kind === FLOAT) view.setFloat32(4 * i, x, true);
    else bytes.set(le(x < 0 ? x + 256 ** size : x, size), size * i);
  }
  return [...bytes];
}

export function glbOf(
  json: unknown,
  bin: readonly number[] | undefined,
  more: { length?: number; version?: number; chunks?: number[] } = {},
): Uint8Array {
  const text = [...bytesOf(typeof json === 'string' ? json : JSON.stringify(json))];
  while (text.length % 4 !== 0) text.push(32);
  const body = [...le(text.length, 4), ...le(0x4e4f534a, 4), ...text];
  if (bin !== undefined) {
    const padded = [...bin, ...new Array((4 - (bin.length % 4)) % 4).fill(0)];
    body.push(...le(padded.length, 4), ...le(0x004e4942, 4));
    for (const b of padded) body.push(b);
  }
  body.push(...(more.chunks ?? []));
  return Uint8Array.from([...bytesOf('glTF'), ...le(more.version ?? 2, 4), ...le(more.length ?? 12 + body.length, 4), ...body]);
}

export const CUBE = box([0, 0, 0], [4, 4, 4]);
export const flat = (s: Solid): number[] => s.points.flat();
export const draftOf = (s: Solid, kind: Kind = 5123): Draft => {
  const draft = new Draft();
  draft.list(flat(s), FLOAT, 'VEC3');
  draft.list(s.triangles.flat(), kind, 'SCALAR');
  return draft;
};
export const MESH = [{ primitives: [{ attributes: { POSITION: 0 }, indices: 1 }] }];
