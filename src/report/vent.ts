/** Where a vent runs, and what that gives. */

import { distance, type Point } from '../geometry/vec.ts';
import type { Rung } from '../model/fit.ts';
import { USUAL_VENT, usualResonance } from '../order/index.ts';
import { lineOf } from '../parts/vent.ts';

export interface VentFigures {
  /** Of the bore, mm. */
  readonly diameter: number;
  /** Along the bore's middle from the outer cut to the tip cut, mm. */
  readonly length: number;
  /** Corners of that line, from outside in. */
  readonly line: readonly Point<'ear'>[];
}

/** Of an arrangement with a vent; undefined where there is none. */
export function ventOf({ kit }: Rung): VentFigures | undefined {
  const part = kit?.parts.find((p) => p.kind === 'vent');
  if (!part || !kit?.vent) return undefined;
  const line = lineOf(part);
  const length = line.slice(1).reduce((sum, p, k) => sum + distance(line[k] as Point<'ear'>, p), 0);
  return { diameter: kit.vent, length, line };
}

export const ventWords = ({ diameter, length }: VentFigures): string =>
  `The vent of ${diameter.toFixed(1)} mm is ${length.toFixed(1)} mm long; into ${USUAL_VENT.volume} cm³ of air behind the tip it resonates at about ` +
  `${usualResonance(diameter, length)} Hz (derived, without losses; sound at 343 m/s)`;
