/** Where each kind of part may be: its cells of poses with their bounds, what poses outside of them have, and poses to begin from. */
import { quatBetween, rotate } from '../geometry/rotation.ts';
import { acos, atan2 } from '../geometry/trig.ts';
import { distance, dot, length, type Point, pt } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Part, Rules } from '../model/parts.ts';
import { type Asked, CellBounder } from './bound.ts';
import { halfTurns, isRound, pointsOf } from './points.ts';
import {
  type Allowed,
  type Cell,
  FreeSpace,
  HALF_TURN,
  SeatedSpace,
  type Seatplane,
  type Span,
  seatplane,
  type TipSeat,
  WHOLE_TURN,
} from './space.ts';
import type { WallOracle } from './wall.ts';

/** Poses that take a part's reference point farther than this past the body are not searched: they lack more. */
const MARGIN = 2;
/** Points round a rim of a part with 6 degrees of freedom: fewer, as its cells are many. */
const FREE_RIM = 8;

/** A part with its cells of poses, what poses outside of them have at most, and poses to begin from. */
export interface Spot {
  readonly bounder: CellBounder;
  readonly rest: number;
  readonly starts: readonly Cell[];
  readonly allowed?: Allowed;
  /** Why no pose of a cell keeps to the tip seat; undefined where one may. */
  readonly unseated?: (cell: Cell) => 'reach' | 'cone' | undefined;
}

/** What a part is asked by the body's surface and cuts. */
export function askedOf(body: Body, rules: Rules, part: Part): Asked {
  const { wall, gap, faceplate } = rules;
  const planes = body.cuts
    .filter((c) => c.name !== 'outer' || part.seat.at !== 'faceplate')
    .map((c) => ({ plane: c.plane, asked: (c.name === 'outer' ? faceplate : wall) + gap + part.margin }));
  return { wall: wall + gap + part.margin, planes };
}

/** Undefined when there is nothing to go by. */
export const spotOf = (body: Body, rules: Rules, oracle: WallOracle, part: Part): Spot | undefined =>
  part.seat.at === 'faceplate' ? seatedSpot(body, rules, oracle, part) : freeSpot(body, rules, oracle, part);

function seatedSpot(body: Body, rules: Rules, oracle: WallOracle, part: Part): Spot | undefined {
  const outer = body.cuts.find((c) => c.name === 'outer')?.plane;
  // What passes the outer cut is not asked to stay inside.
  const points = outer ? below(pointsOf(part), rules.faceplate) : new Float64Array(0);
  if (!outer || points.length === 0) return undefined;
  const plane = seatplane(outer, rules.faceplate);
  const off = farthestOf(points, (x, y) => x * x + y * y) + MARGIN;
  const slide: [Span, Span] = [extent(body, plane.origin, plane.u, off), extent(body, plane.origin, plane.v, off)];
  const spin = isRound(part) ? 0 : halfTurns(points)[2] ? HALF_TURN : WHOLE_TURN;
  const asked = askedOf(body, rules, part);
  const bounder = new CellBounder(new SeatedSpace(plane, slide, spin, points), points, oracle, asked);
  return { bounder, rest: outsideSeated(part, asked), starts: seatedStarts(body, plane, spin) };
}

