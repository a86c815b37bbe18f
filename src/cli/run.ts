import { Command, CommanderError } from 'commander';
import { Fault } from '../model/fault.ts';
import { addCatalogue } from './commands/catalogue.ts';
import { addCertify } from './commands/certify.ts';
import { addFit } from './commands/fit.ts';
import { addRead } from './commands/read.ts';
import { addSurvey } from './commands/survey.ts';
import { addSynth } from './commands/synth.ts';
import { EXIT, type Io } from './io.ts';

/** The whole command line. Answers go to io.out, talk and progress to io.talk; the exit code is returned. */
export async function run(argv: readonly string[], io: Io): Promise<number> {
  let code: number = EXIT.ok;
  const program = new Command('cavum')
    .description('Which custom hearing-instrument style fits this ear, with the parts that were ordered, and if not, why not.')
    .version('0.1.0')
    .exitOverride()
    .configureOutput({ writeOut: (s) => io.out(s), writeErr: (s) => io.talk(s) })
    .addHelpText(
      'after',
      '\nExit codes: 0 what was asked fits, 1 it does not (or is tight or unsettled), 2 it could not be judged.\nCavum checks geometry; it does not prescribe.',
    );
  for (const add of [addFit, addSurvey, addRead, addSynth, addCatalogue, addCertify]) {
    add(program, io, (c) => {
      code = c;
    });
  }
  try {
    await program.parseAsync([...argv], { from: 'user' });
    return code;
  } catch (e) {
    if (e instanceof CommanderError) return e.exitCode === 0 ? EXIT.ok : EXIT.cannotJudge;
    if (e instanceof Fault) {
      io.talk(`cavum: ${e.message}${e.code === 'scan/unit' && e.choices.length > 0 ? ` (--unit ${e.choices.join(' or --unit ')})` : ''}\n`);
      return EXIT.cannotJudge;
    }
    // A bug keeps its stack, and is not confusable with a verdict either.
    io.talk(`cavum: a fault of Cavum's own, please report it\n${e instanceof Error ? e.stack : String(e)}\n`);
    return EXIT.cannotJudge;
  }
}
