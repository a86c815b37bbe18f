/**
 * How far the deepest point of a convex solid lies outside the cast, behind the cuts: best-first branch and bound over
 * the solid's box. Two bounds of a cell, with its centre c (projected onto the solid) and the surface point q nearest c:
 * distance is 1-Lipschitz, so value(c) + half diagonal; and no point is farther from the surface than from q, so
 * sqrt(height^2 + half diagonal^2) with the height over q that the cell and the solid itself allow. The second is tight
 * to second order along a flat side that lies outside all at one depth.
 */
import { BOX, closestOfCore, type Solids, topAlong } from './convex.ts';
import type { Planes } from './surface.ts';

/** The answer lies within this below the true depth, mm... */
export const DEPTH_ERROR = 0.002;
/** ...or, where so many cells do not settle it (a flat side barely outside all along), is taken as deeper by no more than OPEN. */
const MOST = 1500;
const OPEN = 0.01;

/** Where the deepest point lies, in the world. */
export const deepest = { x: 0, y: 0, z: 0 };

/** Signed distance outside the cast (negative inside), leaving the nearest surface point in `at`. */
export type Outside = (x: number, y: number, z: number, at: Float64Array) => number;

const close = new Float64Array(3);
const world = new Float64Array(3);
const surface = new Float64Array(3);

/** Cells waiting, a heap by bound: six numbers each, centre and half sizes, and the bound. */
const cell = new Float64Array(6 * 2 * MOST + 60);
const bound = new Float64Array(2 * MOST + 10);
let waiting = 0;

/** Depth of solid i outside the cast; at least 0. Once some point is deeper than `stop`, that depth is returned. */
export function depthOutside(s: Solids, i: number, planes: Planes, outside: Outside, stop = Infinity): number {
  const round = s.round[i] as number;
  const half = new Float64Array([
    (s.half[3 * i] as number) + round,
    (s.shape[i] === BOX ? (s.half[3 * i + 1] as number) : (s.half[3 * i] as number)) + round,
    (s.half[3 * i + 2] as number) + round,
  ]);
  let best = 0;
  const look = (x: number, y: number, z: number): number => {
    toWorld(s, i, x, y, z);
    const counts = beyond(planes, world) <= 0;
    const d = outside(world[0] as number, world[1] as number, world[2] as number, surface);
    if (counts && d > best) {
      best = d;
      deepest.x = world[0] as number;
      deepest.y = world[1] as number;
      deepest.z = world[2] as number;
    }
    return d;
  };
  rimPoints(s, i, look);
  waiting = 0;
  push(0, 0, 0, half[0] as number, half[1] as number, half[2] as number, Infinity);
  const taken = new Float64Array(6);
  for (let cells = 0; waiting > 0 && cells < MOST; cells++) {
    const top = bound[0] as number;
    if (top <= best + DEPTH_ERROR || best > stop) return best;
    pop(taken);
    // Halve the longest side.
    const [a, b, c] = [taken[3] as number, taken[4] as number, taken[5] as number];
    const k = a >= b && a >= c ? 0 : b >= c ? 1 : 2;
    const h = (taken[3 + k] as number) / 2;
    taken[3 + k] = h;
    const middle = taken[k] as number;
    for (let side = -1; side <= 1; side += 2) {
      taken[k] = middle + side * h;
      const most = cellBound(s, i, planes, taken, look);
      if (most > best + DEPTH_ERROR)
        push(taken[0] as number, taken[1] as number, taken[2] as number, taken[3] as number, taken[4] as number, taken[5] as number, most);
    }
  }
  return waiting > 0 ? Math.max(best, Math.min(best + OPEN, (bound[0] as number) - DEPTH_ERROR)) : best;
}

