import type { Command } from 'commander';
import { judgeEar, sideContradicted, surveyWithSide } from '../../ear/index.ts';
import { sideOf } from '../../engine/index.ts';
import type { Side } from '../../model/ear.ts';
import type { Unit } from '../../model/scan.ts';
import { GENERIC } from '../../parts/index.ts';
import { earDocument, publishedTable, scanDocument, sectionsTable, surveyTable } from '../../report/index.ts';
import { readScan, thinScan } from '../../scan/index.ts';
import { CORRECT_HELP, CORRECT_OPTION, correctionsOf, gathered } from '../corrections.ts';
import { fileName, type Io, oneOf, SIDES, UNITS, writeJson } from '../io.ts';

interface SurveyOptions {
  readonly side?: Side;
  readonly unit?: Unit;
  readonly json?: string;
  readonly correct?: readonly string[];
}

export function addSurvey(program: Command, io: Io): void {
  program
    .command('survey')
    .description('measure the ear: frame, canal sections, aperture, bends, end')
    .argument('<scan>', 'the scanned impression (STL, PLY, OBJ, 3MF, GLB or glTF; also gzipped)')
    .option('--side <side>', 'left or right (else from the file name)', oneOf(SIDES))
    .option('--unit <unit>', `of the file: ${UNITS.join(', ')}`, oneOf(UNITS))
    .option(CORRECT_OPTION, CORRECT_HELP, gathered)
    .option('--json <file>', 'write the survey there; - for stdout instead of the table')
    .action((path: string, options: SurveyOptions) => {
      const name = fileName(path);
      const { side } = sideOf({ name, ...(options.side ? { side: options.side } : {}) }, {});
      const corrections = correctionsOf(options.correct);
      const scan = readScan(io.read(path), name, options.unit ? { unit: options.unit } : {});
      const { ear, guess } = surveyWithSide({ ...scan, mesh: thinScan(scan).mesh }, side, corrections);
      const findings = [...sideContradicted(ear, guess), ...judgeEar(ear)];
      const { wall } = GENERIC.rules;
      if (options.json !== undefined) {
        writeJson(io, options.json, {
          format: 'cavum-survey',
          version: 1,
          scan: scanDocument(scan),
          ear: earDocument(ear, wall),
          corrections,
        });
      }
      if (options.json === '-') return;
      const notes = findings.map((f) => `  ${f.level === 'note' ? '·' : '!'} ${f.text}\n`).join('');
      io.out(`${name}: ${side} ear\n${surveyTable(ear)}\n${notes}\n${publishedTable(ear)}\n\n${sectionsTable(ear, wall)}\n`);
    });
}
