import { rotate } from '../geometry/rotation.ts';
import { distance, dot, type Vec3 } from '../geometry/vec.ts';
import type { Model } from './model.ts';
import { poseOf, type State, turnOf } from './state.ts';

/** Arrangements this near the best in spare are as good, mm. */
const AS_GOOD = 0.02;

interface Found {
  readonly spare: number;
  readonly state: State;
}

/** Among arrangements as good as the best: the receiver far from the microphones, and its spout straight. */
export function preferred(m: Model, best: Found, good: readonly Found[]): Found {
  let chosen = best;
  let merit = meritOf(m, best.state);
  for (const g of good) {
    if (g.spare < best.spare - AS_GOOD) continue;
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
