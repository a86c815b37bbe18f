/** A style with its cuts put elsewhere, as a modeller may within what the style allows. */
import { Fault } from '../model/fault.ts';
import type { StyleCuts } from '../model/fit.ts';
import type { Style } from '../model/parts.ts';

/** How far past its bend a tip may be put, mm: what the cast shows limits it further. */
const MOST_BEYOND = 8;

/** @throws Fault case/cuts naming the style, the figure and the allowed range */
export function adjustStyle(style: Style, { outer, tip }: StyleCuts): Style {
  return {
    ...style,
    ...(outer === undefined ? {} : { outer: outerAt(style, outer) }),
    ...(tip === undefined ? {} : { tip: { ...style.tip, beyond: within(style, 'tip', tip, [0, MOST_BEYOND]) } }),
  };
}

function outerAt(style: Style, lateral: number): Style['outer'] {
  const { outer } = style;
  if (outer.from === 'rim') {
    throw new Fault(
      'case/cuts',
      `the faceplate of the ${style.title} style follows the rim plane and cannot be put elsewhere`,
      `cuts ${style.name} outer`,
      'Leave it out.',
    );
  }
  return { ...outer, lateral: within(style, 'outer', lateral, outer.range) };
}

function within(style: Style, which: string, x: number, [least, most]: readonly [number, number]): number {
  if (x >= least && x <= most) return x;
  throw new Fault(
    'case/cuts',
    `${which} of the ${style.title} style is ${x} mm, must be ${least} to ${most}`,
    `cuts ${style.name} ${which}`,
    'Give a figure within the range.',
  );
}
