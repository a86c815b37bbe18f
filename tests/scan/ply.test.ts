/** PLY in all its dialects (G. Turk, "The PLY Polygon File Format", 1994), and what a refusal must name. Own fixtures only. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { Fault } from '../../src/model/fault.ts';
import { readPly } from '../../src/scan/files/ply.ts';
import type { Soup } from '../../src/scan/files/soup.ts';
import { ball, cornersOf, plug, type Solid } from '../support/solids.ts';
import { damaged } from './damage.ts';

const SEED = Number(process.env['SEED'] ?? 20260101);
const text = (s: string): Uint8Array => new TextEncoder().encode(s);

type Type = 'char' | 'uchar' | 'short' | 'ushort' | 'int' | 'uint' | 'float' | 'double';
type Encoding = 'ascii' | 'binary_little_endian' | 'binary_big_endian';
const NEW_NAMES: Record<Type, string> = {
  char: 'int8',
  uchar: 'uint8',
  short: 'int16',
  ushort: 'uint16',
  int: 'int32',
  uint: 'uint32',
  float: 'float32',
  double: 'float64',
};

/** One property and its value (a list where `count` names a type) for each item. */
interface Column {
  readonly name: string;
  readonly type: Type;
  readonly count?: Type;
  readonly of: (item: number) => number | readonly number[];
}
interface Part {
  readonly name: string;
  readonly items: number;
  readonly columns: readonly Column[];
}
interface Style {
  readonly encoding?: Encoding;
  readonly end?: string;
  readonly newNames?: boolean;
  readonly remarks?: readonly string[];
}

const bytesOf = (type: Type, x: number, little: boolean): number[] => {
  const v = new DataView(new ArrayBuffer(8));
  if (type === 'float') v.setFloat32(0, x, little);
  else if (type === 'double') v.setFloat64(0, x, little);
  else if (type === 'int' || type === 'uint') v.setUint32(0, x, little);
  else if (type === 'short' || type === 'ushort') v.setUint16(0, x, little);
  else v.setUint8(0, x);
  const size = { char: 1, uchar: 1, short: 2, ushort: 2, int: 4, uint: 4, float: 4, double: 8 }[type];
  return [...new Uint8Array(v.buffer, 0, size)];
};

/** A writer that shares nothing with the reader. */
function writePly(parts: readonly Part[], style: Style = {}): Uint8Array {
  const { encoding = 'ascii', end = '\n', newNames = false, remarks = [] } = style;
  const type = (t: Type): string => (newNames ? NEW_NAMES[t] : t);
  const header = ['ply', ...remarks, `format ${encoding} 1.0`, ...remarks];
  for (const p of parts) {
    header.push(`element ${p.name} ${p.items}`, ...remarks);
    for (const c of p.columns) header.push(`property ${c.count ? `list ${type(c.count)} ` : ''}${type(c.type)} ${c.name}`);
  }
  const data: number[] = [];
  for (const p of parts) {
    if (p.columns.length === 0 && encoding !== 'ascii') continue;
    for (let i = 0; i < p.items; i++) {
      const words: (number | string)[] = [];
      for (const c of p.columns) {
        const value = c.of(i);
        const list = typeof value === 'number' ? [value] : value;
        if (c.count) words.push(list.length);
        if (c.count && encoding !== 'ascii') data.push(...bytesOf(c.count, list.length, encoding === 'binary_little_endian'));
        words.push(...list.map((x) => (Object.is(x, -0) ? '-0' : x)));
        if (encoding !== 'ascii') for (const x of list) data.push(...bytesOf(c.type, x, encoding === 'binary_little_endian'));
      }
      if (encoding === 'ascii') data.push(...text(words.join(' ') + end));
    }
  }
  return Uint8Array.from([...text(`${header.join(end)}${end}end_header${end}`), ...data]);
}

