/**
 * Which piece of the cut cast a place belongs to: a coarse grid of points, inside by counting the triangles above and below each
 * (signed), filled from the tip. Keeps a part out of the helix's hook, which the same planes may cut off beside the body.
 */
import { add, addScaled, cross, sub, type Vec3 } from '../../src/geometry/vec.ts';
import type { Triangle } from './referee-scan.ts';
import { type Cut, over } from './referee-solids.ts';

const STEP = 0.5; // mm; a canal is 4 mm wide and more
/** Off any round number, so that no column of the grid runs along an edge. */
const SHIFT: Vec3 = [0.0137, 0.0291, 0.0073];

export interface Piece {
  /** Whether a grid point of the piece lies within one step of p. */
  readonly holds: (p: Vec3) => boolean;
  readonly points: number;
}

/** The piece behind all cuts that holds the middle of the tip. */
export function pieceAtTip(closed: readonly Triangle[], cuts: readonly Cut[], tip: Cut): Piece {
  const crossings = new Map<string, { z: number; up: number }[]>();
  for (const t of closed) crossColumns(t, crossings);
  const inside = new Set<string>();
  for (const [column, list] of crossings) {
    list.sort((a, b) => a.z - b.z);
    const [i, j] = column.split(',').map(Number) as [number, number];
    let depth = 0;
    list.forEach((c, k) => {
      depth += c.up;
      const end = list[k + 1];
      if (depth <= 0 || !end) return;
      for (let n = Math.ceil((c.z - SHIFT[2]) / STEP); n * STEP + SHIFT[2] < end.z; n++) {
        const p = pointOf(i, j, n);
        if (cuts.every((cut) => over(cut, p) <= 0)) inside.add(`${i},${j},${n}`);
      }
    });
  }
  const start = addScaled(tip.point, tip.normal, -1);
  const reached = new Set<string>();
  const open = around(start).filter((k) => inside.has(k));
  for (let key = open.pop(); key !== undefined; key = open.pop()) {
    if (reached.has(key)) continue;
    reached.add(key);
    const [i, j, n] = key.split(',').map(Number) as [number, number, number];
    for (const next of [
      [i + 1, j, n],
      [i - 1, j, n],
      [i, j + 1, n],
      [i, j - 1, n],
      [i, j, n + 1],
      [i, j, n - 1],
    ]) {
      const k = next.join();
      if (inside.has(k) && !reached.has(k)) open.push(k);
    }
  }
  return { holds: (p) => around(p).some((k) => reached.has(k)), points: reached.size };
}

const pointOf = (i: number, j: number, n: number): Vec3 => add(SHIFT, [i * STEP, j * STEP, n * STEP]);

/** The eight grid points of the cell that holds p. */
function around(p: Vec3): string[] {
  const [i, j, n] = sub(p, SHIFT).map((x) => Math.floor(x / STEP)) as [number, number, number];
  return [0, 1, 2, 3, 4, 5, 6, 7].map((k) => [i + (k & 1), j + ((k >> 1) & 1), n + (k >> 2)].join());
}

/** Where the grid's columns along z pass through a triangle: entering where it faces down. */
function crossColumns([a, b, c]: Triangle, crossings: Map<string, { z: number; up: number }[]>): void {
  const n = cross(sub(b, a), sub(c, a));
  if (n[2] === 0) return;
  const range = (k: 0 | 1): [number, number] => [
    Math.ceil((Math.min(a[k], b[k], c[k]) - SHIFT[k]) / STEP),
    Math.floor((Math.max(a[k], b[k], c[k]) - SHIFT[k]) / STEP),
  ];
  const [i0, i1] = range(0);
  const [j0, j1] = range(1);
  const side = (p: Vec3, q: Vec3, x: number, y: number): number => (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]);
  for (let i = i0; i <= i1; i++) {
    for (let j = j0; j <= j1; j++) {
      const [x, y] = pointOf(i, j, 0);
      const s = [side(a, b, x, y), side(b, c, x, y), side(c, a, x, y)];
      if (!(s.every((v) => v >= 0) || s.every((v) => v <= 0))) continue;
      const z = a[2] - (n[0] * (x - a[0]) + n[1] * (y - a[1])) / n[2];
      const key = `${i},${j}`;
      const list = crossings.get(key);
      const hit = { z, up: n[2] < 0 ? 1 : -1 };
      if (list) list.push(hit);
      else crossings.set(key, [hit]);
    }
  }
}
