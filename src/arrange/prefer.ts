import { rotate } from '../geometry/rotation.ts';
import { distance, dot, type Vec3 } from '../geometry/vec.ts';
import type { Model } from './model.ts';
import { poseOf, type State, turnOf } from './state.ts';

/** Where there is plenty of spare (mm), arrangements this near the best are as good; where it is tight, every hundredth counts. */
export const PLENTY = 0.25;
export const AS_GOOD = 0.02;
export const AS_GOOD_TIGHT = 0.002;

interface Found {
  readonly spare: number;
  readonly state: State;
}

/** Among arrangements as good as the best: the receiver far from the microphones, and its spout straight. */
export function preferred(m: Model, best: Found, good: readonly Found[]): Found {
  let chosen = best;
  let merit = meritOf(m, best.state);
  const near = best.spare >= PLENTY ? AS_GOOD : AS_GOOD_TIGHT;
  for (const g of good) {
    if (g.spare < best.spare - near) continue;
    const other = meritOf(m, g.state);
    if (other > merit + 1e-9) {
      chosen = g;
      merit = other;
    }
  }
  return chosen;
}

/** Millimetres from the receiver to the nearest microphone; ten degrees off the tangent cost about a tenth of one. */
function meritOf(m: Model, s: State): number {
  let merit = 0;
  m.parts.forEach((part, p) => {
    if (part.part.kind !== 'receiver') return;
    const at = poseOf(m, s, p).position;
    let nearest = 20;
    m.parts.forEach((other, q) => {
      if (other.part.kind === 'microphone') nearest = Math.min(nearest, distance(at, poseOf(m, s, q).position));
    });
    const straight = dot(rotate(turnOf(s, p), [0, 0, 1]) as Vec3, m.tipTangent);
    merit += nearest - 8 * (1 - straight);
  });
  return merit;
}
