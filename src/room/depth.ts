/**
 * How far the deepest point of a convex solid lies outside the cast, behind the cuts: branch and bound over the solid's
 * box. Distance is 1-Lipschitz and projecting onto a convex solid brings points no farther apart, so the value at a
 * cell's centre, projected onto the solid, plus the cell's half diagonal bounds the whole cell.
 */
import { BOX, closestOfCore, type Solids } from './convex.ts';
import type { Planes } from './surface.ts';

/** The answer lies within this of the true depth, mm... */
const TIGHT = 0.002;
/** ...or, after so many cells, is whatever bound then stands (deeper than the truth). */
const MOST = 6000;

/** Where the deepest point lies, in the world. */
export const deepest = { x: 0, y: 0, z: 0 };

const close = new Float64Array(3);
const world = new Float64Array(3);

/** `outside(x, y, z)`: distance outside the cast, negative inside. At least 0. */
export function depthOutside(s: Solids, i: number, planes: Planes, outside: (x: number, y: number, z: number) => number): number {
  const round = s.round[i] as number;
  const hx = (s.half[3 * i] as number) + round;
  const hy = (s.shape[i] === BOX ? (s.half[3 * i + 1] as number) : (s.half[3 * i] as number)) + round;
  const hz = (s.half[3 * i + 2] as number) + round;
  let best = 0;
  const look = (x: number, y: number, z: number): number => {
    toWorld(s, i, x, y, z);
    if (beyond(planes, world) > 0) return -Infinity;
    const d = outside(world[0] as number, world[1] as number, world[2] as number);
    if (d > best) {
      best = d;
      deepest.x = world[0] as number;
      deepest.y = world[1] as number;
      deepest.z = world[2] as number;
    }
    return d;
  };
  rimPoints(s, i, look);
  // Depth first, seven numbers a cell: centre, half sizes, bound.
  const stack: number[] = [0, 0, 0, hx, hy, hz, Infinity];
  let cells = 0;
  let left = 0;
  while (stack.length > 0) {
    const [x, y, z, a, b, c, bound] = stack.splice(stack.length - 7) as [number, number, number, number, number, number, number];
    if (bound <= best + TIGHT) continue;
    if (cells >= MOST) {
      left = Math.max(left, bound);
      continue;
    }
    // Halve the longest side.
    const k = a >= b && a >= c ? 0 : b >= c ? 1 : 2;
    for (let side = -1; side <= 1; side += 2) {
      cells++;
      const n = [x, y, z] as [number, number, number];
      const h = [a, b, c] as [number, number, number];
      h[k] = (h[k] as number) / 2;
      n[k] = (n[k] as number) + side * (h[k] as number);
      const r = Math.sqrt(h[0] * h[0] + h[1] * h[1] + h[2] * h[2]);
      const away = closestOfCore(s, i, n[0], n[1], n[2], close) - round;
      if (away > r) continue;
      const f = away > 0 ? away / (away + round) : 0;
      const px = n[0] + f * ((close[0] as number) - n[0]);
      const py = n[1] + f * ((close[1] as number) - n[1]);
      const pz = n[2] + f * ((close[2] as number) - n[2]);
      toWorld(s, i, n[0], n[1], n[2]);
      if (beyond(planes, world) > r) continue;
      toWorld(s, i, px, py, pz);
      const value = beyond(planes, world) > 0 ? outside(world[0] as number, world[1] as number, world[2] as number) : look(px, py, pz);
      if (value + r > best + TIGHT) stack.push(n[0], n[1], n[2], h[0], h[1], h[2], value + r);
    }
  }
  return Math.max(best, left);
}

function toWorld(s: Solids, i: number, x: number, y: number, z: number): void {
  const f = s.frame;
  for (let k = 0; k < 3; k++) {
    const o = 12 * i + 3 * k;
    world[k] = (f[o] as number) * x + (f[o + 1] as number) * y + (f[o + 2] as number) * z + (f[12 * i + 9 + k] as number);
  }
}

/** How far beyond the nearest of the planes a point lies; negative within all. */
function beyond(planes: Planes, at: Float64Array): number {
  let most = -Infinity;
  for (let p = 0; p < planes.count; p++) {
    const f = planes.flat;
    const h =
      (f[4 * p] as number) * (at[0] as number) +
      (f[4 * p + 1] as number) * (at[1] as number) +
      (f[4 * p + 2] as number) * (at[2] as number) -
      (f[4 * p + 3] as number);
    if (h > most) most = h;
  }
  return most;
}

/** The likely deepest points: a box's corners, a cylinder's rims, a capsule's ends. */
function rimPoints(s: Solids, i: number, look: (x: number, y: number, z: number) => void): void {
  const hx = s.half[3 * i] as number;
  const hy = s.half[3 * i + 1] as number;
  const hz = s.half[3 * i + 2] as number;
  const r = s.round[i] as number;
  for (let e = -1; e <= 1; e += 2) {
    if (s.shape[i] === BOX) for (let c = 0; c < 4; c++) look(c & 1 ? hx : -hx, c & 2 ? hy : -hy, e * hz);
    else {
      look(0, 0, e * (hz + r));
      for (let c = 0; c < 4; c++) for (let q = -0.8; q <= 0.8; q += 0.4) rim(hx, r, e * hz, c, q, look);
    }
  }
}

/** A point of a rim: quarter `c`, and within it by half-angle tangent `q` (no trigonometry). */
function rim(hx: number, r: number, z: number, c: number, q: number, look: (x: number, y: number, z: number) => void): void {
  const t = q * 0.41421356;
  const x = ((1 - t * t) / (1 + t * t)) * (hx + r);
  const y = ((2 * t) / (1 + t * t)) * (hx + r);
  if (c === 0) look(x, y, z);
  else if (c === 1) look(-y, x, z);
  else if (c === 2) look(-x, -y, z);
  else look(y, -x, z);
}
