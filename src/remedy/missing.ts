/**
 * How much is missing for a style to fit: the least larger ear that would take it, the least shift of each single figure, and
 * for a tight one what a tenth of a millimetre more would give. Nothing is claimed that was not judged by a real run.
 */
import type { Bench } from '../ladder/index.ts';
import type { Measured, Missing, Rung } from '../model/fit.ts';
import type { Rules, Style } from '../model/parts.ts';
import { needsHelp } from './help.ts';
import { leastLarger } from './larger.ts';
import { limitsOf } from './limits.ts';
import { linesOf } from './missing-words.ts';
import { leastAllRound, leastShifts, STEP } from './shifts.ts';
import { type Trial, Trials } from './trials.ts';

/** Runs that one rung may take: each is a second or so. */
const RUNS = 15;
/** What is asked of a tight style, mm. */
const TENTH = 0.1;
/** Taken as lacking where nothing could be placed at all, mm. */
const MUCH = 0.5;

/**
 * What is missing for one rung; undefined where the style fits or was not judged. Deterministic: runs are counted, not timed. Stops
 * early, with what it has, when the bench says so.
 */
export async function howMuchIsMissing(bench: Bench, style: Style, rung: Rung): Promise<Missing | undefined> {
  if (!needsHelp(rung) || !rung.body) return undefined;
  const now: Trial = { style, order: bench.order, rules: bench.rules };
  const trials = new Trials(bench, RUNS);
  const tenth = rung.verdict === 'tight' ? await tenthMore(trials, now, rung) : undefined;
  const lack = lackOf(rung, bench.rules);
  const larger = await leastLarger(trials, now, rung.body, bench.ear, lack);
  const shifts = await leastShifts(trials, now, { rung, lack }, limitsOf(style, bench.rules, bench.ear));
  const allRound = await leastAllRound(trials, now, { rung, lack }, shifts);
  const data = { ...(larger ? { larger } : {}), ...(allRound ? { allRound } : {}), shifts, ...(tenth ? { tenth } : {}) };
  return { ...data, lines: linesOf(data), runs: trials.runs };
}

/** How far from fitting the best arrangement is, mm; more than nothing also where only the way in is lacking. */
const lackOf = ({ found, ceiling }: Rung, { tolerance }: Rules): number =>
  Math.max(STEP, tolerance - (found ?? (ceiling < Infinity ? ceiling : tolerance - MUCH)));

async function tenthMore(trials: Trials, now: Trial, rung: Rung): Promise<Missing['tenth']> {
  const limit = ruleOf(rung);
  if (!limit || now.rules[limit] < TENTH || trials.over) return undefined;
  const more = await trials.judge({ ...now, rules: { ...now.rules, [limit]: now.rules[limit] - TENTH } });
  if (trials.stopped) return undefined;
  // Less is asked of the arrangement that is known: a verdict or a spare below its own would not be true.
  const known = { limit, verdict: rung.verdict, found: rung.found ?? -now.rules.tolerance };
  const better = (more.verdict === 'fits' || more.verdict === 'tight') && (more.found ?? -Infinity) > known.found;
  return better ? { limit, verdict: more.verdict, found: more.found ?? known.found } : known;
}

const RULE_OF: Readonly<Record<Measured['kind'], Exclude<keyof Rules, 'tolerance'> | undefined>> = {
  wall: 'wall',
  tip: 'wall',
  upper: 'wall',
  faceplate: 'faceplate',
  parts: 'partGap',
  service: 'partGap',
};

/** The rule that asks for the tightest clearance; undefined where none does. */
function ruleOf({ evidence, kit }: Rung): Exclude<keyof Rules, 'tolerance'> | undefined {
  if (!evidence) return undefined;
  const { kind, part, other } = evidence.tightest;
  if (kind === 'service' && other === undefined) return undefined;
  // What is grown into the shell is wall to the other parts.
  const grown = kit?.parts.some((p) => (p.id === part || p.id === other) && p.seat.at === 'shell');
  return grown && other !== undefined ? 'gap' : RULE_OF[kind];
}
