/**
 * Ears beyond the normal, by name: what is rare in a population and must still be surveyed right. Each shifts the few sizes that make it what it is;
 * all others stay as drawn. How rare, narrow or wide such ears are: chosen to lie outside the published bands (src/ear/published.ts); no source.
 */
import { seeded } from '../geometry/random.ts';
import { radians } from '../geometry/trig.ts';
import type { EarParameters } from './parameters.ts';

export const VARIANTS = ['stenotic', 'straight', 'sharp', 'operated', 'collapsed'] as const;
export type Variant = (typeof VARIANTS)[number];

/** Least and most of each size that the variant sets; drawn evenly between. Units as in `EarParameters`. */
type Ranges = Partial<Record<keyof EarParameters, readonly [least: number, most: number]>>;

const RANGES: Readonly<Record<Variant, Ranges>> = {
  // Narrowed all along, as by bony growths or scars.
  stenotic: { areaAperture: [36, 44], areaFirstBend: [19, 27], taper: [0.004, 0.012] },
  straight: { firstBendAngle: [radians(2), radians(6)], secondBendAngle: [radians(2), radians(6)] },
  sharp: {
    firstBendDepth: [8.6, 9.6],
    firstBendAngle: [radians(55), radians(65)],
    secondBendDepth: [16.5, 18],
    secondBendAngle: [radians(50), radians(60)],
  },
  // The bony wall taken down: the canal widens medially into the cavity, its entrance and the concha were widened with it.
  operated: {
    areaAperture: [150, 165],
    areaFirstBend: [112, 128],
    taper: [-0.016, -0.008],
    ratioAperture: [1.2, 1.35],
    ratioBend: [1.15, 1.35],
    cavumHeight: [20.5, 23],
    cavumWidth: [17.5, 21],
  },
  // The soft wall fallen in: a slit.
  collapsed: {
    areaAperture: [60, 75],
    areaFirstBend: [34, 42],
    ratioAperture: [2, 2.2],
    ratioBend: [2.35, 2.6],
    majorTurn: [0, radians(15)],
  },
};

/** What the variant sets, drawn from the seed; same seed, same sizes. */
export function variantSizes(variant: Variant, seed: number): Partial<EarParameters> {
  const random = seeded(seed, 13);
  return Object.fromEntries(Object.entries(RANGES[variant]).map(([key, [least, most]]) => [key, random.between(least, most)]));
}
