/**
 * What a file is, by its content; its name is used in messages only. To read a further format, add its reader to
 * READERS and its test here: everything after the triangle soup is the same for all.
 */
import { Fault } from '../model/fault.ts';
import type { Scan } from '../model/scan.ts';
import { refuseEmpty, type Soup } from './soup.ts';
import { readAsciiStl } from './stl-ascii.ts';
import { lengthFits, readBinaryStl } from './stl-binary.ts';

const READERS: Record<Scan['format'], (bytes: Uint8Array) => Soup> = {
  'stl-binary': readBinaryStl,
  'stl-ascii': readAsciiStl,
};

const READS = 'Binary and text STL are read.';

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
  ['\x1f\x8b', 'gzip-compressed data'],
  ['BZh', 'bzip2-compressed data'],
  ['\xfd7zXZ', 'xz-compressed data'],
  ['7z\xbc\xaf', 'a 7z archive'],
  ['Rar!', 'a RAR archive'],
  ['glTF', 'a binary glTF file'],
  ['\xff\xfe', 'UTF-16 text'],
  ['\xfe\xff', 'UTF-16 text'],
  ['\x7fELF', 'a program'],
  ['MZ', 'a program'],
];

/** First words of text files of other kinds. */
const TEXT_KINDS: readonly (readonly [start: RegExp, what: string])[] = [
  [/^ply\s/i, 'a PLY file'],
  [/^(OFF|COFF|NOFF)\s/, 'an OFF file'],
  [/^ISO-10303-21/, 'a STEP file'],
  [/^# vtk/i, 'a VTK file'],
  [/^#\s*VRML/i, 'a VRML file'],
  [/^<(!doctype html|html)/i, 'a web page (was an error page saved in place of the file?)'],
  [/^<\?xml|^</, 'an XML file'],
  [/^[{[]\s*["{[\]}\d]/, 'a JSON file'],
  [/^(#[^\n\r]*[\n\r]+\s*)*((mtllib|usemtl|o|g|s) [^\n\r]*[\n\r]+\s*|#[^\n\r]*[\n\r]+\s*)*(v|f)[ \t]+[-+.\d]/, 'an OBJ file'],
];

/** The file as loose triangles. Throws a Fault that names what the file is where it is nothing that is read. */
export function readSoup(bytes: Uint8Array): Soup {
  return READERS[formatOf(bytes)](bytes);
}

function formatOf(bytes: Uint8Array): Scan['format'] {
  if (bytes.length === 0) throw new Fault('scan/empty', 'file is empty (0 bytes)', '', 'Export the scan again, or copy the file again.');
  if (lengthFits(bytes)) return 'stl-binary'; // to the byte: stronger than any word in the header
  if (!looksBinary(bytes) && /^\s*solid(\s|$)/i.test(openingOf(bytes))) return 'stl-ascii';
  refuseKnown(bytes);
  if (!looksBinary(bytes)) refuseText(bytes);
  return 'stl-binary';
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
  if (start.startsWith('PK\x03\x04')) {
    const package3d = /3D\/|\[Content_Types\]\.xml|_rels\//.test(latin(bytes, 4096));
    throw notRead(package3d ? 'a 3MF file' : 'a zip archive', package3d ? '' : 'Unpack it first. ');
  }
  for (const [pattern, what] of SIGNATURES) {
    const fits = [...pattern].every((c, i) => c === '.' || start[i] === c);
    if (fits && start.length >= pattern.length) throw notRead(what, /compressed|archive/.test(what) ? 'Unpack it first. ' : '');
  }
  if (/^ply\s/i.test(start)) throw notRead('a PLY file', '');
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
    `not an STL file: it is text that starts with '${shown}${firstLine.length > 32 ? '...' : ''}'`,
    'line 1',
    `${READS} Choose the scan that the scanning software exported.`,
  );
}

const notRead = (what: string, first: string): Fault =>
  new Fault('scan/other-format', `this is ${what}, not an STL file; it is not read`, '', `${first}${READS} Export the scan as STL.`);
