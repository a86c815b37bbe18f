/** How figures are written for people: two decimals, a true minus sign. */

const signless = (x: number): string => Math.abs(x).toFixed(2);
const minus = (x: number): string => (x < 0 && signless(x) !== '0.00' ? '−' : '');

/** A length. */
export const mm = (x: number): string => `${minus(x)}${signless(x)} mm`;

/** A spare, rounded down: no figure that is shown may be above the one that was measured. */
export const spareDown = (x: number): number => Math.floor(x * 100 + 1e-9) / 100;

/** A spare with its sign, without unit. */
export const signedSpare = (x: number): string => {
  const down = spareDown(x);
  return `${minus(down) || '+'}${signless(down)}`;
};
