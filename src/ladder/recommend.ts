import { spareWords } from '../model/figures.ts';
import type { Rung } from '../model/fit.ts';
import type { StyleName } from '../model/parts.ts';
import { styleNamed } from '../parts/index.ts';

/** The smallest style that fits, and why it is that one: the first reason of each smaller style that was judged. */
export function recommend(rungs: readonly Rung[]): { readonly style?: StyleName; readonly why: string } {
  const fits = rungs.find((r) => r.verdict === 'fits');
  const smaller = rungs.slice(0, fits ? rungs.indexOf(fits) : rungs.length);
  const passed = smaller.map(
    (r) => `${styleNamed(r.style).title}: ${r.assembly?.kind === 'stuck' ? 'arranged, but no way in found' : VERDICT_SHORT[r.verdict]}`,
  );
  if (!fits) return { why: rungs.length === 0 ? 'no style was judged' : `no style fits. ${passed.join('; ')}` };
  const spare = `fits with ${spareWords(fits.found ?? 0)} to spare`;
  const why =
    passed.length === 0
      ? `the smallest style judged ${spare}`
      : `the smallest that fits, with ${spareWords(fits.found ?? 0)} to spare. ${passed.join('; ')}`;
  return { style: fits.style, why };
}

const VERDICT_SHORT: Record<Rung['verdict'], string> = {
  fits: 'fits',
  tight: 'tight, a modeller must decide',
  'does-not-fit': 'cannot fit',
  unsettled: 'no arrangement found',
  'not-judged': 'not judged',
};
