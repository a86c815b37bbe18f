/** What is changed of a catalogue on the page, without the page. Sizes are worked out by hand beside each check. */
import { describe, expect, test } from 'vitest';
import { alike, type Edits, edited, partIn, valueIn, withEdit } from '../../src/app/catalogue-edits.ts';
import {
  BLANK,
  catalogueFileName,
  catalogueText,
  draftOf,
  FlawedFile,
  type OwnCatalogue,
  ownCatalogue,
  readOwnCatalogue,
} from '../../src/app/own-catalogue.ts';
import { seeded } from '../../src/geometry/random.ts';
import { examineCatalogue, GENERIC, GENERIC_FILE, readCatalogue } from '../../src/parts/index.ts';
import type { CatalogueFile } from '../../src/parts/schema.ts';

const bytes = (x: unknown): Uint8Array => new TextEncoder().encode(JSON.stringify(x));
const made = (edits: Edits, base: CatalogueFile = BLANK): OwnCatalogue => {
  const own = ownCatalogue(base, edits);
  if ('flaws' in own) throw new Error(own.flaws.map((f) => `${f.at}: ${f.text}`).join('; '));
  return own.data;
};
const flaws = (edits: Edits, base: CatalogueFile = BLANK): string[] => {
  const own = ownCatalogue(base, edits);
  return 'flaws' in own ? own.flaws.map((f) => `${f.at}: ${f.text}`) : [];
};

describe('a catalogue begun here', () => {
  test('says nothing but its name until something is changed', () => {
    expect(made({}).catalogue).toEqual({ ...GENERIC, name: BLANK.name });
    expect(catalogueText(undefined)).toBe(`${JSON.stringify(GENERIC_FILE, null, 1)}\n`);
  });

  test('names only what was changed, and where it came from before', () => {
    const own = made({ 'rules/wall': 0.5, 'parts/chip/name': 'Chip B' });
    expect(own.file).toMatchObject({ extends: 'generic', rules: { wall: { value: 0.5 } }, parts: [{ id: 'chip', name: 'Chip B' }] });
    expect(own.file.rules?.wall?.source).toMatch(/^set by hand; before: 0\.6 mm, 0\.5 to 0\.8/);
    expect(own.file.parts?.[0]?.source).toMatch(/^set by hand; before: editable default, from memory/);
    expect(own.catalogue.rules).toEqual({ ...GENERIC.rules, wall: 0.5 });
  });

  test('what is saved reads as what rules, by the reader of the command line', () => {
    const own = made({ 'parts/cell-10/primitives/0/size/0': 6.5, 'styles/ITC/kit/0/part': 'cell-10', name: 'North' });
    expect(readCatalogue(catalogueText(own), 'own.json')).toEqual(own.catalogue);
  });
});

describe('a size', () => {
  const cell = (edits: Edits) => partIn(made(edits).file, 'cell-10')?.primitives[0];
  const receiver = (edits: Edits) => partIn(made(edits).file, 'receiver-medium');

  test('of a round at the faceplate: both diameters, its face stays where it was: its middle half a diameter behind, -6.5 / 2', () => {
    expect(cell({ 'parts/cell-10/primitives/0/size/0': 6.5 })).toMatchObject({ size: [6.5, 6.5, 3.9], position: [0, 0, -3.25] });
    expect(cell({ 'parts/cell-10/primitives/0/size/2': 4.4 })).toMatchObject({ size: [6.1, 6.1, 4.4], position: [0, 0, -3.05] });
  });

  test("of a receiver's body: spout, its tube and the spout's point move along by what it grew, 0.4", () => {
    const r = receiver({ 'parts/receiver-medium/primitives/0/size/2': 6.7 });
    // Ours: box 6.3 long about 0, spout at 3.95, tube at 5.75, point at 4.75. The lateral end stays at -3.15.
    expect(r?.primitives.map((p) => p.position ?? [0, 0, 0])).toEqual([
      [0, 0, 0.2],
      [0, 0, 4.35],
      [0, 0, 6.15],
    ]);
    expect(r?.seat).toMatchObject({ spout: [0, 0, 5.15] });
    expect(receiver({ 'parts/receiver-medium/primitives/0/size/0': 4.5 })?.seat).toMatchObject({ spout: [0, 0, 4.75] });
  });

  test('of a free part: its middle stays', () => {
    expect(partIn(made({ 'parts/chip/primitives/0/size/2': 2 }).file, 'chip')?.primitives[0]?.position).toBeUndefined();
  });

  test('of one of two twins: both', () => {
    const twin = (x: number) => ({ shape: 'box', size: [1, 1, 1], position: [x, 0, -0.5] });
    const two = {
      id: 'wheel',
      kind: 'volume-wheel',
      name: 'Wheel',
      primitives: [twin(2), twin(-2)],
      seat: { at: 'faceplate' },
      source: 'here',
    };
    const { base } = readOwnCatalogue(bytes({ ...BLANK, parts: [two] }), 'two.json');
    const primitives = partIn(made({ 'parts/wheel/primitives/0/size/2': 3 }, base).file, 'wheel')?.primitives ?? [];
    expect(primitives.map((p) => [p.size, p.position])).toEqual([
      [
        [1, 1, 3],
        [2, 0, -1.5],
      ],
      [
        [1, 1, 3],
        [-2, 0, -1.5],
      ],
    ]);
    expect(alike(primitives, 0)).toEqual([0, 1]);
  });

  test('that cannot be is told as in a file, never more and never less', () => {
    expect(flaws({ 'parts/cell-10/primitives/0/size/0': 5 })).toEqual([
      '/parts/0/primitives: no primitive is large enough for the cell: 5.8 mm across and 3.6 mm high',
    ]);
    expect(flaws({ 'parts/chip/primitives/0/size/1': 'wide' })).toEqual([
      '/parts/0/primitives/0/size/1: found "wide" (text), a number from 0.1 to 30 mm is needed',
    ]);
    expect(flaws({ 'rules/wall': 60 })).toEqual(['/rules/wall/value: found 60, a number from 0.3 to 1.5 mm is needed']);
    expect(draftOf(BLANK, { 'parts/cell-10/primitives/0/size/0': 5 })).toBeDefined(); // it can still be drawn
    expect(draftOf(BLANK, { 'parts/chip/primitives/0/size/1': 'wide' })).toBeUndefined();
  });
});

