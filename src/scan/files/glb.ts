/** The binary container of glTF 2.0: a header of 12 bytes, a chunk of JSON, a chunk of numbers. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';

const HEADER = 12;
const JSON_CHUNK = 0x4e4f534a;
const BIN_CHUNK = 0x004e4942;

export interface Glb {
  readonly json: Uint8Array;
  readonly bin: Uint8Array | undefined;
}

/** Takes a GLB apart. Chunks of other kinds are passed over. @throws Fault scan/truncated, scan/syntax */
export function splitGlb(bytes: Uint8Array, findings: Finding[]): Glb {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < HEADER) throw cutOff(`${counted(bytes.length, 'byte')}: too short for a GLB file (${HEADER} at least)`, bytes.length);
  const version = view.getUint32(4, true);
  if (version !== 2) {
    throw new Fault(
      'scan/other-format',
      `this is a GLB file of glTF version ${grouped(version)}; version 2 is read`,
      'byte 4',
      'Export the scan as glTF 2.0, or as STL.',
    );
  }
  const length = view.getUint32(8, true);
  if (length > bytes.length) {
    throw cutOff(`the header says ${counted(length, 'byte')}, the file has ${grouped(bytes.length)}`, bytes.length);
  }
  if (length < bytes.length) {
    const extra = bytes.length - length;
    findings.push({
      code: 'scan/trailing-bytes',
      level: 'note',
      text: `${counted(extra, 'byte')} after the end of the GLB ignored.`,
      count: extra,
    });
  }
  return chunksOf(bytes, view, length);
}

function chunksOf(bytes: Uint8Array, view: DataView, length: number): Glb {
  let json: Uint8Array | undefined;
  let bin: Uint8Array | undefined;
  for (let at = HEADER; at + 8 <= length; ) {
    const size = view.getUint32(at, true);
    const kind = view.getUint32(at + 4, true);
    const end = at + 8 + size;
    if (end > length) throw cutOff(`a chunk of ${counted(size, 'byte')} runs past the end of the GLB (${grouped(length)} bytes)`, at);
    const chunk = bytes.subarray(at + 8, end);
    if (json === undefined && kind !== JSON_CHUNK)
      throw new Fault('scan/syntax', 'the first chunk of this GLB is not JSON', `byte ${at}`, 'Export the scan again, or as STL.');
    if (kind === JSON_CHUNK) json ??= chunk;
    if (kind === BIN_CHUNK) bin ??= chunk;
    at = end;
  }
  if (json === undefined) throw cutOff('this GLB holds no chunk of JSON', length);
  return { json, bin };
}

const cutOff = (found: string, at: number): Fault =>
  new Fault('scan/truncated', found, `byte ${grouped(at)}`, 'The file was cut off while it was saved or copied: export or copy it again.');
