/** Numbers that an audiogram gives: averages, grades, air-bone gaps. Everything in dB HL of one ear. */
import type { Audiogram, Frequency, Thresholds } from '../model/order.ts';

const mean = (xs: readonly number[]): number => xs.reduce((sum, x) => sum + x, 0) / xs.length;

/** The mean at the frequencies asked for; undefined where one of them was not measured. */
function meanAt(h: Thresholds, frequencies: readonly Frequency[]): number | undefined {
  const found = frequencies.flatMap((f) => h[f] ?? []);
  return found.length === frequencies.length ? mean(found) : undefined;
}

/** Of 0.5, 1, 2 and 4 kHz: the average that WHO's grades and our receiver classes go by. */
export const fourFrequencyAverage = (h: Thresholds): number | undefined => meanAt(h, [500, 1000, 2000, 4000]);
/** Of 0.5, 1 and 2 kHz: the average of the NAL rules. */
export const threeFrequencyAverage = (h: Thresholds): number | undefined => meanAt(h, [500, 1000, 2000]);
/** Of 250 and 500 Hz: how much of the own voice and of the world comes in through a vent. */
export const lowFrequencyAverage = (h: Thresholds): number | undefined => meanAt(h, [250, 500]);

/** Half-open: a grade holds from the limit before up to, and without, its own. */
const WHO_GRADES = [
  ['normal', 20],
  ['mild', 35],
  ['moderate', 50],
  ['moderately severe', 65],
  ['severe', 80],
  ['profound', 95],
  ['complete', Infinity],
] as const;
export type WhoGrade = (typeof WHO_GRADES)[number][0];

/**
 * Grade of a four-frequency average (WHO, World Report on Hearing, 2021, table 1.3; "complete" from memory). WHO takes the
 * better ear: of one ear alone the word is only a measure of that ear.
 */
export const whoGrade = (average: number): WhoGrade => (WHO_GRADES.find(([, below]) => average < below) as (typeof WHO_GRADES)[number])[0];

/** Whole decibels: a class holds up to and with its limit. */
const CLARK_CLASSES = [
  ['normal', 15],
  ['slight', 25],
  ['mild', 40],
  ['moderate', 55],
  ['moderately severe', 70],
  ['severe', 90],
  ['profound', Infinity],
] as const;
export type ClarkClass = (typeof CLARK_CLASSES)[number][0];

/**
 * Class of an average (Clark 1981, as asha.org gives it). The classes are of whole decibels and the source does not say what
 * 40.5 is; here a half is rounded up, to the greater loss.
 */
export function clarkClass(average: number): ClarkClass {
  const whole = Math.floor(average + 0.5);
  return (CLARK_CLASSES.find(([, upTo]) => whole <= upTo) as (typeof CLARK_CLASSES)[number])[0];
}

/** Where both were measured: air less bone conduction, dB. */
export function airBoneGaps({ air, bone }: Pick<Audiogram, 'air' | 'bone'>): { readonly frequency: Frequency; readonly gap: number }[] {
  return ([500, 1000, 2000] as const).flatMap((frequency) => {
    const a = air[frequency];
    const b = bone?.[frequency];
    return a === undefined || b === undefined ? [] : [{ frequency, gap: a - b }];
  });
}
