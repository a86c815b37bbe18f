/** 3MF: the model and where its build places it. Rules from the 3MF Core Specification 1.3 and the Production Extension. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Fault } from '../../src/model/fault.ts';
import type { Soup } from '../../src/scan/files/soup.ts';
import { read3mf } from '../../src/scan/files/threemf.ts';
import { box, cornersOf, plug, plugVolume } from '../support/solids.ts';
import { changesOf, readSound, textsOf } from './helpers.ts';
import { bytesOf, refusalOf, SEED, through, told, volumeOf } from './readers.ts';
import { CORE, CUBE, type File, meshOf, modelOf, ONE, objectOf, PART, PRODUCTION, packed, partsOf } from './threemf-packages.ts';

const PLUG = plug();
const read = (model: string | Uint8Array): Soup => read3mf(packed(model));
const refusal = (bytes: Uint8Array): Fault => refusalOf(() => read3mf(bytes));
const refused = (model: string): string => {
  const fault = refusal(packed(model));
  return `${fault.code}: ${fault.message}`;
};

describe('the model', () => {
  test('a sound file changes nothing: exact corners, every digit', () => {
    const bytes = packed(modelOf(objectOf(7, meshOf(PLUG), 'type="model" name="left"'), '<item objectid="7"/>'));
    const soup = read3mf(bytes);
    expect([...soup.corners]).toEqual(cornersOf(PLUG).map((x) => x + 0));
    expect(soup).toMatchObject({ format: '3mf', unit: 'mm', triangles: PLUG.triangles.length, single: false, findings: [] });
    const scan = readSound(bytes);
    expect(scan.findings).toEqual([]);
    expect(Math.abs(scan.volume / plugVolume() - 1)).toBeLessThan(1e-12);
  });

  test.each([
    ['micron', 'um', 1],
    ['millimeter', 'mm', 1],
    ['centimeter', 'cm', 1],
    ['inch', 'inch', 1],
    ['foot', 'inch', 12],
    ['meter', 'm', 1],
  ])('unit %s', (word, unit, scale) => {
    const soup = read(ONE.replace('millimeter', word));
    expect(soup.unit).toBe(unit);
    expect(volumeOf(soup.corners)).toBe(64 * scale ** 3);
  });

  test('no unit is the millimetre, an unknown one is refused', () => {
    expect(read(ONE.replace(' unit="millimeter"', '')).unit).toBe('mm');
    expect(refused(ONE.replace('millimeter', 'furlong'))).toMatch(/scan\/syntax: unit 'furlong' is none of micron, millimeter/);
    expect(refused(ONE.replace('millimeter', 'constructor'))).toMatch(/unit 'constructor' is none of/);
  });

  test('forms of XML that say the same', () => {
    const same: (string | Uint8Array)[] = [
      ONE.replaceAll('"', "'"),
      ONE.replaceAll('/>', ' />').replaceAll('><', '>\r\n\t<'),
      ONE.replace(/<vertex x="([^"]*)" y="([^"]*)" z="([^"]*)"\/>/g, '<vertex z = "$3"\n y= "$2" x ="$1"></vertex >'),
      `\uFEFF${ONE}`,
      ONE.replace(
        '<resources>',
        '<!-- <resources> -- a > b --><metadata name="Title">4 &lt; 5 &unknown; ]]></metadata><![CDATA[ <object id="1"> ]]]]><resources>',
      ),
      ONE.replace('<?xml version="1.0" encoding="UTF-8"?>', ''),
      ONE.replace('encoding="UTF-8"', "encoding = 'utf-8' standalone='yes'"),
      ONE.replaceAll(/<(\/?)(\w)/g, '<$1m:$2').replace('xmlns=', 'xmlns:m='),
      ONE.replace('x="0"', 'x="&#48;"').replace('x="4"', 'x="&#x34;"').replace(`${CORE}`, CORE.replaceAll('/', '&#47;')),
      ONE.replaceAll('"4"', '" 4.0e0 "').replaceAll('v1="0"', 'v1="+0"'),
      ONE.replace('<object', '<basematerials id="9"><base name="a" displaycolor="#FFF"/></basematerials><object'),
      ONE.replace('<vertices>', '<x:vertices xmlns:x="urn:x"><x:vertex x="9" y="9" z="9"/></x:vertices><vertices>'),
      ONE.replace('<vertices>', '<vertices><metadatagroup><vertex x="9" y="9" z="9"/></metadatagroup>'),
      ONE.replace(CORE, 'http://schemas.microsoft.com/3dmanufacturing/2013/01'),
      `${ONE}\n<!---->\0\0`,
      utf16(ONE, true),
      utf16(ONE, false),
      utf16(ONE.replace('UTF-8', 'utf-16'), true).subarray(2),
      utf16(ONE.replace('<resources>', '<metadata name="Title">耳 𝒳 é</metadata><resources>'), false),
    ];
    for (const model of same) {
      const soup = read(model);
      expect([...soup.corners]).toEqual(cornersOf(CUBE));
      expect(soup.findings).toEqual([]);
    }
  });

  test('a file longer than any buffer, its tags cut at every place between two pieces', () => {
    for (let shift = 0; shift < 40; shift++) {
      const pad = `<!--${' '.repeat(262_144 - 120 - shift)}-->`;
      expect([...read(ONE.replace('<resources>', `${pad}\n<resources>`)).corners]).toEqual(cornersOf(CUBE));
    }
  });

  test.each<[what: string, edit: (s: string) => string, says: RegExp]>([
    ['a DOCTYPE', (s) => s.replace('?>', '?><!DOCTYPE model [<!ENTITY a "b">]>'), /scan\/unsafe: a DOCTYPE/],
    ['an entity of its own', (s) => s.replace('id="1"', 'id="&one;"'), /unknown entity '&one'/],
    ['another encoding', (s) => s.replace('UTF-8', 'ISO-8859-1'), /scan\/encoding: it says that it is written in ISO-8859-1/],
    ['tags that do not match', (s) => s.replace('</vertices>', '</vertexes>'), /'<\/vertexes>' found, '<\/vertices>' needed.*line 3/],
    ['a tag closed twice', (s) => `${s}</model>`, /'<\/model>' found, nothing is open/],
    ['two roots', (s) => `${s}<model/>`, /a second root element/],
    ['text outside', (s) => `${s} extra`, /text after the last tag/],
    ['text before', (s) => `extra ${s}`, /text before the first tag/],
    ['no quotes', (s) => s.replace('x="0"', 'x=0'), /'x=0.*' is no attribute/],
    ['no blank between attributes', (s) => s.replace('" y=', '"y='), /is no attribute/],
    ['a missing quote', (s) => s.replace('x="0"', 'x="0'), /'<' within a tag|is no attribute/],
    ['an attribute twice', (s) => s.replace('x="0"', 'x="0" x="1"'), /attribute 'x' stands twice/],
    ['an undeclared prefix', (s) => s.replace('<resources>', '<q:thing/><resources>'), /prefix 'q' is not declared/],
    ['a cut end', (s) => s.slice(0, -30), /scan\/truncated: the XML ends before its root element is closed/],
    ['nothing', () => ' ', /the XML holds no element/],
    [
      'deep nesting',
      (s) => s.replace('<resources>', `${'<a>'.repeat(300)}${'</a>'.repeat(300)}<resources>`),
      /scan\/unsafe: elements nested more than 200 deep/,
    ],
    ['an endless tag', (s) => s.replace('id="1"', `id="1" name="${'n'.repeat(1_100_000)}"`), /a tag of more than 1000000 bytes/],
    [
      'a flood of attributes',
      (s) => s.replace('id="1"', `id="1" ${Array.from({ length: 70 }, (_, i) => `a${i}=""`).join(' ')}`),
      /a tag with more than 64 attributes/,
    ],
    [
      'a flood of namespaces',
      (s) => s.replace('<resources>', Array.from({ length: 101 }, (_, i) => `<resources xmlns:n${i}="urn:n">`).join('')),
      /more than 100 namespaces declared/,
    ],
    ['another root', (s) => s.replaceAll('model', 'kit'), /the root element is 'kit', 'model' of the 3MF core needed/],
    ['a root of another namespace', (s) => s.replace(CORE, 'urn:other'), /the root element is 'model', 'model' of the 3MF core needed/],
    ['a coordinate missing', (s) => s.replace('y="0" ', ''), /'vertex' without its attribute 'y'.*line 3/],
    ['a word', (s) => s.replace('y="0"', 'y="nil"'), /y="nil" is not a finite number/],
    ['a decimal comma', (s) => s.replace('y="0"', 'y="0,5"'), /y="0,5" is not a finite number \(comma as decimal mark\?\)/],
    ['two numbers', (s) => s.replace('y="0"', 'y="0 1"'), /y="0 1" is not a finite number/],
    ['not a number', (s) => s.replace('y="0"', 'y="NaN"'), /y="NaN" is not a finite number/],
    ['infinity', (s) => s.replace('y="0"', 'y="1e999"'), /y="1e999" is not a finite number/],
    ['an empty value', (s) => s.replace('y="0"', 'y=""'), /y="" is not a finite number/],
    ['an index out of range', (s) => s.replace('v3="1"', 'v3="8"'), /triangle 2 of object 1 uses vertex 8, it has 8 \(0 to 7\)/],
    ['a negative index', (s) => s.replace('v3="1"', 'v3="-1"'), /v3="-1" is not a vertex number/],
    ['half an index', (s) => s.replace('v3="1"', 'v3="1.5"'), /v3="1.5" is not a vertex number/],
    ['no vertices', (s) => s.replace(/<vertices>.*<\/vertices>/, ''), /uses vertex \d, it has none/],
    ['an object without number', (s) => s.replace('<object id="1"', '<object'), /'object' without its attribute 'id'/],
    ['object 0', (s) => s.replace('<object id="1"', '<object id="0"'), /id="0" is not an object number/],
    ['an object twice', (s) => s.replace('<resources>', `<resources>${objectOf(1, meshOf(CUBE))}`), /a second object 1/],
    ['two bodies in one object', (s) => s.replace('<mesh>', '<components/><mesh>'), /object 1 has a second body/],
    ['an unknown type', (s) => s.replace('<object', '<object type="thing"'), /unknown type 'thing'/],
    ['an item of nothing', (s) => s.replace('objectid="1"', 'objectid="2"'), /object 2 is used, but there is none in 3D\/3dmodel\.model/],
    ['an item without object', (s) => s.replace(' objectid="1"', ''), /'item' without its attribute 'objectid'/],
    ['an empty build', (s) => s.replace('<item objectid="1"/>', ''), /no items in its build element \(1 object in it\)/],
    ['no build', (s) => s.replace(/<build>.*<\/build>/, ''), /no build element/],
    [
      'an empty mesh',
      (s) => s.replace(/<mesh>.*<\/mesh>/, '<mesh><vertices/><triangles/></mesh>'),
      /scan\/no-triangles: no triangles in object 1/,
    ],
    ['an object of nothing', (s) => s.replace(/<mesh>.*<\/mesh>/, ''), /scan\/no-triangles: no triangles in object 1/],
    [
      'a beam lattice only',
      (s) =>
        s.replace(
          /<triangles>.*<\/triangles>/,
          '<triangles/><b:beamlattice xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02"><b:beams/></b:beamlattice>',
        ),
      /no triangles in object 1: it is made of beamlattice, which is not read/,
    ],
    [
      'a matrix of eleven',
      (s) => s.replace('objectid="1"', 'objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"'),
      /matrix of item 1 of the build has 11 numbers, needs 12/,
    ],
    [
      'a matrix of words',
      (s) => s.replace('objectid="1"', 'objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 x"'),
      /holds 'x', which is not a number/,
    ],
    [
      'a flat matrix',
      (s) => s.replace('objectid="1"', 'objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"'),
      /matrix of item 1 of the build is singular/,
    ],
    ['a matrix of rank two', (s) => s.replace('objectid="1"', 'objectid="1" transform="1 2 3 4 5 6 7 8 9 0 0 0"'), /singular/],
    ['a matrix beyond all', (s) => s.replace('objectid="1"', 'objectid="1" transform="1 0 0 0 1 0 0 0 1 1e999 0 0"'), /holds '1e999'/],
    [
      'corners beyond all',
      (s) =>
        s.replace('objectid="1"', 'objectid="1" transform="1e100 0 0 0 1e100 0 0 0 1e100 0 0 0"').replaceAll(/([xyz])="4"/g, '$1="1e300"'),
      /beyond all numbers/,
    ],
  ])('%s', (_what, edit, says) => {
    const model = edit(ONE);
    expect(model).not.toBe(ONE);
    expect(refused(model)).toMatch(says);
  });

  test('bytes that are not UTF-8, half characters of UTF-16, UTF-32', () => {
    for (const odd of [[0xff], [0xc0, 0x80], [0xed, 0xa0, 0x80], [0xf4, 0x90, 0x80, 0x80], [0xe0, 0x9f, 0xbf], [0xc3, 0x20], [0x80]]) {
      const at = ONE.indexOf('<resources>');
      const bytes = Uint8Array.from([...bytesOf(ONE.slice(0, at)), ...odd, ...bytesOf(ONE.slice(at))]);
      expect(refusal(packed(bytes)).message).toMatch(/3D\/3dmodel\.model is not valid UTF-8 \(byte \d+ of the part\)/);
    }
    expect(refusal(packed(utf16(ONE, true).subarray(0, -1))).message).toMatch(/not valid UTF-16/);
    expect(refusal(packed(utf16(ONE.replace('\n', '\ud800'), true))).message).toMatch(/not valid UTF-16/);
    expect(refusal(packed(Uint8Array.of(0xff, 0xfe, 0, 0, 0x3c, 0, 0, 0))).message).toMatch(/is UTF-32/);
  });
});

function utf16(text: string, little: boolean): Uint8Array {
  const units = [0xfeff, ...Array.from({ length: text.length }, (_, i) => text.charCodeAt(i))];
  return Uint8Array.from(units.flatMap((u) => (little ? [u & 255, u >> 8] : [u >> 8, u & 255])));
}

describe('placing', () => {
  const M = [0, 1, 0, -1, 0, 0, 0, 0, 1, 5, 6, 7];
  const N = [2, 0.5, 0, 0, 3, 0.25, 0.125, 0, 1.5, -10, 20, 30];

  test(`items and components through their matrices, against the definition, SEED=${SEED}`, () => {
    const number = fc.integer({ min: -64, max: 64 }).map((n) => n / 16);
    const matrix = fc.array(number, { minLength: 12, maxLength: 12 });
    const determinant = (m: readonly number[]): number => {
      const [a, b, c, d, e, f, g, h, i] = m as [number, number, number, number, number, number, number, number, number];
      return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
    };
    fc.assert(
      fc.property(matrix, matrix, (inner, outer) => {
        fc.pre(Math.abs(determinant(inner)) > 0.01 && Math.abs(determinant(outer)) > 0.01);
        const model = modelOf(
          objectOf(1, meshOf(CUBE)) + objectOf(2, partsOf(`objectid="1" transform="${inner.join(' ')}"`)),
          `<item objectid="2" transform="${outer.join('\n ')}"/>`,
        );
        const soup = read(model);
        const turns = determinant(inner) * determinant(outer) < 0;
        const expected = through(through(cornersOf(CUBE), inner), outer); // dyadic numbers: no rounding
        for (let t = 0; t < expected.length; t += 9) {
          const corner = (k: number): number[] => expected.slice(t + 3 * k, t + 3 * k + 3).map((x) => x + 0);
          const order = turns ? [0, 2, 1] : [0, 1, 2];
          expect([...soup.corners.subarray(t, t + 9)]).toEqual(order.flatMap(corner));
        }
        expect(volumeOf(soup.corners)).toBeGreaterThan(0);
        expect(soup.findings.map((f) => f.code)).toEqual(turns ? ['scan/mirrored'] : []);
      }),
      { seed: SEED, numRuns: 200 },
    );
  });

  test('nested components: order of matrices, one object many times', () => {
    const model = modelOf(
      objectOf(1, meshOf(CUBE)) +
        objectOf(2, partsOf('objectid="1"', `objectid="1" transform="${N.join(' ')}"`)) +
        objectOf(3, partsOf('objectid="2"', `objectid="2" transform="${M.join(' ')}"`)),
      '<item objectid="3"/><item objectid="1" partnumber="7"/>',
    );
    const base = cornersOf(CUBE);
    const two = [...base, ...through(base, N)];
    const soup = read(model);
    expect([...soup.corners]).toEqual([...two, ...through(two, M), ...base].map((x) => x + 0));
    expect(told(soup)).toBe('scan/solids note: The file places 2 items; all are read.');
  });

  test('a mirrored item is turned over and said so; mirrored twice it is not', () => {
    const flip = '-1 0 0 0 1 0 0 0 1 0 0 0';
    const once = packed(modelOf(objectOf(1, meshOf(PLUG)), `<item objectid="1" transform="${flip}"/>`));
    const scan = readSound(once);
    expect(changesOf(scan)).toEqual(['scan/mirrored']);
    expect(textsOf(scan)).toMatch(/A body is mirrored by its matrix: 284 triangles turned over/);
    expect(Math.abs(scan.volume / plugVolume() - 1)).toBeLessThan(1e-12);
    const twice = read(
      modelOf(
        objectOf(1, meshOf(CUBE)) + objectOf(2, partsOf(`objectid="1" transform="${flip}"`)),
        `<item objectid="2" transform="${flip}"/>`,
      ),
    );
    expect([...twice.corners]).toEqual(cornersOf(CUBE));
    expect(twice.findings).toEqual([]);
  });

  test('scale in the matrix; tiny matrices are not singular', () => {
    const soup = read(modelOf(objectOf(1, meshOf(CUBE)), '<item objectid="1" transform="1e-6 0 0 0 1e-6 0 0 0 1e-6 0 0 0"/>'));
    expect(volumeOf(soup.corners)).toBeCloseTo(64e-18, 30);
    expect(read(modelOf(objectOf(1, meshOf(CUBE)), '<item objectid="1" transform="1e-6 0 0 0 1 0 0 0 1e6 0 0 0"/>')).triangles).toBe(12);
  });

  test('only what the build uses is read; support and what is not to be printed is left out, and told', () => {
    const big = objectOf(9, meshOf(box([0, 0, 0], [100, 100, 100])));
    const unused = read(ONE.replace('<resources>', `<resources>${big}`));
    expect([...unused.corners]).toEqual(cornersOf(CUBE));
    expect(told(unused)).toBe('scan/left-out note: Left out: 1 object that nothing in the build uses.');
    for (const type of ['support', 'solidsupport', 'other']) {
      const soup = read(
        modelOf(objectOf(1, meshOf(CUBE)) + objectOf(2, meshOf(CUBE), `type="${type}"`), '<item objectid="1"/><item objectid="2"/>'),
      );
      expect(soup.triangles).toBe(12);
      expect(told(soup)).toMatch(/scan\/left-out note: Left out: 1 object of support/);
      expect(refused(modelOf(objectOf(2, meshOf(CUBE), `type="${type}"`), '<item objectid="2"/>'))).toMatch(
        /no triangles in file but those of support \(1 object\)/,
      );
    }
    expect(read(ONE.replace('<object', '<object type="surface"')).triangles).toBe(12);
    // The type of an object with components does not count, that of its components does.
    const mixed = modelOf(
      objectOf(1, meshOf(CUBE)) +
        objectOf(2, meshOf(CUBE), 'type="support"') +
        objectOf(3, partsOf('objectid="1"', 'objectid="2"'), 'type="support"'),
      '<item objectid="3"/>',
    );
    expect(read(mixed).triangles).toBe(12);
    const off = read(ONE.replace('<build>', '<build><item objectid="1" printable="0" transform="1 0 0 0 1 0 0 0 1 9 0 0"/>'));
    expect([...off.corners]).toEqual(cornersOf(CUBE));
    expect(told(off)).toMatch(/Left out: 1 item marked as not to be printed/);
    expect(refused(ONE.replace('objectid="1"', 'objectid="1" printable="false"'))).toMatch(
      /all 1 item of this 3MF are marked as not to be printed/,
    );
    expect(read(ONE.replace('objectid="1"', 'objectid="1" printable="1"')).triangles).toBe(12);
  });

  test('loops, depth and floods of components', () => {
    const loop = (...links: [number, number][]): string =>
      refused(modelOf(links.map(([from, to]) => objectOf(from, partsOf(`objectid="${to}"`))).join(''), '<item objectid="1"/>'));
    expect(loop([1, 1])).toMatch(/scan\/syntax: object 1 contains itself/);
    expect(loop([1, 2], [2, 1])).toMatch(/object 1 contains itself/);
    expect(loop([1, 2], [2, 3], [3, 2])).toMatch(/object 2 contains itself/);
    const chain = (n: number): string =>
      modelOf(
        objectOf(n, meshOf(CUBE)) + Array.from({ length: n - 1 }, (_, i) => objectOf(i + 1, partsOf(`objectid="${i + 2}"`))).join(''),
        '<item objectid="1"/>',
      );
    expect(read(chain(60)).triangles).toBe(12);
    expect(refused(chain(5000))).toMatch(/object 66 lies more than 64 components deep/);
    const flood = (leaf: string): string =>
      modelOf(
        objectOf(1, leaf) +
          Array.from({ length: 40 }, (_, i) => objectOf(i + 2, partsOf(...new Array(10).fill(`objectid="${i + 1}"`)))).join(''),
        '<item objectid="41"/>',
      );
    expect(refused(flood(meshOf(CUBE)))).toMatch(/scan\/too-large: the file holds 12 000 000 triangles, the limit is 5 000 000/);
    expect(refused(flood('<mesh><vertices/><triangles/></mesh>'))).toMatch(/no triangles in object 1/);
  });

  test('degenerate triangles and unused vertices are kept for the mending', () => {
    const soup = read(ONE.replace('<triangle ', '<triangle v1="3" v2="3" v3="1"/><triangle v1="0" v2="0" v3="0"/><triangle '));
    expect(soup.triangles).toBe(14);
    const scan = readSound(
      packed(
        modelOf(objectOf(1, meshOf(PLUG).replace('<triangle ', '<triangle v1="3" v2="3" v3="1"/><triangle ')), '<item objectid="1"/>'),
      ),
    );
    expect(Math.abs(scan.volume / plugVolume() - 1)).toBeLessThan(1e-12);
  });

  test('extensions: known ones pass, required unknown ones and shapes beside the mesh are told', () => {
    const with_ = (attributes: string): string => told(read(ONE.replace('unit=', `${attributes} unit=`)));
    expect(with_('xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02" requiredextensions="m"')).toBe('');
    expect(with_(`xmlns:p="${PRODUCTION}" requiredextensions=" p "`)).toBe('');
    expect(with_('xmlns:q="urn:twist" requiredextensions="q"')).toMatch(
      /scan\/extension warning: .* requires the extension 'q' \(urn:twist\), which is not read/,
    );
    expect(with_('requiredextensions="z"')).toMatch(/'z' \(not declared\)/);
    expect(with_('xmlns:q="urn:twist" recommendedextensions="q"')).toBe('');
    const lattice = ONE.replace('</mesh>', '<b:beamlattice xmlns:b="urn:b"/></mesh>');
    expect(told(read(lattice))).toMatch(/Object 1 has more than its triangles: beamlattice of an extension is not read/);
  });

  test('components in other model parts (production extension)', () => {
    const leaf = modelOf(objectOf(5, meshOf(CUBE)), '');
    const root = (path: string, unit = 'millimeter'): string =>
      modelOf(
        objectOf(5, partsOf(`objectid="5" p:path="${path}" transform="${M.join(' ')}"`)),
        '<item objectid="5"/>',
        `xmlns:p="${PRODUCTION}" unit="${unit}"`,
      );
    const files: File[] = [{ name: '3D/Objects/a b.model', data: leaf }];
    for (const path of ['/3D/Objects/a%20b.model', '/3D/Objects/a b.model', '/3d/objects/A B.MODEL']) {
      const soup = read3mf(packed(root(path), files));
      expect([...soup.corners]).toEqual(through(cornersOf(CUBE), M).map((x) => x + 0));
      expect(soup.findings).toEqual([]);
    }
    expect(refusal(packed(root('/3D/none.model'), files)).message).toMatch(/model part 3D\/none\.model is not in this 3MF/);
    expect(refusal(packed(root('/3D/Objects/a b.model', 'inch'), files)).message).toMatch(
      /parts in two units: inch, and millimeter in 3D\/Objects\/a b\.model/,
    );
    const back = modelOf(objectOf(5, partsOf(`objectid="5" p:path="/${PART}"`)), '', `xmlns:p="${PRODUCTION}" unit="millimeter"`);
    expect(refusal(packed(root('/3D/b.model'), [{ name: '3D/b.model', data: back }])).message).toMatch(/object 5 contains itself/);
  });
});
