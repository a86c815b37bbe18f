/**
 * The inequalities that close cells, each from its own derivation.
 *
 * Of one part. Let q(pose) be where a point of the part goes, o what is asked. If q lies behind all cuts that count for the part, its room is
 * at most phi(w) + |q - w| for any witness w (witness.ts), so the spare is at most phi(w) + |q - w| - o. If q lies beyond a cut, the spare
 * is at most -(what is asked of that cut). So with `least` the least of all that is asked of the part, a ceiling of at least
 * -least holds wherever the inequalities of points behind the cuts hold. Against a cut itself the spare is at most q's depth behind it less
 * what is asked, everywhere.
 *
 * Of two parts. Balls of radii r and s within them, middles a and b: as far as the parts have a distance it is at most |b - a| - r - s; where they
 * overlap, the least move that parts them parts the balls too and is at least r + s - |b - a|. Either way what there is between them is
 * at most |b - a| - r - s.
 *
 * Over a cell. With v the way at the middle and e its change, |v + e| <= |v| + v.e / |v| + |e|^2 / (2 |v|), by the square root's
 * concavity; e is its first order in z and a rest. Weighted with sum 1, first orders cancel before their sizes are added. One row
 * alone may take |v| + |e| instead.
 */
import { dot, heightOver, length, type Plane, type Point, pt } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import { type Cell, type Moves, type Poses, posesOf, spread } from './cells.ts';
import type { Certificate, CutName, JointRow, PartCells, Row, Vec } from './format.ts';
import { demand, refuse } from './refusal.ts';
import type { Witnesses } from './witness.ts';

/** Rounding of what is compared, mm. */
export const ROUNDING = 1e-9;

/** What a row says of the poses of a cell: spare <= even + slopes . z, and spare <= plain. */
interface Says {
  readonly even: number;
  readonly slopes: readonly number[];
  readonly plain: number;
}

/** A row with its weight, and where its variables begin among all. */
export interface Weighed {
  readonly weight: number;
  readonly even: number;
  readonly plain: number;
  readonly slopes: readonly { readonly from: number; readonly of: readonly number[] }[];
}

/** One part of a certificate with its poses and what is asked of it, mm. */
export class Claimed {
  readonly part: PartCells;
  readonly poses: Poses;
  /** To the cast's surface. */
  readonly #wall: number;
  readonly #cuts: readonly { readonly name: CutName; readonly plane: Plane<'ear'>; readonly asked: number }[];
  readonly #witnesses: Witnesses;

