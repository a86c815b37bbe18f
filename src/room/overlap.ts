/**
 * How deep two convex solids overlap: the least move that parts them.
 *
 * The difference body of two of our solids is a sum of segments and discs, so its support in direction u is
 *   h(u) = sum |u . s| + sum r sqrt(1 - (u . n)^2) - u . c
 * and the depth is the least h over the unit sphere. The nearest boundary point seen from inside has one normal only, so
 * it lies on a face (normal: a disc's axis, or square to two segments), on a strip ruled by a segment (u on the great
 * circle square to that segment) or, for two discs, on a doubly curved patch. The first two are searched completely,
 * the third by descent from the best so far. Whatever is missed makes the depth larger: never an overstated clearance.
 */
import { BOX, CAPSULE, type Solids } from './convex.ts';

/** Direction of the last answer, in the first solid's frame. */
export const push = { ux: 0, uy: 0, uz: 0 };

const segment = new Float64Array(18);
const disc = new Float64Array(8);
const centre = new Float64Array(3);
let segments = 0;
let discs = 0;
let best = 0;
const at = new Float64Array(3);

function addSegment(x: number, y: number, z: number): void {
  segment[3 * segments] = x;
  segment[3 * segments + 1] = y;
  segment[3 * segments + 2] = z;
  segments++;
}

/** Adds one solid's generators; its axes are the columns of a frame's rotation. */
function addSolid(s: Solids, i: number, f: Float64Array): void {
  const first = s.shape[i] === BOX ? 0 : 2;
  for (let k = first; k < 3; k++) {
    const h = s.half[3 * i + k] as number;
    addSegment(h * (f[k] as number), h * (f[3 + k] as number), h * (f[6 + k] as number));
  }
  if (s.shape[i] === BOX || s.shape[i] === CAPSULE) return;
  disc[4 * discs] = f[2] as number;
  disc[4 * discs + 1] = f[5] as number;
  disc[4 * discs + 2] = f[8] as number;
  disc[4 * discs + 3] = s.half[3 * i] as number;
  discs++;
}

/** Support of the difference body. */
function support(x: number, y: number, z: number): number {
  let h = -(x * (centre[0] as number) + y * (centre[1] as number) + z * (centre[2] as number));
  for (let k = 0; k < segments; k++) {
    const d = x * (segment[3 * k] as number) + y * (segment[3 * k + 1] as number) + z * (segment[3 * k + 2] as number);
    h += d < 0 ? -d : d;
  }
  for (let k = 0; k < discs; k++) {
    const d = x * (disc[4 * k] as number) + y * (disc[4 * k + 1] as number) + z * (disc[4 * k + 2] as number);
    const r = 1 - d * d;
    if (r > 0) h += (disc[4 * k + 3] as number) * Math.sqrt(r);
  }
  return h;
}

function offer(x: number, y: number, z: number): number {
  const h = support(x, y, z);
  if (h < best) {
    best = h;
    at[0] = x;
    at[1] = y;
    at[2] = z;
  }
  return h;
}

function offerBoth(x: number, y: number, z: number): void {
  const l = Math.sqrt(x * x + y * y + z * z);
  if (l < 1e-9) return;
  offer(x / l, y / l, z / l);
  offer(-x / l, -y / l, -z / l);
}

const STRAIGHT = new Float64Array([1, 0, 0, 0, 1, 0, 0, 0, 1]);

/**
 * Depth of the overlap of the cores of solid i (in its own frame) and solid j (its `frame` relative to that): the least
 * support of their difference body. Meant for cores that meet; negative when some direction parts them. `full` false
 * tries face directions only (an upper bound of the depth, for the search's inner loop).
 */
export function coreOverlap(a: Solids, i: number, b: Solids, j: number, frame: Float64Array, full: boolean): number {
  segments = 0;
  discs = 0;
  best = Infinity;
  centre[0] = frame[9] as number;
  centre[1] = frame[10] as number;
  centre[2] = frame[11] as number;
  addSolid(a, i, STRAIGHT);
  const own = segments;
  addSolid(b, j, frame);
  faces(own);
  for (let k = 0; k < discs; k++) offerBoth(disc[4 * k] as number, disc[4 * k + 1] as number, disc[4 * k + 2] as number);
  offerBoth(centre[0] as number, centre[1] as number, centre[2] as number);
  if (discs > 0) {
    if (full) for (let k = 0; k < segments; k++) circle(3 * k);
    descend(full ? 0.25 : 0.2, full ? 1e-7 : 0.02);
  }
  push.ux = at[0] as number;
  push.uy = at[1] as number;
  push.uz = at[2] as number;
  return best;
}

/** Directions square to two segments. */
function faces(own: number): void {
  for (let p = 0; p < segments; p++) {
    for (let q = p + 1; q < segments; q++) {
      // Two parallel solids: the cross products of like axes vanish, and those of their own axes remain.
      if (segments === 2 && own === 1) square(0, 3);
      const px = segment[3 * p] as number;
      const py = segment[3 * p + 1] as number;
      const pz = segment[3 * p + 2] as number;
      const qx = segment[3 * q] as number;
      const qy = segment[3 * q + 1] as number;
      const qz = segment[3 * q + 2] as number;
      offerBoth(py * qz - pz * qy, pz * qx - px * qz, px * qy - py * qx);
    }
  }
}

