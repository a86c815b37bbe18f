/** What a vent does, as far as a formula tells it. Lengths mm. */
import { PI } from '../geometry/trig.ts';
import type { Catalogue, VentClass } from '../model/parts.ts';

/** How wide a vent's bore may be, mm: from what evens out the pressure to the widest usual (common practice, no published source). */
export const VENT = { least: 0.8, most: 3 } as const;

/** Speed of sound in warm air, m/s. */
export const SOUND = 343;

/**
 * Resonance of a vent of diameter and length (mm) into the air behind it (cm3), Hz: below it, amplified sound is lost at
 * about 12 dB an octave. A Helmholtz resonator with both ends flanged: f = c/2pi * sqrt(S / (L' V)), L' = L + 0.85 d. No
 * losses in it: good for comparing vents, not for decibels near the resonance.
 */
export function ventResonance(diameter: number, length: number, volume: number): number {
  const area = (PI * diameter * diameter) / 4;
  const long = length + 0.85 * diameter;
  return ((1000 * SOUND) / (2 * PI)) * Math.sqrt(area / (long * 1000 * volume));
}

/** A shell's usual vent for comparing: length, mm, and the air left behind the tip, cm3 (editable defaults, from memory). */
export const USUAL_VENT = { length: 15, volume: 0.6 } as const;

/** For comparing vents of one shell with another: what a bore of so many mm does in one, Hz, with the usual air behind it. */
export const usualResonance = (diameter: number, length: number = USUAL_VENT.length): number =>
  Math.round(ventResonance(diameter, length, USUAL_VENT.volume) / 10) * 10;

/** The widest vent that a low-frequency average (dB HL) asks for; the narrowest listed for anything beyond the list. */
export function ventFor(lowAverage: number, { classes }: Catalogue['vents']): VentClass {
  return (classes.find((c) => lowAverage <= c.upTo) ?? classes[classes.length - 1]) as VentClass;
}

/** Gain near 2-4 kHz before it whistles, without a canceller: vent diameter, mm, and dB (from memory; the lower ends of ranges). */
const USABLE: readonly (readonly [diameter: number, gain: number])[] = [
  [0, 50],
  [1, 45],
  [2, 40],
  [3.5, 30],
];

/** Between the listed diameters in proportion; wider ones as the widest. */
export function usableGain(diameter: number): number {
  const above = USABLE.findIndex(([d]) => d >= diameter);
  if (above === 0) return (USABLE[0] as (typeof USABLE)[number])[1];
  if (above < 0) return (USABLE[USABLE.length - 1] as (typeof USABLE)[number])[1];
  const [d0, g0] = USABLE[above - 1] as (typeof USABLE)[number];
  const [d1, g1] = USABLE[above] as (typeof USABLE)[number];
  return g0 + ((diameter - d0) / (d1 - d0)) * (g1 - g0);
}
