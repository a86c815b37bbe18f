import type { Style, StyleName } from '../model/parts.ts';
import { GENERIC } from './catalogue.ts';

export type { Style } from '../model/parts.ts';
export { examineCatalogue, GENERIC, readCatalogue } from './catalogue.ts';
export { IEC_CELLS } from './cells.ts';
export { GENERIC_FILE } from './generic.ts';
export { type KitResult, kitFor } from './kit.ts';
export { RULE_RANGES, SomeRules } from './rules.ts';

/** The rules of our catalogue: what holds where a case says nothing. */
export const RULES = GENERIC.rules;
/** The styles of our catalogue, from the smallest to the largest. */
export const STYLE_TABLE = GENERIC.styles;
export const styleNamed = (name: StyleName): Style => STYLE_TABLE.find((s) => s.name === name) as Style;

/** A device's tip past this depth calls for a caution: 25 mm of canal less 10 mm to the drum (21 CFR 800.30 as a yardstick). */
export const DEEP = 15;
