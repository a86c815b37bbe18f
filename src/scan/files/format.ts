/**
 * What a file is, by its content; its name is used in messages only. To read a further format, add its reader to
 * READERS and its test here: everything after the triangle soup is the same for all.
 */
import { Fault } from '../../model/fault.ts';
import type { ScanFormat } from '../../model/scan.ts';
import { readGlb, readGltf } from './gltf.ts';
import { unpackGzip } from './gzip.ts';
import { readObj } from './obj.ts';
import { readPly } from './ply.ts';
import { refuseEmpty, type Soup } from './soup.ts';
import { readAsciiStl } from './stl-ascii.ts';
import { lengthFits, readBinaryStl } from './stl-binary.ts';
import { read3mf } from './threemf.ts';

const READERS: Record<ScanFormat, (bytes: Uint8Array) => Soup> = {
  'stl-binary': readBinaryStl,
  'stl-ascii': readAsciiStl,
  ply: readPly,
  obj: readObj,
  '3mf': read3mf,
  glb: readGlb,
  gltf: readGltf,
};

const READS = 'STL, PLY, OBJ, 3MF, GLB and glTF are read, also packed with gzip.';

/** First bytes of files that are often sent by mistake. `.` stands for any byte. */
const SIGNATURES: readonly (readonly [start: string, what: string])[] = [
  ['\x89PNG', 'a PNG picture'],
  ['\xff\xd8\xff', 'a JPEG picture'],
  ['GIF8', 'a GIF picture'],
  ['BM....\0\0\0\0', 'a BMP picture'],
  ['II*\0', 'a TIFF picture'],
  ['MM\0*', 'a TIFF picture'],
  ['RIFF', 'a picture, sound or film (RIFF)'],
  ['%PDF', 'a PDF document'],
  ['{\\rtf', 'an RTF document'],
  ['\xd0\xcf\x11\xe0', 'an old office document'],
  ['\x1f\x8b', 'gzip-compressed data within gzip-compressed data'],
  ['BZh', 'bzip2-compressed data'],
  ['\xfd7zXZ', 'xz-compressed data'],
  ['7z\xbc\xaf', 'a 7z archive'],
  ['Rar!', 'a RAR archive'],
  ['\xff\xfe', 'UTF-16 text'],
  ['\xfe\xff', 'UTF-16 text'],
  ['\x7fELF', 'a program'],
  ['MZ', 'a program'],
];

