import type { Recommendation } from '../model/case.ts';
import { spareWords } from '../model/figures.ts';
import type { Rung } from '../model/fit.ts';
import type { Need } from '../model/order.ts';
import { styleNamed } from '../parts/index.ts';

/**
 * The smallest style that fits and carries what is asked, why it is that one and not a smaller, and what each larger
 * one that fits would add.
 */
export function recommend(rungs: readonly Rung[], needs: readonly Need[] = []): Recommendation {
  const wished = needs.some((n) => n.code === 'order/least-visible');
  const { style, ...rest } = smallest(rungs, needs);
  const before = style ? rungs.findIndex((r) => r.style === style) : rungs.length;
  const smaller = wished ? rungs.slice(0, before).map((r) => ({ style: r.style, takes: taken(r) })) : [];
  return { ...(style ? { style } : {}), ...rest, ...(smaller.length > 0 ? { smaller } : {}) };
}

/** The cheapest change that makes a style fit, where one was looked for and found; else what stands in its way. */
const taken = ({ remedies, reasons, verdict }: Rung): string => remedies?.[0]?.text ?? reasons[0]?.text ?? VERDICT_SHORT[verdict];

function smallest(rungs: readonly Rung[], needs: readonly Need[]): Omit<Recommendation, 'smaller'> {
  const fits = rungs.find((r) => r.verdict === 'fits');
  const passed = passedOver(rungs.slice(0, fits ? rungs.indexOf(fits) : rungs.length));
  if (!fits) return { why: rungs.length === 0 ? 'no style was judged' : `no style fits. ${passed}`, larger: [] };
  const spare = `with ${spareWords(fits.found ?? 0)} to spare`;
  const asked = needs.filter((n) => n.level === 'need').map((n) => n.text.replace(/:.*$/, ''));
  const carries = asked.length > 0 ? `, and carries ${listed(asked)}` : '';
  const why = passed === '' ? `the smallest style judged fits ${spare}${carries}` : `the smallest that fits, ${spare}${carries}. ${passed}`;
  const larger = rungs.slice(rungs.indexOf(fits) + 1).filter((r) => r.verdict === 'fits');
  return { style: fits.style, why, larger: larger.map((r) => ({ style: r.style, adds: added(r, fits) })) };
}

/** The smaller styles, those with the same fate together: "Invisible in canal, Completely in canal: cannot fit". */
function passedOver(smaller: readonly Rung[]): string {
  const fates = new Map<string, string[]>();
  for (const rung of smaller) fates.set(fateOf(rung), [...(fates.get(fateOf(rung)) ?? []), styleNamed(rung.style).title]);
  return [...fates].map(([fate, titles]) => `${titles.join(', ')}: ${fate}`).join('; ');
}

const VERDICT_SHORT: Record<Rung['verdict'], string> = {
  fits: 'fits',
  tight: 'tight, a modeller must decide',
  'does-not-fit': 'cannot fit',
  unsettled: 'no arrangement found',
  'not-judged': 'not judged',
};

function fateOf({ verdict, assembly, reasons }: Rung): string {
  if (assembly?.kind === 'stuck') return 'arranged, but no way in found';
  // What the order asks for and the style lacks, without the style's share of the sentence.
  const excluded = reasons.find((r) => r.code === 'order/excludes');
  return excluded ? `ruled out, ${excluded.text.replace(/;.*$/, '')}` : VERDICT_SHORT[verdict];
}

/** Parts of a larger style's kit that the recommended one lacks, by name. */
function added(larger: Rung, than: Rung): string[] {
  const own = than.kit?.parts.map((p) => p.name) ?? [];
  return (larger.kit?.parts ?? []).map((p) => p.name).filter((name) => !own.includes(name));
}

const listed = (words: readonly string[]): string =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words[words.length - 1]}`;
