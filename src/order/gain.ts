/**
 * Gain that a loss calls for, by NAL-R (Byrne & Dillon 1986) and NAL-RP (Byrne, Parkinson & Newall 1991). The formulas and
 * tables were read in two independent open implementations of the rules. Insertion gain, dB; a reckoning for comparison,
 * not a prescription.
 */
import type { Frequency, Thresholds } from '../model/order.ts';
import { threeFrequencyAverage } from './hearing.ts';

const GAIN_FREQUENCIES = [250, 500, 1000, 1500, 2000, 3000, 4000, 6000] as const satisfies readonly Frequency[];
export type GainFrequency = (typeof GAIN_FREQUENCIES)[number];
/** By frequency; only where a threshold was measured. */
export type Gains = Readonly<Partial<Record<GainFrequency, number>>>;

/** The rule's own correction, dB, in the order of GAIN_FREQUENCIES. */
const SHAPE = [-17, -8, 1, 1, -1, -2, -2, -2];
/** What NAL-RP adds where the loss at 2 kHz is so great (first figure), dB. */
const PROFOUND: readonly (readonly [at2k: number, add: readonly number[]])[] = [
  [95, [4, 3, 0, -1, -2, -2, -2, -2]],
  [100, [6, 4, 0, -2, -3, -3, -3, -3]],
  [105, [8, 5, 0, -3, -5, -5, -5, -5]],
  [110, [11, 7, 0, -3, -6, -6, -6, -6]],
  [115, [13, 8, 0, -4, -8, -8, -8, -8]],
  [120, [15, 9, 0, -5, -9, -9, -9, -9]],
];
const NONE = SHAPE.map(() => 0);

/** NAL-R: 0.15 of the three-frequency average + 0.31 of the threshold + the correction; none below 0. */
export const nalR = (h: Thresholds): Gains => gains(h, (average) => 0.15 * average, NONE);

/** NAL-RP: as NAL-R, with more for an average above 60 and another slope where the loss at 2 kHz is profound. */
export const nalRp = (h: Thresholds): Gains =>
  gains(h, (average) => 0.15 * average + 0.2 * Math.max(0, average - 60), profoundAt(h[2000] ?? 0));

/** Whether the two differ for this loss. */
export const isProfound = (h: Thresholds): boolean => (threeFrequencyAverage(h) ?? 0) > 60 || (h[2000] ?? 0) >= 95;

function gains(h: Thresholds, common: (average: number) => number, add: readonly number[]): Gains {
  const average = threeFrequencyAverage(h);
  if (average === undefined) return {};
  const rows = GAIN_FREQUENCIES.flatMap((f, k) => {
    const threshold = h[f];
    if (threshold === undefined) return [];
    const gain = common(average) + 0.31 * threshold + (SHAPE[k] as number) + (add[k] as number);
    return [[f, Math.max(0, gain)] as const];
  });
  return Object.fromEntries(rows);
}

/** Between the table's rows in proportion; past its end as its last row. */
function profoundAt(at2k: number): readonly number[] {
  const above = PROFOUND.findIndex(([h]) => h > at2k);
  if (above === 0) return NONE;
  const [h0, low] = PROFOUND[above < 0 ? PROFOUND.length - 1 : above - 1] as (typeof PROFOUND)[number];
  if (above < 0) return low;
  const [h1, high] = PROFOUND[above] as (typeof PROFOUND)[number];
  const t = (at2k - h0) / (h1 - h0);
  return low.map((x, k) => x + t * ((high[k] as number) - x));
}
