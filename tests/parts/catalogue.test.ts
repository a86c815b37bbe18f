import { describe, expect, test } from 'vitest';
import { Fault } from '../../src/model/fault.ts';
import type { StyleName } from '../../src/model/parts.ts';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { examineCatalogue, GENERIC, GENERIC_FILE, kitFor, RULE_RANGES, readCatalogue } from '../../src/parts/index.ts';

type Json = Record<string, unknown>;
const copy = (): Json => JSON.parse(JSON.stringify(GENERIC_FILE));
const lab = (said: Json): string => JSON.stringify({ format: 'cavum-catalogue', version: 1, name: 'a lab', extends: 'generic', ...said });
const told = (text: string): string[] => {
  const e = examineCatalogue(text);
  return 'flaws' in e ? e.flaws.map((f) => `${f.at}: ${f.text}`) : [];
};
const kitOf = (text: string, name: StyleName, order = {}) => {
  const catalogue = readCatalogue(text, 'lab.json');
  const style = catalogue.styles.find((s) => s.name === name);
  if (!style) throw new Error(`no ${name}`);
  return kitFor(style, { ...DEFAULT_ORDER, ...order }, catalogue.rules);
};

/** A part with one thing changed. */
const chip = (said: Json = {}): Json => ({
  id: 'chip',
  kind: 'chip',
  name: 'Chip',
  primitives: [{ shape: 'box', size: [4, 3, 1.5] }],
  seat: { at: 'free' },
  source: 'measured here',
  ...said,
});
const cell = (said: Json = {}): Json => ({
  id: 'cell-10',
  kind: 'cell',
  name: 'Battery 10',
  holds: { cell: 'PR70', diameter: 5.8, height: 3.6 },
  primitives: [{ shape: 'cylinder', size: [6.1, 6.1, 3.9], position: [0, 0, -3.05], along: 'x' }],
  seat: { at: 'faceplate' },
  source: 'measured here',
  ...said,
});

describe('ours', () => {
  test('as a file of its own, it is the same catalogue', () => {
    expect(told(JSON.stringify(GENERIC_FILE))).toEqual([]);
    expect(readCatalogue(JSON.stringify(GENERIC_FILE), 'generic')).toEqual(GENERIC);
  });

  test('a file that extends it and says nothing is the same but for its name', () => {
    expect(readCatalogue(lab({}), 'lab')).toEqual({ ...GENERIC, name: 'a lab' });
  });

  test('every part, rule, style and table says where it comes from', () => {
    const walk = (value: unknown, at: string): string[] => {
      if (typeof value !== 'object' || value === null) return [];
      if (Array.isArray(value)) return value.flatMap((x, k) => walk(x, `${at}/${k}`));
      const lacks = 'source' in value ? [] : [at];
      return /^\/(parts|styles)\/\d+$|^\/rules\/\w+$|^\/(ports|receiverClasses|vents)$/.test(at)
        ? lacks
        : Object.entries(value).flatMap(([k, x]) => walk(x, `${at}/${k}`));
    };
    expect(walk(GENERIC_FILE, '')).toEqual([]);
  });

  test('every default of a rule lies within what the rule may be', () => {
    for (const [rule, [least, most]] of Object.entries(RULE_RANGES)) {
      const value = GENERIC.rules[rule as keyof typeof RULE_RANGES];
      expect(value, rule).toBeGreaterThanOrEqual(least);
      expect(value, rule).toBeLessThanOrEqual(most);
    }
  });
});

