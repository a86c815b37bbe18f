/**
 * Exact distance from a convex solid to the cast's surface between the cuts.
 *
 * The tree is walked from a first bound. For any unit direction u the support-plane gap is a lower bound of the distance
 * between convex bodies; with u from the solid's closest point to a box's or triangle's centre it is nearly tight, so
 * few triangles need the full distance.
 */
import { closestOfCore, type Solids } from './convex.ts';
import { coreDistance, found, second } from './gjk.ts';
import type { NearTriangles } from './near.ts';

/** What bounds the surface that counts: half-spaces n . x <= d, four numbers each. */
export interface Planes {
  readonly count: number;
  readonly flat: Float64Array;
}

/** The last query's nearest triangle (a place, or -1), the closest point of the solid and the unit direction from the surface to it, in the world. */
export const hit = { place: -1, x: 0, y: 0, z: 0, ux: 0, uy: 0, uz: 0 };

const nodes = new Int32Array(256);
const close = new Float64Array(3);
const polygon = second();
const clipped = new Float64Array(30);
const corner = new Float64Array(9);

/** The solid of the query, hoisted: rotation rows, centre, and what is being sought. */
let solids: Solids;
let index = 0;
let o = 0;
let best = 0;

/**
 * Distance (to the solid's core less its round, so below 0 for a capsule whose axis is near) to the part of the surface
 * that lies within the planes, if below `limit`; else `limit`. 0 (less the round): they meet. `hint`: a place to begin with, or -1.
 */
export function surfaceDistance(near: NearTriangles, planes: Planes, s: Solids, i: number, limit: number, hint: number): number {
  const round = s.round[i] as number;
  solids = s;
  index = i;
  o = 12 * i;
  best = limit + round;
  hit.place = -1;
  if (hint >= 0) tryTriangle(near, planes, hint);
  const { boxes, second: other, start, count, order } = near.tree;
  let top = 0;
  if (order.length > 0) nodes[top++] = 0;
  while (top > 0 && best > 0) {
    const node = nodes[--top] as number;
    if (boxBound(boxes, 6 * node) >= best || outsidePlanes(boxes, 6 * node, planes)) continue;
    const right = other[node] as number;
    if (right < 0) {
      const to = (start[node] as number) + (count[node] as number);
      for (let t = start[node] as number; t < to && best > 0; t++) tryTriangle(near, planes, t);
      continue;
    }
    // The nearer child last, so that it is opened first.
    if (centreDistance2(boxes, 6 * node + 6) < centreDistance2(boxes, 6 * right)) {
      nodes[top++] = right;
      nodes[top++] = node + 1;
    } else {
      nodes[top++] = node + 1;
      nodes[top++] = right;
    }
  }
  return best - round;
}

function centreDistance2(b: Float64Array, k: number): number {
  const f = solids.frame;
  const x = ((b[k] as number) + (b[k + 3] as number)) / 2 - (f[o + 9] as number);
  const y = ((b[k + 1] as number) + (b[k + 4] as number)) / 2 - (f[o + 10] as number);
  const z = ((b[k + 2] as number) + (b[k + 5] as number)) / 2 - (f[o + 11] as number);
  return x * x + y * y + z * z;
}

/** Unit direction (in the solid's frame) from its core's closest point, kept in `close`, to a world point; the distance. */
let dx = 0;
let dy = 0;
let dz = 0;
function towards(x: number, y: number, z: number): number {
  const f = solids.frame;
  const wx = x - (f[o + 9] as number);
  const wy = y - (f[o + 10] as number);
  const wz = z - (f[o + 11] as number);
  const lx = (f[o] as number) * wx + (f[o + 3] as number) * wy + (f[o + 6] as number) * wz;
  const ly = (f[o + 1] as number) * wx + (f[o + 4] as number) * wy + (f[o + 7] as number) * wz;
  const lz = (f[o + 2] as number) * wx + (f[o + 5] as number) * wy + (f[o + 8] as number) * wz;
  const d = closestOfCore(solids, index, lx, ly, lz, close);
  if (d > 0) {
    dx = (lx - (close[0] as number)) / d;
    dy = (ly - (close[1] as number)) / d;
    dz = (lz - (close[2] as number)) / d;
  }
  return d;
}

