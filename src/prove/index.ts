/**
 * Upper limits on the spare of any arrangement, proved: if one part alone (or two at the faceplate) cannot be posed with
 * more than c mm to spare, no arrangement of the kit has more than c. Every limit is rigorous: parts are replaced by points of theirs, the cast
 * by exact distances to its triangles, and cells of poses by what no pose in them can exceed.
 */
import { quatBetween, rotate } from '../geometry/rotation.ts';
import { acos, atan2 } from '../geometry/trig.ts';
import { distance, dot, length, type Point, pt } from '../geometry/vec.ts';
import type { Body, Ceiling } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import { type Asked, CellBounder } from './bound.ts';
import { type PairAnswer, type PairLimits, PoseTree, provePair } from './pair.ts';
import { halfTurns, hullOf, isRound, pointsOf } from './points.ts';
import { boundBySteps, boundSingle, type SingleBound } from './search.ts';
import { type Cell, FreeSpace, HALF_TURN, SeatedSpace, type Seatplane, type Span, seatplane, type TipSeat, WHOLE_TURN } from './space.ts';
import { WallOracle } from './wall.ts';

export interface ProveOptions {
  /** Cells of poses for a part seated at the faceplate (3 degrees of freedom). */
  readonly seatedCells?: number;
  /** Cells of poses for any other part (6 degrees of freedom). */
  readonly freeCells?: number;
  /** How near a ceiling should come to the best pose, mm. */
  readonly close?: number;
  /**
   * seated (default): parts at the faceplate, each alone: some hundredths of a second.
   * rest: every other part alone, then pairs at the faceplate: up to a second or two, so ask for it only after a search
   * has found nothing good enough. all: both.
   */
  readonly depth?: 'seated' | 'rest' | 'all';
}

/** Poses that take a part's reference point farther than this past the body are not searched: they lack more. */
const MARGIN = 2;
/** Taken off no bound, added to every ceiling: the sum of all rounding, mm. */
const SLACK = 1e-6;

/** Points round a rim of a part with 6 degrees of freedom: fewer, as its cells are many. */
const FREE_RIM = 8;

/** How far below the tolerance a part with 6 degrees of freedom is tried, mm. */
const FREE_STEPS = [1e-3, 0.1, 0.3, 0.6] as const;
/** How far below the tolerance a pair is tried, mm, and at what cost; the first decides the verdict. */
const PAIR_STEPS: readonly (readonly [number, PairLimits])[] = [
  [1e-3, { steps: 300_000, cones: 30_000 }],
  [0.1, { steps: 20_000, cones: 3000 }],
  [0.2, { steps: 20_000, cones: 3000 }],
  [0.4, { steps: 20_000, cones: 3000 }],
];

const NOTHING: Ceiling = { ceiling: Infinity, parts: [], text: 'nothing is proved' };

/**
 * A rigorous upper bound on the spare of any arrangement of `kit` in `body` (ear frame, mm), from single parts and pairs;
 * ceiling +Infinity when none lies below -tolerance. Stops at the first proof. Deterministic: stops by counts.
 */
export function boundSpare(body: Body, rules: Rules, kit: Kit, options: ProveOptions = {}): Ceiling {
  const prover = new Prover(body, rules, options);
  const depth = options.depth ?? 'seated';
  for (const part of inOrder(kit)) {
    if (depth !== 'all' && (depth === 'seated') !== (part.seat.at === 'faceplate')) continue;
    const bound = prover.single(part);
    if (bound && bound.ceiling + SLACK < -rules.tolerance) return ceilingOf(part, bound.ceiling + SLACK, prover.asked(part).wall);
  }
  return depth === 'seated' ? NOTHING : seatedPairs(prover, rules, kit);
}

