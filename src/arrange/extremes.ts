import { BOX, CAPSULE, type Solids } from '../room/convex.ts';

/** Points of a solid near its top along some direction: three numbers each, in the world, and how far below the top each lies. */
export const extremes = { count: 0, at: new Float64Array(96), below: new Float64Array(32) };

/** Turns from the topmost point of a rim, cosine and sine of 0, 15, 40, 80, 130 degrees to either side and 180. */
const AROUND: readonly (readonly [number, number])[] = [
  [1, 0],
  [0.9659258263, 0.2588190451],
  [0.9659258263, -0.2588190451],
  [0.7660444431, 0.6427876097],
  [0.7660444431, -0.6427876097],
  [0.1736481777, 0.984807753],
  [0.1736481777, -0.984807753],
  [-0.6427876097, 0.7660444431],
  [-0.6427876097, -0.7660444431],
  [-1, 0],
];

/** Fills `extremes` with the points within `band` of solid i's top along unit u: corners, rim points, a capsule's ends. */
export function findExtremes(s: Solids, i: number, ux: number, uy: number, uz: number, band: number): void {
  extremes.count = 0;
  const f = s.frame;
  const o = 12 * i;
  const lx = (f[o] as number) * ux + (f[o + 3] as number) * uy + (f[o + 6] as number) * uz;
  const ly = (f[o + 1] as number) * ux + (f[o + 4] as number) * uy + (f[o + 7] as number) * uz;
  const lz = (f[o + 2] as number) * ux + (f[o + 5] as number) * uy + (f[o + 8] as number) * uz;
  const hx = s.half[3 * i] as number;
  const hy = s.half[3 * i + 1] as number;
  const hz = s.half[3 * i + 2] as number;
  if (s.shape[i] === BOX) {
    for (let c = 0; c < 8; c++) {
      const sx = c & 1 ? (lx < 0 ? hx : -hx) : lx < 0 ? -hx : hx;
      const sy = c & 2 ? (ly < 0 ? hy : -hy) : ly < 0 ? -hy : hy;
      const sz = c & 4 ? (lz < 0 ? hz : -hz) : lz < 0 ? -hz : hz;
      const below = (c & 1 ? 2 * hx * Math.abs(lx) : 0) + (c & 2 ? 2 * hy * Math.abs(ly) : 0) + (c & 4 ? 2 * hz * Math.abs(lz) : 0);
      if (below <= band) put(s, o, sx, sy, sz, below);
    }
    return;
  }
  const r = s.round[i] as number;
  const top = lz < 0 ? -hz : hz;
  if (s.shape[i] === CAPSULE) {
    for (let e = 0; e < 2; e++) {
      const below = e === 0 ? 0 : 2 * hz * Math.abs(lz);
      if (below <= band) put(s, o, r * lx, r * ly, (e === 0 ? top : -top) + r * lz, below);
    }
    return;
  }
  const across = Math.sqrt(lx * lx + ly * ly);
  const ax = across > 1e-9 ? lx / across : 1;
  const ay = across > 1e-9 ? ly / across : 0;
  for (let e = 0; e < 2; e++) {
    const cap = e === 0 ? 0 : 2 * hz * Math.abs(lz);
    if (cap > band) continue;
    for (const [c, n] of AROUND) {
      const below = cap + hx * across * (1 - c);
      if (below <= band) put(s, o, hx * (c * ax - n * ay), hx * (c * ay + n * ax), e === 0 ? top : -top, below);
    }
  }
}

function put(s: Solids, o: number, x: number, y: number, z: number, below: number): void {
  const f = s.frame;
  const k = 3 * extremes.count;
  for (let r = 0; r < 3; r++) {
    extremes.at[k + r] =
      (f[o + 3 * r] as number) * x + (f[o + 3 * r + 1] as number) * y + (f[o + 3 * r + 2] as number) * z + (f[o + 9 + r] as number);
  }
  extremes.below[extremes.count++] = below;
}

/** Where a flat side faces u almost squarely, its middle counts for the whole side: this is how nearly, as a sine. */
const FLAT = 0.08;

/** One point to stand for all of a solid's top along u, moving smoothly as it turns: written to `out`. */
export function softTop(s: Solids, i: number, ux: number, uy: number, uz: number, out: Float64Array): void {
  const f = s.frame;
  const o = 12 * i;
  const lx = (f[o] as number) * ux + (f[o + 3] as number) * uy + (f[o + 6] as number) * uz;
  const ly = (f[o + 1] as number) * ux + (f[o + 4] as number) * uy + (f[o + 7] as number) * uz;
  const lz = (f[o + 2] as number) * ux + (f[o + 5] as number) * uy + (f[o + 8] as number) * uz;
  const r = s.round[i] as number;
  let x: number;
  let y: number;
  const z = soft(lz) * (s.half[3 * i + 2] as number) + r * lz;
  if (s.shape[i] === BOX) {
    x = soft(lx) * (s.half[3 * i] as number);
    y = soft(ly) * (s.half[3 * i + 1] as number);
  } else {
    const across = Math.sqrt(lx * lx + ly * ly);
    const k = ((s.half[3 * i] as number) * soft(across)) / (across > 1e-9 ? across : 1);
    x = k * lx + r * lx;
    y = k * ly + r * ly;
  }
  for (let q = 0; q < 3; q++) {
    out[q] = (f[o + 3 * q] as number) * x + (f[o + 3 * q + 1] as number) * y + (f[o + 3 * q + 2] as number) * z + (f[o + 9 + q] as number);
  }
}

const soft = (x: number): number => (x > FLAT ? 1 : x < -FLAT ? -1 : x / FLAT);
