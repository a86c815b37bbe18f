import type { Command } from 'commander';
import type { Unit } from '../../model/scan.ts';
import { describeScan, readingTable, readScan } from '../../scan/index.ts';
import { fileName, type Io, oneOf, UNITS, writeJson } from '../io.ts';

export function addRead(program: Command, io: Io): void {
  program
    .command('read')
    .description('read a scan and say what was read and what was changed')
    .argument('<scan>', 'the scanned impression (STL, PLY, OBJ, 3MF, GLB or glTF; also gzipped)')
    .option('--unit <unit>', `of the file: ${UNITS.join(', ')}`, oneOf(UNITS))
    .option('--json <file>', 'write the description there; - for stdout instead of the table')
    .action((path: string, options: { unit?: Unit; json?: string }) => {
      const scan = readScan(io.read(path), fileName(path), options.unit ? { unit: options.unit } : {});
      if (options.json !== undefined) writeJson(io, options.json, describeScan(scan));
      if (options.json !== '-') io.out(`${readingTable(scan)}\n`);
    });
}
