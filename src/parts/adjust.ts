/** A style with its cuts put elsewhere, as a modeller may within what the style allows. */
import { radians } from '../geometry/trig.ts';
import { Fault } from '../model/fault.ts';
import type { StyleCuts } from '../model/fit.ts';
import type { Style, Tilt } from '../model/parts.ts';

/** How far past its bend a tip may be put, mm: what the cast shows limits it further. */
export const MOST_BEYOND = 8;
/** How far a faceplate may be tilted each way, degrees: an editable default from memory (common practice, no published source). */
export const MOST_TILT = 12;

/** @throws Fault case/cuts naming the style, the figure and the allowed range */
export function adjustStyle(style: Style, { outer, tilt, tip }: StyleCuts): Style {
  return {
    ...style,
    ...(outer === undefined && tilt === undefined ? {} : { outer: outerAt(style, outer, tilt) }),
    ...(tip === undefined ? {} : { tip: { ...style.tip, beyond: within(style, 'tip', tip, [0, MOST_BEYOND], 'mm') } }),
  };
}

function outerAt(style: Style, lateral: StyleCuts['outer'], tilt: StyleCuts['tilt']): Style['outer'] {
  const { outer } = style;
  if (outer.from === 'rim') {
    throw new Fault(
      'case/cuts',
      `the faceplate of the ${style.title} style follows the rim plane and cannot be ${lateral === undefined ? 'tilted' : 'put elsewhere'}`,
      `cuts ${style.name} ${lateral === undefined ? 'tilt' : 'outer'}`,
      'Leave it out.',
    );
  }
  const { tilt: before, ...upright } = outer;
  const turned = tilt === undefined ? before : tiltBy(style, tilt);
  return {
    ...upright,
    ...(lateral === undefined ? {} : { lateral: within(style, 'outer', lateral, outer.range, 'mm') }),
    ...(turned ? { tilt: turned } : {}),
  };
}

/** Undefined where nothing is turned: the faceplate is then just where it would be without a word about it. */
function tiltBy(style: Style, said: NonNullable<StyleCuts['tilt']>): Tilt | undefined {
  const angle = (which: keyof Tilt): number =>
    radians(within(style, `tilt ${which}`, said[which] ?? 0, [-MOST_TILT, MOST_TILT], 'degrees'));
  const tilt = { superior: angle('superior'), anterior: angle('anterior') };
  return tilt.superior === 0 && tilt.anterior === 0 ? undefined : tilt;
}

function within(style: Style, which: string, x: number, [least, most]: readonly [number, number], unit: string): number {
  if (x >= least && x <= most) return x;
  throw new Fault(
    'case/cuts',
    `${which} of the ${style.title} style is ${x} ${unit}, must be ${least} to ${most}`,
    `cuts ${style.name} ${which}`,
    'Give a figure within the range.',
  );
}
