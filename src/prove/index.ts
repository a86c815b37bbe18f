/**
 * Upper limits on the spare of any arrangement, proved: if one part alone (or two at the faceplate) cannot be posed with
 * more than c mm to spare, no arrangement of the kit has more than c. Every limit is rigorous: parts are replaced by points of theirs, the cast
 * by exact distances to its triangles, and cells of poses by what no pose in them can exceed.
 */
import { quatBetween, rotate } from '../geometry/rotation.ts';
import { acos, atan2 } from '../geometry/trig.ts';
import { distance, dot, type Point, pt } from '../geometry/vec.ts';
import type { Body, Ceiling } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import { type Asked, CellBounder } from './bound.ts';
import { type PairAnswer, type PairLimits, PoseTree, provePair } from './pair.ts';
import { halfTurns, hullOf, isRound, pointsOf } from './points.ts';
import { boundSingle, type SingleBound } from './search.ts';
import { type Cell, FreeSpace, HALF_TURN, SeatedSpace, type Span, seatplane, type TipSeat, WHOLE_TURN } from './space.ts';
import { WallOracle } from './wall.ts';

export interface ProveOptions {
  /** Cells of poses for a part seated at the faceplate (3 degrees of freedom). */
  readonly seatedCells?: number;
  /** Cells of poses for any other part (6 degrees of freedom). */
  readonly freeCells?: number;
  /** How near a ceiling should come to the best pose, mm. */
  readonly close?: number;
  /** Single parts: on unless set to false. */
  readonly singles?: boolean;
  /**
   * Pairs of parts at the faceplate: off unless set. They cost some tenths of a second where the pair has a place, so ask
   * for them only after a search has found nothing good enough.
   */
  readonly pairs?: boolean;
}

/** Poses that take a part's reference point farther than this past the body are not searched: they lack more. */
const MARGIN = 2;
/** Taken off no bound, added to every ceiling: the sum of all rounding, mm. */
const SLACK = 1e-6;

/** Points round a rim of a part with 6 degrees of freedom: fewer, as its cells are many. */
const FREE_RIM = 8;

/** How far below the tolerance a pair is tried, mm, and at what cost; the first decides the verdict. */
const PAIR_STEPS: readonly (readonly [number, PairLimits])[] = [
  [1e-3, { steps: 300_000, cones: 30_000 }],
  [0.1, { steps: 20_000, cones: 3000 }],
  [0.2, { steps: 20_000, cones: 3000 }],
  [0.4, { steps: 20_000, cones: 3000 }],
];

const NOTHING: Ceiling = { ceiling: Infinity, parts: [], text: 'nothing is proved' };

/**
 * A rigorous upper bound on the spare of any arrangement of `kit` in `body` (ear frame, mm), from single parts and, if asked
 * for, pairs; ceiling +Infinity when none lies below -tolerance. Stops at the first proof. Deterministic: stops by counts.
 */
export function boundSpare(body: Body, rules: Rules, kit: Kit, options: ProveOptions = {}): Ceiling {
  const prover = new Prover(body, rules, options);
  for (const part of options.singles === false ? [] : inOrder(kit)) {
    const bound = prover.single(part);
    if (bound && bound.ceiling + SLACK < -rules.tolerance) return ceilingOf(part, bound.ceiling + SLACK, prover.asked(part).wall);
  }
  return options.pairs ? seatedPairs(prover, rules, kit) : NOTHING;
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
  const text = `${part.name} alone cannot be placed: ${where}, some point of it lacks at least ${(-ceiling).toFixed(2)} mm of the ${asked.toFixed(2)} mm asked to the outside of the shell`;
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
    this.#options = { seatedCells: 3000, freeCells: 1000, close: 0.02, ...options };
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
  #seatedBounder(part: Part): CellBounder | undefined {
    const outer = this.#body.cuts.find((c) => c.name === 'outer')?.plane;
    // What passes the outer cut is not asked to stay inside.
    const points = outer ? below(pointsOf(part), this.#rules.faceplate) : new Float64Array(0);
    if (!outer || points.length === 0) return undefined;
    const plane = seatplane(outer, this.#rules.faceplate);
    const off = nearestTo(points, (x, y) => x * x + y * y) + MARGIN;
    const slide: [Span, Span] = [this.#extent(plane.origin, plane.u, off), this.#extent(plane.origin, plane.v, off)];
    const spin = isRound(part) ? 0 : halfTurns(points)[2] ? HALF_TURN : WHOLE_TURN;
    return new CellBounder(new SeatedSpace(plane, slide, spin, points), points, this.#oracle, this.asked(part));
  }

  #seated(part: Part): SingleBound | undefined {
    const bounder = this.#seatedBounder(part);
    return bounder && boundSingle(bounder, { ...this.#limits(part, -MARGIN), cells: this.#options.seatedCells, starts: [] });
  }

  /** Is there no way to seat both with `target` to spare, in the body and between them? */
  pair(a: Part, b: Part, target: number, limits: PairLimits): PairAnswer {
    const tree = (part: Part): PoseTree | undefined => {
      const bounder = this.#seatedBounder(part);
      return bounder && new PoseTree(bounder, target, hullOf(part));
    };
    const [ta, tb] = [tree(a), tree(b)];
    if (!ta || !tb || target <= -MARGIN) return 'open';
    return provePair(ta, tb, this.#rules.partGap + a.margin + b.margin + target, limits);
  }

  #limits(part: Part, outside: number): { target: number; close: number; rest: number } {
    return { target: -this.#rules.tolerance, close: this.#options.close, rest: outside - this.asked(part).wall };
  }

  #free(part: Part): SingleBound | undefined {
    const points = pointsOf(part, FREE_RIM);
    if (points.length === 0) return undefined;
    const tip = tipSeat(this.#body, part);
    const around = tip ? tip.reach + Math.sqrt(dot(tip.spout, tip.spout)) : nearestTo(points, (x, y, z) => x * x + y * y + z * z) + MARGIN;
    const origin = tip ? tip.at : pt<'ear'>(0, 0, 0);
    const axes = [pt<'ear'>(1, 0, 0), pt<'ear'>(0, 1, 0), pt<'ear'>(0, 0, 1)] as const;
    const span = (k: 0 | 1 | 2): Span => (tip ? [origin[k] - around, origin[k] + around] : this.#extent(origin, axes[k], around));
    const start = tip ? quatBetween([0, 0, 1], tip.tangent) : ([0, 0, 0, 1] as const);
    const space = new FreeSpace([span(0), span(1), span(2)], start, halfTurns(points), points);
    const bounder = new CellBounder(space, points, this.#oracle, this.asked(part));
    const allowed = tip && ((cell: Cell) => allowedAtTip(space, tip, cell));
    const starts = startsOf(this.#body, tip);
    return boundSingle(bounder, { ...this.#limits(part, tip ? -Infinity : -MARGIN), cells: this.#options.freeCells, starts }, allowed);
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
  const slide = Math.sqrt((cell.h[0] as number) ** 2 + (cell.h[1] as number) ** 2 + (cell.h[2] as number) ** 2);
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

function nearestTo(points: Float64Array, measure: (x: number, y: number, z: number) => number): number {
  let least = Infinity;
  for (let i = 0; i < points.length; i += 3)
    least = Math.min(least, measure(points[i] as number, points[i + 1] as number, points[i + 2] as number));
  return Math.sqrt(least);
}
