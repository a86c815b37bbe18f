/** Which way a telecoil points. */
import { rotate } from '../geometry/rotation.ts';
import { acos, degrees, ln } from '../geometry/trig.ts';
import type { Rung } from '../model/fit.ts';

export interface CoilFigures {
  /** Of its axis to the vertical as worn, degrees: 0 upright, 90 level. */
  readonly tilt: number;
  /** What a vertical field gives in it against an upright coil, dB (at most 0): it counts by the cosine. -Infinity for a level one. */
  readonly level: number;
}

/** Of an arrangement with a telecoil; undefined where there is none. Its axis is its own z. */
export function coilOf({ kit, arrangement }: Rung): CoilFigures | undefined {
  const pose = arrangement?.poses[kit?.parts.findIndex((p) => p.kind === 'telecoil') ?? -1];
  if (!pose) return undefined;
  const upright = Math.min(1, Math.abs(rotate(pose.quaternion, [0, 0, 1])[1]));
  return { tilt: degrees(acos(upright)), level: upright > 1e-6 ? (20 * ln(upright)) / ln(10) : -Infinity };
}

export const coilWords = ({ tilt, level }: CoilFigures): string =>
  `The telecoil's axis is ${tilt.toFixed(0)}° from upright as worn: from a loop's vertical field it takes ` +
  `${level > -40 ? `${(-level).toFixed(1)} dB less than` : 'next to nothing beside'} an upright one (the cosine of the angle; derived)`;
