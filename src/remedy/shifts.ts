/** The least shift of each figure alone. */
import type { Missing, Rung, Shift } from '../model/fit.ts';
import type { Rules } from '../model/parts.ts';
import { changed } from './change.ts';
import { type Bracket, firstOf, lessOf } from './least.ts';
import { allRound, type Limit } from './limits.ts';
import { type Untold, wordsOf } from './missing-words.ts';
import { Steps, type Trial, type Trials } from './trials.ts';

/** Shifts are told to this, mm. */
export const STEP = 0.05;

/** What is judged: the rung as it is, and how far from fitting it is, mm. */
export interface Judged {
  readonly rung: Rung;
  readonly lack: number;
}

/** One limit while it is looked at, in steps. */
interface Look {
  readonly limit: Limit;
  readonly steps: number;
  /** So many steps are proved, or were seen, not to be enough. */
  readonly known: number;
}

/** First whether each limit can do it alone at all, then how little of it is enough, as far as runs are left. */
export async function leastShifts(trials: Trials, now: Trial, judged: Judged, limits: readonly Limit[]): Promise<Shift[]> {
  const looks = limits.map((limit) => lookAt(limit, judged.rung, now.rules));
  const none = await togetherShort(trials, now, judged.rung, looks);
  const begun: { readonly look: Look; readonly told?: Shift; readonly steps: Steps; readonly first: Bracket }[] = [];
  for (const look of looks) {
    const how = settled(look, none);
    const steps = stepsOf(trials, now, look.limit);
    const first = how ? { short: 0 } : await firstTry(look, judged.lack, steps);
    begun.push({ look, steps, first, ...(how ? { told: told(look.limit, how) } : {}) });
  }
  // The rules take a run or two each, the cuts what is left.
  const shifts = new Map<Limit, Shift>();
  for (const { look, told: said, steps, first } of [...begun.filter((b) => isRule(b.look.limit)), ...begun]) {
    if (!shifts.has(look.limit)) shifts.set(look.limit, said ?? (await refined(look, steps, first)));
  }
  return limits.flatMap((limit) => shifts.get(limit) ?? []);
}

/**
 * The same run as a thinner wall's, to where there is none left; what is known of the wall is not tried again. Undefined also with a
 * vent: the wall round its bore stays as thick in a larger cast, and would be thinned here.
 */
export async function leastAllRound(
  trials: Trials,
  now: Trial,
  { rung, lack }: Judged,
  shifts: readonly Shift[],
): Promise<Missing['allRound']> {
  if (now.order.vent) return undefined;
  const wall = shifts.find((s) => s.limit === 'wall');
  if (wall?.enough) return { by: wall.enough.by, found: wall.enough.found };
  const whole = lookAt(allRound(now.rules), rung, now.rules);
  const look = { ...whole, known: Math.max(whole.known, Math.floor((wall?.short ?? 0) / STEP + 1e-9)) };
  const steps = stepsOf(trials, now, look.limit);
  const { enough } = await refined(look, steps, await firstTry(look, lack, steps));
  return enough && { by: enough.by, found: enough.found };
}

const isRule = ({ limit }: Limit): boolean => limit !== 'outer' && limit !== 'tip';

/** The shift of so many steps, mm. */
const shiftOf = ({ most }: Limit, n: number): number => Math.min(most, Math.round(100 * STEP * n) / 100);

const stepsOf = (trials: Trials, now: Trial, limit: Limit): Steps =>
  new Steps(trials, (n) => changed(limit.by(shiftOf(limit, n)), now.style, now.order, now.rules));

function lookAt(limit: Limit, rung: Rung, rules: Rules): Look {
  const steps = Math.ceil(limit.most / STEP - 1e-9);
  return { limit, steps, known: Math.max(0, Math.min(steps, Math.ceil(atLeast(limit, rung, rules) / STEP - 1e-9) - 1)) };
}

/**
 * How far a limit must shift at the least by what is proved, mm. Where a rule asks for d less, no clearance has more than d more to
 * spare, and none at all that the rule does not ask for. A vent, which several rules shape, is left out of this.
 */
function atLeast(limit: Limit, { ceiling, proved, kit }: Rung, { tolerance }: Rules): number {
  if (!isRule(limit) || !kit) return 0;
  const no = proved !== undefined && ceiling < tolerance;
  const asked = no ? kit.parts.filter((p) => proved.includes(p.id)) : kit.parts;
  if (limit.limit === 'partGap' && asked.length < 2) return Infinity;
  const held = asked.filter((p) => p.margin > 0).length;
  if (limit.limit === 'suspension' && held === 0) return Infinity;
  if (!no || asked.some((p) => p.seat.at === 'shell')) return 0;
  return (tolerance - ceiling) / (limit.limit === 'suspension' ? Math.min(2, held) : 1);
}

/** True where all rules at their least together are not enough: no single one is then, and they need not be tried. */
async function togetherShort(trials: Trials, now: Trial, rung: Rung, looks: readonly Look[]): Promise<boolean> {
  const open = looks.filter(({ limit, known, steps }) => isRule(limit) && known < steps);
  if (rung.verdict === 'tight' || open.length < 2 || trials.over) return false;
  const rules: Rules = Object.assign({ ...now.rules }, ...open.map(({ limit }) => limit.by(limit.most).rules));
  const { verdict } = await trials.quick({ ...now, rules });
  return verdict !== 'fits' && !trials.stopped;
}

/** What needs no run of its own. */
function settled({ limit, steps, known }: Look, none: boolean): Untold | undefined {
  if (steps === 0) return { how: 'no-room' };
  if (known >= steps) return { how: 'proved' };
  return none && isRule(limit) ? { how: 'seen' } : undefined;
}

/**
 * A rule that asks for so much less leaves about so much more: what is lacking is a good guess. More of a cut need not be better all
 * along (another place of the canal becomes the narrow one): all the way, else half-way.
 */
function firstTry({ limit, steps, known }: Look, lack: number, on: Steps): Promise<Bracket> {
  const guess = Math.min(steps, Math.ceil(lack / STEP - 1e-9));
  return firstOf(isRule(limit) ? [guess, steps] : [steps, steps >> 1], known, on.passes);
}

async function refined({ limit, steps }: Look, on: Steps, first: Bracket): Promise<Shift> {
  // Of a rule the first guess is near; of a cut nothing is known.
  const stride = isRule(limit) ? 1 : ((first.enough ?? 0) - first.short) >> 1;
  const best = await lessOf(first, stride, on.passes);
  if (best.enough === undefined)
    return told(limit, on.asked === 0 ? { how: 'not-tried' } : { how: 'seen', short: shiftOf(limit, best.short) });
  const sure = await on.sure(best.enough, steps);
  if (!sure) return told(limit, { how: 'seen', short: shiftOf(limit, best.enough) });
  const by = shiftOf(limit, sure.n);
  const enough = { by, change: limit.by(by), found: sure.found };
  const short = sure.n === best.enough ? best.short : sure.n - 1;
  return told(limit, { how: 'enough', enough, short: shiftOf(limit, short), least: sure.n - short <= 1 });
}

/** A limit with what came of it, in words. */
function told(limit: Limit, what: Untold): Shift {
  const text = wordsOf(limit, what);
  const { limit: name, most } = limit;
  if (what.how === 'not-tried' || what.how === 'no-room') return { limit: name, most, short: 0, text };
  if (what.how === 'proved') return { limit: name, most, short: most, text };
  return { limit: name, most, ...(what.how === 'enough' ? { enough: what.enough } : {}), short: what.short ?? most, text };
}
