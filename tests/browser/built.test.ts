/** What ships to Node: the built command line and library, run as a user would, outside the project's folder. */
import { execFileSync, spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

const root = join(dirname(fileURLToPath(import.meta.url)), '../..');
const short = join(root, 'sample-scans/qb-105-right-short.stl');

describe('dist/cli', () => {
  let away: string;
  beforeAll(() => {
    away = mkdtempSync(join(tmpdir(), 'cavum built '));
    cpSync(join(root, 'dist/cli'), away, { recursive: true });
  });
  afterAll(() => rmSync(away, { recursive: true, force: true }));
  const cavum = (...argv: string[]) => spawnSync(process.execPath, [join(away, 'cavum.js'), ...argv], { encoding: 'utf8', cwd: tmpdir() });

  test('fit: the document on stdout, talk on stderr, exit 2 where nothing can be judged', () => {
    const { status, stdout, stderr } = cavum('fit', short, '--style', 'IIC', '--json', '-');
    expect(status).toBe(2);
    expect(JSON.parse(stdout).styles[0].verdict).toBe('not-judged');
    expect(stderr).toContain('Invisible in canal');
  });

  test('fit twice: the same bytes', () => {
    const once = cavum('fit', short, '--style', 'ITC', '--json', '-');
    expect(once.status).toBe(0);
    expect(cavum('fit', short, '--style', 'ITC', '--json', '-').stdout).toBe(once.stdout);
  });

  test('a bad file: exit 2, one sentence, no stack', () => {
    const { status, stdout, stderr } = cavum('fit', join(root, 'package.json'), '--side', 'left');
    expect(status).toBe(2);
    expect(stdout).toBe('');
    expect(stderr).toMatch(/^cavum: .+\n$/);
  });

  test('the library: import { check } works in Node without a DOM', () => {
    const script = `
      import { readFileSync } from 'node:fs';
      import { check } from ${JSON.stringify(pathToFileURL(join(away, 'engine.js')).href)};
      const result = await check({ bytes: readFileSync(${JSON.stringify(short)}), name: 'short-right.stl', styles: ['ITE'], effort: 'quick' });
      console.log(JSON.stringify([typeof document, result.rungs[0].style, result.rungs[0].verdict]));
    `;
    const out = execFileSync(process.execPath, ['--input-type=module', '-e', script], { encoding: 'utf8', cwd: tmpdir() });
    expect(JSON.parse(out)).toEqual(['undefined', 'ITE', 'fits']);
  });
});
