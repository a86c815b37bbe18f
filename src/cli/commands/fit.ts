import type { Command } from 'commander';
import { check } from '../../engine/index.ts';
import type { CaseResult } from '../../model/case.ts';
import type { Side } from '../../model/ear.ts';
import type { Effort } from '../../model/fit.ts';
import { STYLES, type StyleName } from '../../model/parts.ts';
import type { Unit } from '../../model/scan.ts';
import { readOrder } from '../../order/index.ts';
import { ladderTable, verdictDocument } from '../../report/index.ts';
import { EXIT, fileName, type Io, oneOf, SIDES, UNITS, wholeNumber, writeJson } from '../io.ts';
import { progress } from '../progress.ts';

interface FitOptions {
  readonly side?: Side;
  readonly unit?: Unit;
  readonly order?: string;
  readonly style: StyleName | 'all';
  readonly seed: number;
  readonly effort: Effort;
  readonly json?: string;
  readonly remedies?: boolean;
}

export function addFit(program: Command, io: Io, exit: (code: number) => void): void {
  program
    .command('fit')
    .description('judge every style for this scan: what fits, by how much, and if not, why not')
    .argument('<scan>', 'the scanned impression (STL)')
    .option('--side <side>', 'left or right (else from the order, else from the file name)', oneOf(SIDES))
    .option('--unit <unit>', `of the file: ${UNITS.join(', ')} (else judged from the size)`, oneOf(UNITS))
    .option('--order <file>', 'what the instrument must have (JSON)')
    .option('--style <style>', `${STYLES.join(', ')} or all`, oneOf([...STYLES, 'all'] as const), 'all')
    .option('--seed <n>', 'of the search; same seed, same answer', wholeNumber(0, 4294967295), 1)
    .option('--effort <effort>', 'quick, normal or thorough', oneOf(['quick', 'normal', 'thorough'] as const), 'normal')
    .option('--remedies', 'look for what would make a style fit that does not, and try it')
    .option('--json <file>', 'write the verdict document there; - for stdout instead of the table')
    .action(async (path: string, options: FitOptions) => {
      const decoder = new TextDecoder();
      const order = options.order === undefined ? undefined : readOrder(decoder.decode(io.read(options.order)), options.order);
      const result = await check(
        {
          bytes: io.read(path),
          name: fileName(path),
          seed: options.seed,
          effort: options.effort,
          ...(options.side ? { side: options.side } : {}),
          ...(options.unit ? { unit: options.unit } : {}),
          ...(order ? { order } : {}),
          ...(options.remedies ? { remedies: true } : {}),
          ...(options.style === 'all' ? {} : { styles: [options.style] }),
        },
        { onEvent: progress(io) },
      );
      if (options.json !== undefined) writeJson(io, options.json, verdictDocument(result));
      if (options.json !== '-') io.out(`${ladderTable(result)}\n`);
      exit(exitOf(result));
    });
}

/** 0: a style that was asked for fits. 2: none could be judged. 1: otherwise. */
export function exitOf(result: Pick<CaseResult, 'rungs'>): number {
  if (result.rungs.some((r) => r.verdict === 'fits')) return EXIT.ok;
  return result.rungs.every((r) => r.verdict === 'not-judged') ? EXIT.cannotJudge : EXIT.doesNotFit;
}