/** The first two parts at the faceplate that cannot both be there, and by how much as far as that is cheap to tell. */
function seatedPairs(prover: Prover, rules: Rules, kit: Kit): Ceiling {
  const seated = inOrder(kit).filter((p) => p.seat.at === 'faceplate');
  for (const [i, a] of seated.entries()) {
    for (const b of seated.slice(i + 1)) {
      let proved: number | undefined;
      for (const [step, limits] of PAIR_STEPS) {
        const target = -rules.tolerance - step;
        if (prover.pair(a, b, target, limits) !== 'proved') break;
        proved = target;
      }
      if (proved === undefined) continue;
      const text = `${a.name} and ${b.name} cannot both be seated at the faceplate: wherever they slide and turn, they lack at least ${(-proved).toFixed(2)} mm between each other or to the outside of the shell`;
      return { ceiling: proved, parts: [a.id, b.id], text };
    }
  }
  return NOTHING;
}

/** Seated parts first, larger ones first: what decides most often and costs least. */
function inOrder(kit: Kit): Part[] {
  const size = (p: Part): number => p.primitives.reduce((v, s) => v + (s.kind === 'solid' ? s.size[0] * s.size[1] * s.size[2] : 0), 0);
  const rank = (p: Part): number => (p.seat.at === 'faceplate' ? 0 : 1);
  return [...kit.parts].sort((a, b) => rank(a) - rank(b) || size(b) - size(a));
}

function ceilingOf(part: Part, ceiling: number, asked: number): Ceiling {
  const where =
    part.seat.at === 'faceplate'
      ? 'wherever it slides under the faceplate and however it is turned there'
      : part.seat.at === 'tip'
        ? 'wherever it points out of the tip within its reach and cone'
        : 'wherever it lies and however it is turned';
  const text = `${part.name} alone cannot be placed: ${where}, some point of it is at least ${(-ceiling).toFixed(2)} mm short of the ${asked.toFixed(2)} mm asked to the outside of the shell`;
  return { ceiling, parts: [part.id], text };
}

/** One body, one set of rules: measures of the cast are shared between parts. */
export class Prover {
  readonly #body: Body;
  readonly #rules: Rules;
  readonly #options: { readonly seatedCells: number; readonly freeCells: number; readonly close: number };
  readonly #oracle: WallOracle;

  constructor(body: Body, rules: Rules, options: ProveOptions = {}) {
    this.#body = body;
    this.#rules = rules;
    this.#options = { seatedCells: 3000, freeCells: 60_000, close: 0.02, ...options };
    this.#oracle = new WallOracle(body);
  }

  /** Places of the cast measured so far. */
  get measured(): number {
    return this.#oracle.measured;
  }

  asked(part: Part): Asked {
    const { wall, gap, faceplate } = this.#rules;
    const planes = this.#body.cuts
      .filter((c) => c.name !== 'outer' || part.seat.at !== 'faceplate')
      .map((c) => ({ plane: c.plane, asked: (c.name === 'outer' ? faceplate : wall) + gap + part.margin }));
    return { wall: wall + gap + part.margin, planes };
  }

  /** The bound of one part alone; undefined when it has nothing to go by. */
  single(part: Part): SingleBound | undefined {
    return part.seat.at === 'faceplate' ? this.#seated(part) : this.#free(part);
  }

