/**
 * Clearances of a part's sample points to the cast's surface, as rows.
 *
 * The interpolated field alone cuts the crest off where several walls are equally near, which is where a tight part's
 * corners lie: it undervalues a tight fit by about 0.1 mm. So the field only picks the points; each picked point is
 * measured to the nearest triangles of its cell's eight nodes, every wall among them giving a row of its own.
 */
import { interpolate } from '../room/room.ts';
import type { Model, PartModel } from './model.ts';
import type { Rows } from './rows.ts';
import type { Samples } from './samples.ts';

const seen = new Int32Array(8);
const wallDistance = new Float64Array(8);
const wallNormal = new Float64Array(24);
/** Nearer than this, the nearest triangle is looked up exactly, mm. */
const CLOSE = 0.4;
/** Two walls whose normals agree this well (cosine) count as one. */
const ALIKE = 0.985;

/** Least of value - asked over the samples by interpolation alone: the search's cheapest measure. */
export function sampledWall(m: Model, samples: Samples, frame: Float64Array, o: number, floor: number): number {
  const { grid } = m.room.field;
  const values = m.room.values;
  const { at, asked, count } = samples;
  const { nx, ny, nz } = grid;
  const ih = 1 / grid.h;
  const r0 = (frame[o] as number) * ih;
  const r1 = (frame[o + 1] as number) * ih;
  const r2 = (frame[o + 2] as number) * ih;
  const r3 = (frame[o + 3] as number) * ih;
  const r4 = (frame[o + 4] as number) * ih;
  const r5 = (frame[o + 5] as number) * ih;
  const r6 = (frame[o + 6] as number) * ih;
  const r7 = (frame[o + 7] as number) * ih;
  const r8 = (frame[o + 8] as number) * ih;
  const cx = ((frame[o + 9] as number) - grid.x0) * ih;
  const cy = ((frame[o + 10] as number) - grid.y0) * ih;
  const cz = ((frame[o + 11] as number) - grid.z0) * ih;
  const layer = nx * ny;
  let least = Infinity;
  for (let k = 0; k < count; k++) {
    const px = at[3 * k] as number;
    const py = at[3 * k + 1] as number;
    const pz = at[3 * k + 2] as number;
    const a = r0 * px + r1 * py + r2 * pz + cx;
    const b = r3 * px + r4 * py + r5 * pz + cy;
    const c = r6 * px + r7 * py + r8 * pz + cz;
    let v: number;
    if (a >= 0 && b >= 0 && c >= 0 && a < nx - 1 && b < ny - 1 && c < nz - 1) {
      const i = a | 0;
      const j = b | 0;
      const l = c | 0;
      const u = a - i;
      const w = b - j;
      const n = l * layer + j * nx + i;
      const q = n + layer;
      const v0 = values[n] as number;
      const v1 = values[n + nx] as number;
      const v2 = values[q] as number;
      const v3 = values[q + nx] as number;
      const a0 = v0 + u * ((values[n + 1] as number) - v0);
      const a1 = v1 + u * ((values[n + nx + 1] as number) - v1);
      const a2 = v2 + u * ((values[q + 1] as number) - v2);
      const a3 = v3 + u * ((values[q + nx + 1] as number) - v3);
      const b0 = a0 + w * (a1 - a0);
      v = b0 + (c - l) * (a2 + w * (a3 - a2) - b0);
    } else v = interpolate(m.room.field, values, grid.x0 + grid.h * a, grid.y0 + grid.h * b, grid.z0 + grid.h * c);
    const s = v - (asked[k] as number);
    if (s < least) {
      least = s;
      if (least < floor) return least;
    }
  }
  return least;
}

