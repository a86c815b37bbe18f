/**
 * Voids, folds and lumps on the canal's wall: places where the cast departs from its own smooth neighbourhood. The wall is
 * laid out flat (depth along the centreline by angle round it), and each field's distance from the centreline is held
 * against what the fields medial and lateral of it let expect.
 */
import { atan2, cos, PI, sin } from '../geometry/trig.ts';
import { cross, dot, type Point, perpendicular, pointAt, pt, sub } from '../geometry/vec.ts';
import { type Ear, nearestSection } from '../model/ear.ts';

export interface Dent {
  readonly at: Point<'ear'>;
  readonly depth: number; // in the canal, mm
  /** How far the wall departs from its neighbourhood, mm: below 0 towards the centreline. */
  readonly by: number;
  readonly wide: number; // mm
}

/** Fields of the laid-out wall: mm along, number round. */
const ALONG = 0.4;
const ROUND = 40;
/** So many fields medial and lateral the wall is compared, some 2 mm: beyond what a trapped bubble reaches. */
const NEAR = 5;
/** A wall that departs by less is not worth a word, mm: clean casts reach 0.35. */
const LEAST = 0.4;
/** The ends of the canal are rounded and open out: left out, mm. */
const FROM = 1;
const LEAVE = 2;

interface Field {
  r: number;
  many: number;
}

/** The most telling first, at most six. */
export function dentsOf(ear: Ear): Dent[] {
  const rows = Math.floor((ear.end.depth - LEAVE - FROM) / ALONG);
  if (rows < 2 * NEAR) return [];
  const fields = layOut(ear, rows);
  const off = fields.map((f, i) => {
    const expected = f.many === 0 ? undefined : expectedAt(fields, rows, i);
    return expected === undefined ? 0 : f.r / f.many - expected;
  });
  return clusters(off, rows)
    .map((members) => dentOf(ear, fields, off, members))
    .sort((a, b) => Math.abs(b.by) - Math.abs(a.by))
    .slice(0, 6);
}

/** Mean distance from the centreline of the vertices in each field; row by row, ROUND fields each. */
function layOut(ear: Ear, rows: number): Field[] {
  const { positions: p } = ear.cast;
  const { points, tangents, depths } = ear.centreline;
  const fields: Field[] = Array.from({ length: rows * ROUND }, () => ({ r: 0, many: 0 }));
  const first = pointAt<'ear'>(tangents, 0);
  const up = perpendicular(first);
  const reach = Float64Array.from({ length: rows }, (_, row) => reachAt(ear, FROM + (row + 0.5) * ALONG));
  for (let v = 0; v < p.length / 3; v++) {
    const q = pointAt<'ear'>(p, v);
    const k = nearestOn(points, q);
    const depth = depths[k] as number;
    const row = Math.floor((depth - FROM) / ALONG);
    if (row < 0 || row >= rows) continue;
    const t = pointAt<'ear'>(tangents, k);
    const d = sub(q, pointAt<'ear'>(points, k));
    if (dot(d, d) > (reach[row] as number) ** 2) continue; // the concha, or the helix's hook, beside the canal
    const right = cross(t, up);
    const angle = atan2(dot(d, cross(right, t)), dot(d, right)) + PI;
    const field = fields[row * ROUND + Math.min(ROUND - 1, Math.floor((angle / (2 * PI)) * ROUND))] as Field;
    const along = dot(d, t);
    field.r += Math.sqrt(Math.max(0, dot(d, d) - along * along));
    field.many++;
  }
  return fields;
}

/** No canal wall is farther from the centreline than this, mm: half the section's largest width, a tenth of it, and a lump. */
function reachAt(ear: Ear, depth: number): number {
  const section = nearestSection(ear.sections, depth);
  return section ? 0.6 * section.major + LUMP : Infinity;
}
const LUMP = 1; // mm

/** The nearest place of the centreline: all are tried, some seventy. */
function nearestOn(points: Float64Array, q: Point<'ear'>): number {
  let best = 0;
  let least = Infinity;
  for (let i = 0; i < points.length; i += 3) {
    const x = (points[i] as number) - q[0];
    const y = (points[i + 1] as number) - q[1];
    const z = (points[i + 2] as number) - q[2];
    const d = x * x + y * y + z * z;
    if (d < least) {
      least = d;
      best = i / 3;
    }
  }
  return best;
}

/**
 * What the wall medial and lateral of a field lets expect there: the mean at NEAR fields either way, bettered by that at twice
 * as far (a smooth wall's bend falls out: Richardson), where there is wall so far.
 */
function expectedAt(fields: readonly Field[], rows: number, i: number): number | undefined {
  const row = Math.floor(i / ROUND);
  const col = i % ROUND;
  const mean = (n: number): number | undefined => {
    const a = fieldAt(fields, rows, row + n, col);
    const b = fieldAt(fields, rows, row - n, col);
    return a === undefined || b === undefined ? undefined : (a + b) / 2;
  };
  const near = mean(NEAR);
  const far = mean(2 * NEAR);
  return near === undefined || far === undefined ? near : (4 * near - far) / 3;
}

function fieldAt(fields: readonly Field[], rows: number, row: number, col: number): number | undefined {
  if (row < 0 || row >= rows) return undefined;
  const f = fields[row * ROUND + ((col + ROUND) % ROUND)] as Field;
  return f.many === 0 ? undefined : f.r / f.many;
}

/** Fields that depart the same way and touch. */
function clusters(off: readonly number[], rows: number): number[][] {
  const taken = new Uint8Array(off.length);
  const out: number[][] = [];
  for (let i = 0; i < off.length; i++) {
    if (taken[i] === 1 || Math.abs(off[i] as number) < LEAST) continue;
    const sign = (off[i] as number) < 0 ? -1 : 1;
    const members = [i];
    taken[i] = 1;
    for (const m of members) {
      for (const [dr, dc] of [
        [-1, 0],
        [1, 0],
        [0, -1],
        [0, 1],
      ] as const) {
        const row = Math.floor(m / ROUND) + dr;
        const j = row * ROUND + (((m % ROUND) + dc + ROUND) % ROUND);
        if (row < 0 || row >= rows || taken[j] === 1 || sign * (off[j] as number) < LEAST / 2) continue;
        taken[j] = 1;
        members.push(j);
      }
    }
    out.push(members);
  }
  return out;
}

function dentOf(ear: Ear, fields: readonly Field[], off: readonly number[], members: readonly number[]): Dent {
  const worst = members.reduce((a, b) => (Math.abs(off[b] as number) > Math.abs(off[a] as number) ? b : a));
  const row = Math.floor(worst / ROUND);
  const depth = FROM + (row + 0.5) * ALONG;
  const { points, tangents, depths } = ear.centreline;
  let k = 0;
  while (k + 1 < depths.length && (depths[k] as number) < depth) k++;
  const t = pointAt<'ear'>(tangents, k);
  const up = perpendicular(pointAt<'ear'>(tangents, 0));
  const right = cross(t, up);
  const over = cross(right, t);
  const f = fields[worst] as Field;
  const r = f.r / f.many;
  const angle = 2 * PI * (((worst % ROUND) + 0.5) / ROUND) - PI;
  const [c, s] = [cos(angle), sin(angle)];
  const base = pointAt<'ear'>(points, k);
  const along = (n: 0 | 1 | 2): number => base[n] + r * (c * right[n] + s * over[n]);
  const at = pt<'ear'>(along(0), along(1), along(2));
  return { at, depth, by: off[worst] as number, wide: Math.sqrt(members.length * ALONG * ((2 * PI * r) / ROUND)) };
}
