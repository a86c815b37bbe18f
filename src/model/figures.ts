/** How figures are written for people: two decimals, a true minus sign. */
import { ENOUGH } from './fit.ts';

const signless = (x: number): string => Math.abs(x).toFixed(2);
const minus = (x: number): string => (x < 0 && signless(x) !== '0.00' ? '−' : '');

/** A length. */
export const mm = (x: number): string => `${minus(x)}${signless(x)} mm`;

/** A spare, rounded down: no figure that is shown may be above the one that was measured. */
export const spareDown = (x: number): number => Math.floor(x * 100 + 1e-9) / 100;

/** A measured spare with its sign, without unit. */
export const signedSpare = (x: number): string => {
  const down = spareDown(x);
  return `${minus(down) || '+'}${signless(down)}`;
};

/** The spare of a style: as measured, or "≥ 0.50" where the search stopped because it was enough. */
export const foundSpare = (x: number): string => (x >= ENOUGH ? `≥ ${signless(ENOUGH)}` : signedSpare(x));

/** "0.31 mm", "at least 0.50 mm": what is to spare, in a sentence. */
export const spareWords = (x: number): string => `${x >= ENOUGH ? 'at least ' : ''}${mm(Math.abs(spareDown(x)))}`;