describe("a lab's own file", () => {
  test('a part of the same id takes the place of ours in every kit', () => {
    const k = kitOf(lab({ parts: [chip()] }), 'ITE');
    expect(k.kind === 'kit' && k.kit.parts.find((p) => p.kind === 'chip')).toMatchObject({
      id: 'chip',
      name: 'Chip',
      margin: 0,
      source: 'measured here',
      primitives: [{ shape: 'box', size: [4, 3, 1.5], position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' }],
    });
  });

  test('a new part and a new kit: an ITC without a choice, with two chips', () => {
    const kit = [
      { takes: 'cell', part: 'cell-312' },
      { takes: 'receiver', sizes: { small: 'receiver-small' } },
      { takes: 'part', part: 'chip' },
      { takes: 'part', part: 'second-chip' },
      { takes: 'microphones', part: 'microphone-flat', least: 1, most: 1 },
    ];
    const text = lab({ parts: [chip({ id: 'second-chip' })], styles: [{ name: 'ITC', kit }] });
    const k = kitOf(text, 'ITC');
    expect(k.kind === 'kit' && k.kit.parts.map((p) => p.id)).toEqual(['cell', 'receiver', 'chip', 'chip-2', 'microphone']);
    expect(kitOf(text, 'ITC', { pushButton: true })).toMatchObject({ kind: 'excluded', text: expect.stringContaining('no controls') });
    expect(kitOf(text, 'ITC', { receiver: 'medium' }).kind).toBe('excluded');
    expect(kitOf(text, 'HS', { pushButton: true }).kind).toBe('kit'); // as ours
  });

  test('cuts, rules, ports and classes are replaced where the file says them', () => {
    const c = readCatalogue(
      lab({
        rules: { wall: { value: 0.7, source: 'our printer' } },
        ports: { least: 5, most: 10, tilt: 15, source: 'ours' },
        styles: [{ name: 'CIC', outer: { from: 'aperture', lateral: 1, range: [0, 2], facing: 'axis' } }],
      }),
      'lab',
    );
    expect(c.rules).toEqual({ ...GENERIC.rules, wall: 0.7 });
    expect(c.styles[1]).toMatchObject({ name: 'CIC', outer: { lateral: 1 }, tip: GENERIC.styles[1]?.tip });
    expect(c.styles[4]?.ports).toEqual({ least: 5, most: 10, tilt: (15 * Math.PI) / 180 });
    expect(c.styles.map((s) => s.name)).toEqual(['IIC', 'CIC', 'ITC', 'HS', 'ITE']);
  });

  test('a whole file may have fewer styles', () => {
    const own = copy();
    own['styles'] = (own['styles'] as Json[]).slice(2, 4);
    expect(readCatalogue(JSON.stringify(own), 'own').styles.map((s) => s.name)).toEqual(['ITC', 'HS']);
  });

  test('lying along x, y or z, and tilted about x', () => {
    const lying = (said: Json) => {
      const k = kitOf(lab({ parts: [chip({ primitives: [{ shape: 'capsule', size: [2, 2, 5], ...said }] })] }), 'ITE');
      return k.kind === 'kit' ? k.kit.parts.find((p) => p.kind === 'chip')?.primitives[0]?.quaternion : undefined;
    };
    // The turn of a quaternion by hand: z goes to [2(xz + wy), 2(yz - wx), 1 - 2(xx + yy)].
    const zOf = ([x, y, z, w]: readonly number[]) => [2 * (x! * z! + w! * y!), 2 * (y! * z! - w! * x!), 1 - 2 * (x! * x! + y! * y!)];
    const near = (q: readonly number[] | undefined, to: readonly number[]): void => {
      for (const [k, c] of zOf(q ?? []).entries()) expect(c).toBeCloseTo(to[k] as number, 12);
    };
    near(lying({ along: 'x' }), [1, 0, 0]);
    near(lying({ along: 'y' }), [0, 1, 0]);
    near(lying({}), [0, 0, 1]);
    near(lying({ tilt: 30 }), [0, -0.5, Math.sqrt(3) / 2]);
  });
});

describe('broken ones are explained', () => {
  const swapped = (() => {
    const own = copy();
    (own['styles'] as Json[]).reverse();
    return JSON.stringify(own);
  })();
  const without = (key: string): string => {
    const { [key]: _, ...rest } = copy();
    return JSON.stringify(rest);
  };
  const kitWith = (slot: Json): string =>
    lab({
      styles: [
        {
          name: 'ITC',
          kit: [
            { takes: 'cell', part: 'cell-312' },
            { takes: 'receiver', sizes: { small: 'receiver-small' } },
            { takes: 'microphones', part: 'microphone-flat', least: 1, most: 1 },
            slot,
          ],
        },
      ],
    });

  test.each<[string, string, string]>([
    ['a misspelt key', lab({ ruels: {} }), '/ruels: unknown key, did you mean rules?'],
    [
      'a wall in metres',
      lab({ rules: { wall: { value: 0.0006, source: 's' } } }),
      '/rules/wall/value: found 0.0006, a number from 0.3 to 1.5 mm is needed',
    ],
    ['a value without its source', lab({ rules: { gap: { value: 0.1 } } }), '/rules/gap/source: missing'],
    [
      'a size as text',
      lab({ parts: [chip({ primitives: [{ shape: 'box', size: [4, '3,5', 1] }] })] }),
      '/parts/0/primitives/0/size/1: found "3,5" (text)',
    ],
    [
      'a size of zero',
      lab({ parts: [chip({ primitives: [{ shape: 'box', size: [4, 0, 1] }] })] }),
      '/parts/0/primitives/0/size/1: found 0, a number from 0.1 to 30 mm',
    ],
    [
      'an unknown shape',
      lab({ parts: [chip({ primitives: [{ shape: 'sphere', size: [1, 1, 1] }] })] }),
      '/parts/0/primitives/0/shape: found "sphere"',
    ],
    ['an unknown kind', lab({ parts: [chip({ kind: 'chimp' })] }), '/parts/0/kind: found "chimp" (text), one of cell, receiver, chip'],
    ['two parts of one id', lab({ parts: [chip(), chip()] }), '/parts/1/id: "chip" is the id of /parts/0 too'],
    [
      'an oval cylinder',
      lab({ parts: [chip({ primitives: [{ shape: 'cylinder', size: [4, 3, 1] }] })] }),
      '/parts/0/primitives/0/size: a cylinder has [diameter, diameter, length]: 4 and 3 must be equal',
    ],
    [
      'a capsule shorter than round',
      lab({ parts: [chip({ primitives: [{ shape: 'capsule', size: [4, 4, 3] }] })] }),
      '/parts/0/primitives/0/size: a capsule',
    ],
    [
      'a part that is one-sided',
      lab({ parts: [chip({ primitives: [{ shape: 'box', size: [1, 1, 1], position: [0.5, 0, 0] }] })] }),
      '/parts/0/primitives/0/position: stands at x = 0.5 with no twin',
    ],
    [
      'a twin of another size',
      lab({
        parts: [
          chip({
            primitives: [
              { shape: 'box', size: [1, 1, 1], position: [2, 0, 0] },
              { shape: 'box', size: [1, 2, 1], position: [-2, 0, 0] },
            ],
          }),
        ],
      }),
      '/parts/0/primitives/0/position',
    ],
    [
      'no matter',
      lab({ parts: [chip({ primitives: [{ shape: 'box', size: [1, 1, 1], kind: 'service' }] })] }),
      '/parts/0/primitives: none is solid',
    ],
    [
      'matter in front of the faceplate',
      lab({ parts: [cell({ primitives: [{ shape: 'cylinder', size: [6.1, 6.1, 3.9], position: [0, 0, -3], along: 'x' }] })] }),
      '/parts/0/seat: its matter reaches z = 0.0',
    ],
    [
      'matter far behind it',
      lab({ parts: [cell({ primitives: [{ shape: 'cylinder', size: [6.1, 6.1, 3.9], position: [0, 0, -13], along: 'x' }] })] }),
      'more than 3 mm behind the faceplate',
    ],
    [
      'a drawer smaller than its cell',
      lab({ parts: [cell({ primitives: [{ shape: 'cylinder', size: [5.7, 5.7, 3.9], position: [0, 0, -3], along: 'x' }] })] }),
      '/parts/0/primitives: no primitive is large enough for the cell: 5.8 mm across and 3.6 mm high',
    ],
    [
      'a cell below the standard',
      lab({ parts: [cell({ holds: { cell: 'PR70', diameter: 5.5, height: 3.6 } })] }),
      '/parts/0/holds/diameter: found 5.5; PR70 may have 5.8 mm',
    ],
    ['a cell that says no cell', lab({ parts: [cell({ holds: undefined })] }), '/parts/0/holds: missing'],
    [
      'a chip that holds a cell',
      lab({ parts: [chip({ holds: { cell: 'PR70', diameter: 1, height: 1 } })] }),
      '/parts/0/holds: only a cell',
    ],
    [
      'a free microphone',
      lab({ parts: [chip({ id: 'm', kind: 'microphone' })] }),
      '/parts/0/seat/at: found free; a microphone sits at the faceplate',
    ],
    [
      'a chip at the tip',
      lab({ parts: [chip({ seat: { at: 'tip', spout: [0, 0, 1], reach: 4, cone: 30 } })] }),
      '/parts/0/seat/at: only a receiver',
    ],
    [
      'a spout beside the middle',
      lab({ parts: [chip({ id: 'r', kind: 'receiver', seat: { at: 'tip', spout: [0.5, 0, 1], reach: 4, cone: 30 } })] }),
      '/parts/0/seat/spout/0: found 0.5, 0 is needed',
    ],
    [
      'a spout far off',
      lab({ parts: [chip({ id: 'r', kind: 'receiver', seat: { at: 'tip', spout: [0, 0, 9], reach: 4, cone: 30 } })] }),
      '/parts/0/seat/spout/2: found 9, more than 2 mm off',
    ],
    ['a part that nobody lists', kitWith({ takes: 'part', part: 'chip-3' }), '/styles/0/kit/3/part: no part has the id "chip-3"'],
    [
      'an alternative that nobody lists',
      kitWith({ takes: 'part', part: 'chip', alternatives: ['chip', 'chop'] }),
      '/styles/0/kit/3/alternatives/1: no part has the id "chop"',
    ],
    [
      'a part of the wrong kind',
      kitWith({ takes: 'wish', wish: 'telecoil', part: 'radio' }),
      '/styles/0/kit/3/part: "radio" is a radio, telecoil is needed',
    ],
    ['two cells', kitWith({ takes: 'cell', part: 'cell-10' }), '/styles/0/kit: has 2 slots that take "cell", 1 is needed'],
    ['a slot that takes nothing known', kitWith({ takes: 'wish-list' }), '/styles/0/kit/3/takes: found "wish-list"'],
    ['a replaced part that no longer suits a kit of ours', lab({ parts: [chip({ kind: 'radio' })] }), 'IIC/kit/2/part: "chip" is a radio'],
    [
      'a faceplate outside its own range',
      lab({ styles: [{ name: 'CIC', outer: { from: 'aperture', lateral: 3, range: [-0.5, 2], facing: 'axis' } }] }),
      '/styles/0/outer/lateral: found 3, outside its own range -0.5 to 2',
    ],
    [
      'a range the wrong way round',
      lab({ styles: [{ name: 'CIC', outer: { from: 'aperture', lateral: 1, range: [2, 0], facing: 'axis' } }] }),
      '/styles/0/outer/range: found 2 to 0',
    ],
    [
      'a larger style that lies deeper',
      lab({ styles: [{ name: 'CIC', outer: { from: 'aperture', lateral: -3, range: [-5, 2], facing: 'axis' } }] }),
      '/styles/0/outer/lateral: found -3, medial of the smaller style IIC',
    ],
    ['styles out of order', swapped, '/styles/1/name: HS stands after ITE; styles go from the smallest to the largest'],
    ['a style twice', lab({ styles: [{ name: 'HS' }, { name: 'HS' }] }), '/styles/1/name: HS is the name of /styles/0 too'],
    [
      'ports that cannot be',
      lab({ ports: { least: 12, most: 4, tilt: 20, source: 's' } }),
      '/ports/least: found 12, which is not below most, 4',
    ],
    [
      'classes that fall',
      lab({
        receiverClasses: {
          classes: [
            { size: 'small', upTo: 60 },
            { size: 'medium', upTo: 50 },
          ],
          source: 's',
        },
      }),
      '/receiverClasses/classes/1/upTo: found 50, which is not above the 60 before it',
    ],
    [
      'classes out of order',
      lab({
        receiverClasses: {
          classes: [
            { size: 'large', upTo: 60 },
            { size: 'medium', upTo: 70 },
          ],
          source: 's',
        },
      }),
      '/receiverClasses/classes/1/size: found medium after large',
    ],
    [
      'vents that widen with the loss',
      lab({
        vents: {
          classes: [
            { diameter: 1, upTo: 20 },
            { diameter: 2, upTo: 30 },
          ],
          source: 's',
        },
      }),
      '/vents/classes/1/diameter: found 2 after 1',
    ],
    ['no parts of its own, and nothing extended', without('parts'), '/parts: missing'],
    ['no rules of its own, and nothing extended', without('rules'), '/rules/wall: missing; a catalogue that does not extend ours'],
    [
      'a prototype key',
      '{"format":"cavum-catalogue","version":1,"name":"x","extends":"generic","__proto__":{"rules":{}}}',
      '/__proto__: this key is not allowed',
    ],
    ['a part id from the prototype', kitWith({ takes: 'part', part: 'tostring' }), 'no part has the id "tostring"'],
  ])('%s', (_name, text, words) => {
    expect(told(text).join('\n')).toContain(words);
  });

  test('every flaw of a file is told at once, with its place', () => {
    const text = lab({
      parts: [chip({ primitives: [{ shape: 'cylinder', size: [4, 3, 1], position: [1, 0, 0] }] }), chip()],
      ports: { least: 9, most: 4, tilt: 20, source: 's' },
      styles: [
        {
          name: 'HS',
          kit: [
            { takes: 'part', part: 'x' },
            { takes: 'part', part: 'y' },
            { takes: 'part', part: 'z' },
          ],
        },
      ],
    });
    const places = told(text).map((t) => t.split(':')[0]);
    for (const at of [
      '/parts/0/primitives/0/size',
      '/parts/0/primitives/0/position',
      '/parts/1/id',
      '/ports/least',
      '/styles/0/kit/2/part',
      '/styles/0/kit',
    ]) {
      expect(places).toContain(at);
    }
  });

  test('readCatalogue throws one Fault with the file and what to do', () => {
    try {
      readCatalogue('{', 'lab.json');
      expect.unreachable();
    } catch (e) {
      expect(e).toBeInstanceOf(Fault);
      expect(e).toMatchObject({ code: 'json/syntax', where: 'lab.json' });
    }
  });
});