/** First words of text files of other kinds. */
const TEXT_KINDS: readonly (readonly [start: RegExp, what: string])[] = [
  [/^(OFF|COFF|NOFF)\s/, 'an OFF file'],
  [/^ISO-10303-21/, 'a STEP file'],
  [/^# vtk/i, 'a VTK file'],
  [/^#\s*VRML/i, 'a VRML file'],
  [/^<(!doctype html|html)/i, 'a web page (was an error page saved in place of the file?)'],
  [/^<\?xml|^</, 'an XML file'],
  [/^[{[]\s*["{[\]}\d]/, 'a JSON file'],
];

/** The file as loose triangles. Throws a Fault that names what the file is where it is nothing that is read. */
export function readSoup(bytes: Uint8Array): Soup {
  if (!isGzip(bytes) || lengthFits(bytes)) return READERS[formatOf(bytes)](bytes);
  const { bytes: unpacked, finding } = unpackGzip(bytes);
  const soup = READERS[formatOf(unpacked)](unpacked);
  return { ...soup, findings: [finding, ...soup.findings] };
}

const isGzip = (bytes: Uint8Array): boolean => bytes[0] === 0x1f && bytes[1] === 0x8b;

/** Of an archive, an empty one, and one in parts. */
const ZIP_STARTS = ['PK\x03\x04', 'PK\x05\x06', 'PK\x07\x08'] as const;

function formatOf(bytes: Uint8Array): ScanFormat {
  if (bytes.length === 0) throw new Fault('scan/empty', 'file is empty (0 bytes)', '', 'Export the scan again, or copy the file again.');
  if (lengthFits(bytes)) return 'stl-binary'; // to the byte: stronger than any word in the header
  const start = latin(bytes, 16);
  if (ZIP_STARTS.some((mark) => start.startsWith(mark))) return '3mf';
  if (start.startsWith('glTF')) return 'glb';
  if (/^ply\s/i.test(start)) return 'ply';
  if (!looksBinary(bytes)) {
    if (/^\s*solid(\s|$)/i.test(openingOf(bytes))) return 'stl-ascii';
    if (looksGltf(bytes)) return 'gltf';
    if (looksObj(bytes)) return 'obj';
  }
  refuseKnown(bytes);
  if (!looksBinary(bytes)) refuseText(bytes);
  return 'stl-binary';
}

/** Leading comments and names may be long; what a file is shows within so many bytes. */
const PROBE = 65_536;

/** JSON with a key that only glTF has. */
const looksGltf = (bytes: Uint8Array): boolean =>
  /^\s*\{/.test(openingOf(bytes)) && /"(asset|accessors|bufferViews|meshes|scenes|nodes)"\s*:/.test(latin(bytes, PROBE));

/** Past comments, names and settings, the first line that holds data is a vertex or a face. */
function looksObj(bytes: Uint8Array): boolean {
  for (const line of latin(bytes, PROBE)
    .replace(/^\xef\xbb\xbf/, '')
    .split(/[\n\r]+/)) {
    if (/^\s*(#|$|(mtllib|usemtl|usemap|o|g|s|vt|vn|vp|cstype|deg)(\s|$))/.test(line)) continue;
    return /^\s*(v|f)\s+[-+.\d]/.test(line);
  }
  return false;
}

/** Beyond blanks, tabs and line ends, plain text has no control characters; a binary STL has some by byte 84. */
function looksBinary(bytes: Uint8Array): boolean {
  const n = Math.min(bytes.length, 512);
  for (let i = 0; i < n; i++) {
    const c = bytes[i] as number;
    if (c < 0x20 && (c < 0x09 || c > 0x0d)) return true;
  }
  return false;
}

const latin = (bytes: Uint8Array, n: number): string => {
  let s = '';
  for (let i = 0; i < Math.min(n, bytes.length); i++) s += String.fromCharCode(bytes[i] as number);
  return s;
};

const openingOf = (bytes: Uint8Array): string => latin(bytes, 512).replace(/^\xef\xbb\xbf/, '');

function refuseKnown(bytes: Uint8Array): void {
  const start = latin(bytes, 16);
  for (const [pattern, what] of SIGNATURES) {
    const fits = [...pattern].every((c, i) => c === '.' || start[i] === c);
    if (fits && start.length >= pattern.length) throw notRead(what, /compressed|archive/.test(what) ? 'Unpack it first. ' : '');
  }
  if (latin(bytes, 132).slice(128) === 'DICM') throw notRead('a DICOM file', '');
}

function refuseText(bytes: Uint8Array): never {
  const text = openingOf(bytes).trimStart();
  if (text === '') refuseEmpty();
  for (const [pattern, what] of TEXT_KINDS) if (pattern.test(text)) throw notRead(what, '');
  const firstLine = (text.split(/[\n\r]/)[0] as string).trimEnd();
  const shown = firstLine.replace(/[^\x20-\x7e]/g, '?').slice(0, 32);
  throw new Fault(
    'scan/not-a-mesh',
    `not a scan: it is text that starts with '${shown}${firstLine.length > 32 ? '...' : ''}'`,
    'line 1',
    `${READS} Choose the scan that the scanning software exported.`,
  );
}

const notRead = (what: string, first: string): Fault =>
  new Fault('scan/other-format', `this is ${what}, not a scan; it is not read`, '', `${first}${READS} Export the scan as one of these.`);