function freeSpot(body: Body, rules: Rules, oracle: WallOracle, part: Part): Spot | undefined {
  const points = pointsOf(part, FREE_RIM);
  if (points.length === 0) return undefined;
  const tip = tipSeat(body, part);
  const around = tip ? tip.reach + Math.sqrt(dot(tip.spout, tip.spout)) : nearestTo(points, (x, y, z) => x * x + y * y + z * z);
  const origin = tip ? tip.at : pt<'ear'>(0, 0, 0);
  const axes = [pt<'ear'>(1, 0, 0), pt<'ear'>(0, 1, 0), pt<'ear'>(0, 0, 1)] as const;
  const span = (k: 0 | 1 | 2): Span => (tip ? [origin[k] - around, origin[k] + around] : extent(body, origin, axes[k], around));
  const start = tip ? quatBetween([0, 0, 1], tip.tangent) : ([0, 0, 0, 1] as const);
  const space = new FreeSpace([span(0), span(1), span(2)], start, symmetryOf(part, points), points);
  const asked = askedOf(body, rules, part);
  const bounder = new CellBounder(space, points, oracle, asked);
  const rest = tip ? -Infinity : -Math.min(asked.wall, ...asked.planes.map((p) => p.asked));
  const allowed = tip && ((cell: Cell) => allowedAtTip(space, tip, cell));
  const unseated = tip && ((cell: Cell) => unseatedBy(seatedAtTip(space, tip, cell)));
  return { bounder, rest, starts: startsOf(body, tip), ...(allowed ? { allowed } : {}), ...(unseated ? { unseated } : {}) };
}

const unseatedBy = (seated: ReturnType<typeof seatedAtTip>): 'reach' | 'cone' | undefined =>
  seated === 'reach' || seated === 'cone' ? seated : undefined;

/** The body's extent along a direction from a point, widened. */
function extent(body: Body, origin: Point<'ear'>, along: Point<'ear'>, by: number): Span {
  const p = body.mesh.positions;
  let lo = Infinity;
  let hi = -Infinity;
  for (let i = 0; i < p.length; i += 3) {
    const s =
      along[0] * ((p[i] as number) - origin[0]) +
      along[1] * ((p[i + 1] as number) - origin[1]) +
      along[2] * ((p[i + 2] as number) - origin[2]);
    if (s < lo) lo = s;
    if (s > hi) hi = s;
  }
  return [lo - by, hi + by];
}

function tipSeat(body: Body, part: Part): TipSeat | undefined {
  if (part.seat.at !== 'tip') return undefined;
  const { spout, reach, cone } = part.seat;
  // The seats' own tolerance is 1e-6; a bound must allow a little more than any checker does.
  return {
    spout: pt(...(spout as [number, number, number])),
    at: body.tip.at,
    reach: reach + 1e-5,
    tangent: body.tip.tangent,
    cone: cone + 1e-5,
  };
}

/**
 * The most that a seated part can have where it slides so far that all of it is MARGIN past the body. Points behind all
 * cuts are then outside by that much. If none is, all lie beyond a cut: with one such cut the farthest does by at least the
 * part's least width; with several nothing more can be said than that all that is asked of them is lacking.
 */
function outsideSeated(part: Part, asked: Asked): number {
  const least = Math.min(asked.wall, ...asked.planes.map((p) => p.asked));
  if (asked.planes.length > 1) return -least;
  const solids = part.primitives.filter((p) => p.kind === 'solid');
  const width = Math.max(...solids.map((p) => Math.min(...p.size)));
  // The points of a rim lie a little within it.
  return -Math.min(MARGIN, 0.9 * width) - least;
}

/** Near the middle of what the seat's plane meets, at a few spins. */
function seatedStarts(body: Body, plane: Seatplane, spin: number): Cell[] {
  const p = body.mesh.positions;
  let [a, b, n] = [0, 0, 0];
  for (let i = 0; i < p.length; i += 3) {
    const d = pt<'ear'>((p[i] as number) - plane.origin[0], (p[i + 1] as number) - plane.origin[1], (p[i + 2] as number) - plane.origin[2]);
    if (Math.abs(dot(d, plane.n)) > 3) continue;
    a += dot(d, plane.u);
    b += dot(d, plane.v);
    n++;
  }
  if (n === 0) return [];
  const at = (k: number): Cell => ({ c: Float64Array.of(a / n, b / n, (k * spin) / 4), h: Float64Array.of(0.8, 0.8, spin / 8), base: 0 });
  return [at(0), at(1), at(2), at(3)];
}

