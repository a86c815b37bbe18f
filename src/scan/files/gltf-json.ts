/**
 * The JSON of a glTF file: bounded before it is parsed, checked where it enters, and from then on of known types. Keys
 * that are not read are dropped, for glTF is extended freely. Source: glTF 2.0 (Khronos), section 5.
 */
import * as v from 'valibot';
import { Fault } from '../../model/fault.ts';
import { counted, grouped } from '../wording.ts';
import { shown } from './zip.ts';

/** A model of 2 million triangles with normals, its numbers in base64, takes some 80 MB. */
const MOST_JSON = 200_000_000;
/** Values in it, by the marks between them: each becomes an object or a number in memory, however short it is written. */
const MOST_VALUES = 5_000_000;
/** Objects and lists within each other. */
const DEEPEST = 100;
const AGAIN = 'Export the scan again, or as STL.';

const index = v.pipe(v.number(), v.integer(), v.minValue(0));
const count = v.pipe(v.number(), v.safeInteger(), v.minValue(0));
const number = v.pipe(v.number(), v.finite());
const numbers = (n: number) => v.pipe(v.array(number), v.length(n));
/** Of extensions only the names count. */
const extensions = v.optional(v.record(v.string(), v.unknown()));

const Accessor = v.object({
  bufferView: v.optional(index),
  byteOffset: v.optional(count, 0),
  componentType: v.picklist([5120, 5121, 5122, 5123, 5125, 5126]),
  normalized: v.optional(v.boolean(), false),
  count: v.pipe(count, v.minValue(1)),
  type: v.string(),
  sparse: v.optional(
    v.object({
      count: v.pipe(count, v.minValue(1)),
      indices: v.object({ bufferView: index, byteOffset: v.optional(count, 0), componentType: v.picklist([5121, 5123, 5125]) }),
      values: v.object({ bufferView: index, byteOffset: v.optional(count, 0) }),
    }),
  ),
});

const BufferView = v.object({
  buffer: index,
  byteOffset: v.optional(count, 0),
  byteLength: count,
  byteStride: v.optional(v.pipe(v.number(), v.integer(), v.minValue(4), v.maxValue(252))),
  extensions,
});

const Primitive = v.object({
  attributes: v.object({ POSITION: v.optional(index) }),
  indices: v.optional(index),
  mode: v.optional(v.picklist([0, 1, 2, 3, 4, 5, 6]), 4),
  targets: v.optional(v.array(v.unknown())),
  extensions,
});

const Node = v.object({
  children: v.optional(v.array(index), []),
  mesh: v.optional(index),
  skin: v.optional(index),
  matrix: v.optional(numbers(16)),
  translation: v.optional(numbers(3)),
  rotation: v.optional(numbers(4)),
  scale: v.optional(numbers(3)),
  extensions,
});

const Gltf = v.object({
  asset: v.object({ version: v.string(), minVersion: v.optional(v.string()) }),
  extensionsRequired: v.optional(v.array(v.string()), []),
  scene: v.optional(index),
  scenes: v.optional(v.array(v.object({ nodes: v.optional(v.array(index), []) })), []),
  nodes: v.optional(v.array(Node), []),
  meshes: v.optional(v.array(v.object({ primitives: v.array(Primitive) })), []),
  accessors: v.optional(v.array(Accessor), []),
  bufferViews: v.optional(v.array(BufferView), []),
  buffers: v.optional(v.array(v.object({ uri: v.optional(v.string()), byteLength: count, extensions })), []),
});

export type GltfFile = v.InferOutput<typeof Gltf>;
export type GltfAccessor = v.InferOutput<typeof Accessor>;
export type GltfPrimitive = v.InferOutput<typeof Primitive>;
export type GltfNode = v.InferOutput<typeof Node>;

