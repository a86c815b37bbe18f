/** What the places of two microphone ports give. Derived; speed of sound 343 m/s. */
import { atan2, degrees, ln, PI, sin } from '../geometry/trig.ts';
import { distance, type Point } from '../geometry/vec.ts';
import { SOUND } from './vent.ts';

export interface PortFigures {
  readonly spacing: number; // mm, from port to port
  readonly tilt: number; // degrees, of their line to the horizontal as worn
  /** Spacing along the horizontal, mm: what counts for sound from the front. */
  readonly level: number;
  /** From one port to the other for sound from the front, microseconds. */
  readonly delay: number;
  /** First frequency at which sound from the front cancels itself, Hz: c / 2d. */
  readonly firstNull: number;
  /** On-axis level of a cardioid at 500 Hz against one port alone, dB: what the instrument must make up for. */
  readonly at500: number;
}

/**
 * On-axis level of a cardioid (inner delay d/c, sound from the front) against one port alone, dB:
 * 20 log10(2 sin(2 pi f d / c)). Below the first null only.
 * @param spacing along the horizontal, mm, above 0
 */
export const cardioidLevel = (spacing: number, frequency: number): number =>
  (20 * ln(2 * sin((2 * PI * frequency * spacing) / (1000 * SOUND)))) / ln(10);

/** Of two ports in the ear frame [anterior, superior, lateral]. Undefined where one stands straight above the other. */
export function portFigures(front: Point<'ear'>, rear: Point<'ear'>): PortFigures | undefined {
  const [x, y, z] = [front[0] - rear[0], front[1] - rear[1], front[2] - rear[2]];
  const level = Math.sqrt(x * x + z * z);
  if (level < 1e-6) return undefined;
  return {
    spacing: distance(front, rear),
    tilt: degrees(atan2(Math.abs(y), level)),
    level,
    delay: (1000 * level) / SOUND,
    firstNull: (1000 * SOUND) / (2 * level),
    at500: cardioidLevel(level, 500),
  };
}
