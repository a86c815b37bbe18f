/**
 * A vent's line made exact: its corners climb, all together, by linear max-min steps in a trust region, each accepted only
 * if the exact spare of the whole tube rises.
 */
import { distance, dot, type Point, pt } from '../../geometry/vec.ts';
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

interface Seen {
  readonly piece: number;
  readonly t: number;
  readonly q: Point<'ear'>;
}

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
  #values: number[] = [];
  #rows: number[] = [];

  constructor(room: Room, diameter: number) {
    this.#room = room;
    this.#diameter = diameter;
    this.#rules = room.rules;
    this.#radius = tubeRadius(diameter, room.rules);
    const width = 2 * this.#radius;
    this.#ball = posedSolids(
      [{ shape: 'capsule', size: [width, width, width], position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' }],
      GROWN,
    );
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
    this.#seen = [];
    for (let turn = 0, trust = FIRST; turn < TURNS && trust >= LEAST && spare < wished; turn++) {
      this.#collect(line, obstacles, spare + 3 * trust);
      const next = this.#step(line, trust);
      const now = next ? this.spare(next, obstacles, spare) : -Infinity;
      if (next && now > spare + 1e-5) {
        line = next;
        spare = now;
        trust = Math.min(2 * FIRST, 1.6 * trust);
      } else trust *= 0.4;
    }
    return { line, spare };
  }

  #step(line: Line, trust: number): Line | undefined {
    const n = 3 * line.length;
    const m = this.#values.length;
    if (m === 0) return undefined;
    const gain = this.#lp.solve(
      n,
      m,
      Float64Array.from(this.#rows),
      Float64Array.from(this.#values),
      new Uint8Array(m),
      new Float64Array(n).fill(trust),
    );
    if (gain < 1e-6) return undefined;
    const x = this.#lp.x;
    return line.map((p, k) => {
      const d = pt<'ear'>(x[3 * k] as number, x[3 * k + 1] as number, x[3 * k + 2] as number);
      const normal = k === 0 ? this.#ends[0] : k === line.length - 1 ? this.#ends[1] : undefined;
      const off = normal ? dot(normal, d) : 0;
      return pt(p[0] + d[0] - off * (normal?.[0] ?? 0), p[1] + d[1] - off * (normal?.[1] ?? 0), p[2] + d[2] - off * (normal?.[2] ?? 0));
    });
  }

  /** Rows of every ball of the tube that is below `below`: against the wall, the upper cut and the obstacles. */
  #collect(line: Line, obstacles: readonly Obstacle[], below: number): void {
    this.#values = [];
    this.#rows = [];
    for (const { piece, t, q } of this.#seen) this.#wallRow(line, piece, t, q, below);
    if (this.#seen.length > MOST_SEEN) this.#seen = this.#seen.slice(-MOST_SEEN / 2);
    for (let piece = 0; piece + 1 < line.length; piece++) {
      const [a, b] = [line[piece] as Point<'ear'>, line[piece + 1] as Point<'ear'>];
      const count = Math.max(1, Math.ceil(distance(a, b) / BALLS));
      for (let k = piece === 0 ? 0 : 1; k <= count; k++) this.#ballRows(line, piece, k / count, obstacles, below);
    }
  }

  #ballRows(line: Line, piece: number, t: number, obstacles: readonly Obstacle[], below: number): void {
    const at = between(line[piece] as Point<'ear'>, line[piece + 1] as Point<'ear'>, t);
    const { near } = this.#room.field;
    const d = this.#room.exactDistance(at[0], at[1], at[2]);
    if (d - this.#radius < below) {
      const place = near.query(at[0], at[1], at[2], placeNear(this.#room.field, at[0], at[1], at[2]), Infinity);
      near.distance2(place, at[0], at[1], at[2]);
      const q = pt<'ear'>(near.qx, near.qy, near.qz);
      const l = d < 0 ? -distance(at, q) : distance(at, q);
      if (Math.abs(l) > 1e-9) this.#add(line, piece, t, d - this.#radius, (at[0] - q[0]) / l, (at[1] - q[1]) / l, (at[2] - q[2]) / l);
      if (d > 0) this.#seen.push({ piece, t, q });
    }
    for (const b of this.#room.borders) {
      const has = b.offset - dot(b.normal, at) - this.#radius;
      if (b.name === 'upper' && has < below) this.#add(line, piece, t, has, -b.normal[0], -b.normal[1], -b.normal[2]);
    }
    this.#ball.frame.set(at, 9);
    for (const { solids, asked } of obstacles) {
      for (let j = 0; j < solids.count; j++) {
        const gap = asked[j] as number;
        const has = pairGap(this.#ball, 0, solids, j, below + gap) - gap;
        if (has < below) this.#add(line, piece, t, has, axis[0] as number, axis[1] as number, axis[2] as number);
      }
    }
  }

  /** A surface point that was the nearest before: it may be again. */
  #wallRow(line: Line, piece: number, t: number, q: Point<'ear'>, below: number): void {
    const at = between(line[piece] as Point<'ear'>, line[piece + 1] as Point<'ear'>, t);
    const d = distance(at, q);
    if (d - this.#radius >= below || d < 1e-9) return;
    this.#add(line, piece, t, d - this.#radius, (at[0] - q[0]) / d, (at[1] - q[1]) / d, (at[2] - q[2]) / d);
  }

  /** A row for a ball at t of a piece, whose motion along (x, y, z) counts: shared by the piece's two corners. */
  #add(line: Line, piece: number, t: number, value: number, x: number, y: number, z: number): void {
    const n = 3 * line.length;
    const o = this.#rows.length;
    for (let k = 0; k < n; k++) this.#rows.push(0);
    for (const [corner, share] of [
      [piece, 1 - t],
      [piece + 1, t],
    ] as const) {
      const normal = corner === 0 ? this.#ends[0] : corner === line.length - 1 ? this.#ends[1] : undefined;
      const off = normal ? normal[0] * x + normal[1] * y + normal[2] * z : 0;
      this.#rows[o + 3 * corner] = share * (x - off * (normal?.[0] ?? 0));
      this.#rows[o + 3 * corner + 1] = share * (y - off * (normal?.[1] ?? 0));
      this.#rows[o + 3 * corner + 2] = share * (z - off * (normal?.[2] ?? 0));
    }
    this.#values.push(value);
  }
}
