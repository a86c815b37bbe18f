/** Cases, catalogues and remedies on the command line; each remedy, applied in the case file, gives what it promised. */
import { describe, expect, test } from 'vitest';
import { writeCase } from '../../src/casefile/index.ts';
import { run } from '../../src/cli/run.ts';
import { GENERIC_FILE } from '../../src/parts/index.ts';
import { sampleBytes, samples } from '../support/samples.ts';
import { trial } from './trial.ts';

const bytes = (x: string | object): Uint8Array => new TextEncoder().encode(typeof x === 'string' ? x : JSON.stringify(x));
const named = (word: string): string => samples().find((s) => s.file.includes(word))?.file ?? '';

async function judged(files: Record<string, Uint8Array>, ...argv: string[]) {
  const { io, said } = trial(files);
  const code = await run(['fit', ...argv, '--json', '-'], io);
  return { code, talk: said.talk, document: said.out === '' ? undefined : JSON.parse(said.out) };
}

describe('a case on the command line', () => {
  const file = named('wide');
  const scans = { [`folder/${file}`]: sampleBytes(file) };

  test('names its scan, side, styles and rules', async () => {
    const text = writeCase({ scan: file, side: 'right', styles: ['CIC'], rules: { wall: 0.7 }, seed: 3, effort: 'quick' });
    const { code, document } = await judged({ ...scans, 'folder/case.json': bytes(text) }, 'folder/case.json');
    expect(code).toBe(0);
    expect(document.rules.wall).toBe(0.7);
    expect(document.seed).toBe(3);
    expect(document.styles.map((s: { style: string }) => s.style)).toEqual(['CIC']);
  });

  test('the command line rules over it, and says so', async () => {
    const text = writeCase({ scan: file, side: 'right', styles: ['CIC'], effort: 'quick' });
    const { document, talk } = await judged({ ...scans, 'folder/case.json': bytes(text) }, 'folder/case.json', '--style', 'IIC');
    expect(document.styles.map((s: { style: string }) => s.style)).toEqual(['IIC']);
    expect(talk).toMatch(/overrules the case in: styles/);
  });

  test('a cut that the style does not allow is refused by name', async () => {
    const text = writeCase({ scan: file, side: 'right', styles: ['IIC'], cuts: { IIC: { outer: 5 } } });
    const { code, talk } = await judged({ ...scans, 'folder/case.json': bytes(text) }, 'folder/case.json');
    expect(code).toBe(2);
    expect(talk).toMatch(/outer of the Invisible in canal style is 5 mm, must be -4 to -0\.5/);
  });

  test('corrections of a case and of the command line are put together; the document says which marks were set', async () => {
    const text = writeCase({ scan: file, side: 'right', styles: ['IIC'], effort: 'quick', corrections: { end: 8, crus: 'none' } });
    const { document, talk } = await judged(
      { ...scans, 'c/case.json': bytes(text), [`c/${file}`]: sampleBytes(file) },
      'c/case.json',
      '--correct',
      'end=7.5',
    );
    expect(talk).toMatch(/overrules the case in: corrections/);
    expect(document.corrections).toEqual({ end: 7.5, crus: 'none' });
    expect(document.ear.end).toMatchObject({ depth: 7.5, set: 'by hand', confidence: 1 });
    expect(document.ear.aperture.set).toBe('auto');
    expect(document.ear.crus).toBe(null);
    // The canal that is left ends before the second bend, which an IIC needs.
    expect(document.styles[0].verdict).toBe('not-judged');
  });

  test.each([
    ['frist-bend=3', /did you mean firstBend/],
    ['end', /sets nothing/],
    ['end=90', /number from -30 to 60/],
    ['end=2', /the end was set 2\.0 mm inside the aperture/],
  ])('--correct %s is refused in words', async (said, words) => {
    const { code, talk } = await judged({ [file]: sampleBytes(file) }, file, '--style', 'IIC', '--correct', said);
    expect(code).toBe(2);
    expect(talk).toMatch(words);
  });

  test('the same mark twice is refused', async () => {
    const { talk } = await judged({ [file]: sampleBytes(file) }, file, '--correct', 'end=9', '--correct', 'end=8');
    expect(talk).toMatch(/end is set twice/);
  });

  test('a bad case: exit 2, every fault, no stack', async () => {
    const { code, talk } = await judged(
      { 'c.json': bytes({ format: 'cavum-case', version: 1, scan: '../x.stl', sied: 'left' }) },
      'c.json',
    );
    expect(code).toBe(2);
    expect(talk).toMatch(/\/scan/);
    expect(talk).toMatch(/did you mean side\?/);
    expect(talk).not.toMatch(/ at .*\.ts/);
  });
});

describe('catalogues on the command line', () => {
  test('ours is printed, and is sound', async () => {
    const shown = trial({});
    expect(await run(['catalogue', 'show'], shown.io)).toBe(0);
    const checked = trial({ 'own.json': bytes(shown.said.out) });
    expect(await run(['catalogue', 'check', 'own.json'], checked.io)).toBe(0);
    expect(checked.said.out).toMatch(/own\.json is sound/);
  });

  test('a broken one: each fault with its path, exit 2', async () => {
    const broken = { ...GENERIC_FILE, rules: { ...GENERIC_FILE.rules, wall: { value: 9, source: 'a slip' } }, stiles: [] };
    const { io, said } = trial({ 'own.json': bytes(broken) });
    expect(await run(['catalogue', 'check', 'own.json'], io)).toBe(2);
    expect(said.out).toMatch(/\/rules\/wall\/value: found 9/);
    expect(said.out).toMatch(/\/stiles: unknown key, did you mean styles\?/);
  });

  test('a larger cell changes the verdict, with no change of code', async () => {
    const file = named('average');
    const cell = GENERIC_FILE.parts?.find((p) => p.id === 'cell-10');
    const large = { ...cell, primitives: [{ shape: 'cylinder', size: [9, 9, 5], position: [0, 0, -4.5], along: 'x' }] };
    const own = bytes({ format: 'cavum-catalogue', version: 1, name: 'a trial', extends: 'generic', parts: [large] });
    const files = { 'a-left.stl': sampleBytes(file), 'own.json': own };
    const plain = await judged(files, 'a-left.stl', '--style', 'IIC');
    const other = await judged(files, 'a-left.stl', '--style', 'IIC', '--parts', 'own.json');
    expect(plain.document.styles[0].verdict).toBe('fits');
    expect(other.document.styles[0].verdict).toBe('does-not-fit');
  });
});

test('each remedy, applied in the case file, gives the verdict that it promised', async () => {
  const file = named('ragged');
  const files = { [file]: sampleBytes(file) };
  const styles = ['CIC', 'ITC'] as const;
  const ask = (extra: object) => bytes(writeCase({ scan: file, side: 'left', styles, ...extra }));
  const { document } = await judged({ ...files, 'case.json': ask({}) }, 'case.json', '--remedies');
  const remedies = document.styles.flatMap(
    (s: { remedies: { change: object; style: string; verdict: string; found: number; code: string }[] }) => s.remedies,
  );
  const tried = remedies.filter((r: { code: string }) => r.code !== 'larger-style');
  expect(tried.length).toBeGreaterThanOrEqual(2);
  for (const remedy of tried) {
    const again = await judged({ ...files, 'case.json': ask({ ...remedy.change, styles: [remedy.style] }) }, 'case.json');
    expect(again.document.styles[0].verdict, remedy.code).toBe(remedy.verdict);
    expect(again.document.styles[0].found, remedy.code).toBeGreaterThanOrEqual(remedy.found - 0.03);
  }
});
