/**
 * Edges that three triangles or more share. Loose flaps on them (fins) and walls inside are left out and named; what is
 * left is taken apart into sheets that touch along the edge, so that each sheet is a surface of its own there.
 */
import { atan2 } from '../../geometry/trig.ts';
import { type Point, pointAt } from '../../geometry/vec.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, fixed, place } from '../wording.ts';
import { type Joins, joinEdges, nextOf, OPEN, previousOf, triangleOf } from './joins.ts';
import { type Oriented, orient, type PieceSums, sumPieces } from './orient.ts';
import { keepTriangles, type Surface } from './weld.ts';

/** Each round takes off flaps that hang on what the last one left; real files need one. */
const MOST_ROUNDS = 16;

export interface Untied {
  readonly surface: Surface;
  readonly twin: Int32Array;
  /** Edges that had to be taken apart: the vertices along them may need doubling. */
  readonly parted: number;
}

/** Gives every half-edge one partner at most. `joins` must belong to `s`; a surface without knots comes back as it is. */
export function untie(s: Surface, joins: Joins, findings: Finding[]): Untied {
  if (joins.knots.length === 0) return { surface: s, twin: joins.twin, parted: 0 };
  nameKnots(s, joins, findings);
  let surface = s;
  let now = joins;
  for (let round = 0; round < MOST_ROUNDS && now.knots.length > 0; round++) {
    const without = dropLoose(surface, now, findings);
    if (without === surface) break;
    surface = without;
    now = joinEdges(surface.indices, surface.positions.length / 3);
  }
  const patches = orient(surface.indices, now.twin);
  const parted = now.knotStart.length - 1;
  const inward = parted > 0 && sumPieces(surface, now.twin, patches).volume.reduce((sum, v) => sum + v, 0) < 0;
  for (let i = 0; i < parted; i++) {
    pairAround(surface, now.twin, patches.flip, inward, now.knots.slice(now.knotStart[i], now.knotStart[i + 1]));
  }
  return { surface, twin: now.twin, parted };
}

function nameKnots(s: Surface, joins: Joins, findings: Finding[]): void {
  const byCount = new Map<number, number[]>();
  for (let i = 0; i + 1 < joins.knotStart.length; i++) {
    const from = joins.knotStart[i] as number;
    const count = (joins.knotStart[i + 1] as number) - from;
    const list = byCount.get(count);
    if (list) list.push(joins.knots[from] as number);
    else byCount.set(count, [joins.knots[from] as number]);
  }
  for (const [count, edges] of [...byCount].sort((a, b) => a[0] - b[0])) {
    const h = edges[0] as number;
    const ends = [s.indices[h] as number, s.indices[nextOf(h)] as number].map((v) => pointAt<'scan'>(s.positions, v));
    const [a, b] = ends.sort((p, q) => p[0] - q[0] || p[1] - q[1] || p[2] - q[2]) as [Point<'scan'>, Point<'scan'>];
    const are = edges.length === 1 ? 'is' : 'are';
    findings.push({
      code: 'scan/shared-edges',
      level: 'warning',
      text: `${counted(edges.length, 'edge')} ${are} shared by ${count} triangles, ${edges.length === 1 ? '' : 'the first '}from ${place(a)} to ${place(b)}.`,
      count: edges.length,
      at: a,
    });
  }
}

/**
 * Patches (bounded by knots and open edges) that are no part of a closed surface: those with an open edge of their own
 * hang loose, and those whose whole border lies on odd knots are walls inside. Smallest first; never the largest of all,
 * and never so that an edge loses its partner.
 */
