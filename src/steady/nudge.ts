/** One figure a little more and a little less, each judged by a real run. */
import { type Bench, judgeStyle } from '../ladder/index.ts';
import { reportable, verdictOf } from '../ladder/verdict.ts';
import { type Body, ENOUGH, type Rung } from '../model/fit.ts';
import type { Rules, Style } from '../model/parts.ts';
import type { Figure, Nudge, Outcome } from '../model/steady.ts';
import { RULE_RANGES } from '../parts/index.ts';
import { trimCast } from '../trim/index.ts';
import { verifyArrangement } from '../verify/index.ts';

/** What is looked at, and how many runs that took so far. */
export interface Patient {
  readonly bench: Bench;
  readonly style: Style;
  readonly rung: Rung;
  /** The rung's own. */
  readonly body: Body;
  runs: number;
}

/** The style judged in `body`; undefined when the bench says to stop, as the search may have been cut short. */
export async function outcomeOf(patient: Patient, bench: Bench, body: Body): Promise<Outcome | undefined> {
  if (bench.shouldStop()) return undefined;
  patient.runs++;
  const cut: NonNullable<Bench['cut']> = () => ({ kind: 'body', body, cautions: [] });
  const { verdict, found, assembly } = await judgeStyle({ ...bench, brief: true, cut }, patient.style);
  if (bench.shouldStop()) return undefined;
  return { verdict, ...(found === undefined ? {} : { found }), ...(assembly?.kind === 'stuck' ? { stuck: true } : {}) };
}

export async function nudgeOf(patient: Patient, figure: Figure, by: number): Promise<Nudge> {
  const more = await nudged(patient, figure, by);
  const less = await nudged(patient, figure, -by);
  const slope = slopeOf(patient.rung.found, by, more?.found, less?.found);
  return { figure, by, ...(more ? { more } : {}), ...(less ? { less } : {}), ...(slope === undefined ? {} : { slope }) };
}

/** From both sides where both spares are measured ones, else from one: what is only "at least" has no slope. */
function slopeOf(own: number | undefined, by: number, more: number | undefined, less: number | undefined): number | undefined {
  const measured = (x: number | undefined): x is number => x !== undefined && x < ENOUGH;
  if (measured(more) && measured(less)) return (more - less) / (2 * by);
  if (!measured(own)) return undefined;
  if (measured(more)) return (more - own) / by;
  return measured(less) ? (own - less) / by : undefined;
}

/** What a nudge makes of the case. */
interface Nudged {
  readonly rules: Rules;
  readonly body: Body;
}

/** With `by` more of the figure, mm; undefined where that cannot be had. */
async function nudged(patient: Patient, figure: Figure, by: number): Promise<Outcome | undefined> {
  const { bench, rung } = patient;
  const { tolerance } = bench.rules;
  const changed = figure === 'scan' ? scanNudged(patient, by) : ruleNudged(patient, figure, by);
  if (!changed) return undefined;
  // Where each clearance is asked for at most d less, no ceiling rises by more. A vent, which the wall shapes, is left out of this.
  const proved = !bench.order.vent && rung.ceiling + Math.max(0, -by) < -tolerance;
  if (rung.verdict === 'does-not-fit' && proved) return { verdict: 'does-not-fit' };
  const on = { ...bench, rules: changed.rules };
  const outcome = await outcomeOf(patient, on, changed.body);
  const known = outcome && knownSpare(patient, changed, figure, by);
  if (known === undefined || known < -tolerance) return outcome;
  const better = outcome?.stuck || known > (outcome?.found ?? -Infinity);
  return better ? { verdict: verdictOf(known, Infinity, tolerance), found: known } : outcome;
}

/** Rounding of a sum of two figures, mm. */
const HAIR = 1e-9;

function ruleNudged({ bench: { rules }, body }: Patient, rule: Exclude<Figure, 'scan'>, by: number): Nudged | undefined {
  const [least, most] = RULE_RANGES[rule];
  const then = rules[rule] + by;
  if (then < least - HAIR || then > most + HAIR) return undefined;
  return { rules: { ...rules, [rule]: Math.max(least, Math.min(most, then)) }, body };
}

/**
 * A scan that lies d further out than the ear: the ear's own cast is the scan's, shrunk by d all round, which asks of an
 * arrangement what a wall thicker by d does (remedy/limits.ts, allRound), but for the cuts, which are no surface of the ear and
 * stay. The faceplate does anyway; the tip face asks for the wall too, so it is cut d deeper, and the spout still aims
 * at the old one. (That face then turns with the centreline over d: some thousandths of a millimetre. The upper cut goes by the
 * crus, a surface of the ear.) Not said with a vent: the wall round its bore would be nudged as well.
 */
function scanNudged({ bench, style, body }: Patient, by: number): Nudged | undefined {
  const wall = bench.rules.wall + by;
  if (bench.order.vent || wall < -HAIR) return undefined;
  const { beyond, leave } = style.tip;
  const tip = { ...style.tip, beyond: beyond + by, leave: leave - by };
  const trimmed = trimCast(bench.solid, bench.ear, { ...style, tip });
  if (trimmed.kind !== 'body') return undefined;
  return { rules: { ...bench.rules, wall: Math.max(0, wall) }, body: { ...trimmed.body, tip: body.tip } };
}

/**
 * The spare of the rung's own arrangement in the changed case, verified, mm: a run that comes out below it has only searched
 * worse. Undefined where its way in may not hold any more: less of anything hinders none, and the gaps are not asked for on the way; a
 * thicker shell takes at most as much of its clearance. A vent is shaped by the wall, so that its arrangement is another.
 */
function knownSpare({ bench, rung }: Patient, { rules, body }: Nudged, figure: Figure, by: number): number | undefined {
  const { arrangement, kit, assembly } = rung;
  if (!arrangement || !kit || assembly?.kind !== 'way-in') return undefined;
  const shell = figure === 'wall' || figure === 'scan';
  if (shell && (by > assembly.least || kit.parts.some((p) => p.seat.at === 'shell'))) return undefined;
  const evidence = verifyArrangement(bench.kernel, body, rules, kit, arrangement.poses);
  return reportable(evidence, rules.tolerance, bench.deviation);
}
