import { dirname, join } from 'node:path';
import type { Command } from 'commander';
import { type CaseFile, isCase, readCase } from '../../casefile/index.ts';
import { check } from '../../engine/index.ts';
import type { CaseResult, CheckRequest } from '../../model/case.ts';
import type { Side } from '../../model/ear.ts';
import type { Effort } from '../../model/fit.ts';
import { STYLES, type StyleName } from '../../model/parts.ts';
import type { Unit } from '../../model/scan.ts';
import { needLines, readOrder } from '../../order/index.ts';
import { readCatalogue } from '../../parts/index.ts';
import { ladderTable, verdictDocument } from '../../report/index.ts';
import { certificateFor } from '../certificate.ts';
import { CORRECT_HELP, CORRECT_OPTION, correctionsOf, gathered } from '../corrections.ts';
import { EXIT, fileName, type Io, oneOf, SIDES, UNITS, wholeNumber, writeJson } from '../io.ts';
import { progress } from '../progress.ts';

interface FitOptions {
  readonly side?: Side;
  readonly unit?: Unit;
  readonly order?: string;
  readonly parts?: string;
  readonly style?: StyleName | 'all';
  readonly seed?: number;
  readonly effort?: Effort;
  readonly json?: string;
  readonly remedies?: boolean;
  readonly missing?: boolean;
  readonly steady?: boolean;
  readonly correct?: readonly string[];
  readonly certificate?: string;
  readonly jobs?: number;
}

export function addFit(program: Command, io: Io, exit: (code: number) => void): void {
  program
    .command('fit')
    .description('judge every style for this scan: what fits, by how much, and if not, why not')
    .argument('<scan>', 'the scanned impression (STL, PLY, OBJ, 3MF, GLB or glTF; also gzipped), or a case file (JSON) that names it')
    .option('--side <side>', 'left or right (else from the order, else from the file name)', oneOf(SIDES))
    .option('--unit <unit>', `of the file: ${UNITS.join(', ')} (else as it states, or judged from the size)`, oneOf(UNITS))
    .option('--order <file>', 'what the instrument must have (JSON)')
    .option('--parts <file>', 'a catalogue of your own (JSON; see "catalogue")')
    .option('--style <style>', `${STYLES.join(', ')} or all (all)`, oneOf([...STYLES, 'all'] as const))
    .option('--seed <n>', 'of the search; same seed, same answer (1)', wholeNumber(0, 4294967295))
    .option('--effort <effort>', 'quick, normal or thorough (normal)', oneOf(['quick', 'normal', 'thorough'] as const))
    .option(CORRECT_OPTION, CORRECT_HELP, gathered)
    .option('--remedies', 'look for what would make a style fit that does not, and try it')
    .option('--missing', 'how much is missing: how much larger the ear, or how far each figure, would have to be')
    .option('--steady', 'how steady each verdict is: other seeds, and wall, gaps and scan a little off')
    .option('--certificate <file>', 'write out the proof that a style is impossible, for "certify" to check')
    .option('--jobs <n>', 'styles judged at a time; the answer is the same (as many as there are cores)', wholeNumber(1, 64))
    .option('--json <file>', 'write the verdict document there; - for stdout instead of the table')
    .action(async (path: string, options: FitOptions) => {
      const crew = io.crew?.(options.jobs);
      const result = await check(requestOf(io, path, options), { onEvent: progress(io), ...(crew ? { crew } : {}) });
      if (options.json !== undefined) writeJson(io, options.json, verdictDocument(result));
      if (options.certificate !== undefined) writeProof(io, options.certificate, result);
      tellNeeds(result, options.json === '-' ? io.talk : io.out);
      if (options.json !== '-') io.out(`${ladderTable(result)}\n`);
      exit(exitOf(result));
    });
}

function writeProof(io: Io, path: string, result: CaseResult): void {
  const written = certificateFor(result);
  if ('document' in written) writeJson(io, path, written.document);
  else io.talk(`cavum: no certificate was written: ${written.why}\n`);
}

/** With the table, or beside a document that has stdout for itself. */
function tellNeeds({ needs = [] }: CaseResult, say: (text: string) => void): void {
  if (needs.length > 0) say(`What the order asks for:\n${needLines(needs).join('\n')}\n\n`);
}

/** What is asked: a scan, or a case and the scan beside it; what stands on the command line rules over the case. */
function requestOf(io: Io, path: string, options: FitOptions): CheckRequest {
  const bytes = io.read(path);
  const said = isCase(bytes) ? readCase(bytes, fileName(path)) : undefined;
  const scan = said ? join(dirname(path), said.scan) : path;
  const { order, parts, style, correct, json: _json, certificate: _certificate, jobs: _jobs, ...plain } = options;
  const corrections = { ...said?.corrections, ...correctionsOf(correct) };
  if (said) tellOverruled(io, said, options);
  const listed = parts ?? (said?.catalogue && join(dirname(path), said.catalogue));
  const styles = style === 'all' ? undefined : style ? [style] : said?.styles;
  const wanted = order === undefined ? said?.order : readOrder(io.read(order), fileName(order));
  const { scan: _scan, order: _order, catalogue: _catalogue, styles: _styles, ...kept } = said ?? { scan };
  return {
    ...kept,
    ...plain,
    corrections,
    bytes: said ? io.read(scan) : bytes,
    name: fileName(scan),
    ...(wanted ? { order: wanted } : {}),
    ...(listed ? { catalogue: readCatalogue(io.read(listed), fileName(listed)) } : {}),
    ...(styles ? { styles } : {}),
  };
}

function tellOverruled(io: Io, said: CaseFile, options: FitOptions): void {
  const { style: styles, parts: catalogue, correct, certificate: _, ...rest } = options;
  const here: Readonly<Record<string, unknown>> = { ...rest, styles, catalogue, corrections: correct };
  const both = Object.keys(said).filter((key) => key !== 'scan' && here[key] !== undefined);
  if (both.length > 0) io.talk(`cavum: the command line overrules the case in: ${both.join(', ')}\n`);
}

/** 0: a style that was asked for fits. 2: none could be judged. 1: otherwise. */
export function exitOf(result: Pick<CaseResult, 'rungs'>): number {
  if (result.rungs.some((r) => r.verdict === 'fits')) return EXIT.ok;
  return result.rungs.every((r) => r.verdict === 'not-judged') ? EXIT.cannotJudge : EXIT.doesNotFit;
}
