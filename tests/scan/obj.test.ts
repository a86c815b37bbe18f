/** OBJ: every way to write a face, what is passed over, what is refused, and damaged bytes. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { Fault } from '../../src/model/fault.ts';
import { readObj } from '../../src/scan/files/obj.ts';
import type { Soup } from '../../src/scan/files/soup.ts';
import { describeShared, sharedFile } from '../support/shared.ts';
import { damaged } from './damage.ts';

const SEED = Number(process.env['SEED'] ?? 20260101);
const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
const read = (text: string): Soup => readObj(bytes(text));
const texts = (soup: Soup): string => soup.findings.map((f) => f.text).join('\n');

function faultOf(text: string): Fault {
  try {
    read(text);
  } catch (e) {
    if (e instanceof Fault) return e;
    throw e;
  }
  throw new Error('was read without a Fault');
}

/** A tetrahedron: x y z of its corners, and its faces from 0. */
const POINTS = [
  [0, 0, 0],
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];
const FACES = [
  [0, 2, 1],
  [0, 1, 3],
  [1, 2, 3],
  [2, 0, 3],
];
const CORNERS = FACES.flatMap((f) => f.flatMap((v) => POINTS[v] as number[]));
const V = POINTS.map((p) => `v ${p.join(' ')}`).join('\n');
const F = FACES.map((f) => `f ${f.map((v) => v + 1).join(' ')}`).join('\n');
const WHOLE = `${V}\n${F}\n`;

