/**
 * Clearances as rows: walls, cuts, other parts, and the limits of ports. `close` ones only: below a given spare.
 */
import { type Solids, topAlong } from '../room/convex.ts';
import { axis, pairGap } from '../room/pair.ts';
import { extremes, findExtremes, softTop } from './extremes.ts';
import { type Model, type PartModel, SHELL } from './model.ts';
import { AHEAD } from './ports.ts';
import type { Rows } from './rows.ts';
import { sampleValues } from './sampling.ts';
import { poseOf, STRIDE, type State, type World } from './state.ts';
import { type At, pointRows } from './walls.ts';

const values = new Float64Array(8192);
const at: At = { x: 0, y: 0, z: 0, cx: 0, cy: 0, cz: 0 };
const soft = new Float64Array(3);
const softOther = new Float64Array(3);

/** How much the interpolated field may overvalue a point beside the true distance (see CastField) before it is measured. */
const DOUBT = 0.05;

/** Rows of one part against the cast's surface: of few points by planes, or of many (`fine`) by triangles. */
export function wallRows(m: Model, w: World, p: number, fine: boolean, below: number, rows: Rows): number {
  const part = m.parts[p] as PartModel;
  const samples = fine ? part.fine : part.coarse;
  const f = w.frame;
  const o = 12 * p;
  sampleValues(m, samples, f, o, values);
  at.cx = f[o + 9] as number;
  at.cy = f[o + 10] as number;
  at.cz = f[o + 11] as number;
  let least = Infinity;
  for (let k = 0; k < samples.count; k++) {
    const v = values[k] as number;
    if (v >= below + DOUBT) {
      if (v < least) least = v;
      continue;
    }
    const px = samples.at[3 * k] as number;
    const py = samples.at[3 * k + 1] as number;
    const pz = samples.at[3 * k + 2] as number;
    at.x = (f[o] as number) * px + (f[o + 1] as number) * py + (f[o + 2] as number) * pz;
    at.y = (f[o + 3] as number) * px + (f[o + 4] as number) * py + (f[o + 5] as number) * pz;
    at.z = (f[o + 6] as number) * px + (f[o + 7] as number) * py + (f[o + 8] as number) * pz;
    const asked = samples.asked[k] as number;
    const d = pointRows(m, rows, p, part, at, v + asked, asked, below, fine);
    if (d < least) least = d;
  }
  return least;
}

/** Rows of one part against the cuts: one for each near corner, or one for all of them where `single`. */
export function borderRows(m: Model, w: World, p: number, below: number, band: number, single: boolean, rows: Rows): number {
  const part = m.parts[p] as PartModel;
  const s = w.solids[p] as Solids;
  const f = w.frame;
  const o = 12 * p;
  let least = Infinity;
  for (let b = 0; b < m.room.borders.length; b++) {
    const border = m.room.borders[b] as Model['room']['borders'][number];
    const [nx, ny, nz] = border.normal;
    for (let i = 0; i < s.count; i++) {
      const asked = part.borderAsked[b * s.count + i] as number;
      if (Number.isNaN(asked)) continue;
      const has = border.offset - topAlong(s, i, nx, ny, nz) - asked;
      if (has < least) least = has;
      if (has >= below) continue;
      if (single) {
        softTop(s, i, nx, ny, nz, soft);
        const r = rows.add(has, p, -1);
        rows.point(
          m,
          r,
          0,
          part,
          -nx,
          -ny,
          -nz,
          (soft[0] as number) - (f[o + 9] as number),
          (soft[1] as number) - (f[o + 10] as number),
          (soft[2] as number) - (f[o + 11] as number),
        );
        continue;
      }
      findExtremes(s, i, nx, ny, nz, band);
      for (let e = 0; e < extremes.count; e++) {
        const r = rows.add(has + (extremes.below[e] as number), p, -1);
        const a = extremes.at;
        rows.point(
          m,
          r,
          0,
          part,
          -nx,
          -ny,
          -nz,
          (a[3 * e] as number) - (f[o + 9] as number),
          (a[3 * e + 1] as number) - (f[o + 10] as number),
          (a[3 * e + 2] as number) - (f[o + 11] as number),
        );
      }
    }
  }
  return least;
}

/** The gap that two parts keep, before their margins, mm: what is grown into the shell is wall to the others. */
const gapOf = ({ room: { rules } }: Model, a: PartModel, b: PartModel): number =>
  a.seat === SHELL || b.seat === SHELL ? rules.gap : rules.partGap;