describe('the part of a slot', () => {
  test('changes places with the one that stood there', () => {
    const { catalogue } = made({ 'styles/ITC/kit/0/part': 'cell-10' });
    const [slot] = catalogue.styles[2]?.slots ?? [];
    expect(slot).toMatchObject({
      takes: 'cell',
      part: { id: 'cell-10' },
      alternatives: [{ id: 'cell-312' }],
      rechargeable: { id: 'cell-312-rechargeable' },
    });
    expect(catalogue.styles[3]).toEqual(GENERIC.styles[3]);
  });

  test('of another kind is refused as in a file', () => {
    expect(flaws({ 'styles/ITC/kit/0/part': 'chip' })).toEqual(['/styles/0/kit/0/part: "chip" is a chip, cell is needed']);
  });
});

describe('a file that was opened', () => {
  const lab = { ...BLANK, name: 'North', rules: { wall: { value: 0.7, source: 'our printer' } } };

  test('is kept apart from what is changed of it; put back, it is the file again', () => {
    const own = readOwnCatalogue(bytes(lab), 'north.json');
    expect([own.catalogue.name, own.catalogue.rules.wall, catalogueFileName(own)]).toEqual(['North', 0.7, 'north.json']);
    const edits = withEdit(own.base, {}, 'rules/wall', 0.8);
    const changed = ownCatalogue(own.base, edits, own.from);
    expect('data' in changed && catalogueFileName(changed.data)).toBe('north-changed.json');
    const back = withEdit(own.base, edits, 'rules/wall', 0.7);
    expect(back).toEqual({});
    expect(made(back, own.base).file).toEqual(own.file);
  });

  test('with faults: each is told as `catalogue check` tells it', () => {
    const bad = bytes({ ...lab, rules: { wal: {}, gap: { value: 7, source: 'x' } }, parts: 3 });
    const told = examineCatalogue(bad);
    let fault: unknown;
    try {
      readOwnCatalogue(bad, 'bad.json');
    } catch (e) {
      fault = e;
    }
    expect(fault).toBeInstanceOf(FlawedFile);
    expect((fault as FlawedFile).flaws).toEqual('flaws' in told ? told.flaws.map((f) => `${f.at}: ${f.text}`) : []);
    expect((fault as FlawedFile).flaws).toHaveLength(3);
  });

  test('whole, with fewer styles: changed in place', () => {
    const whole = { ...GENERIC_FILE, name: 'Two', styles: GENERIC_FILE.styles?.slice(2, 4) };
    const own = readOwnCatalogue(bytes(whole), 'two.json');
    const { catalogue } = made({ 'styles/HS/kit/0/part': 'cell-13', 'parts/cell-13/primitives/0/size/2': 6 }, own.base);
    expect(catalogue.styles.map((s) => s.name)).toEqual(['ITC', 'HS']);
    expect(catalogue.styles[1]?.slots[0]).toMatchObject({ part: { id: 'cell-13', primitives: [{ size: [8.2, 8.2, 6] }, {}] } });
  });
});

test('fuzz: changes and their taking back, in any order, end where they began; every value reads as it was set', () => {
  const random = seeded(7);
  const places = [
    'rules/gap',
    'parts/chip/primitives/0/size/0',
    'parts/receiver-small/primitives/0/size/2',
    'parts/receiver-small/margin',
    'parts/cell-13/primitives/0/size/0',
  ];
  for (let round = 0; round < 40; round++) {
    let edits: Edits = {};
    for (let k = 0; k < 8; k++) {
      const place = places[random.below(places.length)] as string;
      const value = Math.round(100 * (0.1 + 0.8 * random.next())) / 100 + (place.includes('cell') ? 8 : 0);
      edits = withEdit(BLANK, edits, place, value);
      const draft = draftOf(BLANK, edits);
      expect(draft && valueIn(draft, place)).toBe(value);
    }
    for (const place of Object.keys(edits)) edits = withEdit(BLANK, edits, place, valueIn(BLANK, place) ?? '');
    expect(edited(BLANK, edits)).toEqual(BLANK);
  }
});
