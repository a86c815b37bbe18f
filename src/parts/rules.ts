import * as v from 'valibot';
import { figure, keyed, type Reads } from '../json/schema.ts';
import type { Rules } from '../model/parts.ts';

/**
 * What a rule may be set to, mm. Wide enough for any shell that is made (wall 0.5 to 0.8, faceplate 0.8 to 2.0,
 * suspension 0.2 to 0.5 are usual: common practice, no published source), narrow enough that a slip of the unit or of
 * the decimal point is refused.
 */
export const RULE_RANGES: Readonly<Record<keyof Rules, readonly [least: number, most: number]>> = {
  wall: [0.3, 1.5],
  faceplate: [0.3, 3],
  gap: [0, 1],
  partGap: [0, 1],
  suspension: [0, 1],
  tolerance: [0, 0.5],
};

/** One rule's figure, within its range. */
export const ruleFigure = (rule: keyof Rules): Reads<number> => figure(...RULE_RANGES[rule], 'mm');

/** Some of the rules, as a case sets them. */
export const SomeRules = keyed({
  wall: v.optional(ruleFigure('wall')),
  faceplate: v.optional(ruleFigure('faceplate')),
  gap: v.optional(ruleFigure('gap')),
  partGap: v.optional(ruleFigure('partGap')),
  suspension: v.optional(ruleFigure('suspension')),
  tolerance: v.optional(ruleFigure('tolerance')),
});
