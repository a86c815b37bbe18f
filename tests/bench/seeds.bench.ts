/**
 * Does a verdict hang on the seed? Every style of a population of synthetic ears, judged at normal effort with SEEDS seeds each: in how
 * many cases the verdicts differ, and how far the spares lie apart. A case is near a border where a seed's spare lies within 0.02 mm of
 * one (fits | tight, tight | no); there a verdict may well change, and elsewhere it should not.
 * EARS=12 SEED=1 npm run bench -- seeds. Printed, never asserted.
 */
import { test } from 'vitest';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { judgeStyle } from '../../src/ladder/index.ts';
import { ENOUGH, type Rung } from '../../src/model/fit.ts';
import { GENERIC } from '../../src/parts/index.ts';
import { otherSeeds } from '../../src/steady/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { benchOfScan } from '../remedy/benches.ts';

const EARS = Number(process.env['EARS'] ?? 12);
const FIRST = Number(process.env['SEED'] ?? 1);
const SEEDS = Number(process.env['SEEDS'] ?? 3);
/** mm */
const NEAR = 0.02;

interface Case {
  readonly name: string;
  readonly rungs: readonly Rung[];
  readonly tolerance: number;
}

const foundOf = ({ rungs }: Case): number[] => rungs.flatMap((r) => r.found ?? []);
const differs = ({ rungs }: Case): boolean => new Set(rungs.map((r) => r.verdict)).size > 1;
const nearBorder = (c: Case): boolean => foundOf(c).some((x) => Math.min(Math.abs(x - c.tolerance), Math.abs(x + c.tolerance)) <= NEAR);
/** Greatest less least spare, mm; undefined where a seed gave none, or all are only "at least". */
function spreadOf(c: Case): number | undefined {
  const found = foundOf(c);
  if (found.length < c.rungs.length || found.every((x) => x >= ENOUGH)) return undefined;
  return Math.max(...found) - Math.min(...found);
}

async function judged(kernel: Kernel, ear: number): Promise<Case[]> {
  const arena = new Arena();
  try {
    const made = makeEar(drawEar(ear, { resolution: 0.45 }), ear);
    const bench = benchOfScan(kernel, arena, encodeStl(made.mesh), made.truth.side, { effort: 'normal', rules: GENERIC.rules });
    const cases: Case[] = [];
    for (const style of GENERIC.styles) {
      const rungs: Rung[] = [];
      // A proof knows no seed, and where one already says no there is nothing to search for.
      for (const seed of [bench.seed, ...otherSeeds(bench.seed, SEEDS - 1)])
        rungs.push(await judgeStyle({ ...bench, seed, brief: true }, style));
      cases.push({ name: `ear ${ear} ${style.name}`, rungs, tolerance: bench.rules.tolerance });
    }
    return cases;
  } finally {
    arena.free();
  }
}

const line = ({ name, rungs }: Case): string =>
  `${name}: ${rungs.map((r) => `${r.verdict} ${r.found?.toFixed(3) ?? '-'}${r.assembly?.kind === 'stuck' ? ' stuck' : ''}`).join(', ')}`;

test(`${SEEDS} seeds, ${EARS} ears from seed ${FIRST}`, async () => {
  const kernel = await loadKernel();
  const all: Case[] = [];
  for (let ear = FIRST; ear < FIRST + EARS; ear++) {
    const start = performance.now();
    const cases = await judged(kernel, ear);
    all.push(...cases);
    // At once: a long run may be broken off.
    console.log([`ear ${ear}, ${((performance.now() - start) / 1000).toFixed(1)} s`, ...cases.map(line)].join('\n'));
  }
  const searched = all.filter((c) => foundOf(c).length > 0);
  const away = all.filter((c) => !nearBorder(c));
  const share = (of: readonly Case[]): string => {
    const n = of.filter(differs).length;
    return `${n} of ${of.length} (${((100 * n) / Math.max(1, of.length)).toFixed(1)} %)`;
  };
  const spreads = all.flatMap((c) => spreadOf(c) ?? []).sort((a, b) => a - b);
  const at = (q: number): string => (spreads[Math.min(spreads.length - 1, Math.floor(q * spreads.length))] ?? 0).toFixed(4);
  console.log(
    [
      `${all.length} cases, ${searched.length} of them searched, ${all.length - away.length} within ${NEAR} mm of a border`,
      `verdicts differ: away from the borders in ${share(away)}, in all in ${share(all)}, of those searched in ${share(searched)}`,
      `spread of the spares, ${spreads.length} cases: median ${at(0.5)}, 95th percentile ${at(0.95)}, greatest ${at(1)} mm`,
      ...all.filter(differs).map((c) => `differs${nearBorder(c) ? ', near a border' : ''}: ${line(c)}`),
    ].join('\n'),
  );
});
