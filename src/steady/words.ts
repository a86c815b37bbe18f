/** How steady a verdict is, in words. */
import { capital } from '../ladder/words.ts';
import { mm, spareDown, spareWords } from '../model/figures.ts';
import { ENOUGH, type Rung, type Verdict } from '../model/fit.ts';
import type { Figure, Outcome, Repeatability, Steadiness } from '../model/steady.ts';

const IS: Readonly<Record<Verdict, string>> = {
  fits: 'fits',
  tight: 'tight',
  'does-not-fit': 'cannot fit',
  unsettled: 'no arrangement found',
  'not-judged': 'not judged',
};
const STUCK_IS = 'arranged, but no way in found';

/** What a nudge does that brings another verdict. */
const MAKES: Readonly<Record<Verdict, string>> = {
  fits: 'makes it fit',
  tight: 'makes it tight',
  'does-not-fit': 'makes it impossible',
  unsettled: 'leaves no arrangement that was found',
  'not-judged': 'leaves it not judged',
};
const STUCK_MAKES = 'leaves no way in that was found';

const NAMES: Readonly<Record<Figure, (by: string) => readonly [more: string, less: string]>> = {
  wall: (by) => [`a wall ${by} thicker`, `a wall ${by} thinner`],
  gap: (by) => [`a gap between parts and wall ${by} larger`, `a gap between parts and wall ${by} smaller`],
  partGap: (by) => [`a gap between parts ${by} larger`, `a gap between parts ${by} smaller`],
  scan: (by) => [`a scan ${by} larger all round than the ear`, `a scan ${by} smaller all round than the ear`],
};

const NUMBERS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine'] as const;
const inWords = (n: number): string => NUMBERS[n] ?? String(n);

export function steadyWords(rung: Rung, { seeds, nudges }: Pick<Steadiness, 'seeds' | 'nudges'>): string {
  return [seedWords(rung, seeds), nudgeWords(rung, nudges)].filter((s) => s !== '').join(' ');
}

function seedWords(rung: Rung, { runs, proved, same, spares }: Repeatability): string {
  if (proved) return 'That it cannot fit is proved, whatever the seed.';
  if (runs.length === 0) return '';
  const spare = spares ? `, ${between(spares.least, spares.most)}` : '';
  const own = isWords({ ...rung, ...(rung.assembly?.kind === 'stuck' ? { stuck: true } : {}) });
  if (same) return `With ${inWords(runs.length)} other seed${runs.length === 1 ? '' : 's'} the verdict stays: ${own}${spare}.`;
  const all = runs.map(isWords);
  const told = [...new Set(all)].map((is) => `${inWords(all.filter((a) => a === is).length)}: ${is}`);
  return `The verdict changes with the seed: ${own} here; of ${inWords(runs.length)} others ${told.join('; ')}${spare}.`;
}

const isWords = ({ verdict, stuck }: Outcome): string => (stuck ? STUCK_IS : IS[verdict]);

/** "0.31 to 0.33 mm to spare", rounded down as every spare is; "0.02 to 0.04 mm short" where there is none. */
function between(least: number, most: number): string {
  const [low, high] = [spareDown(least), spareDown(most)];
  if (high < 0) return low === high ? `${mm(-low)} short` : `${(-high).toFixed(2)} to ${mm(-low)} short`;
  if (low === high) return `${spareWords(most)} to spare`;
  return `${mm(low).replace(' mm', '')} to ${most >= ENOUGH ? 'at least ' : ''}${mm(high)} to spare`;
}

interface Told extends Outcome {
  readonly what: string;
  /** More of the figure, not less. */
  readonly more: boolean;
}

function nudgeWords(rung: Rung, nudges: Steadiness['nudges']): string {
  const told = nudges.flatMap(({ figure, by, more, less }): Told[] => {
    const [moreWords, lessWords] = NAMES[figure](mm(by));
    return [...(more ? [{ ...more, what: moreWords, more: true }] : []), ...(less ? [{ ...less, what: lessWords, more: false }] : [])];
  });
  if (told.length === 0) return '';
  const changing = told.filter((t) => t.verdict !== rung.verdict);
  const staying = leastLeft(told.filter((t) => t.verdict === rung.verdict && t.more));
  const none = changing.length === 0 ? [`none of the figures tried changes it, ${mm(nudges[0]?.by ?? 0)} more or less`] : [];
  const clauses = [...none, ...staying, ...changesIn(changing)];
  return `${capital(clauses.join('; '))}.`;
}

/** Spares that differ by less are the same: so far may two evidences of one arrangement lie below it, mm. */
const SAME = 0.002;

/** What costs most of all that leaves the verdict as it is; of several that cost the same the first. */
function leastLeft(staying: readonly Told[]): string[] {
  const measured = staying.filter((t) => t.found !== undefined && !t.stuck);
  if (measured.length === 0) return [];
  const worst = measured.reduce((a, b) => ((b.found ?? 0) < (a.found ?? 0) - SAME ? b : a));
  const found = worst.found ?? 0;
  return [`${worst.what} leaves ${found < 0 ? `it ${mm(-spareDown(found))} short` : spareWords(found)}`];
}

/** Those that bring the same verdict together: "a wall 0.05 mm thicker or a scan ... makes it tight". */
function changesIn(changing: readonly Told[]): string[] {
  const makes = ({ verdict, stuck }: Told): string => (stuck ? STUCK_MAKES : MAKES[verdict]);
  return [...new Set(changing.map(makes))].map((made) => {
    const whats = changing.filter((t) => makes(t) === made).map((t) => t.what);
    return `${whats.length > 1 ? `${whats.slice(0, -1).join(', ')} or ${whats.at(-1)}` : whats[0]} ${made}`;
  });
}
