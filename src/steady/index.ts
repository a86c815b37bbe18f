/**
 * How steady is a verdict? The same style is judged by other seeds, and with each figure that is never quite what it is said to be
 * (wall, gaps, the scan itself) a little more and a little less. Nothing is assumed: every outcome is a real run's.
 */
import { seeded } from '../geometry/random.ts';
import type { Bench } from '../ladder/index.ts';
import { Fault } from '../model/fault.ts';
import type { Rung } from '../model/fit.ts';
import type { Style } from '../model/parts.ts';
import type { Figure, Outcome, Repeatability, Steadiness } from '../model/steady.ts';
import { nudgeOf, outcomeOf, type Patient } from './nudge.ts';
import { steadyWords } from './words.ts';

export type * from '../model/steady.ts';

export interface SteadyOptions {
  /** How many other seeds, 0 to 99. */
  readonly seeds?: number;
  /** How far each figure is nudged, mm; more than 0, at most 0.5. */
  readonly by?: number;
}

export const STEADY_DEFAULTS = { seeds: 3, by: 0.05 } as const satisfies Required<SteadyOptions>;

const FIGURES: readonly Figure[] = ['wall', 'gap', 'partGap', 'scan'];

/**
 * How steady `rung`, the bench's own verdict of `style`, is; undefined where the style was not judged. At most `seeds` + 8 runs at the
 * bench's effort. Deterministic: the other seeds follow from the bench's. Stops, with what it has, when the bench says so.
 * @throws Fault steady/options where an option is out of its range.
 */
export async function howSteady(bench: Bench, style: Style, rung: Rung, options: SteadyOptions = {}): Promise<Steadiness | undefined> {
  const { seeds: count, by } = { ...STEADY_DEFAULTS, ...options };
  refuseOdd(count, by);
  if (rung.verdict === 'not-judged' || !rung.body) return undefined;
  const patient: Patient = { bench, style, rung, body: rung.body, runs: 0 };
  const seeds = await repeated(patient, count);
  const nudges = [];
  for (const figure of FIGURES) nudges.push(await nudgeOf(patient, figure, by));
  const told = { seeds, nudges };
  return { ...told, text: steadyWords(rung, told), runs: patient.runs, stopped: bench.shouldStop() };
}

function refuseOdd(count: number, by: number): void {
  if (!Number.isInteger(count) || count < 0 || count > 99)
    throw new Fault('steady/options', `${count} other seeds`, 'seeds', 'Give a whole number from 0 to 99.');
  if (!(by > 0 && by <= 0.5)) throw new Fault('steady/options', `a nudge of ${by} mm`, 'by', 'Give more than 0 and at most 0.5 mm.');
}

async function repeated(patient: Patient, count: number): Promise<Repeatability> {
  const { bench, body, rung } = patient;
  // No search is in a proof, so no seed either.
  const proved = rung.verdict === 'does-not-fit';
  const runs: (Outcome & { seed: number })[] = [];
  for (const seed of proved ? [] : otherSeeds(bench.seed, count)) {
    const outcome = await outcomeOf(patient, { ...bench, seed }, body);
    if (outcome) runs.push({ seed, ...outcome });
  }
  const spares = [rung, ...runs].flatMap(({ found }) => found ?? []);
  return {
    runs,
    proved,
    same: runs.every((r) => r.verdict === rung.verdict),
    ...(spares.length > 0 ? { spares: { least: Math.min(...spares), most: Math.max(...spares) } } : {}),
  };
}

/** Short enough to be typed in again. */
const LARGEST_SEED = 999_999;
/** Names the stream of numbers that the other seeds come from. */
const STREAM = 29;

/** So many seeds that are not the given one, all different, always the same for the same one. */
export function otherSeeds(seed: number, count: number): number[] {
  const random = seeded(seed, STREAM);
  const seen = new Set([seed]);
  while (seen.size <= count) seen.add(1 + random.below(LARGEST_SEED));
  return [...seen].slice(1);
}