/** Interpolated value of each sample less what is asked there, into `out`. */
export function sampleValues(m: Model, samples: Samples, frame: Float64Array, o: number, out: Float64Array): void {
  const { field, values } = m.room;
  const { at, asked, count } = samples;
  for (let k = 0; k < count; k++) {
    const px = at[3 * k] as number;
    const py = at[3 * k + 1] as number;
    const pz = at[3 * k + 2] as number;
    const x = (frame[o] as number) * px + (frame[o + 1] as number) * py + (frame[o + 2] as number) * pz + (frame[o + 9] as number);
    const y = (frame[o + 3] as number) * px + (frame[o + 4] as number) * py + (frame[o + 5] as number) * pz + (frame[o + 10] as number);
    const z = (frame[o + 6] as number) * px + (frame[o + 7] as number) * py + (frame[o + 8] as number) * pz + (frame[o + 11] as number);
    out[k] = interpolate(field, values, x, y, z) - (asked[k] as number);
  }
}

/** Adds the rows below `below` of one point of a part (relative to its centre, world axes), and returns the least of them. */
export function pointRows(
  m: Model,
  rows: Rows,
  p: number,
  part: PartModel,
  x: number,
  y: number,
  z: number,
  cx: number,
  cy: number,
  cz: number,
  asked: number,
  below: number,
): number {
  const { field, values } = m.room;
  const v = interpolate(field, values, cx + x, cy + y, cz + z);
  if (v < -0.6) return gradientRow(m, rows, p, part, x, y, z, cx, cy, cz, v - asked, below);
  const walls = nearWalls(m, cx + x, cy + y, cz + z, v);
  let least = Infinity;
  for (let k = 0; k < walls; k++) {
    const d = (wallDistance[k] as number) - asked;
    if (d < least) least = d;
    if (d >= below) continue;
    const r = rows.add(d, p, -1);
    rows.point(m, r, 0, part, wallNormal[3 * k] as number, wallNormal[3 * k + 1] as number, wallNormal[3 * k + 2] as number, x, y, z);
  }
  if (walls === 0) return gradientRow(m, rows, p, part, x, y, z, cx, cy, cz, v - asked, below);
  return least;
}

/** Far outside (or off the grid): the field's own slope shows the way in. */
function gradientRow(
  m: Model,
  rows: Rows,
  p: number,
  part: PartModel,
  x: number,
  y: number,
  z: number,
  cx: number,
  cy: number,
  cz: number,
  value: number,
  below: number,
): number {
  if (value >= below) return value;
  const { field, values } = m.room;
  const e = field.grid.h * 2;
  const gx = interpolate(field, values, cx + x + e, cy + y, cz + z) - interpolate(field, values, cx + x - e, cy + y, cz + z);
  const gy = interpolate(field, values, cx + x, cy + y + e, cz + z) - interpolate(field, values, cx + x, cy + y - e, cz + z);
  const gz = interpolate(field, values, cx + x, cy + y, cz + z + e) - interpolate(field, values, cx + x, cy + y, cz + z - e);
  const l = Math.sqrt(gx * gx + gy * gy + gz * gz);
  if (l > 1e-9) {
    const r = rows.add(value, p, -1);
    rows.point(m, r, 0, part, gx / l, gy / l, gz / l, x, y, z);
  }
  return value;
}

/** Distances and directions to the distinct walls near a point, the nearest first; outside the cast only the nearest, negative. */
function nearWalls(m: Model, x: number, y: number, z: number, v: number): number {
  const { field } = m.room;
  const { grid: g, near, places } = field;
  const i = Math.floor((x - g.x0) / g.h);
  const j = Math.floor((y - g.y0) / g.h);
  const k = Math.floor((z - g.z0) / g.h);
  if (i < 0 || j < 0 || k < 0 || i >= g.nx - 1 || j >= g.ny - 1 || k >= g.nz - 1) return 0;
  let found = 0;
  let nearestD = Infinity;
  let nearestK = 0;
  let side = 0;
  const base = (k * g.ny + j) * g.nx + i;
  const layer = g.nx * g.ny;
  let distinct = 0;
  for (let c = 0; c < 8; c++) {
    const place = places[base + (c & 1) + (c & 2 ? g.nx : 0) + (c & 4 ? layer : 0)] as number;
    if (place < 0) continue;
    let known = false;
    for (let q = 0; q < distinct; q++) if (seen[q] === place) known = true;
    if (known) continue;
    seen[distinct++] = place;
    const d = Math.sqrt(near.distance2(place, x, y, z));
    const t = 12 * place;
    const nx = near.packed[t + 9] as number;
    const ny = near.packed[t + 10] as number;
    const nz = near.packed[t + 11] as number;
    const dx = x - near.qx;
    const dy = y - near.qy;
    const dz = z - near.qz;
    if (d < nearestD) {
      nearestD = d;
      nearestK = found;
      side = dx * nx + dy * ny + dz * nz;
    }
    setWall(m, found, place, x, y, z, d);
    found++;
  }
  if (found === 0) return 0;
  // Triangles smaller than a cell: the nearest one of all may be none of the nodes', which matters when it is close.
  if (nearestD < CLOSE) side = exactNearest(m, x, y, z, nearestK, side);
  const outside = v < -0.15 || (v < 0.15 && side > 0);
  if (outside) return outsideWall(nearestK);
  return merge(found);
}