/** Upper bound of the depth over what a cell holds of the solid behind the cuts; -Infinity if that is nothing. */
function cellBound(s: Solids, i: number, planes: Planes, c: Float64Array, look: (x: number, y: number, z: number) => number): number {
  const [x, y, z, a, b, h] = c as unknown as [number, number, number, number, number, number];
  const r = Math.sqrt(a * a + b * b + h * h);
  const round = s.round[i] as number;
  const away = closestOfCore(s, i, x, y, z, close) - round;
  if (away > r) return -Infinity;
  toWorld(s, i, x, y, z);
  if (beyond(planes, world) > r) return -Infinity;
  // Projecting onto a convex solid brings points no farther apart: the half diagonal still bounds the way from there.
  const f = away > 0 ? away / (away + round) : 0;
  const value = look(x + f * ((close[0] as number) - x), y + f * ((close[1] as number) - y), z + f * ((close[2] as number) - z));
  if (value < 0) return value + r;
  // n: from the surface point to the solid's. Along it nothing lies beyond the cell, nor beyond the solid's own top.
  const [qx, qy, qz] = surface as unknown as [number, number, number];
  const nx = ((world[0] as number) - qx) / (value || 1);
  const ny = ((world[1] as number) - qy) / (value || 1);
  const nz = ((world[2] as number) - qz) / (value || 1);
  const g = s.frame;
  const o = 12 * i;
  const along =
    a * Math.abs((g[o] as number) * nx + (g[o + 3] as number) * ny + (g[o + 6] as number) * nz) +
    b * Math.abs((g[o + 1] as number) * nx + (g[o + 4] as number) * ny + (g[o + 7] as number) * nz) +
    h * Math.abs((g[o + 2] as number) * nx + (g[o + 5] as number) * ny + (g[o + 8] as number) * nz);
  toWorld(s, i, x, y, z);
  const middle = nx * ((world[0] as number) - qx) + ny * ((world[1] as number) - qy) + nz * ((world[2] as number) - qz);
  const top = Math.min(middle + along, topAlong(s, i, nx, ny, nz) - nx * qx - ny * qy - nz * qz);
  return Math.min(value + r, Math.sqrt(Math.max(0, top) * Math.max(0, top) + r * r));
}

function push(x: number, y: number, z: number, a: number, b: number, c: number, most: number): void {
  let n = waiting++;
  while (n > 0) {
    const parent = (n - 1) >> 1;
    if ((bound[parent] as number) >= most) break;
    bound[n] = bound[parent] as number;
    cell.copyWithin(6 * n, 6 * parent, 6 * parent + 6);
    n = parent;
  }
  bound[n] = most;
  cell[6 * n] = x;
  cell[6 * n + 1] = y;
  cell[6 * n + 2] = z;
  cell[6 * n + 3] = a;
  cell[6 * n + 4] = b;
  cell[6 * n + 5] = c;
}

function pop(out: Float64Array): void {
  out.set(cell.subarray(0, 6));
  waiting--;
  if (waiting === 0) return;
  const last = bound[waiting] as number;
  let n = 0;
  for (;;) {
    let child = 2 * n + 1;
    if (child >= waiting) break;
    if (child + 1 < waiting && (bound[child + 1] as number) > (bound[child] as number)) child++;
    if ((bound[child] as number) <= last) break;
    bound[n] = bound[child] as number;
    cell.copyWithin(6 * n, 6 * child, 6 * child + 6);
    n = child;
  }
  bound[n] = last;
  cell.copyWithin(6 * n, 6 * waiting, 6 * waiting + 6);
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
      for (let c = 0; c < 4; c++) for (let q = -4; q <= 4; q++) rim(hx + r, e * hz, c, q / 4, look);
    }
  }
}

/** A point of a rim: quarter `c`, and within it by half-angle tangent (no trigonometry). */
function rim(radius: number, z: number, c: number, q: number, look: (x: number, y: number, z: number) => void): void {
  const t = q * 0.41421356;
  const x = ((1 - t * t) / (1 + t * t)) * radius;
  const y = ((2 * t) / (1 + t * t)) * radius;
  if (c === 0) look(x, y, z);
  else if (c === 1) look(-y, x, z);
  else if (c === 2) look(-x, -y, z);
  else look(y, -x, z);
}