function dropLoose(s: Surface, joins: Joins, findings: Finding[]): Surface {
  const patches = orient(s.indices, joins.twin);
  const sums = sumPieces(s, joins.twin, patches);
  const { openAt, knotsAt } = borders(joins, patches);
  let largest = 0;
  for (let i = 1; i < patches.pieces; i++) if ((sums.area[i] as number) > (sums.area[largest] as number)) largest = i;
  const uses = knotUses(joins, patches);
  const drop = new Set<number>();
  const fins: number[] = [];
  const walls: number[] = [];
  const candidates = [...knotsAt.keys()]
    .filter((i) => i !== largest)
    .sort((i, j) => (sums.area[i] as number) - (sums.area[j] as number) || i - j);
  for (const i of candidates) {
    const knots = knotsAt.get(i) as number[];
    const mine = knots.map((k) => uses[k]?.get(i) ?? 0);
    const left = knots.map((k, at) => [...(uses[k]?.values() ?? [])].reduce((n, m) => n + m, 0) - (mine[at] as number));
    if (left.some((n) => n < 2)) continue;
    const wall = mine.every((n) => n % 2 === 1) && left.every((n) => n % 2 === 0);
    if (!openAt.has(i) && !wall) continue;
    (openAt.has(i) ? fins : walls).push(i);
    drop.add(i);
    for (const k of knots) uses[k]?.delete(i);
  }
  if (drop.size === 0) return s;
  nameDropped('scan/fin', 'fin that stands on an edge of the surface', 'fins that stand on edges of the surface', fins, sums, findings);
  nameDropped('scan/inner-wall', 'wall inside the surface', 'walls inside the surface', walls, sums, findings);
  return { positions: s.positions, indices: keepTriangles(s.indices, (t) => !drop.has(patches.piece[t] as number)) };
}

function nameDropped(code: string, one: string, many: string, which: readonly number[], sums: PieceSums, findings: Finding[]): void {
  if (which.length === 0) return;
  const triangles = which.reduce((n, i) => n + (sums.triangles[i] as number), 0);
  const area = which.reduce((n, i) => n + (sums.area[i] as number), 0);
  const at = pointAt<'scan'>(sums.centre, which[which.length - 1] as number); // the largest of them
  findings.push({
    code,
    level: 'changed',
    text: `${counted(which.length, one, many)} left out: ${counted(triangles, 'triangle')}, ${fixed(area, 2)} mm², at ${place(at)}.`,
    count: which.length,
    at,
  });
}

/** Which patches have open edges, and the knots (each once) that each patch borders. */
function borders(joins: Joins, patches: Oriented): { openAt: Set<number>; knotsAt: Map<number, number[]> } {
  const openAt = new Set<number>();
  for (let h = 0; h < joins.twin.length; h++) if (joins.twin[h] === OPEN) openAt.add(patches.piece[triangleOf(h)] as number);
  const knotsAt = new Map<number, number[]>();
  for (let k = 0; k + 1 < joins.knotStart.length; k++) {
    const here = new Set(joins.knots.slice(joins.knotStart[k], joins.knotStart[k + 1]).map((h) => patches.piece[triangleOf(h)] as number));
    for (const i of here) {
      const list = knotsAt.get(i);
      if (list) list.push(k);
      else knotsAt.set(i, [k]);
    }
  }
  return { openAt, knotsAt };
}

/** Of each knot: how many triangles each patch has on it. */
function knotUses(joins: Joins, patches: Oriented): Map<number, number>[] {
  const uses: Map<number, number>[] = [];
  for (let k = 0; k + 1 < joins.knotStart.length; k++) {
    const here = new Map<number, number>();
    for (let j = joins.knotStart[k] as number; j < (joins.knotStart[k + 1] as number); j++) {
      const i = patches.piece[triangleOf(joins.knots[j] as number)] as number;
      here.set(i, (here.get(i) ?? 0) + 1);
    }
    uses.push(here);
  }
  return uses;
}

/**
 * Pairs the triangles round one edge. Where as many run up it as down, they go together like brackets: one that begins
 * material with the nearest that ends it, so that bodies that merely touch come apart and no triangle need turn. Where
 * the windings do not balance, neighbours go together over the narrower gaps, and an odd one stays open.
 */