/** A lower bound of the distance to anything in a box of the tree. */
function boxBound(b: Float64Array, k: number): number {
  const hx = ((b[k + 3] as number) - (b[k] as number)) / 2;
  const hy = ((b[k + 4] as number) - (b[k + 1] as number)) / 2;
  const hz = ((b[k + 5] as number) - (b[k + 2] as number)) / 2;
  const d = towards((b[k] as number) + hx, (b[k + 1] as number) + hy, (b[k + 2] as number) + hz);
  if (d <= 0) return 0;
  const f = solids.frame;
  const ux = (f[o] as number) * dx + (f[o + 1] as number) * dy + (f[o + 2] as number) * dz;
  const uy = (f[o + 3] as number) * dx + (f[o + 4] as number) * dy + (f[o + 5] as number) * dz;
  const uz = (f[o + 6] as number) * dx + (f[o + 7] as number) * dy + (f[o + 8] as number) * dz;
  return d - hx * Math.abs(ux) - hy * Math.abs(uy) - hz * Math.abs(uz);
}

function outsidePlanes(b: Float64Array, k: number, planes: Planes): boolean {
  for (let p = 0; p < planes.count; p++) {
    const nx = planes.flat[4 * p] as number;
    const ny = planes.flat[4 * p + 1] as number;
    const nz = planes.flat[4 * p + 2] as number;
    const low =
      nx * (b[nx > 0 ? k : k + 3] as number) + ny * (b[ny > 0 ? k + 1 : k + 4] as number) + nz * (b[nz > 0 ? k + 2 : k + 5] as number);
    if (low > (planes.flat[4 * p + 3] as number)) return true;
  }
  return false;
}

/** Lowers `best` if the triangle (what the planes leave of it) is nearer. */
function tryTriangle(near: NearTriangles, planes: Planes, place: number): void {
  const t = near.packed;
  const k = 12 * place;
  for (let c = 0; c < 3; c++) {
    const a = t[k + c] as number;
    corner[c] = a;
    corner[3 + c] = a + (t[k + 3 + c] as number);
    corner[6 + c] = a + (t[k + 6 + c] as number);
  }
  const d = towards(
    ((corner[0] as number) + (corner[3] as number) + (corner[6] as number)) / 3,
    ((corner[1] as number) + (corner[4] as number) + (corner[7] as number)) / 3,
    ((corner[2] as number) + (corner[5] as number) + (corner[8] as number)) / 3,
  );
  const f = solids.frame;
  const top = close[0] as number;
  const top1 = close[1] as number;
  const top2 = close[2] as number;
  let low = Infinity;
  const at = polygon.at;
  for (let c = 0; c < 3; c++) {
    const wx = (corner[3 * c] as number) - (f[o + 9] as number);
    const wy = (corner[3 * c + 1] as number) - (f[o + 10] as number);
    const wz = (corner[3 * c + 2] as number) - (f[o + 11] as number);
    const lx = (f[o] as number) * wx + (f[o + 3] as number) * wy + (f[o + 6] as number) * wz;
    const ly = (f[o + 1] as number) * wx + (f[o + 4] as number) * wy + (f[o + 7] as number) * wz;
    const lz = (f[o + 2] as number) * wx + (f[o + 5] as number) * wy + (f[o + 8] as number) * wz;
    at[3 * c] = lx;
    at[3 * c + 1] = ly;
    at[3 * c + 2] = lz;
    const h = dx * (lx - top) + dy * (ly - top1) + dz * (lz - top2);
    if (h < low) low = h;
  }
  if (d > 0 && low >= best) return;
  polygon.points = 3;
  if (planes.count > 0 && !clip(planes)) return;
  // The polygon is the second body: the direction runs from it to the solid.
  found.ux = d > 0 ? -dx : 1;
  found.uy = d > 0 ? -dy : 0;
  found.uz = d > 0 ? -dz : 0;
  const exact = coreDistance(solids, index, polygon, best);
  if (exact >= best) return;
  best = exact;
  record(place);
}