/** For two single segments: some direction square to both, also when they are parallel. */
function square(p: number, q: number): void {
  const x = segment[p] as number;
  const y = segment[p + 1] as number;
  const z = segment[p + 2] as number;
  if (Math.abs(x) < Math.abs(z)) offerBoth(0, -z, y);
  else offerBoth(-y, x, 0);
  const u = segment[q] as number;
  const v = segment[q + 1] as number;
  const w = segment[q + 2] as number;
  if (Math.abs(u) < Math.abs(w)) offerBoth(0, -w, v);
  else offerBoth(-v, u, 0);
}

/** Sixteenths of half a turn, cosine and sine. */
const STEPS = 32;
const COS = new Float64Array(STEPS);
const SIN = new Float64Array(STEPS);
(() => {
  // Turn by turn from one exact small rotation (Cayley), so that no trigonometric function is needed.
  const t = 0.09849140335716425; // tan(pi / 32)
  const c = (1 - t * t) / (1 + t * t);
  const s = (2 * t) / (1 + t * t);
  COS[0] = 1;
  for (let k = 1; k < STEPS; k++) {
    COS[k] = (COS[k - 1] as number) * c - (SIN[k - 1] as number) * s;
    SIN[k] = (SIN[k - 1] as number) * c + (COS[k - 1] as number) * s;
  }
})();

/** The great circle square to a segment, completely: sampled, then each dip narrowed. */
function circle(o: number): void {
  const x = segment[o] as number;
  const y = segment[o + 1] as number;
  const z = segment[o + 2] as number;
  const l = Math.sqrt(x * x + y * y + z * z);
  if (l < 1e-9) return;
  let px = Math.abs(x) < 0.6 * l ? 0 : -z;
  let py = Math.abs(x) < 0.6 * l ? z : 0;
  let pz = Math.abs(x) < 0.6 * l ? -y : x;
  const m = Math.sqrt(px * px + py * py + pz * pz);
  px /= m;
  py /= m;
  pz /= m;
  const qx = (y * pz - z * py) / l;
  const qy = (z * px - x * pz) / l;
  const qz = (x * py - y * px) / l;
  const value = (c: number, s: number): number => offer(c * px + s * qx, c * py + s * qy, c * pz + s * qz);
  const heights = ring;
  for (let k = 0; k < STEPS; k++) heights[k] = value(COS[k] as number, SIN[k] as number);
  for (let k = 0; k < STEPS; k++) {
    const h = heights[k] as number;
    const before = heights[(k + STEPS - 1) % STEPS] as number;
    const after = heights[(k + 1) % STEPS] as number;
    if (h > before || h > after || h > best + 0.3) continue;
    narrow(COS[k] as number, SIN[k] as number, h, value);
  }
}
const ring = new Float64Array(STEPS);

/** Halving steps to either side of (c, s), turning by half-angle tangents. */
function narrow(c0: number, s0: number, h0: number, value: (c: number, s: number) => number): void {
  let c = c0;
  let s = s0;
  let h = h0;
  for (let t = 0.06; t > 1e-7; ) {
    const cc = (1 - t * t) / (1 + t * t);
    const ss = (2 * t) / (1 + t * t);
    const c1 = c * cc - s * ss;
    const s1 = s * cc + c * ss;
    const c2 = c * cc + s * ss;
    const s2 = s * cc - c * ss;
    const h1 = value(c1, s1);
    const h2 = value(c2, s2);
    if (h1 < h && h1 <= h2) {
      c = c1;
      s = s1;
      h = h1;
    } else if (h2 < h) {
      c = c2;
      s = s2;
      h = h2;
    } else t /= 2;
  }
}

/** From the best so far, to and fro in two directions on the sphere with halving steps. */
function descend(first: number, least: number): void {
  for (let t = first; t > least; ) {
    const before = best;
    const x = at[0] as number;
    const y = at[1] as number;
    const z = at[2] as number;
    let px = Math.abs(x) < 0.6 ? 0 : -z;
    let py = Math.abs(x) < 0.6 ? z : 0;
    let pz = Math.abs(x) < 0.6 ? -y : x;
    const m = Math.sqrt(px * px + py * py + pz * pz);
    px /= m;
    py /= m;
    pz /= m;
    const qx = y * pz - z * py;
    const qy = z * px - x * pz;
    const qz = x * py - y * px;
    for (let k = 0; k < STEPS; k += 4) {
      for (let sign = -1; sign <= 1; sign += 2) {
        const a = sign * t * (COS[k] as number);
        const b = sign * t * (SIN[k] as number);
        const n = 1 / Math.sqrt(1 + t * t);
        offer((x + a * px + b * qx) * n, (y + a * py + b * qy) * n, (z + a * pz + b * qz) * n);
      }
    }
    if (best >= before - 1e-12) t /= 2;
  }
}
