/** The cavum's floor: how deep the concha is below its rim, beside the canal's mouth. */
import { addScaled, cross, distance, dot, type Plane, type Point, scale, sub } from '../geometry/vec.ts';
import type { EarFrame } from '../model/ear.ts';
import { exitOf } from './centreline.ts';
import { axisMeets } from './rim.ts';
import type { Slicer } from './slicer.ts';

export interface Floor {
  readonly at: Point<'scan'>;
  readonly depth: number; // mm below the rim plane
}

/** Rays go medially, square to the rim plane, this far apart, over the cavum: behind the canal and below the crus, mm. */
const GRID = 1;
const BEHIND = 16;
const BEFORE = 2;
const BELOW = 12;
const ABOVE = 4;
/** They start this far below the rim, in the material, mm: a flange lies over it. */
const START = 1;
/** Those that meet the canal, or the rounding of its mouth, tell nothing of the floor: so far from its axis beyond its own half width, mm. */
const ROUNDING = 1.5;
/** A tenth of the rays go deeper: a pit or an edge does not count. */
const SHARE = 0.9;
/** With fewer the cast shows no cavum. */
const FEWEST = 12;

/** `mouth`: the canal's largest half width at the aperture, mm. Undefined where the cast shows no cavum. */
export function floorOf(slicer: Slicer<'scan'>, frame: EarFrame, rim: Plane<'scan'>, mouth: number): Floor | undefined {
  const n = rim.normal;
  const medially = scale(n, -1);
  const over = axisMeets({ origin: frame.origin, lateral: frame.lateral }, rim);
  const up = addScaled(frame.superior, n, -dot(frame.superior, n));
  const front = frame.side === 'right' ? cross(up, n) : cross(n, up);
  const found: Floor[] = [];
  for (let x = -BEHIND; x <= BEFORE; x += GRID) {
    for (let y = -BELOW; y <= ABOVE; y += GRID) {
      const from = addScaled(addScaled(addScaled(over, front, x), up, y), medially, START);
      if (!slicer.tree.contains(from)) continue;
      const depth = START + exitOf(slicer, from, medially);
      const at = addScaled(from, medially, depth - START);
      if (fromAxis(frame, at) > mouth + ROUNDING) found.push({ at, depth });
    }
  }
  if (found.length < FEWEST) return undefined;
  found.sort((a, b) => a.depth - b.depth);
  return found[Math.floor(SHARE * (found.length - 1))];
}

/** Distance from the canal's axis at the aperture, mm. */
function fromAxis({ origin, lateral }: EarFrame, p: Point<'scan'>): number {
  return distance(p, addScaled(origin, lateral, dot(sub(p, origin), lateral)));
}