/** What two primitives ask of each other, mm; NaN for two service rooms. */
export function pairAsked(m: Model, a: PartModel, i: number, b: PartModel, j: number): number {
  const free = (a.service[i] as number) + (b.service[j] as number);
  if (free === 2) return Number.NaN;
  const asked = gapOf(m, a, b) + (a.margin[i] as number) + (b.margin[j] as number);
  return free === 0 ? Math.max(asked, apartOf(m, a, b)) : asked;
}

const apartOf = (m: Model, a: PartModel, b: PartModel): number => m.apart[a.index * m.parts.length + b.index] as number;

/** The most that any of their primitives ask of each other, mm. */
export const mostAsked = (m: Model, a: PartModel, b: PartModel): number =>
  Math.max(gapOf(m, a, b) + a.part.margin + b.part.margin, apartOf(m, a, b));

const firstAt = new Float64Array(96);
const firstBelow = new Float64Array(32);

/** Rows of two parts against each other. Returns the least spare between them (or some value no less than `below`). */
export function pairRows(m: Model, w: World, p: number, q: number, below: number, band: number, single: boolean, rows: Rows): number {
  const a = m.parts[p] as PartModel;
  const b = m.parts[q] as PartModel;
  const s = w.solids[p] as Solids;
  const t = w.solids[q] as Solids;
  const apart = ballsApart(w, p, q, a, b);
  let least = Infinity;
  if (apart - mostAsked(m, a, b) >= below) return below;
  for (let i = 0; i < s.count; i++) {
    for (let j = 0; j < t.count; j++) {
      const asked = pairAsked(m, a, i, b, j);
      if (Number.isNaN(asked)) continue;
      const spare = pairGap(s, i, t, j, below + asked, !single) - asked;
      if (spare < least) least = spare;
      if (spare >= below) continue;
      const [ux, uy, uz] = axis as unknown as [number, number, number];
      if (single) singlePairRow(m, w, p, q, i, j, spare, ux, uy, uz, rows);
      else allPairRows(m, w, p, q, i, j, spare, ux, uy, uz, band, rows);
    }
  }
  return least;
}

function ballsApart(w: World, p: number, q: number, a: PartModel, b: PartModel): number {
  const f = w.frame;
  const x = (f[12 * p + 9] as number) - (f[12 * q + 9] as number);
  const y = (f[12 * p + 10] as number) - (f[12 * q + 10] as number);
  const z = (f[12 * p + 11] as number) - (f[12 * q + 11] as number);
  return Math.sqrt(x * x + y * y + z * z) - a.radius - b.radius;
}

/** u runs from the second to the first: its top faces -u, the second's faces u. */
function singlePairRow(
  m: Model,
  w: World,
  p: number,
  q: number,
  i: number,
  j: number,
  spare: number,
  ux: number,
  uy: number,
  uz: number,
  rows: Rows,
): void {
  const f = w.frame;
  softTop(w.solids[p] as Solids, i, -ux, -uy, -uz, soft);
  softTop(w.solids[q] as Solids, j, ux, uy, uz, softOther);
  // Both act at one place, half-way between: flat sides facing each other then turn about their common middle.
  const x = ((soft[0] as number) + (softOther[0] as number)) / 2;
  const y = ((soft[1] as number) + (softOther[1] as number)) / 2;
  const z = ((soft[2] as number) + (softOther[2] as number)) / 2;
  const r = rows.add(spare, p, q);
  rows.point(
    m,
    r,
    0,
    m.parts[p] as PartModel,
    ux,
    uy,
    uz,
    x - (f[12 * p + 9] as number),
    y - (f[12 * p + 10] as number),
    z - (f[12 * p + 11] as number),
  );
  rows.point(
    m,
    r,
    1,
    m.parts[q] as PartModel,
    -ux,
    -uy,
    -uz,
    x - (f[12 * q + 9] as number),
    y - (f[12 * q + 10] as number),
    z - (f[12 * q + 11] as number),
  );
}

