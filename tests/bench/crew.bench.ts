/**
 * The command line with one job and with more, in pairs, each run in a process of its own (`npm run build` first): in one process the second
 * run would find the first one's code compiled, mates never do. Prints; asserts nothing about time, but that all wrote the same bytes.
 *
 *   SAMPLE=qb-103-right-narrow.stl JOBS=4 PAIRS=5 REMEDIES=1 npm run bench -- crew
 */
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

const top = (path: string): string => fileURLToPath(new URL(`../../${path}`, import.meta.url));
const SCAN = process.env['SAMPLE'] ?? 'qb-102-left-average.stl';
const JOBS = Number(process.env['JOBS'] ?? 2);
const PAIRS = Number(process.env['PAIRS'] ?? 3);
const REMEDIES = process.env['REMEDIES'] ? ['--remedies'] : [];

interface Run {
  readonly ms: number;
  readonly bytes: string;
}

function run(jobs: number, more: readonly string[]): Run {
  const argv = [top('dist/cli/cavum.js'), 'fit', top(`sample-scans/${SCAN}`), '--json', '-', '--jobs', String(jobs), ...more];
  const t = performance.now();
  let out: Buffer;
  try {
    out = execFileSync(process.execPath, argv, { stdio: ['ignore', 'pipe', 'ignore'], maxBuffer: 1e9 });
  } catch (e) {
    // Exit 1 is an answer too: none fits.
    if (!(e instanceof Error && 'status' in e && e.status === 1 && 'stdout' in e)) throw e;
    out = e.stdout as Buffer;
  }
  const ms = performance.now() - t;
  return { ms, bytes: createHash('sha256').update(out).digest('hex') };
}

const median = (a: readonly number[]): number => [...a].sort((x, y) => x - y)[a.length >> 1] as number;

test.each([
  ['the whole ladder', REMEDIES],
  ['the ladder at quick effort', ['--effort', 'quick']],
] as const)('%s, 1 job and more', (title, more) => {
  if (!existsSync(top('dist/cli/mate.js'))) throw new Error('dist/cli/mate.js is missing: run `npm run build` first');
  const pairs = Array.from({ length: PAIRS }, (_, k) => {
    // Who goes first takes turns: a machine that slows down or warms up favours neither.
    const order = k % 2 === 0 ? [1, JOBS] : [JOBS, 1];
    const runs = order.map((jobs) => run(jobs, more));
    return k % 2 === 0 ? runs : runs.reverse();
  });
  expect(new Set(pairs.flat().map((r) => r.bytes)).size).toBe(1);
  const [one, many] = [0, 1].map((k) => pairs.map((p) => (p[k] as Run).ms)) as [number[], number[]];
  const ratio = median(one.map((ms, k) => ms / (many[k] as number)));
  const said = (ms: readonly number[]): string =>
    `${(median(ms) / 1000).toFixed(2)} s (${ms.map((x) => (x / 1000).toFixed(2)).join(', ')})`;
  process.stdout.write(
    `\n${title} of ${SCAN}, node ${process.version}, ${availableParallelism()} cores, ${PAIRS} pairs\n  1 job   ${said(one)}\n  ${JOBS} jobs  ${said(many)}\n  ratio   ${ratio.toFixed(2)}, median of the pairs\n`,
  );
});
