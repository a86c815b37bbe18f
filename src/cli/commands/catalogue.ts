import type { Command } from 'commander';
import { flawText } from '../../json/index.ts';
import { examineCatalogue, GENERIC_FILE } from '../../parts/index.ts';
import { EXIT, fileName, type Io } from '../io.ts';

export function addCatalogue(program: Command, io: Io, exit: (code: number) => void): void {
  const catalogue = program.command('catalogue').description('parts, styles and rules as a file of your own');
  catalogue
    .command('check')
    .description('say everything that is wrong with a catalogue file')
    .argument('<file>', 'the catalogue (JSON)')
    .action((path: string) => {
      const examined = examineCatalogue(io.read(path));
      if ('flaws' in examined) {
        for (const flaw of examined.flaws) io.out(`${flawText(flaw)}\n`);
        io.talk(`cavum: ${fileName(path)} has ${examined.flaws.length} ${examined.flaws.length === 1 ? 'fault' : 'faults'}\n`);
        exit(EXIT.cannotJudge);
        return;
      }
      const { name, styles } = examined.data;
      io.out(`${fileName(path)} is sound: ${name}, ${styles.map((s) => s.name).join(', ')}\n`);
    });
  catalogue
    .command('show')
    .description('print our own catalogue, to begin from')
    .action(() => io.out(`${JSON.stringify(GENERIC_FILE, null, 1)}\n`));
}