function allPairRows(
  m: Model,
  w: World,
  p: number,
  q: number,
  i: number,
  j: number,
  spare: number,
  ux: number,
  uy: number,
  uz: number,
  band: number,
  rows: Rows,
): void {
  const f = w.frame;
  findExtremes(w.solids[p] as Solids, i, -ux, -uy, -uz, band);
  const n = extremes.count;
  firstAt.set(extremes.at);
  firstBelow.set(extremes.below);
  findExtremes(w.solids[q] as Solids, j, ux, uy, uz, band);
  for (let a = 0; a < n; a++) {
    for (let b = 0; b < extremes.count; b++) {
      const below = (firstBelow[a] as number) + (extremes.below[b] as number);
      if (below > band) continue;
      const r = rows.add(spare + below, p, q);
      const s = firstAt;
      const t = extremes.at;
      rows.point(
        m,
        r,
        0,
        m.parts[p] as PartModel,
        ux,
        uy,
        uz,
        (s[3 * a] as number) - (f[12 * p + 9] as number),
        (s[3 * a + 1] as number) - (f[12 * p + 10] as number),
        (s[3 * a + 2] as number) - (f[12 * p + 11] as number),
      );
      rows.point(
        m,
        r,
        1,
        m.parts[q] as PartModel,
        -ux,
        -uy,
        -uz,
        (t[3 * b] as number) - (f[12 * q + 9] as number),
        (t[3 * b + 1] as number) - (f[12 * q + 10] as number),
        (t[3 * b + 2] as number) - (f[12 * q + 11] as number),
      );
    }
  }
}

/** How far within its limits each ports rule is, as hard rows plus `lift` (so that a search for spare `lift` sees a breach as one). Least slack returned. */
export function portRows(m: Model, s: State, below: number, lift: number, rows: Rows): number {
  let least = Infinity;
  for (const { front, rear, rule, tiltSin } of m.ports) {
    const a = poseOf(m, s, front).position;
    const b = poseOf(m, s, rear).position;
    const x = a[0] - b[0];
    const y = a[1] - b[1];
    const z = a[2] - b[2];
    const d = Math.sqrt(x * x + y * y + z * z);
    const k = d > 1e-9 ? 1 / d : 0;
    const put = (slack: number, gx: number, gy: number, gz: number): void => {
      if (slack < least) least = slack;
      if (slack >= below) return;
      const r = rows.add(slack + lift, front, rear, 1);
      for (const [side, part, at, sign] of [
        [0, front, a, 1],
        [1, rear, b, -1],
      ] as const) {
        const o = STRIDE * part + 4;
        rows.point(
          m,
          r,
          side,
          m.parts[part] as PartModel,
          sign * gx,
          sign * gy,
          sign * gz,
          at[0] - (s[o] as number),
          at[1] - (s[o + 1] as number),
          at[2] - (s[o + 2] as number),
        );
      }
    };
    put(d - rule.least, k * x, k * y, k * z);
    put(rule.most - d, -k * x, -k * y, -k * z);
    const up = y < 0 ? -1 : 1;
    put(tiltSin * d - Math.abs(y), tiltSin * k * x, tiltSin * k * y - up, tiltSin * k * z);
    put(x - AHEAD, 1, 0, 0);
  }
  return least;
}

/** How far within its limits each seat at the tip is, as hard rows: reach and cone. */
export function seatRows(m: Model, w: World, p: number, below: number, lift: number, rows: Rows): void {
  const part = m.parts[p] as PartModel;
  if (part.part.seat.at !== 'tip') return;
  const f = w.frame;
  const o = 12 * p;
  const s = part.spout;
  const rx = (f[o] as number) * s[0] + (f[o + 1] as number) * s[1] + (f[o + 2] as number) * s[2];
  const ry = (f[o + 3] as number) * s[0] + (f[o + 4] as number) * s[1] + (f[o + 5] as number) * s[2];
  const rz = (f[o + 6] as number) * s[0] + (f[o + 7] as number) * s[1] + (f[o + 8] as number) * s[2];
  const x = (f[o + 9] as number) + rx - m.tipAt[0];
  const y = (f[o + 10] as number) + ry - m.tipAt[1];
  const z = (f[o + 11] as number) + rz - m.tipAt[2];
  const d = Math.sqrt(x * x + y * y + z * z);
  if (part.reach - d < below && d > 1e-9) {
    const r = rows.add(part.reach - d + lift, p, -1, 1);
    rows.point(m, r, 0, part, -x / d, -y / d, -z / d, rx, ry, rz);
  }
  // The cone: a point one radius along +z must stay high along the tangent, whatever the part's place.
  const [tx, ty, tz] = m.tipTangent as unknown as [number, number, number];
  const ax = part.radius * (f[o + 2] as number);
  const ay = part.radius * (f[o + 5] as number);
  const az = part.radius * (f[o + 8] as number);
  const slack = ax * tx + ay * ty + az * tz - part.radius * part.coneCos;
  if (slack < below) {
    const r = rows.add(slack + lift, p, -1, 1);
    rows.point(m, r, 0, part, tx, ty, tz, ax, ay, az);
    // Shifting the part does not turn it.
    rows.jacobian.fill(0, 12 * r, 12 * r + 3);
  }
}
