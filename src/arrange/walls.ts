/**
 * Clearances of a part's sample points to the cast's surface, as rows.
 *
 * The interpolated field alone cuts the crest off where several walls are equally near, which is where a tight part's
 * corners lie: it undervalues a tight fit by about 0.1 mm. So the field only picks the points; each picked point is
 * measured to the walls that its cell's eight nodes know, every wall giving a row of its own. For relaxing, a wall is
 * its triangle's plane, never valued below the field (a plane that runs on past a bump means nothing); for climbing, it
 * is the triangle itself, and the nearest triangle of all is looked up where it is close.
 */
import { interpolate } from '../room/room.ts';
import type { Model, PartModel } from './model.ts';
import type { Rows } from './rows.ts';

/** Most walls told apart at one point. */
const WALLS = 6;
const wallPlace = new Int32Array(WALLS);
const wallDistance = new Float64Array(WALLS);
const wallNormal = new Float64Array(3 * WALLS);
/** Two walls whose normals agree this well (cosine) count as one. */
const ALIKE = 0.985;
/** Nearer than this, the nearest triangle is looked up exactly, mm. */
const CLOSE = 0.4;
/** Farther outside than this, the field's slope is the better guide, mm. */
const FAR_OUT = -0.6;

/** A point of a part: from its centre (world axes), and the centre. */
export interface At {
  x: number;
  y: number;
  z: number;
  cx: number;
  cy: number;
  cz: number;
}

/** Adds the rows below `below` of one point of a part, and returns the least of them. `v`: the field there. */
export function pointRows(
  m: Model,
  rows: Rows,
  p: number,
  part: PartModel,
  at: At,
  v: number,
  asked: number,
  below: number,
  exact: boolean,
): number {
  const x = at.cx + at.x;
  const y = at.cy + at.y;
  const z = at.cz + at.z;
  const walls = v < FAR_OUT ? 0 : exact ? triangleWalls(m, x, y, z, v) : planeWalls(m, x, y, z, v);
  if (walls === 0) return slopeRow(m, rows, p, part, at, v - asked, below);
  let least = Infinity;
  for (let k = 0; k < walls; k++) {
    const d = (wallDistance[k] as number) - asked;
    if (d < least) least = d;
    if (d >= below) continue;
    const r = rows.add(d, p, -1);
    rows.point(
      m,
      r,
      0,
      part,
      wallNormal[3 * k] as number,
      wallNormal[3 * k + 1] as number,
      wallNormal[3 * k + 2] as number,
      at.x,
      at.y,
      at.z,
    );
  }
  return least;
}

/** Far outside (or off the grid): the field's own slope shows the way in. */
function slopeRow(m: Model, rows: Rows, p: number, part: PartModel, at: At, value: number, below: number): number {
  if (value >= below) return value;
  const { field, values } = m.room;
  const e = field.grid.h * 2;
  const x = at.cx + at.x;
  const y = at.cy + at.y;
  const z = at.cz + at.z;
  const gx = interpolate(field, values, x + e, y, z) - interpolate(field, values, x - e, y, z);
  const gy = interpolate(field, values, x, y + e, z) - interpolate(field, values, x, y - e, z);
  const gz = interpolate(field, values, x, y, z + e) - interpolate(field, values, x, y, z - e);
  const l = Math.sqrt(gx * gx + gy * gy + gz * gz);
  if (l > 1e-9) {
    const r = rows.add(value, p, -1);
    rows.point(m, r, 0, part, gx / l, gy / l, gz / l, at.x, at.y, at.z);
  }
  return value;
}

/**
 * The walls among the nearest triangles of a cell's nodes: for each its triangle, the height over its plane and the
 * inward normal. Of triangles that face alike the lowest stands for all. 0: off the grid.
 */
