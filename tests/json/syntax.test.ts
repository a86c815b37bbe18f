import { describe, expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { DEEPEST, syntaxFlaws } from '../../src/json/syntax.ts';

const first = (text: string): string => {
  const [flaw] = syntaxFlaws(text);
  return flaw ? `${flaw.at}: ${flaw.text}` : 'sound';
};

describe('the place and the words', () => {
  test.each([
    ['{\n "a": 1,\n}', 'line 3, column 1: a comma stands before this }'],
    ['[1, 2,]', 'line 1, column 7: a comma stands before this ]'],
    ['{"wall": 0,6}', 'line 1, column 12: a key in double quotes is needed, found 6 (numbers take a point, not a comma)'],
    ["{'a': 1}", 'line 1, column 2: a key in double quotes is needed'],
    ['{"a": \'x\'}', "line 1, column 7: a value is needed, found ' (texts take double quotes)"],
    ['{"a": 1\r\n "b": 2}', 'line 2, column 2: a comma or } is needed'],
    ['{"a" 1}', 'line 1, column 6: a colon is needed after the key "a"'],
    ['{\n\n"a": [1', 'the [ of line 3 is not closed'],
    ['{"a": ', 'the { of line 1 is not closed'],
    ['"abc', 'a text begins here and never ends'],
    ['"a\nb"', 'line 1, column 3: this line ends inside a text'],
    ['"a\\x"', 'a backslash stands before'],
    ['012', '012 is not a number as JSON writes it'],
    ['1.5mm', '1.5mm is not a number'],
    ['[.5]', 'a value is needed, found .5'],
    ['NaN', 'a value is needed, found NaN'],
    ['{} {}', 'nothing may follow the end, found {'],
    ['// note\n{}', 'line 1, column 1: a value is needed, found /'],
    ['["ä耳😀", x]', 'line 1, column 9: a value is needed, found x'],
    ['   ', 'the text ends where a value is needed'],
  ])('%j', (text, words) => {
    expect(first(text)).toContain(words);
  });

  test('depth is counted, not recursed into', () => {
    expect(first('['.repeat(50_000))).toContain(`column ${DEEPEST + 1}: nested deeper than ${DEEPEST} levels`);
    expect(first(`${'['.repeat(DEEPEST)}${']'.repeat(DEEPEST)}`)).toBe('sound');
  });

  test('repeated and forbidden keys are named where they stand, however they are written', () => {
    const flaws = syntaxFlaws('{"a": [0, {"b": 1,\n "b": 2, "\\u005f_proto__": {}}], "constructor": 1, "a": 3, "x/~y": {"prototype": 0}}');
    expect(flaws.map((f) => f.at)).toEqual(['/a/1/b', '/a/1/__proto__', '/constructor', '/a', '/x~1~0y/prototype']);
    expect(flaws[0]?.text).toBe('this key stands here twice (line 2)');
  });

  test('the same key in two objects is no repetition', () => {
    expect(syntaxFlaws('[{"a": 1}, {"a": 2}]')).toEqual([]);
  });

  test('many keys, many objects, long texts: one pass over the text', () => {
    expect(syntaxFlaws(`[${'{},'.repeat(300_000)}0]`)).toEqual([]);
    expect(syntaxFlaws(`"${'x'.repeat(900_000)}"`)).toEqual([]);
    expect(syntaxFlaws(`{${'"a":1,'.repeat(100_000)}"b":1}`).length).toBeLessThan(100);
  });
});

/** A text that JSON.parse takes, or one spoilt by a few changes of single signs. */
function draw(seed: number): string {
  const random = seeded(seed);
  const pick = <T>(of: readonly T[]): T => of[Math.floor(random.next() * of.length)] as T;
  const value = (depth: number): unknown => {
    const kind = pick(depth > 4 ? ['n', 's', 'w'] : ['n', 's', 'w', 'a', 'a', 'o', 'o']);
    if (kind === 'n') return pick([0, -1, 2.5, 1e-7, 1.5e300, -0.25]);
    if (kind === 's') return pick(['', 'left', 'ä\n"\\', '\u2028', '{', 'a/b']);
    if (kind === 'w') return pick([true, false, null]);
    const many = Math.floor(random.next() * 4);
    if (kind === 'a') return Array.from({ length: many }, () => value(depth + 1));
    return Object.fromEntries(Array.from({ length: many }, (_, k) => [`k${k}`, value(depth + 1)]));
  };
  let text = JSON.stringify(value(0), null, pick([0, 1]));
  const changes = Math.floor(random.next() * 3);
  for (let k = 0; k < changes; k++) {
    const at = Math.floor(random.next() * (text.length + 1));
    const sign = pick([',', ':', '"', '{', '}', '[', ']', '0', '.', 'e', '-', '+', ' ', '\n', '\\', 'u', 't', '\t', '\u00a0', '\f']);
    text = text.slice(0, at) + sign + text.slice(at + (random.next() < 0.5 ? 1 : 0));
  }
  return text;
}

const base = Number(process.env['SEED'] ?? 1);
test(`takes what JSON.parse takes and nothing else: 20 000 texts, SEED=${base}`, () => {
  let sound = 0;
  for (let seed = base; seed < base + 20_000; seed++) {
    const text = draw(seed);
    let parses = true;
    try {
      JSON.parse(text);
    } catch {
      parses = false;
    }
    const flaws = syntaxFlaws(text).filter((f) => f.code === 'json/syntax');
    expect(flaws.length === 0, `seed ${seed}: ${JSON.stringify(text)} ${JSON.stringify(flaws)}`).toBe(parses);
    if (parses) sound++;
  }
  expect(sound).toBeGreaterThan(4000); // neither half is empty
  expect(sound).toBeLessThan(16_000);
});
