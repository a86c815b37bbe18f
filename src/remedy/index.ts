/**
 * What would make a style fit: each change is tried by a real run of the same check, single ones first, then pairs. Only
 * what was seen to work is told, with the spare that it gave. And how much is missing, figure by figure (missing.ts).
 */
import type { Bench } from '../ladder/index.ts';
import { spareWords } from '../model/figures.ts';
import type { Remedy, Rung } from '../model/fit.ts';
import type { Rules, Style } from '../model/parts.ts';
import { GENERIC } from '../parts/index.ts';
import { type Candidate, type Classes, candidatesFor } from './candidates.ts';
import { both, changed } from './change.ts';
import { needsHelp } from './help.ts';
import { Trials } from './trials.ts';

export { changed } from './change.ts';
export { needsHelp } from './help.ts';
export { howMuchIsMissing } from './missing.ts';

/** So many are enough to choose from. */
const MOST = 4;
/** So many pairs are tried, of the singles that came nearest. */
const PAIRS = 6;

/**
 * Remedies of one rung, the cheapest for the client first; empty where the style fits, was not judged, or nothing that was
 * tried helps. `larger`: the rungs above it, of which the first that fits is the last resort. `classes`: the catalogue's, by
 * which the hearing needs a receiver. Deterministic; stops early, with what it has, when the bench says so.
 */
export async function findRemedies(
  bench: Bench,
  style: Style,
  rung: Rung,
  larger: readonly Rung[],
  classes: Classes = GENERIC,
): Promise<Remedy[]> {
  if (!needsHelp(rung)) return [];
  const remedies: Remedy[] = [];
  const on: On = { bench, trials: new Trials(bench), style };
  const short: Tried[] = [];
  for (const candidate of candidatesFor(style, bench.order, bench.rules, bench.ear, classes)) {
    if (on.trials.over || remedies.length >= MOST) break;
    if (remedies.some((r) => r.code === candidate.code)) continue; // the milder change of this kind did already
    if (!mayHelp(candidate, rung, bench.rules)) continue;
    const milder = short.find((t) => t.candidate.what === candidate.milder);
    if (milder && milder.found <= (rung.found ?? -Infinity)) continue;
    const tried = await tryOne(on, candidate);
    if (tried.remedy) remedies.push(tried.remedy);
    else short.push(tried);
  }
  if (remedies.length === 0) remedies.push(...(await tryPairs(on, short)));
  return [...remedies, ...nextStyle(larger)];
}

interface On {
  readonly bench: Bench;
  readonly trials: Trials;
  readonly style: Style;
}

/**
 * Can the change help at all, where a proof says no? Smaller parts that the proof does not speak of cannot; and where the
 * wall recedes by d, no clearance grows by more than d.
 */
function mayHelp({ touches, change }: Candidate, { ceiling, proved, kit }: Rung, rules: Rules): boolean {
  if (!touches || !proved || !kit || ceiling >= rules.tolerance) return true;
  const held = kit.parts.filter((p) => proved.includes(p.id));
  // A vent is a thing of the wall itself.
  if (touches === 'wall')
    return held.some((p) => p.seat.at === 'shell') || ceiling + (rules.wall - (change.rules?.wall ?? rules.wall)) >= rules.tolerance;
  return held.some((p) => p.kind === touches);
}

interface Tried {
  readonly candidate: Candidate;
  readonly found: number; // -Infinity where nothing could be placed
  readonly remedy?: Remedy;
}

async function tryOne({ bench, trials, style }: On, candidate: Candidate): Promise<Tried> {
  const rung = await trials.judge(changed(candidate.change, style, bench.order, bench.rules));
  const found = rung.found ?? -Infinity;
  if (rung.verdict !== 'fits') return { candidate, found };
  return {
    candidate,
    found,
    remedy: {
      code: candidate.code,
      text: `${candidate.what} it fits, with ${spareWords(found)} to spare; ${candidate.cost}`,
      change: candidate.change,
      style: style.name,
      verdict: rung.verdict,
      found,
    },
  };
}

/** Two changes of different kinds at once, of those that came nearest alone, in the order of their cost. */
async function tryPairs(on: On, short: readonly Tried[]): Promise<Remedy[]> {
  const kept = nearestOfEach(short);
  const pairs = kept.flatMap((a, i) => kept.slice(i + 1).map((b) => [a, b] as const));
  for (const [a, b] of pairs.slice(0, PAIRS)) {
    if (on.trials.over) return [];
    const pair: Candidate = {
      code: `${a.candidate.code}+${b.candidate.code}`,
      what: `${a.candidate.what} and ${b.candidate.what.replace(/^with /, '')}`,
      cost: `${a.candidate.cost}, ${b.candidate.cost}`,
      change: both(a.candidate.change, b.candidate.change),
    };
    const { remedy } = await tryOne(on, pair);
    if (remedy) return [remedy];
  }
  return [];
}

/** Of each kind the one that came nearest, of these the nearest five, in the order in which they were tried. */
function nearestOfEach(short: readonly Tried[]): Tried[] {
  const byFound = [...short].sort((a, b) => b.found - a.found);
  const best = byFound.filter((t, k) => byFound.findIndex((u) => u.candidate.code === t.candidate.code) === k).slice(0, 5);
  return short.filter((t) => best.includes(t));
}

/** The smallest larger style that fits as ordered: judged already, no run needed. */
function nextStyle(larger: readonly Rung[]): Remedy[] {
  const fits = larger.find((r) => r.verdict === 'fits');
  if (!fits) return [];
  const found = fits.found ?? 0;
  return [
    {
      code: 'larger-style',
      text: `the next larger style that fits as ordered is ${fits.style}, with ${spareWords(found)} to spare`,
      change: {},
      style: fits.style,
      verdict: fits.verdict,
      found,
    },
  ];
}