  constructor(part: PartCells, rules: Certificate['rules'], body: Body, witnesses: Witnesses) {
    this.part = part;
    this.poses = posesOf(part, body.cuts.find((c) => c.name === 'outer')?.plane);
    this.#wall = rules.wall + rules.gap + part.margin;
    this.#cuts = body.cuts
      // A part seated at the faceplate passes the outer cut.
      .filter((c) => c.name !== 'outer' || part.seat.at !== 'faceplate')
      .map((c) => ({ ...c, asked: c.name === 'outer' ? rules.faceplate + rules.gap + part.margin : this.#wall }));
    this.#witnesses = witnesses;
  }

  /** No such proof shows less than minus this, mm. */
  get least(): number {
    return Math.min(this.#wall, ...this.#cuts.map((c) => c.asked));
  }

  /** Where a cell's poses take a point of the part, or a ball's middle. */
  moves(cell: Cell, p: Vec): Moves {
    return this.poses.moves(cell, p);
  }

  row(cell: Cell, [point, weight, against]: Row, from = 0): Weighed {
    const p = this.part.points[point];
    demand(p !== undefined, `there is no point ${point} of ${this.part.name}`);
    const m = this.moves(cell, p as Vec);
    const says = typeof against === 'number' ? this.#held(m, against) : this.#behind(m, against);
    return { weight, even: says.even, plain: says.plain, slopes: [{ from, of: says.slopes }] };
  }

  #held(m: Moves, number: number): Says {
    const w = this.#witnesses.at(number);
    const v: Vec = [m.at[0] - w.at[0], m.at[1] - w.at[1], m.at[2] - w.at[2]];
    const l = length(v);
    const even = w.room + l - this.#wall;
    const far = Math.min(m.reach, spread(m.slopes) + m.rest);
    return says(even, even + (far * far) / (2 * l) + m.rest, m, [v[0] / l, v[1] / l, v[2] / l]);
  }

  #behind(m: Moves, name: CutName): Says {
    const cut = this.#cuts.find((c) => c.name === name);
    if (!cut) refuse(`no cut "${name}" counts for ${this.part.name}`);
    const even = -heightOver(cut.plane, pt<'ear'>(...m.at)) - cut.asked;
    const [x, y, z] = cut.plane.normal;
    return says(even, even + m.rest, m, [-x, -y, -z]);
  }
}

/** With slopes along d; without them where a rest says too little (a cell that turns far). */
function says(even: number, curved: number, m: Moves, d: Vec): Says {
  const plain = even + m.reach;
  // A way of no length has no direction.
  if (!(curved <= even + 2 * m.reach)) return { even: plain, slopes: [], plain };
  return { even: curved, slopes: m.slopes.map((s) => along(s, d)), plain };
}

const along = (a: Vec, b: Vec): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

/** Two parts, each in its cell, their variables beginning at `from`; `asked` between them, mm. */
export function pairRow(
  claims: readonly [Claimed, Claimed],
  cells: readonly [Cell, Cell],
  from: readonly [number, number],
  asked: number,
  { weight, a, b }: Extract<JointRow, { readonly first: number }>,
): Weighed {
  const [p, q] = [claims[0].part.balls[a], claims[1].part.balls[b]];
  if (!p || !q) refuse(`there is no ball ${p ? b : a} of ${claims[p ? 1 : 0].part.name}`);
  const m = claims[0].moves(cells[0], [p[0], p[1], p[2]]);
  const n = claims[1].moves(cells[1], [q[0], q[1], q[2]]);
  const v: Vec = [n.at[0] - m.at[0], n.at[1] - m.at[1], n.at[2] - m.at[2]];
  const l = length(v);
  const even = l - p[3] - q[3] - asked;
  const reach = m.reach + n.reach;
  const plain = even + reach;
  const curved = even + (reach * reach) / (2 * l) + m.rest + n.rest;
  if (!(curved <= even + 2 * reach)) return { weight, even: plain, plain, slopes: [] };
  const d: Vec = [v[0] / l, v[1] / l, v[2] / l];
  return {
    weight,
    even: curved,
    plain,
    slopes: [
      { from: from[0], of: m.slopes.map((s) => -along(s, d)) },
      { from: from[1], of: n.slopes.map((s) => along(s, d)) },
    ],
  };
}

/** What rows allow together, mm; `size` variables in all. */
export function allowed(rows: readonly Weighed[], size: number): number {
  const total = rows.reduce((s, r) => s + r.weight, 0);
  demand(total > 0 && rows.every((r) => r.weight >= 0), 'a weight is negative, or all are 0');
  const g = new Float64Array(size);
  let sum = 0;
  for (const { weight, even, slopes } of rows) {
    const w = weight / total;
    sum += w * even;
    for (const { from, of } of slopes) for (const [k, s] of of.entries()) g[from + k] = (g[from + k] as number) + w * s;
  }
  const all = g.reduce((s, x) => s + Math.abs(x), sum);
  return Math.min(all, rows.length === 1 ? (rows[0] as Weighed).plain : Infinity) + ROUNDING;
}

/** Is a direction square to a plane's normal, and of length 1? */
export const isInPlane = (d: Point<'ear'>, n: Point<'ear'>): boolean =>
  Math.abs(dot(d, n)) < ROUNDING && Math.abs(length(d) - 1) < ROUNDING;
