import { ballRadius, type Solids } from './convex.ts';
import { coreDistance, found, second } from './gjk.ts';
import { coreOverlap, push } from './overlap.ts';

const other = second();

/** The last pair's direction from the second solid to the first, in the world, and where it is measured on the first. */
export const axis = new Float64Array(3);
export const touch = new Float64Array(3);

/** Frame of solid j of b, seen from solid i of a. */
function relative(a: Solids, i: number, b: Solids, j: number, out: Float64Array): void {
  const f = a.frame;
  const g = b.frame;
  const o = 12 * i;
  const k = 12 * j;
  const dx = (g[k + 9] as number) - (f[o + 9] as number);
  const dy = (g[k + 10] as number) - (f[o + 10] as number);
  const dz = (g[k + 11] as number) - (f[o + 11] as number);
  for (let r = 0; r < 3; r++) {
    const x = f[o + r] as number;
    const y = f[o + 3 + r] as number;
    const z = f[o + 6 + r] as number;
    for (let c = 0; c < 3; c++) out[3 * r + c] = x * (g[k + c] as number) + y * (g[k + 3 + c] as number) + z * (g[k + 6 + c] as number);
    out[9 + r] = x * dx + y * dy + z * dz;
  }
}

/**
 * Gap between two solids, mm: their distance, or minus the least move that parts them. Never above the truth by more
 * than rounding. With `enough`, a lower bound no less than it may be returned instead. `full` false: overlaps may come out deeper
 * than they are (for the search's inner loop).
 */
export function pairGap(a: Solids, i: number, b: Solids, j: number, enough = Infinity, full = true): number {
  const rounds = (a.round[i] as number) + (b.round[j] as number);
  const f = a.frame;
  const g = b.frame;
  const cx = (f[12 * i + 9] as number) - (g[12 * j + 9] as number);
  const cy = (f[12 * i + 10] as number) - (g[12 * j + 10] as number);
  const cz = (f[12 * i + 11] as number) - (g[12 * j + 11] as number);
  const apart = Math.sqrt(cx * cx + cy * cy + cz * cz) - ballRadius(a, i) - ballRadius(b, j);
  if (apart >= enough) return apart;
  relative(a, i, b, j, other.frame);
  other.solids = b;
  other.index = j;
  found.ux = -(other.frame[9] as number);
  found.uy = -(other.frame[10] as number);
  found.uz = -(other.frame[11] as number);
  if (found.ux === 0 && found.uy === 0 && found.uz === 0) found.uz = 1;
  let gap = coreDistance(a, i, other, enough + rounds);
  if (gap <= 0) {
    gap = -coreOverlap(a, i, b, j, other.frame, full);
    // The difference body is first minus second: moving the first against its nearest normal parts them.
    found.ux = -push.ux;
    found.uy = -push.uy;
    found.uz = -push.uz;
  }
  report(a, i);
  return gap - rounds;
}

function report(a: Solids, i: number): void {
  const f = a.frame;
  const o = 12 * i;
  const r = a.round[i] as number;
  const x = found.ax - r * found.ux;
  const y = found.ay - r * found.uy;
  const z = found.az - r * found.uz;
  for (let k = 0; k < 3; k++) {
    const p = f[o + 3 * k] as number;
    const q = f[o + 3 * k + 1] as number;
    const s = f[o + 3 * k + 2] as number;
    axis[k] = p * found.ux + q * found.uy + s * found.uz;
    touch[k] = p * x + q * y + s * z + (f[o + 9 + k] as number);
  }
}