/** Replaces wall k by the nearest triangle of all; returns on which side of that the point lies (positive: outside). */
function exactNearest(m: Model, x: number, y: number, z: number, k: number, side: number): number {
  const { near } = m.room.field;
  const d = wallDistance[k] as number;
  const place = near.query(x, y, z, -1, d * d);
  if (place < 0) return side;
  const e = Math.sqrt(near.distance2(place, x, y, z));
  setWall(m, k, place, x, y, z, e);
  const t = 12 * place;
  const { packed } = near;
  return (
    (x - near.qx) * (packed[t + 9] as number) + (y - near.qy) * (packed[t + 10] as number) + (z - near.qz) * (packed[t + 11] as number)
  );
}

/** Writes wall k: distance d to a triangle whose closest point was just found, and the direction from it. */
function setWall(m: Model, k: number, place: number, x: number, y: number, z: number, d: number): void {
  const { near } = m.room.field;
  wallDistance[k] = d;
  if (d > 1e-6) {
    wallNormal[3 * k] = (x - near.qx) / d;
    wallNormal[3 * k + 1] = (y - near.qy) / d;
    wallNormal[3 * k + 2] = (z - near.qz) / d;
    return;
  }
  const t = 12 * place;
  const nx = near.packed[t + 9] as number;
  const ny = near.packed[t + 10] as number;
  const nz = near.packed[t + 11] as number;
  const l = Math.sqrt(nx * nx + ny * ny + nz * nz) || 1;
  wallNormal[3 * k] = -nx / l;
  wallNormal[3 * k + 1] = -ny / l;
  wallNormal[3 * k + 2] = -nz / l;
}

function outsideWall(k: number): number {
  wallDistance[0] = -(wallDistance[k] as number);
  const x = wallNormal[3 * k] as number;
  const y = wallNormal[3 * k + 1] as number;
  const z = wallNormal[3 * k + 2] as number;
  const s = (wallDistance[0] as number) > -1e-6 ? 1 : -1;
  wallNormal[0] = s * x;
  wallNormal[1] = s * y;
  wallNormal[2] = s * z;
  return 1;
}

/** Drops walls that another, nearer one stands for. */
function merge(found: number): number {
  let kept = 0;
  for (let a = 0; a < found; a++) {
    let stands = true;
    const d = wallDistance[a] as number;
    for (let b = 0; b < found && stands; b++) {
      if (b === a) continue;
      const e = wallDistance[b] as number;
      if (e > d || (e === d && b > a)) continue;
      const c =
        (wallNormal[3 * a] as number) * (wallNormal[3 * b] as number) +
        (wallNormal[3 * a + 1] as number) * (wallNormal[3 * b + 1] as number) +
        (wallNormal[3 * a + 2] as number) * (wallNormal[3 * b + 2] as number);
      if (c > ALIKE) stands = false;
    }
    if (stands) order[kept++] = a;
  }
  for (let k = 0; k < kept; k++) {
    const a = order[k] as number;
    wallDistance[k] = wallDistance[a] as number;
    for (let c = 0; c < 3; c++) wallNormal[3 * k + c] = wallNormal[3 * a + c] as number;
  }
  return kept;
}
const order = new Int32Array(8);