function pairAround(s: Surface, twin: Int32Array, flip: Uint8Array, inward: boolean, knot: readonly number[]): void {
  for (const h of knot) twin[h] = OPEN;
  const round = [...anglesAround(s, knot)].sort((a, b) => a.angle - b.angle || a.half - b.half);
  const n = round.length;
  const link = (g: number, h: number): void => {
    twin[g] = h;
    twin[h] = g;
  };
  // A triangle that runs down the edge has its material on the side of growing angles: it opens the bracket (in a file
  // that is inside out, the other way round).
  const opens = round.map(({ half, along }) => ((flip[triangleOf(half)] === 1) !== inward) === along);
  if (2 * opens.filter((o) => o).length === n) {
    const waiting: number[] = [];
    const first = bracketStart(opens);
    for (let i = first; i < first + n; i++) {
      const { half } = round[i % n] as Around;
      if (opens[i % n]) waiting.push(half);
      else link(waiting.pop() as number, half);
    }
    return;
  }
  const first = narrowStart(round.map((r) => r.angle));
  for (let i = first; i + 1 < first + n; i += 2) link((round[i % n] as Around).half, (round[(i + 1) % n] as Around).half);
}

/** Where to begin in a ring of balanced brackets so that none closes before it was opened. */
function bracketStart(opens: readonly boolean[]): number {
  let depth = 0;
  let lowest = 0;
  let start = 0;
  opens.forEach((o, i) => {
    depth += o ? 1 : -1;
    if (depth >= lowest) return;
    lowest = depth;
    start = i + 1;
  });
  return start % opens.length;
}

/** Whether pairing from the first or the second gives the narrower gaps together. */
function narrowStart(angles: readonly number[]): 0 | 1 {
  const n = angles.length;
  const full = 2 * Math.PI;
  const sum = (from: number): number => {
    let total = 0;
    for (let i = from; i + 1 < from + n; i += 2) {
      const gap = (angles[(i + 1) % n] as number) - (angles[i % n] as number);
      total += gap < 0 ? gap + full : gap;
    }
    return total;
  };
  return sum(0) <= sum(1) ? 0 : 1;
}

interface Around {
  readonly half: number;
  readonly angle: number; // about the edge, from its lower vertex to its higher one
  readonly along: boolean; // runs from the lower to the higher
}

function* anglesAround(s: Surface, knot: readonly number[]): Generator<Around> {
  const { positions: p, indices: ix } = s;
  const one = ix[knot[0] as number] as number;
  const two = ix[nextOf(knot[0] as number)] as number;
  const [lo, hi] = one < two ? [one, two] : [two, one];
  const axis = [0, 1, 2].map((k) => (p[3 * hi + k] as number) - (p[3 * lo + k] as number));
  const size = Math.sqrt(axis.reduce((sum, c) => sum + c * c, 0));
  const [wx, wy, wz] = axis.map((c) => c / size) as [number, number, number];
  let u: [number, number, number] | undefined;
  for (const half of knot) {
    const tip = ix[previousOf(half)] as number;
    let x = (p[3 * tip] as number) - (p[3 * lo] as number);
    let y = (p[3 * tip + 1] as number) - (p[3 * lo + 1] as number);
    let z = (p[3 * tip + 2] as number) - (p[3 * lo + 2] as number);
    const along = x * wx + y * wy + z * wz;
    x -= along * wx;
    y -= along * wy;
    z -= along * wz;
    u ??= [x, y, z];
    const v = [wy * u[2] - wz * u[1], wz * u[0] - wx * u[2], wx * u[1] - wy * u[0]] as const;
    const angle = atan2(x * v[0] + y * v[1] + z * v[2], x * u[0] + y * u[1] + z * u[2]);
    yield { half, angle: angle < 0 ? angle + 2 * Math.PI : angle, along: ix[half] === lo };
  }
}
