import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { seeded } from '../../geometry/random.ts';
import { Fault } from '../../model/fault.ts';
import { drawEar, encodeStl, makeEar, type SampleFile, sampleFiles, VARIANTS, type Variant } from '../../synth/index.ts';
import { type Io, oneOf, wholeNumber } from '../io.ts';

interface SynthOptions {
  readonly count?: number;
  readonly seed: number;
  readonly variant?: Variant;
  readonly samples?: boolean;
  readonly out: string;
}

export function addSynth(program: Command, io: Io): void {
  program
    .command('synth')
    .description('make synthetic casts with their truth, drawn from published sizes')
    .option('--count <n>', 'how many', wholeNumber(1, 100_000))
    .option('--seed <n>', 'same seed, same bytes', wholeNumber(0, 4294967295), 1)
    .option('--variant <name>', `ears beyond the normal: ${VARIANTS.join(', ')}`, oneOf(VARIANTS))
    .option('--samples', 'make the sample scans instead')
    .requiredOption('--out <dir>', 'folder for NAME.stl and NAME.truth.json (made if need be)')
    .action((options: SynthOptions) => {
      if (!options.samples && options.count === undefined) {
        throw new Fault('usage/count', 'how many casts is not said', '--count', 'Add --count N, or --samples for the sample scans.');
      }
      if (options.samples && options.variant) {
        throw new Fault(
          'usage/variant',
          'the sample scans have no variants',
          '--variant',
          'Leave --variant out, or say --count N in place of --samples.',
        );
      }
      mkdirSync(options.out, { recursive: true });
      let casts = 0;
      for (const file of options.samples ? sampleFiles() : drawn(options.count ?? 0, options.seed, options.variant)) {
        io.write(join(options.out, file.name), file.bytes);
        if (!file.name.endsWith('.stl')) continue;
        casts++;
        io.talk(`${file.name}\n`);
      }
      io.out(`${casts} casts in ${options.out}\n`);
    });
}

/** `count` casts, each from a seed of its own, so that the k-th is the same however many are made. */
function* drawn(count: number, seed: number, variant?: Variant): Generator<SampleFile> {
  for (let k = 0; k < count; k++) {
    const own = Math.floor(seeded(seed).fork(k).next() * 4294967296);
    const ear = makeEar(drawEar(own, {}, variant), own);
    const name = `${variant ?? 'synth'}-${seed}-${String(k + 1).padStart(4, '0')}-${ear.truth.side}`;
    yield { name: `${name}.stl`, bytes: encodeStl(ear.mesh) };
    yield { name: `${name}.truth.json`, bytes: new TextEncoder().encode(`${JSON.stringify(ear.truth, null, 1)}\n`) };
  }
}
