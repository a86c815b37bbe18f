import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { seeded } from '../../geometry/random.ts';
import { drawEar, encodeStl, makeEar } from '../../synth/index.ts';
import { type Io, wholeNumber } from '../io.ts';

export function addSynth(program: Command, io: Io): void {
  program
    .command('synth')
    .description('make synthetic casts with their truth, drawn from published sizes')
    .requiredOption('--count <n>', 'how many', wholeNumber(1, 100_000))
    .requiredOption('--seed <n>', 'same seed, same bytes', wholeNumber(0, 4294967295))
    .requiredOption('--out <dir>', 'folder for NAME.stl and NAME.truth.json (made if need be)')
    .action((options: { count: number; seed: number; out: string }) => {
      mkdirSync(options.out, { recursive: true });
      for (let k = 0; k < options.count; k++) {
        const seed = Math.floor(seeded(options.seed).fork(k).next() * 4294967296);
        const ear = makeEar(drawEar(seed), seed);
        const name = `synth-${options.seed}-${String(k + 1).padStart(4, '0')}-${ear.truth.side}`;
        io.write(join(options.out, `${name}.stl`), encodeStl(ear.mesh));
        io.write(join(options.out, `${name}.truth.json`), `${JSON.stringify(ear.truth, null, 1)}\n`);
        io.talk(`${name}.stl\n`);
      }
      io.out(`${options.count} casts in ${options.out}\n`);
    });
}
