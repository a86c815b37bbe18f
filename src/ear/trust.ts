/**
 * How sure the survey is: chances that a landmark lies within its tolerance.
 *
 * The tables were read off 360 synthetic ears (seeds 1 to 300, and 60 whose casts end anywhere from 5 mm on), with noise, bubbles, folds,
 * holes and coarse meshes: what share was within tolerance, by what the survey knows of itself. `npm run bench -- survey` holds other seeds
 * against them. Tolerances: aperture and end 1.0 mm, bends 1.5 mm, rim 10 degrees and 1.5 mm, crus 2.5 mm up and down (where the half shell
 * is cut; along its groove it has no sharp place).
 */
import { degrees } from '../geometry/trig.ts';
import type { Spine } from './centreline.ts';
import { STEP } from './trace.ts';

/** Pairs of what is known and the chance there; straight between them, level beyond. */
type Table = readonly (readonly [number, number])[];

function read(table: Table, x: number): number {
  let [before] = table as readonly [readonly [number, number]];
  for (const here of table) {
    if (x < here[0]) {
      if (here === before) break;
      return before[1] + ((here[1] - before[1]) * (x - before[0])) / (here[0] - before[0]);
    }
    before = here;
  }
  return before[1];
}

/** By how abruptly the tube opens (`Opening.confidence`), and by how much of it is whole between tip and opening, mm. */
const ABRUPT: Table = [
  [0, 0.05],
  [0.3, 0.3],
  [0.5, 0.9],
  [0.7, 0.98],
];
const WHOLE: Table = [
  [2, 0.05],
  [4, 0.6],
  [6, 0.92],
  [8, 0.98],
];

/** Where the sections that the end face does not cut begin, mm along the line. */
const wholeFrom = (spine: Spine<'scan'>): number => spine.first * STEP;

export const apertureTrust = (spine: Spine<'scan'>): number =>
  Math.min(read(ABRUPT, spine.opening.confidence), read(WHOLE, spine.opening.at - wholeFrom(spine)));

/** By how far from the tip the first whole section lies, the first place that sections tell, and by the length of whole canal; mm. */
const FACE: Table = [
  [2, 0.98],
  [2.5, 0.85],
  [3.5, 0.4],
  [4.5, 0.2],
];
const TOLD: Table = [
  [1.5, 0.98],
  [2.5, 0.4],
];
const SHOWN: Table = [
  [6, 0.6],
  [14, 0.75],
  [16, 0.98],
];

export const endTrust = (spine: Spine<'scan'>): number =>
  Math.min(read(FACE, wholeFrom(spine)), read(TOLD, spine.line.told * STEP), read(SHOWN, spine.opening.at - wholeFrom(spine)));

/** By its angle, degrees, and by how much of the line is told medial of its crest, mm. The only bend of a short cast may not be one. */
const ANGLE: Table = [
  [5, 0.4],
  [10, 0.85],
  [15, 0.98],
  [42, 0.98],
  [50, 0.6],
];
const PAST_ONLY: Table = [
  [1, 0.6],
  [2, 0.75],
  [4, 0.9],
  [5, 0.97],
];
const PAST_SECOND: Table = [
  [0.5, 0.88],
  [1.5, 0.97],
];

/** `angle` radians. `second`: another bend lies lateral of it. */
export const bendTrust = (angle: number, past: number, second: boolean): number =>
  Math.min(read(ANGLE, degrees(angle)), read(second ? PAST_SECOND : PAST_ONLY, past));

/** By the share of directions in which the flange's crease was found, and how level it is (`Rim.confidence`). */
export const rimTrust = (seen: number): number =>
  read(
    [
      [0.2, 0.5],
      [0.45, 0.95],
      [0.6, 0.98],
    ],
    seen,
  );

/** By the groove's length and depth (`Groove.confidence`). */
export const crusTrust = (seen: number): number =>
  read(
    [
      [0.55, 0.1],
      [0.7, 0.85],
      [0.8, 0.97],
    ],
    seen,
  );

/**
 * By how much deeper a groove lies above the canal, taken for one side, than for the other (0..1), and by whether the canal itself is sure:
 * of 660 ears four were told wrongly, all of casts with 5 mm of canal.
 */
export const sideTrust = (difference: number, spine: Spine<'scan'>): number =>
  Math.min(difference / (difference + 0.08), apertureTrust(spine));