describe('OBJ that is read', () => {
  test.each<[string, string]>([
    ['as it is', WHOLE],
    ['line ends of other systems', WHOLE.replaceAll('\n', '\r\n')],
    ['carriage returns alone', WHOLE.replaceAll('\n', '\r')],
    ['tabs and many blanks', WHOLE.replaceAll(' ', ' \t  ')],
    ['without a last line end', WHOLE.trimEnd()],
    ['a byte-order mark', `\ufeff${WHOLE}`],
    ['comments and empty lines', `# a\n\n${WHOLE.replaceAll('\n', ' # b\n\n#c\n')}`],
    ['capitals', WHOLE.toUpperCase()],
    ['texture coordinates and normals', `vt 0 0\nvn 0 0 1\n${V}\n${F.replace(/(\d)(?= |$)/gm, '$1/1/1')}`],
    ['normals alone', `vn 0 0 1\n${V}\n${F.replace(/(\d)(?= |$)/gm, '$1//1')}`],
    ['texture coordinates alone', `vt 0 0\n${V}\n${F.replace(/(\d)(?= |$)/gm, '$1/1')}`],
    ['counted back', `${V}\n${FACES.map((f) => `f ${f.map((v) => v - 4).join(' ')}`).join('\n')}`],
    ['faces before their vertices', `${F}\n${V}`],
    ['groups, materials, smoothing', `mtllib gone.mtl\no a\ng b c\ns 1\nusemtl d\n${WHOLE}`],
    ['a weight of 1', `${V.replaceAll(/$/gm, ' 1.0')}\n${F}`],
    ['colours', `${V.replaceAll(/$/gm, ' 0.5 0.25 1')}\n${F}`],
    ['colours that are none', `${V.replaceAll(/$/gm, ' nan nan nan')}\n${F}`],
    ['a weight and colours', `${V.replaceAll(/$/gm, ' 1 0.5 0.25 1')}\n${F}`],
    ['lines that go on', `${V}\n${F.replaceAll(' ', ' \\\n ')}`],
    ['lines that go on, of another system', `${V}\r\n${F.replaceAll(' ', ' \\\r\n ')}\r\n`],
    ['exponents and signs', `${V.replaceAll('1', '+1.0e0').replaceAll(' 0', ' -0')}\n${F}`],
    ['points and lines beside', `p 1\nl 1 2 3\n${WHOLE}`],
  ])('%s', (_what, text) => {
    const soup = read(text);
    expect([...soup.corners]).toEqual(CORNERS);
    expect(soup.triangles).toBe(4);
    expect(soup.single).toBe(false);
  });

  test('decimal commas are read as points, and it is said', () => {
    const soup = read(`${V.replaceAll('1', '1,5')}\n${F}`);
    expect([...soup.corners]).toEqual(CORNERS.map((c) => 1.5 * c));
    expect(texts(soup)).toMatch(/[Dd]ecimal comma/);
  });

  test('two-cornered faces are left out and told with their line; polygons are cut', () => {
    const soup = read(`${V}\n${F}\nf 1 2\nf 1\nv 1 1 0\nf 1 2 5 3\n`);
    expect(soup.triangles).toBe(6);
    expect(texts(soup)).toMatch(/2 faces of fewer than 3 corners left out \(the first on line 9\)/);
    expect(texts(soup)).toMatch(/1 face of more than 3 corners cut into 2 triangles/);
  });

  test(`numbers keep every bit, whatever their digits, SEED=${SEED}`, () => {
    const x = fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e6, max: 1e6 });
    fc.assert(
      fc.property(fc.array(fc.tuple(x, x, x), { minLength: 3, maxLength: 9 }), (points) => {
        const text = `${points.map((p) => `v ${p.join(' ')}`).join('\n')}\nf 1 2 3\n`;
        expect([...read(text).corners]).toEqual(
          points
            .slice(0, 3)
            .flat()
            .map((c) => c + 0),
        );
      }),
      { seed: SEED, numRuns: 200 },
    );
  });

  test('what is passed over is told when shape may be lost with it', () => {
    const level = (text: string): string[] => read(`${WHOLE}${text}`).findings.map((f) => `${f.level}: ${f.text}`);
    expect(level('g a\nusemtl C:\\materials\\\nvp 1 2\n')).toEqual([]);
    expect(level('p 1\nl 1 \\\n2\n')).toEqual(['note: 2 points and lines left out (the first on line 9).']);
    expect(level('surf 0 1 \\\n 0 1 1\n')[0]).toMatch(/^warning: 1 statement of curved surfaces .*'surf', first on line 9/);
    expect(level('shine 1\nshine 2\n')).toEqual(["warning: 2 statements of an unknown kind left out ('shine', first on line 9)."]);
    expect(read(`v 5 5 5 0\n${WHOLE}`).findings).toMatchObject([{ code: 'scan/weight', level: 'note' }]);
    // What may be a damaged vertex or face is never passed over: all numbers after it would shift.
    for (const word of ['vv', 'vertex', 'face', 'f1'])
      expect(faultOf(`${WHOLE}${word} 1 2 3\n`).message).toContain(`'${word}' is not an OBJ`);
  });

  test('a backslash that breaks a word in two is refused, since it can be read two ways', () => {
    expect(faultOf(`${V}\nf 1 2\\\n3 4\n`).message).toMatch(/'2\\' is not a vertex index \(line 5\)/);
  });

  test(`any way to write a mesh gives its corners bit for bit, SEED=${SEED}`, () => {
    const number = fc.double({ noNaN: true, noDefaultInfinity: true });
    const mesh = fc.array(fc.tuple(number, number, number), { minLength: 3, maxLength: 12 }).chain((points) =>
      fc.record({
        points: fc.constant(points),
        faces: fc.array(fc.array(fc.nat(points.length - 1), { minLength: 3, maxLength: 3 }), { minLength: 1, maxLength: 12 }),
        backwards: fc.boolean(),
        facesFirst: fc.boolean(),
        after: fc.constantFrom('', '/1', '//1', '/1/1', '//', '/-1/-1'),
        more: fc.constantFrom('', ' 1', ' .5 nan 1', ' 1 .5 .5 1'),
        blank: fc.constantFrom(' ', '\t', '  ', ' \\\n', '\\\n '),
        end: fc.constantFrom('\n', '\r\n', '\r', ' # said\n', '\n\ng part\ns off\n'),
      }),
    );
    fc.assert(
      fc.property(mesh, (m) => {
        const many = m.points.length;
        const backwards = m.backwards && !m.facesFirst; // only vertices above can be counted back
        const v = m.points.map((p) => ['v', ...p].join(m.blank) + m.more);
        const f = m.faces.map((t) => ['f', ...t.map((k) => `${backwards ? k - many : k + 1}${m.after}`)].join(m.blank));
        const text = (m.facesFirst ? [...f, ...v] : [...v, ...f]).map((line) => line + m.end).join('');
        expect([...read(text).corners]).toEqual(m.faces.flatMap((t) => t.flatMap((k) => (m.points[k] as number[]).map((c) => c + 0))));
      }),
      { seed: SEED, numRuns: 300 },
    );
  });
});