const vertexPart = (points: readonly (readonly number[])[], type: Type = 'double'): Part => ({
  name: 'vertex',
  items: points.length,
  columns: ['x', 'y', 'z'].map((name, k) => ({ name, type, of: (i) => (points[i] as number[])[k] as number })),
});
const facePart = (faces: readonly (readonly number[])[], type: Type = 'int', count: Type = 'uchar', name = 'vertex_indices'): Part => ({
  name: 'face',
  items: faces.length,
  columns: [{ name, type, count, of: (i) => faces[i] as number[] }],
});

const PLUG = plug(8);
const plugParts = (s: Solid = PLUG): Part[] => [vertexPart(s.points), facePart(s.triangles)];
const CORNERS = cornersOf(PLUG).map((c) => c + 0);

function faultOf(bytes: Uint8Array): Fault {
  try {
    readPly(bytes);
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
  throw new Error('was read without a Fault');
}
const cornersIn = (soup: Soup): number[] => [...soup.corners];

/** A tetrahedron as text, to be edited line by line: header lines 1 to 9, vertices 10 to 13, faces 14 to 17. */
const TETRA = `ply
format ascii 1.0
element vertex 4
property float x
property float y
property float z
element face 4
property list uchar int vertex_indices
end_header
0 0 0
9 0 0
0 9 0
0 0 9
3 0 2 1
3 0 1 3
3 1 2 3
3 2 0 3
`;
const edited = (line: number, ...write: string[]): Uint8Array => {
  const all = TETRA.split('\n');
  all.splice(line - 1, 1, ...write);
  return text(all.join('\n'));
};

describe('PLY that is read', () => {
  const encodings: Encoding[] = ['ascii', 'binary_little_endian', 'binary_big_endian'];

  test('every encoding and line end; only 32-bit floats in binary are "single"', () => {
    for (const encoding of encodings) {
      for (const end of ['\n', '\r\n', '\r']) {
        const soup = readPly(writePly(plugParts(), { encoding, end }));
        expect(cornersIn(soup)).toEqual(CORNERS);
        expect(soup).toMatchObject({ format: 'ply', triangles: PLUG.triangles.length, single: false, findings: [] });
      }
      const short = readPly(writePly([vertexPart(PLUG.points, 'float'), facePart(PLUG.triangles)], { encoding }));
      expect(short.single).toBe(encoding !== 'ascii');
      if (encoding !== 'ascii') expect(cornersIn(short)).toEqual(CORNERS.map(Math.fround));
    }
  });

  test('data that begin with the bytes of line ends', () => {
    // 0x0a and 0x0d as the first byte of x, after each kind of line end.
    for (const end of ['\n', '\r\n', '\r']) {
      for (const first of [10, 13, 0x0d0a, 0x0a0d]) {
        const points = [
          [first, 0, 0],
          [1, 0, 0],
          [0, 1, 0],
        ];
        const soup = readPly(writePly([vertexPart(points, 'short'), facePart([[0, 1, 2]])], { encoding: 'binary_little_endian', end }));
        expect(cornersIn(soup)).toEqual(points.flat());
      }
    }
  });

  test('remarks anywhere, also with words of the header in them', () => {
    const remarks = ['comment element face 3', 'obj_info property float x', 'comment', 'comment end_header of something'];
    expect(cornersIn(readPly(writePly(plugParts(), { remarks, encoding: 'binary_big_endian' })))).toEqual(CORNERS);
    expect(readPly(edited(12, 'comment among the data', '', '0 9 0')).triangles).toBe(4);
  });

  test('other elements, properties and lists before, between and after', () => {
    const more = (name: string): Column[] => [
      { name: `${name}1`, type: 'uchar', of: (i) => i % 256 },
      { name: `${name}2`, type: 'float', count: 'int', of: (i) => Array.from({ length: i % 4 }, (_, k) => k + 0.5) },
    ];
    const [v, f] = plugParts() as [Part, Part];
    const [x, y, z] = v.columns as [Column, Column, Column];
    const vertex = { ...v, columns: [...more('a'), z, ...more('b'), y, x, ...more('c')] };
    const face = { ...f, columns: [...more('a'), ...f.columns, ...more('b')] };
    const edge: Part = { name: 'edge', items: 5, columns: more('e') };
    for (const encoding of encodings) {
      // Without properties an item takes no byte, in text a line: a claim of many costs nothing in binary.
      const nothing: Part = { name: 'nothing', items: encoding === 'ascii' ? 3 : 1_000_000_000, columns: [] };
      for (const parts of [
        [vertex, edge, face],
        [edge, face, nothing, vertex],
        [face, vertex, { ...edge, name: 'tail' }],
      ])
        expect(cornersIn(readPly(writePly(parts, { encoding })))).toEqual(CORNERS);
    }
  });

  test('strips: every other triangle turned, -1 begins another, repeats only lead on', () => {
    const points = Array.from({ length: 8 }, (_, i) => [i >> 1, i & 1, 0]);
    const strip = [0, 1, 2, 3, 4, -1, 4, 5, 6, 7, -1, -1, 1, 2, -1, 0, 1, 2, 2, 3, 4];
    const expected = [
      [0, 1, 2],
      [2, 1, 3],
      [2, 3, 4],
      [4, 5, 6],
      [6, 5, 7],
      [0, 1, 2],
      [3, 2, 4], // two triangles without area lie between, and count for the turn
    ];
    for (const encoding of encodings)
      for (const type of ['int', 'uint'] as const) {
        if (encoding === 'ascii' && type === 'uint') continue;
        const part: Part = { name: 'tristrips', items: 1, columns: [{ name: 'vertex_indices', type, count: 'int', of: () => strip }] };
        const soup = readPly(writePly([vertexPart(points), part], { encoding }));
        const flat = expected.flatMap((t) => t.flatMap((k) => points[k] as number[]));
        expect(cornersIn(soup)).toEqual(flat);
      }
  });

  test('polygons are cut, faces of fewer corners left out and told with their line or number', () => {
    const points = [
      [4, 10, 0],
      [0, 10, 0],
      [0, 0, 0],
      [10, 0, 0],
      [10, 4, 0],
      [4, 4, 0],
    ];
    const faces = [[0, 1], [0, 1, 2, 3, 4, 5], [], [0, 1, 2]];
    const soup = readPly(writePly([vertexPart(points), facePart(faces)]));
    expect(soup.triangles).toBe(5);
    expect(soup.findings).toEqual([
      { code: 'scan/short-faces', level: 'changed', text: '2 faces of fewer than 3 corners left out (the first on line 16).', count: 2 },
      { code: 'scan/polygons', level: 'note', text: '1 face of more than 3 corners cut into 4 triangles.', count: 1 },
    ]);
    const binary = readPly(writePly([vertexPart(points), facePart(faces)], { encoding: 'binary_little_endian' }));
    expect(binary.findings[0]?.text).toContain('(the first is face 1)');
    expect(cornersIn(binary)).toEqual(cornersIn(soup));
  });

  test('long lists may run over lines, negative zero is zero, words in capitals', () => {
    const strip = `ply\nFORMAT ascii 1.0\nelement vertex 3\nproperty FLOAT X\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\nEND_HEADER\n-0 0 0\n1 0 0\n0 1 0\n20 0 1 2 -1 0 1 2 -1\n0 1 2 -1 0 1 2 -1\n0 1 2 -1`;
    const soup = readPly(text(strip));
    expect(soup.triangles).toBe(5);
    expect(soup.corners.some((c) => Object.is(c, -0))).toBe(false);
  });

  test('decimal commas are read and told, mixed with points refused', () => {
    const soup = readPly(edited(11, '9,5 0 0'));
    expect(soup.corners).toContain(9.5);
    expect(soup.findings.map((f) => f.code)).toEqual(['scan/decimal-comma']);
    expect(faultOf(edited(11, '9,5 0.5 0')).message).toMatch(/decimal comma \(line 11\) and with a decimal point \(line 11\)/);
  });

  test('stray bytes are told', () => {
    const whole = [...writePly(plugParts(), { encoding: 'binary_little_endian' })];
    const more = (...bytes: number[]): Soup => readPly(Uint8Array.from([...whole, ...bytes]));
    expect(more(10).findings).toEqual([
      { code: 'scan/trailing-bytes', level: 'note', text: '1 byte after the last face ignored.', count: 1 },
    ]);
    expect(more(...Array.from({ length: 40 }, () => 0)).findings[0]).toMatchObject({ level: 'warning', count: 40 });
    expect(readPly(text(`${TETRA}\0\x1a`)).findings).toEqual([]);
    expect(readPly(text(`${TETRA}the end\n`)).findings[0]?.text).toMatch(/Line 18: 'the' and all after it ignored/);
  });

  test('a number that is none matters only where a face uses it; few are left out with their place', () => {
    const many = ball(10, 5);
    for (const encoding of encodings) {
      const unused = readPly(writePly([vertexPart([...many.points, [NaN, 1, 2]]), facePart(many.triangles)], { encoding }));
      expect(unused.findings).toEqual([]);
      const points = many.points.map((p, i) => (i === 100 ? [p[0] as number, Infinity, NaN] : p));
      const uses = many.triangles.filter((t) => t.includes(100)).length;
      const first = many.triangles.findIndex((t) => t.includes(100));
      const soup = readPly(writePly([vertexPart(points), facePart(many.triangles)], { encoding }));
      expect(soup.triangles).toBe(many.triangles.length);
      expect(cornersIn(soup)).toEqual(cornersOf({ ...many, triangles: many.triangles.filter((t) => !t.includes(100)) }).map((c) => c + 0));
      const corner = (many.triangles[first] as number[]).indexOf(100) + 1;
      const place =
        encoding === 'ascii' ? 'line 110: y is not a finite number (Infinity)' : `triangle ${first + 1}, vertex ${corner}: y is infinite`;
      expect(soup.findings[0]).toMatchObject({ code: 'scan/not-finite', level: 'warning', count: uses });
      expect(soup.findings[0]?.text).toContain(place.replace(/triangle (\d)(\d{3})/, 'triangle $1 $2'));
    }
  });

  test('a polygon with a number that is none is left out whole, or refuses the file', () => {
    const square = [
      [0, 0, 0],
      [1, 0, 0],
      [1, NaN, 0],
      [0, 1, 0],
      [0, 0.5, 0],
    ];
    expect(faultOf(writePly([vertexPart(square), facePart([[0, 1, 2, 3, 4]])])).message).toMatch(
      /3 of 3 triangles have.*line 12: y is not a finite/,
    );
  });
});

describe('PLY that is refused', () => {
  const HEAD = 'ply\nformat ascii 1.0\n';
  const XYZ = 'property float x\nproperty float y\nproperty float z\n';
  const FACE = 'element face 1\nproperty list uchar int vertex_indices\n';
  test.each<[what: string, header: string, says: RegExp]>([
    ['not ply', 'ply 1\n', /'ply 1' found, 'ply' needed \(line 1\)/],
    ['no end of the header', `${HEAD}element vertex 3\n`, /the file ends before the header's 'end_header' \(line 4\)/],
    ['endless header', `${HEAD}${'comment x\n'.repeat(120_000)}`, /no 'end_header' in the file's first megabyte/],
    ['no format', `ply\nelement vertex 1\n${XYZ}${FACE}end_header\n`, /no 'format' line/],
    ['two formats', `${HEAD}format ascii 1.0\n`, /a second 'format' line \(line 3\)/],
    ['another version', 'ply\nformat ascii 2.0\nend_header\n', /format version '2\.0' is not known \(1\.0 is\) \(line 2\)/],
    ['another format', 'ply\nformat binary 1.0\nend_header\n', /format 'binary' is not known/],
    [
      'an unknown word',
      `${HEAD}elements vertex 3\nend_header\n`,
      /'elements' found, 'element', 'property' or 'end_header' needed \(line 3\)/,
    ],
    ['an unknown type', `${HEAD}element vertex 3\nproperty quad x\nend_header\n`, /type 'quad' is not known .* \(line 4\)/],
    [
      'a list length with a fraction',
      `${HEAD}element face 3\nproperty list float int a\nend_header\n`,
      /a list's length cannot be of type 'float'/,
    ],
    ['half a property', `${HEAD}element vertex 3\nproperty float\nend_header\n`, /a property needs a type and a name/],
    ['a property without element', `${HEAD}property float x\nend_header\n`, /'property' before the first 'element' \(line 3\)/],
    ['a count below nought', `${HEAD}element vertex -3\nend_header\n`, /'-3' is not a count \(line 3\)/],
    ['a count with a fraction', `${HEAD}element vertex 1e3\nend_header\n`, /'1e3' is not a count/],
    ['an element twice', `${HEAD}element vertex 3\n${XYZ}element vertex 3\nend_header\n`, /a second element 'vertex' \(line 7\)/],
    ['a property twice', `${HEAD}element vertex 3\n${XYZ}property int x\nend_header\n`, /a second property 'x' of the element 'vertex'/],
    ['no vertices', `${HEAD}${FACE}end_header\n3 0 1 2\n`, /no element 'vertex'/],
    ['no z', `${HEAD}element vertex 1\nproperty float x\nproperty float y\n${FACE}end_header\n`, /no property 'z' \(line 3\)/],
    [
      'a list for y',
      `${HEAD}element vertex 1\nproperty float x\nproperty list uchar float y\nproperty float z\n${FACE}end_header\n`,
      /'y' of the element 'vertex' is a list/,
    ],
    [
      'no corners',
      `${HEAD}element vertex 1\n${XYZ}element face 1\nproperty int vertex_indices\nend_header\n`,
      /'face' has no list 'vertex_indices'/,
    ],
    ['points only', `${HEAD}element vertex 3\n${XYZ}end_header\n`, /3 points but no faces: this is a point cloud, a surface is needed/],
    [
      'points and no face',
      `${HEAD}element vertex 1\n${XYZ}element face 0\nproperty list uchar int vertex_indices\nend_header\n`,
      /1 point but no faces/,
    ],
    ['nothing at all', `${HEAD}element vertex 0\n${XYZ}end_header\n`, /no triangles in file/],
    ['faces of no vertices', `${HEAD}element vertex 0\n${XYZ}${FACE}end_header\n3 0 1 2\n`, /face 1 uses vertex 0, but there are none/],
  ])('header: %s', (_what, header, says) => {
    expect(faultOf(text(header)).message).toMatch(says);
  });

  test.each<[what: string, line: number, write: string[], says: RegExp]>([
    ['two numbers', 11, ['9 0'], /vertex 2 has 2 numbers, needs 3 \(line 11\)/],
    ['four numbers', 11, ['9 0 0 0'], /vertex 2 has more numbers than the header names \(3\) \(line 11\)/],
    ['a word', 11, ['9 zero 0'], /'zero' is not a number \(line 11\)/],
    ['a list of numbers', 11, ['9,5,0 0 0'], /'9,5,0' is not a number \(comma as decimal mark\?\)/],
    ['an index short', 15, ['3 0 1'], /face 2 has 3 numbers, needs more \(line 15\)/],
    ['an index too many', 15, ['3 0 1 2 3'], /face 2 has more numbers than the header names \(4\) \(line 15\)/],
    ['an index too large', 15, ['3 0 1 4'], /face 2 uses vertex 4, but there are 4 \(0 to 3\) \(line 15\)/],
    ['an index below nought', 15, ['3 0 1 -1'], /face 2 uses vertex -1, but there are 4/],
    ['an index with a fraction', 15, ['3 0 1 1.5'], /face 2 uses vertex 1\.5, not a whole number \(line 15\)/],
    ['an index that is none', 15, ['3 0 1 nan'], /face 2 uses vertex NaN, not a whole number/],
    ['a length below nought', 15, ['-3 0 1 2'], /face 2 has a list of length -3 \(line 15\)/],
    ['a length with a fraction', 15, ['2.5 0 1 2'], /face 2 has a list of length 2\.5/],
    ['a length beyond the file', 15, ['4000000000 0 1 2'], /the header says 4 faces, the file ends after 1 \(line 15\)/],
    ['a face short', 15, [], /the header says 4 faces, the file ends after 3/],
    ['a face too many', 15, ['3 0 1 3', '3 0 1 3'], /the header says 4 faces, but more follow \(line 18\)/],
    ['infinity', 11, ['inf 0 0'], /3 of 4 triangles have .*line 11: x is not a finite number \(inf\)/],
    ['a number beyond all', 11, ['1e999 0 0'], /line 11: x is not a finite number \(1e999\)/],
    ['a claim beyond the file', 3, ['element vertex 99999999999999999999'], /says 99999999999999999999 vertices, the file has 229 bytes/],
    ['a claim of faces beyond the file', 7, ['element face 4000000000'], /says 4000000000 faces, the file has 219 bytes/],
  ])('data: %s', (_what, line, write, says) => {
    expect(faultOf(edited(line, ...write)).message).toMatch(says);
  });

  test('only faces of fewer than three corners', () => {
    const none = faultOf(writePly([vertexPart([[0, 0, 0]]), facePart([[0], [0, 0]])]));
    expect(none.message).toMatch(/no triangles in file: 2 faces of fewer than 3 corners, no others \(line 11\)/);
  });

  test('binary: indices, lengths, counts', () => {
    const binary = (parts: Part[]): Uint8Array => writePly(parts, { encoding: 'binary_little_endian' });
    const points = vertexPart(PLUG.points);
    expect(faultOf(binary([points, facePart([[0, 1, 48]])])).message).toMatch(/face 1 uses vertex 48, but there are 48 \(0 to 47\) \(byte/);
    expect(faultOf(binary([points, facePart([[0, 1, -1]])])).message).toMatch(/face 1 uses vertex -1/);
    expect(faultOf(binary([points, facePart([[0, 1, 2.5]], 'float')])).message).toMatch(/face 1 uses vertex 2\.5, not a whole number/);
    const bad: Part = { name: 'face', items: 1, columns: [{ name: 'vertex_indices', type: 'int', of: () => 0 }] };
    expect(faultOf(binary([points, bad])).message).toMatch(/no list/);
    const lengths = binary([points, facePart([[0, 1, 2]], 'int', 'int')]);
    const at = lengths.length - 16;
    for (const [length, says] of [
      [-5, /face 1 has a list of length -5/],
      [2_000_000_000, /the header says 1 faces, the file ends after 0/],
    ] as const) {
      new DataView(lengths.buffer).setInt32(at, length, true);
      expect(faultOf(lengths).message).toMatch(says);
    }
    const faces = PLUG.triangles.length;
    const latin = (b: Uint8Array): string => [...b].map((c) => String.fromCharCode(c)).join('');
    const fewer = latin(binary(plugParts())).replace(`element face ${faces}`, `element face ${faces - 1}`);
    expect(faultOf(Uint8Array.from(fewer, (c) => c.charCodeAt(0))).message).toMatch(new RegExp(`says ${faces - 1} faces, but more follow`));
  });

  test('cut anywhere: refused, and told as cut off', () => {
    for (const encoding of ['ascii', 'binary_big_endian'] as const) {
      const whole = writePly(plugParts(), { encoding });
      for (let n = 4; n < whole.length - 2; n += 7) expect(faultOf(whole.subarray(0, n)).code).toBe('scan/truncated');
    }
  });
});

describe(`round trips and damage, SEED=${SEED}`, () => {
  const RANGE: Partial<Record<Type, [number, number]>> = { char: [-128, 127], uchar: [0, 255], short: [-32768, 32767], int: [-9e8, 9e8] };
  const coordinate = (type: Type): fc.Arbitrary<number> => {
    const range = RANGE[type];
    if (range) return fc.integer({ min: range[0], max: range[1] });
    return type === 'float' ? fc.float({ noNaN: true, noDefaultInfinity: true }) : fc.double({ noNaN: true, noDefaultInfinity: true });
  };

  test('what any writer of the format writes comes back bit for bit', () => {
    const mesh = fc.constantFrom<Type>('char', 'uchar', 'short', 'int', 'float', 'double').chain((type) =>
      fc.array(fc.tuple(coordinate(type), coordinate(type), coordinate(type)), { minLength: 3, maxLength: 20 }).chain((points) =>
        fc.record({
          type: fc.constant(type),
          points: fc.constant(points),
          faces: fc.array(fc.array(fc.nat(points.length - 1), { minLength: 3, maxLength: 3 }), { minLength: 1, maxLength: 20 }),
          index: fc.constantFrom<Type>('char', 'uchar', 'short', 'ushort', 'int', 'uint', 'float', 'double'),
          count: fc.constantFrom<Type>('char', 'uchar', 'short', 'ushort', 'int', 'uint'),
          order: fc.shuffledSubarray([0, 1, 2], { minLength: 3 }),
          facesFirst: fc.boolean(),
          extra: fc.nat(3),
          style: fc.record({
            encoding: fc.constantFrom<Encoding>('ascii', 'binary_little_endian', 'binary_big_endian'),
            end: fc.constantFrom('\n', '\r\n', '\r'),
            newNames: fc.boolean(),
          }),
        }),
      ),
    );
    fc.assert(
      fc.property(mesh, (m) => {
        const vertex = vertexPart(m.points, m.type);
        const columns: Column[] = m.order.map((k) => vertex.columns[k] as Column);
        columns.splice(m.extra, 0, { name: 'quality', type: 'float', of: (i) => i / 2 });
        const parts = [{ ...vertex, columns }, facePart(m.faces, m.index, m.count, m.extra % 2 ? 'vertex_index' : 'vertex_indices')];
        const soup = readPly(writePly(m.facesFirst ? parts.reverse() : parts, m.style));
        expect(cornersIn(soup)).toEqual(m.faces.flatMap((f) => f.flatMap((v) => (m.points[v] as number[]).map((c) => c + 0))));
      }),
      { seed: SEED, numRuns: 300 },
    );
  });

  test('damaged bytes: a Fault with all its parts, or finite numbers', () => {
    const r = seeded(SEED);
    const strips: Part = {
      name: 'tristrips',
      items: 1,
      columns: [{ name: 'vertex_indices', type: 'int', count: 'int', of: () => [0, 1, 2, 3, -1, 4, 5, 6] }],
    };
    const whole = [
      ...(['ascii', 'binary_little_endian', 'binary_big_endian'] as const).flatMap((encoding) => [
        writePly(plugParts(plug(3)), { encoding }),
        writePly([vertexPart(PLUG.points, 'float'), strips, facePart([[0, 1, 2, 3, 4, 5, 6, 7]])], { encoding }),
      ]),
      text(TETRA),
    ];
    let read = 0;
    for (let k = 0; k < 2000; k++) {
      const bytes = damaged(r, whole);
      try {
        const soup = readPly(bytes);
        read++;
        expect(soup.corners.every(Number.isFinite)).toBe(true);
        expect(soup.corners.length).toBeLessThanOrEqual(9 * soup.triangles);
      } catch (e) {
        if (!(e instanceof Fault)) throw e;
        expect(e.found !== '' && e.next !== '' && e.code.startsWith('scan/')).toBe(true);
      }
    }
    expect(read).toBeGreaterThan(100);
    expect(read).toBeLessThan(1900);
  });
});
