import type { Command } from 'commander';
import { certifyScan, readCertificate } from '../../certify/index.ts';
import type { Unit } from '../../model/scan.ts';
import { readCatalogue } from '../../parts/index.ts';
import { EXIT, fileName, type Io, oneOf, UNITS } from '../io.ts';

interface CertifyOptions {
  readonly unit?: Unit;
  readonly parts?: string;
}

export function addCertify(program: Command, io: Io, exit: (code: number) => void): void {
  program
    .command('certify')
    .description('check a certificate: does it prove, for this scan, that the parts have their places nowhere?')
    .argument('<certificate>', 'as written by fit --certificate (JSON)')
    .argument('<scan>', 'the scanned impression that it is about')
    .option('--unit <unit>', `of the scan: ${UNITS.join(', ')}`, oneOf(UNITS))
    .option('--parts <file>', 'the catalogue that it was made with, where that was not ours')
    .action(async (path: string, scan: string, { unit, parts }: CertifyOptions) => {
      const certificate = readCertificate(io.read(path), fileName(path));
      const answer = await certifyScan(certificate, {
        bytes: io.read(scan),
        name: fileName(scan),
        ...(unit ? { unit } : {}),
        ...(parts === undefined ? {} : { catalogue: readCatalogue(io.read(parts), fileName(parts)) }),
      });
      io.out(answer.holds ? `Holds: ${answer.text}.\n` : `Does not hold for this scan: ${answer.why}.\n`);
      exit(answer.holds ? EXIT.ok : EXIT.doesNotFit);
    });
}