describe('OBJ that is refused', () => {
  test.each<[string, string, RegExp]>([
    ['index 0', `${V}\nf 1 2 0`, /vertex index 0 \(indices start at 1\) \(line 5\)/],
    ['an index too large', `${V}\nf 1 2 9`, /vertex 9, but only 4 are defined \(line 5\)/],
    ['an index beyond all', `${V}\nf 1 2 99999999999999999999`, /but only 4 are defined \(line 5\)/],
    ['too far back', `${V}\nf -5 2 3`, /vertex -5, but only 4 are defined before it \(line 5\)/],
    ['no vertices at all', 'f -1 -2 -3', /vertex -1, but none are defined/],
    ['a word for an index', `${V}\nf 1 2 xyz`, /'xyz' is not a vertex index \(line 5\)/],
    ['a fraction for an index', `${V}\nf 1 2 3.5`, /'3\.5' is not a vertex index \(line 5\)/],
    ['two numbers', `v 1 2\n${WHOLE}`, /vertex has 2 numbers, needs 3 \(line 1\)/],
    ['five numbers', `v 1 2 3 4 5\n${WHOLE}`, /vertex has 5 numbers/],
    ['a word for a number', `v 1 2 a\n${WHOLE}`, /'a' is not a number \(line 1\)/],
    ['a list of numbers', `v 1,2,3 4 5\n${WHOLE}`, /'1,2,3' is not a number \(comma as decimal mark\?\)/],
    ['a weight', `v 1 2 3 0.5\n${WHOLE}`, /weight 0\.5/],
    ['both decimal marks', `v 1,5 0 0\nv 1.5 0 0\n${WHOLE}`, /decimal comma.*decimal point/],
    ['a number that is none', `v nan 0 0\n${V}\nf 1 2 3`, /line 1: x is not a finite number \(nan\)/],
    ['points only', V, /4 points but no faces: this is a point cloud/],
    ['nothing', '# nothing\n', /no triangles in file/],
    ['a damaged statement', `${WHOLE}\n%%%\n`, /'%%%' is not an OBJ statement \(line 10\)/],
    ['only short faces', `${V}\nf 1 2\n`, /1 face of fewer than 3 corners, no others \(line 5\)/],
  ])('%s', (_what, text, says) => {
    const fault = faultOf(text);
    expect(fault.message).toMatch(says);
    expect(fault.next).not.toBe('');
  });
});

test(`damaged bytes: a Fault or finite triangles, SEED=${SEED}`, () => {
  const r = seeded(SEED);
  const files = [
    WHOLE,
    `${V}\n${F.replaceAll(' ', ' \\\n')}`,
    `${V.replaceAll(/$/gm, ' 1 1 1')}\n${F.replace(/(\d)(?= |$)/gm, '$1/1/1')}\nf 1 2 3 4\n`,
    `${F}\r\n${V}\r\nl 1 2\r\n`,
  ].map(bytes);
  for (let k = 0; k < 3000; k++) {
    const file = damaged(r, files);
    try {
      const { corners, triangles } = readObj(file);
      expect(corners.length % 9).toBe(0);
      expect(triangles).toBeGreaterThan(0);
      expect(corners.every((c) => Number.isFinite(c))).toBe(true);
    } catch (e) {
      if (!(e instanceof Fault)) throw e;
      expect(e.found).not.toBe('');
      expect(e.next).not.toBe('');
    }
  }
});

describeShared('OBJ files from elsewhere, triangles as their sources count them', 'scans', () => {
  test.each<[string, number]>([
    ['negative_indices', 12],
    ['continuation_ngons_crlf', 66],
    ['nan_colours', 12],
    ['ngon_66', 64],
    ['two_corner_face', 1],
    ['duplicate_internal_face', 8],
    ['multiple_spaces', 1],
  ])('obj_%s', (name, triangles) => {
    const soup = readObj(sharedFile(`scans/obj_${name}.obj`));
    expect([soup.triangles, soup.corners.length / 9]).toEqual([triangles, triangles]);
    expect(soup.findings.filter((f) => f.level === 'warning')).toEqual([]);
  });
});
