/**
 * A vent's line made exact: its corners climb, all together, by linear max-min steps in a trust region, each accepted only
 * if the exact spare of the whole tube rises.
 */
import { add, addScaled, distance, dot, length, type Point, pt, scale, sub } from '../../geometry/vec.ts';
import type { Rules } from '../../model/parts.ts';
import { GROWN, tubeRadius, ventAlong } from '../../parts/vent.ts';
import { posedSolids, type Solids } from '../../room/convex.ts';
import type { Room } from '../../room/index.ts';
import { axis, pairGap } from '../../room/pair.ts';
import { placeNear } from '../../room/room.ts';
import { MaxMin } from '../maxmin.ts';

/** What stands in a vent's way: solids where they stand, and what each asks of the tube, mm. */
export interface Obstacle {
  readonly solids: Solids;
  readonly asked: Float64Array;
}

export type Line = readonly Point<'ear'>[];

/** Corners about so far apart, mm, and no fewer pieces than this. */
const PIECE = 3;
const FEWEST = 3;
/** Balls of the tube are looked at so far apart, mm. */
const BALLS = 0.4;
const FIRST = 0.3;
const LEAST = 0.006;
const TURNS = 30;
/** How a line is pulled taut: sweeps over its corners, shares of the way that are tried, and what is not worth another sweep, mm. */
const SWEEPS = 24;
const PULLS = [0.8, 0.3, 0.1] as const;
const TAUT = 0.02;
/** Surface points remembered. */
const MOST_SEEN = 240;

/** Corners at even distances along a smoothed course. */
export function lineAlong(course: Line): Line {
  let smooth = course;
  for (let turn = 0; turn < 6; turn++) {
    smooth = smooth.map((p, k) => {
      const [a, b] = [smooth[k - 1], smooth[k + 1]];
      return a && b ? pt<'ear'>((a[0] + 2 * p[0] + b[0]) / 4, (a[1] + 2 * p[1] + b[1]) / 4, (a[2] + 2 * p[2] + b[2]) / 4) : p;
    });
  }
  const along = [0];
  for (let k = 1; k < smooth.length; k++)
    along.push((along[k - 1] as number) + distance(smooth[k - 1] as Point<'ear'>, smooth[k] as Point<'ear'>));
  const whole = along[along.length - 1] as number;
  const pieces = Math.max(FEWEST, Math.round(whole / PIECE));
  return Array.from({ length: pieces + 1 }, (_, i) => {
    const wanted = (whole * i) / pieces;
    if (i === pieces) return smooth[smooth.length - 1] as Point<'ear'>;
    const k = Math.max(0, along.findIndex((a) => a >= wanted) - 1);
    const span = (along[k + 1] as number) - (along[k] as number);
    const t = span > 0 ? Math.min(1, (wanted - (along[k] as number)) / span) : 0;
    return between(smooth[k] as Point<'ear'>, smooth[k + 1] as Point<'ear'>, t);
  });
}

const between = (a: Point<'ear'>, b: Point<'ear'>, t: number): Point<'ear'> =>
  pt(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2]));

/** What one ball of the tube has to spare, at t of a piece of the line, and the direction in which it gains. */
export interface BallRow {
  readonly piece: number;
  readonly t: number;
  readonly value: number;
  readonly along: Point<'ear'>;
  /** The obstacle that it is measured to, and where on it; -1: the cast or a cut. */
  readonly obstacle: number;
  readonly at?: Point<'ear'>;
}

interface Seen {
  readonly piece: number;
  readonly t: number;
  readonly q: Point<'ear'>;
}