  /** Cells and bounds of a part seated at the faceplate; undefined when it has nothing to go by. */
  #seatedSpot(part: Part): Spot | undefined {
    const outer = this.#body.cuts.find((c) => c.name === 'outer')?.plane;
    // What passes the outer cut is not asked to stay inside.
    const points = outer ? below(pointsOf(part), this.#rules.faceplate) : new Float64Array(0);
    if (!outer || points.length === 0) return undefined;
    const plane = seatplane(outer, this.#rules.faceplate);
    const off = farthestOf(points, (x, y) => x * x + y * y) + MARGIN;
    const slide: [Span, Span] = [this.#extent(plane.origin, plane.u, off), this.#extent(plane.origin, plane.v, off)];
    const spin = isRound(part) ? 0 : halfTurns(points)[2] ? HALF_TURN : WHOLE_TURN;
    const asked = this.asked(part);
    const bounder = new CellBounder(new SeatedSpace(plane, slide, spin, points), points, this.#oracle, asked);
    return { bounder, rest: outsideSeated(part, asked), starts: seatedStarts(this.#body, plane, spin) };
  }

  #seated(part: Part): SingleBound | undefined {
    const spot = this.#seatedSpot(part);
    const { seatedCells, close } = this.#options;
    return (
      spot && boundSingle(spot.bounder, { target: -this.#rules.tolerance, close, cells: seatedCells, rest: spot.rest, starts: spot.starts })
    );
  }

  /** Is there no way to seat both with `target` to spare, in the body and between them? */
  pair(a: Part, b: Part, target: number, limits: PairLimits): PairAnswer {
    const [sa, sb] = [this.#seatedSpot(a), this.#seatedSpot(b)];
    if (!sa || !sb || target <= Math.max(sa.rest, sb.rest)) return 'open';
    const [ta, tb] = [new PoseTree(sa.bounder, target, hullOf(a)), new PoseTree(sb.bounder, target, hullOf(b))];
    return provePair(ta, tb, this.#rules.partGap + a.margin + b.margin + target, limits);
  }

  #free(part: Part): SingleBound | undefined {
    const points = pointsOf(part, FREE_RIM);
    if (points.length === 0) return undefined;
    const tip = tipSeat(this.#body, part);
    const around = tip ? tip.reach + Math.sqrt(dot(tip.spout, tip.spout)) : nearestTo(points, (x, y, z) => x * x + y * y + z * z);
    const origin = tip ? tip.at : pt<'ear'>(0, 0, 0);
    const axes = [pt<'ear'>(1, 0, 0), pt<'ear'>(0, 1, 0), pt<'ear'>(0, 0, 1)] as const;
    const span = (k: 0 | 1 | 2): Span => (tip ? [origin[k] - around, origin[k] + around] : this.#extent(origin, axes[k], around));
    const start = tip ? quatBetween([0, 0, 1], tip.tangent) : ([0, 0, 0, 1] as const);
    const space = new FreeSpace([span(0), span(1), span(2)], start, halfTurns(points), points);
    const bounder = new CellBounder(space, points, this.#oracle, this.asked(part));
    const allowed = tip && ((cell: Cell) => allowedAtTip(space, tip, cell));
    const asked = this.asked(part);
    const rest = tip ? -Infinity : -Math.min(asked.wall, ...asked.planes.map((p) => p.asked));
    const { tolerance } = this.#rules;
    const limits = { target: -tolerance, cells: this.#options.freeCells, rest, starts: startsOf(this.#body, tip) };
    return boundBySteps(bounder, limits, FREE_STEPS, allowed);
  }

  /** The body's extent along a direction from a point, widened. */
  #extent(origin: Point<'ear'>, along: Point<'ear'>, by: number): Span {
    const p = this.#body.mesh.positions;
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

/** A part with its cells of poses, what poses outside of them have at most, and poses to begin from. */
interface Spot {
  readonly bounder: CellBounder;
  readonly rest: number;
  readonly starts: readonly Cell[];
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

/** May a cell hold a pose that keeps to reach and cone? 'centre': its middle does. */
function allowedAtTip(space: FreeSpace, tip: TipSeat, cell: Cell): 'none' | 'some' | 'centre' {
  const q = space.quaternion(cell);
  const t = space.turn(cell);
  const s = rotate(q, tip.spout);
  const at = pt<'ear'>((cell.c[0] as number) + s[0], (cell.c[1] as number) + s[1], (cell.c[2] as number) + s[2]);
  const off = distance(at, tip.at);
  const slide = length(pt<'ear'>(cell.h[0] as number, cell.h[1] as number, cell.h[2] as number));
  if (off - slide - Math.min(2 * t, 2) * Math.sqrt(dot(tip.spout, tip.spout)) > tip.reach) return 'none';
  const angle = acos(dot(rotate(q, [0, 0, 1]), tip.tangent));
  if (t < 1e6 && angle - 2 * atan2(t, 1) > tip.cone) return 'none';
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
