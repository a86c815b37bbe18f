/** Synthetic ear impressions with their truth, for tests, samples and practice. */
import { makeEar, type SynthEar } from './make.ts';
import { drawPair, type EarParameters } from './parameters.ts';

export type { SynthEar } from './make.ts';
export { makeEar } from './make.ts';
export { areaBeyondBend, DISTRIBUTIONS, type Distribution, drawEar, drawPair, type EarParameters } from './parameters.ts';
export { makeSample, SAMPLES, type SampleEntry, type SampleFile, sampleFiles, sampleIndex } from './samples.ts';
export { encodeStl } from './stl.ts';
export type { EarTruth, TrueBend } from './truth.ts';
export { VARIANTS, type Variant } from './variants.ts';

/** Both ears of one person, made: alike, never equal. */
export function makePair(seed: number, overrides: Partial<EarParameters> = {}): { readonly left: SynthEar; readonly right: SynthEar } {
  const pair = drawPair(seed, overrides);
  return { left: makeEar(pair.left, seed), right: makeEar(pair.right, (seed ^ 0x5bd1e995) >>> 0) };
}