/** A ball of this radius, mm, about the origin: its place is the last three numbers of its frame. */
export const ballOf = (r: number): Solids =>
  posedSolids([{ shape: 'capsule', size: [2 * r, 2 * r, 2 * r], position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' }], GROWN);

export class LineClimber {
  readonly #room: Room;
  readonly #diameter: number;
  readonly #rules: Rules;
  readonly #radius: number;
  readonly #lp = new MaxMin();
  readonly #ball: Solids;
  /** Normals that the two ends must not move along: they stay in their cuts. */
  readonly #ends: readonly [Point<'ear'> | undefined, Point<'ear'> | undefined];
  #seen: Seen[] = [];

  constructor(room: Room, diameter: number) {
    this.#room = room;
    this.#diameter = diameter;
    this.#rules = room.rules;
    this.#radius = tubeRadius(diameter, room.rules);
    this.#ball = ballOf(this.#radius);
    const normal = (name: string): Point<'ear'> | undefined => room.borders.find((b) => b.name === name)?.normal;
    this.#ends = [normal('outer'), normal('tip')];
  }

  /** Exact spare of the tube along a line beside obstacles, mm; once below `floor` any figure below it. */
  spare(line: Line, obstacles: readonly Obstacle[], floor = -Infinity): number {
    const tube = posedSolids(ventAlong(line, this.#diameter, this.#rules).primitives, GROWN);
    let least = Infinity;
    for (let i = 0; i < tube.count; i++) {
      for (const { solids, asked } of obstacles) {
        for (let j = 0; j < solids.count; j++) {
          const gap = asked[j] as number;
          least = Math.min(least, pairGap(tube, i, solids, j, least + gap) - gap);
        }
      }
      this.#room.borders.forEach((b, k) => {
        if (b.name === 'upper') least = Math.min(least, this.#room.cutClearance(tube, i, k));
      });
      if (least < floor) return least;
    }
    for (let i = 0; i < tube.count && least >= floor; i++) least = Math.min(least, this.#room.wallClearance(tube, i, least, -1, floor));
    return least;
  }

  /** Climbs from a line until its spare is `wished`, mm, or no step helps. */
  climb(start: Line, obstacles: readonly Obstacle[], wished: number): { readonly line: Line; readonly spare: number } {
    let line = start;
    let spare = this.spare(line, obstacles);
    this.forget();
    for (let turn = 0, trust = FIRST; turn < TURNS && trust >= LEAST && spare < wished; turn++) {
      const next = this.#step(line, obstacles, spare + 3 * trust, trust);
      const now = next ? this.spare(next, obstacles, spare) : -Infinity;
      if (next && now > spare + 1e-5) {
        line = next;
        spare = now;
        trust = Math.min(2 * FIRST, 1.6 * trust);
      } else trust *= 0.4;
    }
    return { line, spare };
  }

  #step(line: Line, obstacles: readonly Obstacle[], below: number, trust: number): Line | undefined {
    const n = 3 * line.length;
    const values: number[] = [];
    const rows: number[] = [];
    this.rows(line, obstacles, below, (row) => {
      const o = rows.length;
      for (let k = 0; k < n; k++) rows.push(0);
      this.slopes(line, row, rows, o);
      values.push(row.value);
    });
    const m = values.length;
    if (m === 0) return undefined;
    const gain = this.#lp.solve(
      n,
      m,
      Float64Array.from(rows),
      Float64Array.from(values),
      new Uint8Array(m),
      new Float64Array(n).fill(trust),
    );
    return gain < 1e-6 ? undefined : this.moved(line, this.#lp.x, 0);
  }

  /** The line with its corners moved by three numbers each, from x[from]; its ends stay in their cuts. */
  moved(line: Line, x: Float64Array, from: number): Line {
    return line.map((p, k) => {
      const d = pt<'ear'>(x[from + 3 * k] as number, x[from + 3 * k + 1] as number, x[from + 3 * k + 2] as number);
      const normal = this.#fixed(line, k);
      return addScaled(add(p, d), normal, -dot(normal, d));
    });
  }

  /** Normal of the cut in which a corner must stay; zero of one that is free. */
  #fixed(line: Line, corner: number): Point<'ear'> {
    return (corner === 0 ? this.#ends[0] : corner === line.length - 1 ? this.#ends[1] : undefined) ?? NONE;
  }

  /** Adds to out[from..] how a row's value changes with the corners of the line, three numbers each. */
  slopes(line: Line, { piece, t, along }: BallRow, out: { [k: number]: number }, from: number): void {
    for (const [corner, share] of [
      [piece, 1 - t],
      [piece + 1, t],
    ] as const) {
      const normal = this.#fixed(line, corner);
      const g = addScaled(along, normal, -dot(normal, along));
      for (let k = 0; k < 3; k++) out[from + 3 * corner + k] = (out[from + 3 * corner + k] ?? 0) + share * (g[k] as number);
    }
  }

  /**
   * Pulls the line taut: every corner towards the middle between its neighbours, every end towards where its piece meets the
   * cut squarely, as far as `least` mm of spare are left. A bore is cleaned with a line drawn through it: kinks are no good.
   */
  straightened(line: Line, obstacles: readonly Obstacle[], least: number): Line {
    let best = line;
    for (let sweep = 0; sweep < SWEEPS; sweep++) {
      let moved = 0;
      for (let k = 0; k < best.length; k++) {
        const at = best[k] as Point<'ear'>;
        const to = sub(this.#tautAt(best, k), at);
        for (const share of PULLS) {
          const next = best.map((p, i) => (i === k ? addScaled(at, to, share) : p));
          if (this.spare(next, obstacles, least) < least) continue;
          best = next;
          moved = Math.max(moved, share * length(to));
          break;
        }
      }
      if (moved < TAUT) break;
    }
    return best;
  }

  /** Where a corner would be, were it for straightness alone. */
  #tautAt(line: Line, k: number): Point<'ear'> {
    const [a, p, b] = [line[k - 1], line[k] as Point<'ear'>, line[k + 1]];
    if (a && b) return between(a, b, 0.5);
    const beside = (a ?? b) as Point<'ear'>;
    const normal = this.#fixed(line, k);
    return addScaled(beside, normal, dot(normal, sub(p, beside)));
  }

  /** Another climb begins. */
  forget(): void {
    this.#seen = [];
  }

  /** Rows of every ball of the tube that is below `below`: against the wall, the upper cut and the obstacles. */
  rows(line: Line, obstacles: readonly Obstacle[], below: number, add: (row: BallRow) => void): void {
    if (this.#seen.length > MOST_SEEN) this.#seen = this.#seen.slice(-MOST_SEEN / 2);
    for (const { piece, t, q } of this.#seen) {
      const at = between(line[piece] as Point<'ear'>, line[piece + 1] as Point<'ear'>, t);
      const d = distance(at, q);
      if (d - this.#radius < below && d > 1e-9) add({ piece, t, value: d - this.#radius, along: scale(sub(at, q), 1 / d), obstacle: -1 });
    }
    for (let piece = 0; piece + 1 < line.length; piece++) {
      const count = Math.max(1, Math.ceil(distance(line[piece] as Point<'ear'>, line[piece + 1] as Point<'ear'>) / BALLS));
      for (let k = piece === 0 ? 0 : 1; k <= count; k++) this.#ballRows(line, piece, k / count, obstacles, below, add);
    }
  }

  #ballRows(line: Line, piece: number, t: number, obstacles: readonly Obstacle[], below: number, add: (row: BallRow) => void): void {
    const at = between(line[piece] as Point<'ear'>, line[piece + 1] as Point<'ear'>, t);
    this.#wallRow(at, piece, t, below, add);
    for (const b of this.#room.borders) {
      const value = b.offset - dot(b.normal, at) - this.#radius;
      if (b.name === 'upper' && value < below) add({ piece, t, value, along: scale(b.normal, -1), obstacle: -1 });
    }
    this.#ball.frame.set(at, 9);
    obstacles.forEach(({ solids, asked }, obstacle) => {
      for (let j = 0; j < solids.count; j++) {
        const gap = asked[j] as number;
        const value = pairGap(this.#ball, 0, solids, j, below + gap) - gap;
        if (value >= below) continue;
        const along = pt<'ear'>(axis[0] as number, axis[1] as number, axis[2] as number);
        add({ piece, t, value, along, obstacle, at: addScaled(at, along, -(this.#radius + value + gap)) });
      }
    });
  }

  #wallRow(at: Point<'ear'>, piece: number, t: number, below: number, add: (row: BallRow) => void): void {
    const { field } = this.#room;
    const d = this.#room.exactDistance(at[0], at[1], at[2]);
    if (d - this.#radius >= below) return;
    const { near } = field;
    const place = near.query(at[0], at[1], at[2], placeNear(field, at[0], at[1], at[2]), Infinity);
    near.distance2(place, at[0], at[1], at[2]);
    const q = pt<'ear'>(near.qx, near.qy, near.qz);
    const l = distance(at, q);
    if (l > 1e-9) add({ piece, t, value: d - this.#radius, along: scale(sub(at, q), (d < 0 ? -1 : 1) / l), obstacle: -1 });
    if (d > 0) this.#seen.push({ piece, t, q });
  }
}

const NONE = pt<'ear'>(0, 0, 0);
