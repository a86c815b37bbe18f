/** The survey's marks as a person moves them: what is typed or dragged becomes a correction in the scan's own coordinates. */
import { directionToScan, planeToScan, pointToScan } from '../ear/frame.ts';
import { cos, radians, sin } from '../geometry/trig.ts';
import { addScaled, pt } from '../geometry/vec.ts';
import type { Ear, EarOverrides, SetBy } from '../model/ear.ts';
import { stationAt } from '../viewer/station.ts';

/** Marks that lie on the centreline. */
export const LINE_MARKS = ['aperture', 'firstBend', 'secondBend', 'end'] as const;
export type LineMark = (typeof LINE_MARKS)[number];

export const MARK_WORDS: Record<keyof EarOverrides, string> = {
  aperture: 'Aperture',
  firstBend: 'First bend',
  secondBend: 'Second bend',
  end: 'End of the impression',
  lateral: 'Outwards',
  superior: 'Upwards',
  crus: 'Crus',
  rim: 'Rim plane',
};

/** A mark set at a depth of the ear as it is shown, mm. */
export function moved(ear: Ear, set: EarOverrides, mark: LineMark, depth: number): EarOverrides {
  const { aperture = 0 } = set;
  // Corrections count from the aperture that the survey finds; a point says the same where that is not known here.
  const where = typeof aperture === 'number' ? tidy(depth + aperture) : pointToScan(ear.frame, stationAt(ear.centreline, depth).at);
  return { ...set, [mark]: where };
}

/** The upward direction turned towards the face, degrees. */
export function turnedUp(ear: Ear, set: EarOverrides, degrees: number): EarOverrides {
  const t = radians(degrees);
  return { ...set, superior: directionToScan(ear.frame, pt<'ear'>(sin(t), cos(t), 0)) };
}

/** The outward direction tilted forwards and upwards, degrees. What is up stays as it is shown, as far as it can. */
export function tilted(ear: Ear, set: EarOverrides, forwards: number, upwards: number): EarOverrides {
  const [f, u] = [radians(forwards), radians(upwards)];
  return { ...set, lateral: directionToScan(ear.frame, pt<'ear'>(sin(f) * cos(u), sin(u) * cos(f), cos(f) * cos(u))) };
}

/** The rim plane moved outwards, mm. */
export function rimMoved(ear: Ear, set: EarOverrides, out: number): EarOverrides {
  const { point, normal } = ear.rim.plane;
  return { ...set, rim: planeToScan(ear.frame, { point: addScaled(point, normal, out), normal }) };
}

export function taken(set: EarOverrides, mark: keyof EarOverrides): EarOverrides {
  const { [mark]: _, ...rest } = set;
  return rest;
}

/** Who set each mark of the ear that is shown. */
export const setBy = (ear: Ear, mark: keyof EarOverrides): SetBy => {
  if (mark === 'lateral' || mark === 'superior') return ear.directions?.[mark] ?? 'auto';
  return ear[mark]?.set ?? 'auto';
};

/** To a thousandth: a person's hand is no finer, and a case stays readable. */
const tidy = (x: number): number => Math.round(x * 1000) / 1000;