/** @throws Fault with the path in the JSON of what is wrong */
export function readJson(bytes: Uint8Array): GltfFile {
  let length = bytes.length;
  while (length > 0 && (bytes[length - 1] as number) <= 0x20) length--; // some writers pad with NUL, too
  const json = bytes.subarray(0, length);
  bound(json);
  const data = parsed(json);
  refuseOtherVersion(data);
  const checked = v.safeParse(Gltf, data, { abortEarly: true }); // a list of a million wrong things would give as many issues
  if (checked.success) return checked.output;
  const [issue] = checked.issues;
  const path = (issue.path ?? []).map((p) => `/${shown(String(p.key))}`).join('');
  throw new Fault(
    'scan/syntax',
    `${path || '/'}: ${issue.received === 'undefined' ? 'missing' : shown(issue.message)}`,
    'the JSON of the glTF',
    AGAIN,
  );
}

function parsed(bytes: Uint8Array): unknown {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new Fault('scan/encoding', 'the JSON of this glTF is not valid UTF-8', '', AGAIN);
  }
  try {
    return JSON.parse(text);
  } catch (e) {
    throw new Fault('scan/syntax', `not JSON: ${shown(e instanceof Error ? e.message : String(e))}`, 'the JSON of the glTF', AGAIN);
  }
}

/** Told before anything else: a file of version 1 would fail everywhere. */
function refuseOtherVersion(data: unknown): void {
  const head = v.safeParse(v.object({ asset: v.object({ version: v.string(), minVersion: v.optional(v.string()) }) }), data);
  if (!head.success) return;
  const { version, minVersion } = head.output.asset;
  if (/^2\.\d+$/.test(version) && (minVersion === undefined || minVersion === '2.0')) return;
  throw new Fault(
    'scan/other-format',
    `this is glTF version ${shown(minVersion ?? version)}; version 2.0 is read`,
    '/asset/version',
    'Export the scan as glTF 2.0, or as STL.',
  );
}

/** Size and depth, told from the bytes alone: nesting is what a parser would fall over. */
function bound(bytes: Uint8Array): void {
  if (bytes.length > MOST_JSON) {
    throw new Fault(
      'scan/too-large',
      `the JSON of this glTF has ${counted(bytes.length, 'byte')}, the limit is ${grouped(MOST_JSON)}`,
      '',
      'Export the scan as GLB.',
    );
  }
  let depth = 0;
  let values = 0;
  for (let i = 0; i < bytes.length; i++) {
    const c = bytes[i] as number;
    if (c === 0x22) {
      i = afterString(bytes, i + 1);
      if (i < 0) throw cutOff(bytes.length);
    } else if (c === 0x7b || c === 0x5b) {
      values++;
      if (++depth > DEEPEST)
        throw new Fault('scan/unsafe', `the JSON of this glTF is nested more than ${DEEPEST} deep`, `byte ${grouped(i)}`, AGAIN);
    } else if (c === 0x7d || c === 0x5d) depth--;
    else if (c === 0x2c) values++;
  }
  if (values > MOST_VALUES)
    throw new Fault(
      'scan/too-large',
      `the JSON of this glTF holds more than ${grouped(MOST_VALUES)} values`,
      '',
      'Export the scan as GLB.',
    );
  if (depth > 0) throw cutOff(bytes.length);
}

/** Where the quote is that ends the string; -1 without one. */
function afterString(bytes: Uint8Array, from: number): number {
  for (let i = from; ; ) {
    const quote = bytes.indexOf(0x22, i);
    if (quote < 0) return -1;
    let slashes = 0;
    while (bytes[quote - 1 - slashes] === 0x5c && quote - 1 - slashes >= from) slashes++;
    if (slashes % 2 === 0) return quote;
    i = quote + 1;
  }
}

const cutOff = (at: number): Fault =>
  new Fault(
    'scan/truncated',
    'the JSON of this glTF ends in the middle',
    `byte ${grouped(at)}`,
    'The file was cut off while it was saved or copied: export or copy it again.',
  );