function planes(m: Model, x: number, y: number, z: number): number {
  const { grid: g, near, places } = m.room.field;
  const i = Math.floor((x - g.x0) / g.h);
  const j = Math.floor((y - g.y0) / g.h);
  const k = Math.floor((z - g.z0) / g.h);
  if (i < 0 || j < 0 || k < 0 || i >= g.nx - 1 || j >= g.ny - 1 || k >= g.nz - 1) return 0;
  const base = (k * g.ny + j) * g.nx + i;
  const layer = g.nx * g.ny;
  const t = near.packed;
  let found = 0;
  let last = -1;
  for (let c = 0; c < 8; c++) {
    const place = places[base + (c & 1) + (c & 2 ? g.nx : 0) + (c & 4 ? layer : 0)] as number;
    if (place < 0 || place === last) continue;
    last = place;
    const o = 12 * place;
    const nx = -(t[o + 9] as number);
    const ny = -(t[o + 10] as number);
    const nz = -(t[o + 11] as number);
    const h = nx * (x - (t[o] as number)) + ny * (y - (t[o + 1] as number)) + nz * (z - (t[o + 2] as number));
    let at = 0;
    while (
      at < found &&
      (wallNormal[3 * at] as number) * nx + (wallNormal[3 * at + 1] as number) * ny + (wallNormal[3 * at + 2] as number) * nz <= ALIKE
    )
      at++;
    if (at < found && (wallDistance[at] as number) <= h) continue;
    if (at === WALLS) continue;
    if (at === found) found++;
    wallPlace[at] = place;
    wallDistance[at] = h;
    wallNormal[3 * at] = nx;
    wallNormal[3 * at + 1] = ny;
    wallNormal[3 * at + 2] = nz;
  }
  return found;
}

function planeWalls(m: Model, x: number, y: number, z: number, v: number): number {
  const found = planes(m, x, y, z);
  if (found === 0) return 0;
  if (v < 0) return lowest(found, v);
  for (let k = 0; k < found; k++) if ((wallDistance[k] as number) < v) wallDistance[k] = v;
  return found;
}

/** Outside only the nearest wall counts, at the field's value. */
function lowest(found: number, v: number): number {
  let best = 0;
  for (let k = 1; k < found; k++) if (Math.abs((wallDistance[k] as number) - v) < Math.abs((wallDistance[best] as number) - v)) best = k;
  wallDistance[0] = v;
  for (let c = 0; c < 3; c++) wallNormal[c] = wallNormal[3 * best + c] as number;
  return 1;
}

/** Distances to the walls' triangles, and to the nearest triangle of all; outside only that one, negative. */
function triangleWalls(m: Model, x: number, y: number, z: number, v: number): number {
  const found = planes(m, x, y, z);
  if (found === 0) return 0;
  const { near } = m.room.field;
  let nearest = 0;
  for (let k = 0; k < found; k++) {
    setWall(m, k, wallPlace[k] as number, x, y, z);
    if ((wallDistance[k] as number) < (wallDistance[nearest] as number)) nearest = k;
  }
  const d = wallDistance[nearest] as number;
  if (d < CLOSE) {
    const place = near.query(x, y, z, -1, d * d);
    if (place >= 0) setWall(m, nearest, place, x, y, z);
  }
  const t = 12 * (wallPlace[nearest] as number);
  const { packed } = near;
  const side =
    (x - (packed[t] as number)) * (packed[t + 9] as number) +
    (y - (packed[t + 1] as number)) * (packed[t + 10] as number) +
    (z - (packed[t + 2] as number)) * (packed[t + 11] as number);
  return v < -0.15 || (v < 0.15 && side > 0) ? outsideWall(nearest) : merge(found);
}

/** Writes wall k: the distance to a triangle and the direction from it. */
function setWall(m: Model, k: number, place: number, x: number, y: number, z: number): void {
  const { near } = m.room.field;
  const d = Math.sqrt(near.distance2(place, x, y, z));
  wallPlace[k] = place;
  wallDistance[k] = d;
  const t = 12 * place;
  const touching = d <= 1e-6;
  wallNormal[3 * k] = touching ? -(near.packed[t + 9] as number) : (x - near.qx) / d;
  wallNormal[3 * k + 1] = touching ? -(near.packed[t + 10] as number) : (y - near.qy) / d;
  wallNormal[3 * k + 2] = touching ? -(near.packed[t + 11] as number) : (z - near.qz) / d;
}

function outsideWall(k: number): number {
  const d = wallDistance[k] as number;
  const s = d > 1e-6 ? -1 : 1;
  wallDistance[0] = -d;
  for (let c = 0; c < 3; c++) wallNormal[c] = s * (wallNormal[3 * k + c] as number);
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
