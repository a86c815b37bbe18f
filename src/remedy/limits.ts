/**
 * The figures that may give way, one at a time: the two cuts and the rules. How far each may go is what a case may say and
 * the cast shows, so that every step of it can be asked for in a case file.
 */
import type { Ear } from '../model/ear.ts';
import type { Change, Shift } from '../model/fit.ts';
import type { Rules, Style } from '../model/parts.ts';
import { MOST_BEYOND } from '../parts/adjust.ts';
import { DEEP, RULE_RANGES } from '../parts/index.ts';

export interface Limit {
  readonly limit: Shift['limit'];
  /** How far it may go, mm; 0: not at all. */
  readonly most: number;
  /** The case with it shifted by so much, mm. */
  readonly by: (mm: number) => Change;
  /** What it is then, mm. */
  readonly then: (mm: number) => number;
}

/** To a hundredth: what a case file says reads like what was tried. */
const hundredth = (x: number): number => Math.round(100 * x) / 100;
/** Rounded down, so that a figure stays within its bounds; a hair of rounding counts as nothing. */
const downHundredth = (x: number): number => Math.max(0, Math.floor(100 * x + 1e-6) / 100);

/**
 * How much deeper a style's tip can go, mm: as far as the impression shows, a tip may be put and is not deeper than the
 * caution allows (DEEP). 0 where it cannot.
 */
export function tipRoom({ tip: { bend, beyond, leave } }: Style, ear: Ear): number {
  const seen = bend === 'first' ? ear.firstBend : ear.secondBend;
  if (!seen) return 0;
  const now = seen.depth + beyond;
  return downHundredth(Math.min(ear.end.depth - leave - now, DEEP - now, MOST_BEYOND - beyond));
}

/** How much further out a style's faceplate can go within its range, mm. */
export const faceplateRoom = ({ outer }: Style): number => (outer.from === 'aperture' ? downHundredth(outer.range[1] - outer.lateral) : 0);

export function limitsOf(style: Style, rules: Rules, ear: Ear): Limit[] {
  const { name, outer, tip } = style;
  const lateral = outer.from === 'aperture' ? outer.lateral : 0;
  return [
    cut('outer', faceplateRoom(style), lateral, (outer) => ({ cuts: { [name]: { outer } } })),
    cut('tip', tipRoom(style, ear), tip.beyond, (tip) => ({ cuts: { [name]: { tip } } })),
    ...RULES_THAT_GIVE.map((rule) => less(rule, rules)),
  ];
}

const cut = (limit: 'outer' | 'tip', most: number, now: number, change: (x: number) => Change): Limit => {
  const then = (mm: number): number => hundredth(now + mm);
  return { limit, most, then, by: (mm) => change(then(mm)) };
};

/**
 * The cast's surface, and with it tip face and upper face, all lying d further out, while the faceplate stays: as much as a wall
 * of d less. What keeps r from a surface keeps at least r + d once that lies d further out (a straight way out crosses the
 * old surface first, then has d to go), and just that wherever no groove is bridged; so an arrangement that keeps wall - d
 * in the cast as it is keeps the whole wall there. The way in is that of the same cavity. It ends where there is no wall left
 * to thin.
 */
export const allRound = (rules: Rules): Limit => less('wall', rules, 0);

const RULES_THAT_GIVE = ['wall', 'faceplate', 'gap', 'partGap', 'suspension'] as const;

function less(rule: (typeof RULES_THAT_GIVE)[number], rules: Rules, least = RULE_RANGES[rule][0]): Limit {
  const then = (mm: number): number => hundredth(rules[rule] - mm);
  return { limit: rule, most: downHundredth(rules[rule] - least), then, by: (mm) => ({ rules: { [rule]: then(mm) } }) };
}
