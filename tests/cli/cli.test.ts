import { describe, expect, test } from 'vitest';
import { run } from '../../src/cli/run.ts';
import { sampleBytes, samples } from '../support/samples.ts';
import { trial } from './trial.ts';

const roomy = samples().find((s) => s.file.includes('wide'));
const cast = (): Record<string, Uint8Array> => ({ 'cast-right.stl': sampleBytes(roomy?.file ?? '') });

describe('cavum', () => {
  test('a fit: exit 0, the document alone on stdout, talk on stderr', async () => {
    const { io, said } = trial(cast());
    expect(await run(['fit', 'cast-right.stl', '--style', 'IIC', '--json', '-'], io)).toBe(0);
    const document = JSON.parse(said.out);
    expect(document).toMatchObject({ format: 'cavum-verdict', version: 1, scan: { side: 'right', unit: 'mm' } });
    expect(document.styles).toHaveLength(1);
    expect(document.styles[0]).toMatchObject({ style: 'IIC', verdict: 'fits' });
    expect(said.talk).toContain('Invisible in canal');
  });

  test('not judged: exit 2, never confusable with 1', async () => {
    const { io, said } = trial({ ...cast(), 'o.json': new TextEncoder().encode('{"format":"cavum-order","version":1,"pushButton":true}') });
    expect(await run(['fit', 'cast-right.stl', '--style', 'IIC', '--order', 'o.json'], io)).toBe(2);
    expect(said.out).toContain('push button');
  });

  test.each([
    [['fit', 'missing.stl'], 'missing.stl'],
    [['fit', 'cast-right.stl', '--style', 'BTE'], 'Allowed: IIC, CIC, ITC, HS, ITE, all'],
    [['fit', 'cast-right.stl', '--seed', '-1'], 'whole number'],
    [['fit', 'cast-right.stl', '--effrot', 'quick'], 'effrot'],
    [['nonsense'], 'nonsense'],
    [['fit', 'junk-left.stl'], 'STL'],
    [['survey', 'unsided.stl'], 'left or right'],
  ])('%j: exit 2 and words', async (argv, words) => {
    const { io, said } = trial({
      ...cast(),
      'junk-left.stl': new TextEncoder().encode('Dear lab, this is no cast.'),
      'unsided.stl': new Uint8Array(84),
    });
    expect(await run(argv, io)).toBe(2);
    expect(said.talk).toContain(words);
    expect(said.talk).not.toContain('at async');
    expect(said.out).toBe('');
  });

  test('read and survey answer on stdout', async () => {
    const { io, said } = trial(cast());
    expect(await run(['read', 'cast-right.stl', '--json', '-'], io)).toBe(0);
    expect(JSON.parse(said.out).read.openLoops.length).toBeGreaterThan(0);
    const second = trial(cast());
    expect(await run(['survey', 'cast-right.stl'], second.io)).toBe(0);
    expect(second.said.out).toContain('first bend');
  });

  test('help names every command', async () => {
    const { io, said } = trial();
    expect(await run(['--help'], io)).toBe(0);
    for (const command of ['fit', 'survey', 'read', 'synth']) expect(said.out).toContain(command);
  });
});
