/**
 * Distance between a convex solid and a polygon or another solid (Gilbert, Johnson and Keerthi 1988).
 *
 * The figure returned is always the support-plane bound, which no rounding of the iteration can raise above the true
 * distance by more than the arithmetic's last digits: a distance is never overstated. It lies within 1e-8 mm below the truth.
 */
import { BOX, type Solids } from './convex.ts';
import { nearest, onFirst, reduce, simplex, weight } from './simplex.ts';

const TIGHT = 1e-8;
const MOST = 96;

/** What the last call found: unit direction from the second body to the first, in the frame of the call, and the closest point of the first body. */
export const found = { ux: 0, uy: 0, uz: 0, ax: 0, ay: 0, az: 0 };

/** The second body: either points, three numbers each, or a solid with its frame relative to the first. */
export interface Second {
  points: number; // 0: a solid
  readonly at: Float64Array;
  solids: Solids | undefined;
  index: number;
  readonly frame: Float64Array;
}
export const second = (): Second => ({ points: 0, at: new Float64Array(30), solids: undefined, index: 0, frame: new Float64Array(12) });

const p = new Float64Array(3);
const q = new Float64Array(3);

/** Point of a core farthest along (x, y, z), in its own frame. A tie goes to the positive side. */
function supportCore(s: Solids, i: number, x: number, y: number, z: number, out: Float64Array): void {
  const hx = s.half[3 * i] as number;
  const hz = s.half[3 * i + 2] as number;
  out[2] = z < 0 ? -hz : hz;
  if (s.shape[i] === BOX) {
    const hy = s.half[3 * i + 1] as number;
    out[0] = x < 0 ? -hx : hx;
    out[1] = y < 0 ? -hy : hy;
    return;
  }
  const r = Math.sqrt(x * x + y * y);
  const k = r > 0 ? hx / r : 0;
  out[0] = r > 0 ? x * k : hx;
  out[1] = y * k;
}

function supportSecond(b: Second, x: number, y: number, z: number, out: Float64Array): void {
  if (b.solids === undefined) {
    let best = -Infinity;
    let at = 0;
    for (let k = 0; k < b.points; k++) {
      const d = x * (b.at[3 * k] as number) + y * (b.at[3 * k + 1] as number) + z * (b.at[3 * k + 2] as number);
      if (d > best) {
        best = d;
        at = 3 * k;
      }
    }
    out[0] = b.at[at] as number;
    out[1] = b.at[at + 1] as number;
    out[2] = b.at[at + 2] as number;
    return;
  }
  const f = b.frame;
  const lx = (f[0] as number) * x + (f[3] as number) * y + (f[6] as number) * z;
  const ly = (f[1] as number) * x + (f[4] as number) * y + (f[7] as number) * z;
  const lz = (f[2] as number) * x + (f[5] as number) * y + (f[8] as number) * z;
  supportCore(b.solids, b.index, lx, ly, lz, out);
  const [a, c, d] = out as unknown as [number, number, number];
  out[0] = (f[0] as number) * a + (f[1] as number) * c + (f[2] as number) * d + (f[9] as number);
  out[1] = (f[3] as number) * a + (f[4] as number) * c + (f[5] as number) * d + (f[10] as number);
  out[2] = (f[6] as number) * a + (f[7] as number) * c + (f[8] as number) * d + (f[11] as number);
}

/**
 * Distance between the core of solid i (in its own frame) and `b` (its core, if a solid; in the same frame). `found.u*`
 * holds a direction to start with and is left with the best one. Stops early, with a lower bound, once that reaches
 * `enough`. 0: they meet.
 */
export function coreDistance(s: Solids, i: number, b: Second, enough: number): number {
  let vx = found.ux;
  let vy = found.uy;
  let vz = found.uz;
  let n = 0;
  let bound = -Infinity;
  let last = Infinity;
  for (let turn = 0; turn < MOST; turn++) {
    supportCore(s, i, -vx, -vy, -vz, p);
    supportSecond(b, vx, vy, vz, q);
    const wx = (p[0] as number) - (q[0] as number);
    const wy = (p[1] as number) - (q[1] as number);
    const wz = (p[2] as number) - (q[2] as number);
    const size = Math.sqrt(vx * vx + vy * vy + vz * vz);
    const low = (vx * wx + vy * wy + vz * wz) / size;
    if (low > bound) {
      bound = low;
      found.ux = vx / size;
      found.uy = vy / size;
      found.uz = vz / size;
    }
    if (bound >= enough || (turn > 0 && size - bound <= TIGHT)) break;
    if (known(n, wx, wy, wz)) break;
    simplex[3 * n] = wx;
    simplex[3 * n + 1] = wy;
    simplex[3 * n + 2] = wz;
    onFirst[3 * n] = p[0] as number;
    onFirst[3 * n + 1] = p[1] as number;
    onFirst[3 * n + 2] = p[2] as number;
    n = reduce(n + 1);
    vx = nearest[0] as number;
    vy = nearest[1] as number;
    vz = nearest[2] as number;
    const now = vx * vx + vy * vy + vz * vz;
    if (n === 4 || now <= TIGHT * TIGHT) return meet(n);
    if (now >= last) break;
    last = now;
  }
  witness(n);
  return Math.max(bound, 0);
}

function known(n: number, x: number, y: number, z: number): boolean {
  for (let k = 0; k < n; k++) if (simplex[3 * k] === x && simplex[3 * k + 1] === y && simplex[3 * k + 2] === z) return true;
  return false;
}

function witness(n: number): void {
  let ax = 0;
  let ay = 0;
  let az = 0;
  if (n === 0) {
    ax = p[0] as number;
    ay = p[1] as number;
    az = p[2] as number;
  }
  for (let k = 0; k < n && k < 4; k++) {
    const w = weight[k] as number;
    ax += w * (onFirst[3 * k] as number);
    ay += w * (onFirst[3 * k + 1] as number);
    az += w * (onFirst[3 * k + 2] as number);
  }
  found.ax = ax;
  found.ay = ay;
  found.az = az;
}

function meet(n: number): number {
  if (n === 4) weight.fill(0.25);
  witness(n);
  return 0;
}
