/**
 * What would make a style fit: each change is tried by a real run of the same check, single ones first, then pairs. Only
 * what was seen to work is told, with the spare that it gave. The runs are
 * quick ones: a fit is a fit whatever the effort, and more of it could only find more spare.
 */
import { type Bench, judgeStyle } from '../ladder/index.ts';
import { spareWords } from '../model/figures.ts';
import type { Remedy, Rung } from '../model/fit.ts';
import type { Rules, Style } from '../model/parts.ts';
import { type TrimResult, trimCast } from '../trim/index.ts';
import { type Candidate, candidatesFor } from './candidates.ts';
import { both, changed } from './change.ts';

export { changed } from './change.ts';

/** So many are enough to choose from. */
const MOST = 4;
/** So many pairs are tried, of the singles that came nearest. */
const PAIRS = 6;

/** A style that a remedy could help: judged, with parts that can be placed at all, and short. */
export const needsHelp = ({ verdict }: Rung): boolean => verdict === 'does-not-fit' || verdict === 'unsettled' || verdict === 'tight';

/**
 * Remedies of one rung, the cheapest for the client first; empty where the style fits, was not judged, or nothing that was
 * tried helps. `larger`: the rungs above it, of which the first that fits is the last resort. Deterministic; stops early,
 * with what it has, when the bench says so.
 */
export async function findRemedies(bench: Bench, style: Style, rung: Rung, larger: readonly Rung[]): Promise<Remedy[]> {
  if (!needsHelp(rung)) return [];
  const remedies: Remedy[] = [];
  bench = { ...bench, cut: remembering(bench) };
  const short: Tried[] = [];
  for (const candidate of candidatesFor(style, bench.order, bench.rules, bench.ear)) {
    if (bench.shouldStop() || remedies.length >= MOST) break;
    if (remedies.some((r) => r.code === candidate.code)) continue; // the milder change of this kind did already
    if (!mayHelp(candidate, rung, bench.rules)) continue;
    const tried = await tryOne(bench, style, candidate, rung);
    if (tried.remedy) remedies.push(tried.remedy);
    else short.push(tried);
  }
  if (remedies.length === 0) remedies.push(...(await tryPairs(bench, style, short, rung)));
  return [...remedies, ...nextStyle(larger)];
}

/** Changes that move no cut are tried on the same body: it is cut once. */
function remembering({ solid, ear }: Bench): (style: Style) => TrimResult {
  const known = new Map<string, TrimResult>();
  return (style) => {
    const key = JSON.stringify([style.outer, style.tip]);
    const before = known.get(key);
    const trimmed = before ?? trimCast(solid, ear, style);
    known.set(key, trimmed);
    return trimmed;
  };
}

/**
 * Can the change help at all, where a proof says no? Smaller parts that the proof does not speak of cannot; and where the
 * wall recedes by d, no clearance grows by more than d.
 */
function mayHelp({ touches, change }: Candidate, { ceiling, reasons, kit }: Rung, rules: Rules): boolean {
  const proof = reasons.find((r) => r.code === 'ceiling');
  if (!touches || !proof || !kit) return true;
  if (touches === 'wall') return ceiling + (rules.wall - (change.rules?.wall ?? rules.wall)) >= rules.tolerance;
  return proof.parts.some((id) => kit.parts.find((p) => p.id === id)?.kind === touches);
}

interface Tried {
  readonly candidate: Candidate;
  readonly found: number; // -Infinity where nothing could be placed
  readonly remedy?: Remedy;
}

async function tryOne(bench: Bench, style: Style, candidate: Candidate, was: Rung): Promise<Tried> {
  const now = changed(candidate.change, style, bench.order, bench.rules);
  const rung = await judgeStyle({ ...bench, order: now.order, rules: now.rules, effort: 'quick', brief: true }, now.style);
  const found = rung.found ?? -Infinity;
  if (rung.verdict !== 'fits') return { candidate, found };
  return {
    candidate,
    found,
    remedy: {
      code: candidate.code,
      text: `${candidate.what} it fits, with ${spareWords(found)} to spare; ${candidate.cost}`,
      change: candidate.change,
      style: was.style,
      verdict: rung.verdict,
      found,
    },
  };
}

/** Two changes of different kinds at once, of those that came nearest alone, in the order of their cost. */
async function tryPairs(bench: Bench, style: Style, short: readonly Tried[], was: Rung): Promise<Remedy[]> {
  const nearest = [...short].sort((a, b) => b.found - a.found).slice(0, 5);
  const kept = short.filter((t) => nearest.includes(t));
  const pairs = kept.flatMap((a, i) => kept.slice(i + 1).flatMap((b) => (a.candidate.code === b.candidate.code ? [] : [[a, b] as const])));
  for (const [a, b] of pairs.slice(0, PAIRS)) {
    if (bench.shouldStop()) return [];
    const pair: Candidate = {
      code: `${a.candidate.code}+${b.candidate.code}`,
      what: `${a.candidate.what} and ${b.candidate.what.replace(/^with /, '')}`,
      cost: `${a.candidate.cost}, ${b.candidate.cost}`,
      change: both(a.candidate.change, b.candidate.change),
    };
    const { remedy } = await tryOne(bench, style, pair, was);
    if (remedy) return [remedy];
  }
  return [];
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
