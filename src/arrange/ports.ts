/**
 * The ports rule: two parts' origins so far apart, their line nearly horizontal as worn, the front one anterior.
 */
import { FACE, type Model, type PartModel } from './model.ts';
import { poseOf, STRIDE, type State } from './state.ts';

/** Slack that the rule is kept with, so that rounding on the way out cannot breach it. */
export const PORT_HAIR = 1e-7;
/** Least distance by which the front port must be anterior, mm. */
export const AHEAD = 0.01;

export const portsInPlay = (m: Model, play: readonly number[]): boolean =>
  m.ports.length > 0 && m.ports.every((r) => play.includes(r.front) && play.includes(r.rear));

/** Least slack of all ports rules; negative: breached. */
export function portSlack(m: Model, s: State): number {
  let least = Infinity;
  for (const { front, rear, rule, tiltSin } of m.ports) {
    const a = poseOf(m, s, front).position;
    const b = poseOf(m, s, rear).position;
    const [x, y, z] = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    const d = Math.sqrt(x * x + y * y + z * z);
    least = Math.min(least, d - rule.least, rule.most - d, tiltSin * d - Math.abs(y), x - AHEAD);
  }
  return least;
}

/** Moves both ports of each breached rule, by equal parts, to where it holds with a hair to spare. */
export function keepPorts(m: Model, s: State): void {
  for (const ports of m.ports) {
    const { front, rear, rule } = ports;
    const a = poseOf(m, s, front).position;
    const b = poseOf(m, s, rear).position;
    const d = [a[0] - b[0], a[1] - b[1], a[2] - b[2]] as const;
    const [e1, e2] = axesFor(m, ports, d);
    const along = Math.max(d[0] * e1[0] + d[1] * e1[1] + d[2] * e1[2], 0.1);
    const up = d[0] * e2[0] + d[1] * e2[1] + d[2] * e2[2];
    // |up * e2.y| <= sin(tilt) * length, as a limit of up / along.
    const k = (ports.tiltSin - 1e-6) / Math.max(Math.abs(e2[1]), ports.tiltSin);
    const steep = k < 0.999 ? k / Math.sqrt(1 - k * k) : Infinity;
    const rise = Math.max(-steep * along, Math.min(steep * along, up));
    const length = Math.sqrt(along * along + rise * rise);
    const scale = Math.max(rule.least + 1e-5, Math.min(rule.most - 1e-5, length)) / length;
    for (let c = 0; c < 3; c++) {
      const wanted = scale * (along * (e1[c] as number) + rise * (e2[c] as number));
      const half = (wanted - (d[c] as number)) / 2;
      s[STRIDE * front + 4 + c] = (s[STRIDE * front + 4 + c] as number) + half;
      s[STRIDE * rear + 4 + c] = (s[STRIDE * rear + 4 + c] as number) - half;
    }
  }
}

type Axis = readonly [number, number, number];

/** Horizontal and upward axes that the line may lie in: the faceplate's own for two parts seated there. */
function axesFor(m: Model, ports: Model['ports'][number], d: readonly [number, number, number]): readonly [Axis, Axis] {
  const seated = [ports.front, ports.rear].every((p) => (m.parts[p] as PartModel).seat === FACE);
  if (seated) return [m.face.e1, m.face.e2];
  const h = Math.sqrt(d[0] * d[0] + d[2] * d[2]);
  const forward: Axis = d[0] > 0.1 * h ? [d[0] / h, 0, d[2] / h] : [1, 0, 0];
  return [forward, [0, 1, 0]];
}