function record(place: number): void {
  const f = solids.frame;
  const r = solids.round[index] as number;
  hit.place = place;
  const x = found.ax - r * found.ux;
  const y = found.ay - r * found.uy;
  const z = found.az - r * found.uz;
  hit.x = (f[o] as number) * x + (f[o + 1] as number) * y + (f[o + 2] as number) * z + (f[o + 9] as number);
  hit.y = (f[o + 3] as number) * x + (f[o + 4] as number) * y + (f[o + 5] as number) * z + (f[o + 10] as number);
  hit.z = (f[o + 6] as number) * x + (f[o + 7] as number) * y + (f[o + 8] as number) * z + (f[o + 11] as number);
  hit.ux = (f[o] as number) * found.ux + (f[o + 1] as number) * found.uy + (f[o + 2] as number) * found.uz;
  hit.uy = (f[o + 3] as number) * found.ux + (f[o + 4] as number) * found.uy + (f[o + 5] as number) * found.uz;
  hit.uz = (f[o + 6] as number) * found.ux + (f[o + 7] as number) * found.uy + (f[o + 8] as number) * found.uz;
}

/** Cuts the triangle in `corner` by the planes; the rest goes to the polygon, in the solid's frame. False: nothing is left. */
function clip(planes: Planes): boolean {
  let whole = true;
  for (let p = 0; p < planes.count; p++) {
    let beyond = 0;
    for (let c = 0; c < 3; c++) if (height(planes, p, corner, 3 * c) > 0) beyond++;
    if (beyond === 3) return false;
    if (beyond > 0) whole = false;
  }
  if (whole) return true;
  clipped.set(corner);
  let n = 3;
  for (let p = 0; p < planes.count && n > 0; p++) n = clipBy(planes, p, n);
  if (n === 0) return false;
  const f = solids.frame;
  for (let c = 0; c < n; c++) {
    const wx = (clipped[3 * c] as number) - (f[o + 9] as number);
    const wy = (clipped[3 * c + 1] as number) - (f[o + 10] as number);
    const wz = (clipped[3 * c + 2] as number) - (f[o + 11] as number);
    polygon.at[3 * c] = (f[o] as number) * wx + (f[o + 3] as number) * wy + (f[o + 6] as number) * wz;
    polygon.at[3 * c + 1] = (f[o + 1] as number) * wx + (f[o + 4] as number) * wy + (f[o + 7] as number) * wz;
    polygon.at[3 * c + 2] = (f[o + 2] as number) * wx + (f[o + 5] as number) * wy + (f[o + 8] as number) * wz;
  }
  polygon.points = n;
  return true;
}

const height = (planes: Planes, p: number, at: Float64Array, k: number): number =>
  (planes.flat[4 * p] as number) * (at[k] as number) +
  (planes.flat[4 * p + 1] as number) * (at[k + 1] as number) +
  (planes.flat[4 * p + 2] as number) * (at[k + 2] as number) -
  (planes.flat[4 * p + 3] as number);

const source = new Float64Array(30);

/** One plane of Sutherland and Hodgman's polygon clipping, in place; the number of corners left. */
function clipBy(planes: Planes, p: number, n: number): number {
  source.set(clipped);
  let m = 0;
  for (let c = 0; c < n; c++) {
    const a = 3 * c;
    const b = 3 * ((c + 1) % n);
    const ha = height(planes, p, source, a);
    const hb = height(planes, p, source, b);
    if (ha <= 0) {
      for (let k = 0; k < 3; k++) clipped[3 * m + k] = source[a + k] as number;
      m++;
    }
    if (ha <= 0 !== hb <= 0) {
      const t = ha / (ha - hb);
      for (let k = 0; k < 3; k++)
        clipped[3 * m + k] = (source[a + k] as number) + t * ((source[b + k] as number) - (source[a + k] as number));
      m++;
    }
  }
  return m;
}
