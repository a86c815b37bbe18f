/** What the places of two microphones give. */
import type { Rung } from '../model/fit.ts';
import { type PortFigures, portFigures } from '../order/index.ts';

/** Of an arrangement with two ports; undefined where there is none. Ports lie at their parts' own origins. */
export function portsOf({ kit, arrangement }: Rung): PortFigures | undefined {
  const rule = kit?.pairRules.find((r) => r.rule === 'ports');
  if (!kit || !rule || !arrangement) return undefined;
  const [front, rear] = [rule.front, rule.rear].map((id) => arrangement.poses[kit.parts.findIndex((p) => p.id === id)]?.position);
  return front && rear && portFigures(front, rear);
}

export const portWords = ({ spacing, tilt, level, delay, firstNull, at500 }: PortFigures): string =>
  `The two microphones are ${spacing.toFixed(1)} mm apart, ${tilt.toFixed(0)}° from level as worn, ${level.toFixed(1)} mm of it along the level: ` +
  `${delay.toFixed(0)} µs from port to port for sound from ahead, which first cancels itself at ${(firstNull / 1000).toFixed(1)} kHz; ` +
  `at 500 Hz a cardioid gives ${Math.abs(at500).toFixed(1)} dB ${at500 < 0 ? 'less' : 'more'} than one microphone, to be made up by the instrument (derived; sound at 343 m/s)`;
