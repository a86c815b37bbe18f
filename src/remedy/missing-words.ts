/** What is missing, in words. */
import { mm, spareWords } from '../model/figures.ts';
import type { Missing, Shift } from '../model/fit.ts';
import { MOST_PERCENT } from './larger.ts';
import type { Limit } from './limits.ts';

/** What came of one limit. */
export type Untold =
  | { readonly how: 'enough'; readonly enough: NonNullable<Shift['enough']>; readonly short: number; readonly least: boolean }
  /** `short` was seen not to be enough; unless said, as far as it may go. */
  | { readonly how: 'seen'; readonly short?: number }
  /** As far as it may go it is proved not to be enough; there is nowhere to go; nothing was tried. */
  | { readonly how: 'proved' }
  | { readonly how: 'no-room' }
  | { readonly how: 'not-tried' };

const NAMES: Readonly<Record<Shift['limit'], readonly [what: string, more: string]>> = {
  outer: ['the faceplate', 'further out'],
  tip: ['the tip', 'deeper'],
  wall: ['the wall', 'thinner'],
  faceplate: ['the faceplate', 'thinner'],
  gap: ['the gap between parts and wall', 'smaller'],
  partGap: ['the gap between parts', 'smaller'],
  suspension: ["the receiver's suspension", 'thinner'],
};

const NO_ROOM: Readonly<Record<Shift['limit'], string>> = {
  outer: 'the faceplate is as far out as the style allows',
  tip: 'the tip is as deep as the impression, the style and the distance to the drum allow',
  wall: 'the wall is as thin as it may be',
  faceplate: 'the faceplate is as thin as it may be',
  gap: 'no gap between parts and wall is asked for that could be smaller',
  partGap: 'no gap between parts is asked for that could be smaller',
  suspension: 'the suspension is as thin as it may be',
};

export function wordsOf(limit: Limit, what: Untold): string {
  const [name, more] = NAMES[limit.limit];
  const alone = (by: number): string => `${name} ${mm(by)} ${more}${thenWords(limit, by)}`;
  if (what.how === 'no-room') return NO_ROOM[limit.limit];
  if (what.how === 'not-tried') return `${name} ${more}: not tried, the runs of this style were used up`;
  if (what.how === 'enough') {
    const { by, found } = what.enough;
    return `${alone(by)} would be enough alone${what.least ? '' : ', perhaps less'}, with ${spareWords(found)} to spare`;
  }
  if (what.how === 'proved') return `${alone(limit.most)}, the most that may be, cannot be enough alone: that is proved`;
  return `${alone(what.short ?? limit.most)} would not be enough alone`;
}

/** What a rule would then be; where a cut goes is told by how far it moves. */
const thenWords = ({ limit, then }: Limit, by: number): string => (limit === 'outer' || limit === 'tip' ? '' : ` (${mm(then(by))})`);

export function linesOf({ larger, allRound, shifts, tenth }: Omit<Missing, 'lines' | 'runs'>): string[] {
  const around = allRound && [
    `a cast that lies ${mm(allRound.by)} further out all round, its tip with it, would take it, with ${spareWords(allRound.found)} to spare`,
  ];
  return [...(tenth ? [tenthWords(tenth)] : []), largerWords(larger), ...(around ?? []), ...shifts.map((s) => s.text)];
}

function largerWords(larger: Missing['larger']): string {
  if (!larger) return `no ear of this shape up to ${MOST_PERCENT} % larger was seen to take it`;
  const { percent, found, width } = larger;
  const narrowest = width ? `; its narrowest width would be ${mm(width.needs)} instead of ${mm(width.has)}` : '';
  return `an ear of this shape ${percent} % larger in every direction would take it, with ${spareWords(found)} to spare${narrowest}`;
}

function tenthWords({ limit, verdict, found }: NonNullable<Missing['tenth']>): string {
  const [name, more] = NAMES[limit];
  const then = found >= 0 ? `${spareWords(found)} to spare` : `${mm(-found)} less than the rules ask`;
  return `with ${name} 0.10 mm ${more} it would have ${then}${verdict === 'fits' ? ' and fit' : ', and still be tight'}`;
}