/** Poses to begin from: in the middle of the body for a free part; along the canal's direction, spun, for one at the tip. */
function startsOf(body: Body, tip: TipSeat | undefined): Cell[] {
  const h = Float64Array.of(0.8, 0.8, 0.8, 0.2, 0.2, 0.2);
  const from = (p: Point<'ear'>, turn: readonly [number, number, number]): Cell => ({ c: Float64Array.of(...p, ...turn), h, base: 0 });
  const out: Cell[] = [];
  if (!tip) {
    for (const turn of [
      [0, 0, 0],
      [0.9, 0, 0],
      [0, 0.9, 0],
      [0, 0, 0.9],
    ] as const)
      out.push(from(body.seed, turn));
    return out;
  }
  // The spout's own offset is undone, then the part is drawn back along the canal.
  for (const back of [0.3, 0.7, 0.95]) {
    for (const spin of [0, 0.4, 1, -0.4]) {
      const d = tip.spout[2] + back * tip.reach;
      out.push(
        from(pt(...([0, 1, 2].map((k) => (tip.at[k] as number) - d * (tip.tangent[k] as number)) as [number, number, number])), [
          0,
          0,
          spin,
        ]),
      );
    }
  }
  return out;
}

/**
 * Which half turns change nothing. At the tip a pose must also have its spout and its own z axis where the half-turned one has them: else
 * the one would be searched and the other left out.
 */
function symmetryOf(part: Part, points: Float64Array): readonly [boolean, boolean, boolean] {
  const [x, y, z] = halfTurns(points);
  if (part.seat.at !== 'tip') return [x, y, z];
  return [false, false, z && part.seat.spout[0] === 0 && part.seat.spout[1] === 0];
}

/** May a cell hold a pose that keeps to reach and cone? 'centre': its middle does. */
function allowedAtTip(space: FreeSpace, tip: TipSeat, cell: Cell): 'none' | 'some' | 'centre' {
  const seated = seatedAtTip(space, tip, cell);
  return seated === 'reach' || seated === 'cone' ? 'none' : seated;
}

/** The same, with what rules all of it out. */
function seatedAtTip(space: FreeSpace, tip: TipSeat, cell: Cell): 'reach' | 'cone' | 'some' | 'centre' {
  const q = space.quaternion(cell);
  const t = space.turn(cell);
  const s = rotate(q, tip.spout);
  const at = pt<'ear'>((cell.c[0] as number) + s[0], (cell.c[1] as number) + s[1], (cell.c[2] as number) + s[2]);
  const off = distance(at, tip.at);
  const slide = length(pt<'ear'>(cell.h[0] as number, cell.h[1] as number, cell.h[2] as number));
  if (off - slide - Math.min(2 * t, 2) * Math.sqrt(dot(tip.spout, tip.spout)) > tip.reach) return 'reach';
  const angle = acos(dot(rotate(q, [0, 0, 1]), tip.tangent));
  if (t < 1e6 && angle - 2 * atan2(t, 1) > tip.cone) return 'cone';
  return off <= tip.reach && angle <= tip.cone ? 'centre' : 'some';
}

function below(points: Float64Array, z: number): Float64Array {
  const out: number[] = [];
  for (let i = 0; i < points.length; i += 3) {
    if ((points[i + 2] as number) < z) out.push(points[i] as number, points[i + 1] as number, points[i + 2] as number);
  }
  return Float64Array.from(out);
}

function farthestOf(points: Float64Array, measure: (x: number, y: number, z: number) => number): number {
  let most = 0;
  for (let i = 0; i < points.length; i += 3)
    most = Math.max(most, measure(points[i] as number, points[i + 1] as number, points[i + 2] as number));
  return Math.sqrt(most);
}

function nearestTo(points: Float64Array, measure: (x: number, y: number, z: number) => number): number {
  let least = Infinity;
  for (let i = 0; i < points.length; i += 3)
    least = Math.min(least, measure(points[i] as number, points[i + 1] as number, points[i + 2] as number));
  return Math.sqrt(least);
}
