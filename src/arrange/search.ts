/**
 * The search for the arrangement with the greatest spare.
 *
 * Each part alone first: its own best spare bounds the whole. Then rounds, each for one wished spare: pools of poses that
 * suit each part alone, combinations of them, relaxation of all parts together, and exact climbing of the promising
 * ones. Where the wish was met it rises, where it was not it falls, until the best found and the least wish refused meet;
 * last, parts of the best arrangement are drawn anew, as long as that helps.
 */
import { type Random, seeded } from '../geometry/random.ts';
import type { Solids } from '../room/convex.ts';
import { Combiner } from './combine.ts';
import { drawPose, type Sites, sitesOf } from './draw.ts';
import { Exact } from './exact.ts';
import { FREE, type Model, type PartModel } from './model.ts';
import { Polisher, type PolishLimits } from './polish.ts';
import { type Ground, Pool, type Pose7, printDistance, printOf } from './pool.ts';
import { Relaxer } from './relax.ts';
import { movePart, newState, newWorld, placeAll, placePart, STRIDE, type State, type World } from './state.ts';

/** How hard to try: counts only. */
export interface Budget {
  /** Draws for each part alone, and how many of its best are climbed. */
  readonly aloneDraws: number;
  readonly aloneClimbs: number;
  /** Draws a pool in a round, and its greatest size. */
  readonly draws: number;
  readonly pool: number;
  /** Most rounds; starts and climbs in one. */
  readonly rounds: number;
  readonly starts: number;
  readonly climbs: number;
  /** Redraws around the best without gain before giving up. */
  readonly redraws: number;
  /** Shakes of the best at the end. */
  readonly shakes: number;
}

export interface Hooks {
  readonly enough: number;
  readonly onBest: (state: State, spare: number) => void;
  readonly shouldStop: () => boolean;
}

/** A wish is met within this, mm. */
const MET = 0.004;
/** Best found and least wish refused this near: done, mm. */
const CLOSED = 0.03;
/** What the samples value so much below the best known is not climbed: they are never so far off, mm. */
const HOPELESS = 0.25;
/** A bound below this says that the kit is far from fitting, mm. */
const FAR_SHORT = -0.4;
const fewer = (b: Budget): Budget => ({
  ...b,
  rounds: Math.min(2, b.rounds),
  starts: Math.ceil(b.starts / 3),
  climbs: Math.ceil(b.climbs / 4),
  redraws: Math.ceil(b.redraws / 6),
  shakes: Math.ceil(b.shakes / 6),
});
/** Times that a part alone is drawn again for a wish just above its best. */
const SNUG = 4;
/** A part that may be anywhere needs so many times the poses of one that sits somewhere. */
const FREE_SHARE = 3;
/** Poses of its pool, and fresh ones, that a part is tried at when it is placed anew beside the others. */
const FROM_POOL = 6;
const FRESH = 24;
/** How far a shake moves a part along each axis at most, mm. */
const SHAKE = 0.3;
/** Arrangements alike within this are one basin, mm. */
const ALIKE = 0.35;

interface Candidate {
  readonly state: State;
  readonly least: number;
}

export class Search {
  readonly m: Model;
  #budget: Budget;
  readonly #hooks: Hooks;
  readonly #random: Random;
  readonly #relaxer: Relaxer;
  readonly #exact: Exact;
  readonly #polisher: Polisher;
  readonly #sites: Sites[];
  readonly #state: State;
  readonly #world: World;
  readonly #all: number[];
  readonly #delta = new Float64Array(6);
  /** Each part's best alone: pose and exact spare. */
  readonly alone: { spare: number; state: State }[] = [];
  readonly #climbed: { prints: Float64Array[]; spare: number }[] = [];
  best: { spare: number; state: State } | undefined;
  /** Good arrangements, for the tie-break: climbed ones within reach of the best. */
  readonly good: { spare: number; state: State }[] = [];
  stopped = false;

  constructor(m: Model, seed: number, budget: Budget, hooks: Hooks) {
    this.m = m;
    this.#budget = budget;
    this.#hooks = hooks;
    this.#random = seeded(seed);
    this.#relaxer = new Relaxer(m);
    this.#exact = new Exact(m);
    this.#polisher = new Polisher(m, this.#exact, hooks.shouldStop);
    this.#sites = m.parts.map((_, p) => sitesOf(m, p));
    this.#state = newState(m);
    this.#world = newWorld(m);
    this.#all = m.parts.map((_, p) => p);
  }

  get evaluations(): number {
    return this.#relaxer.evaluations + this.#exact.evaluations;
  }

  run(): void {
    const { enough } = this.#hooks;
    const pools = this.#all.map((p) => (this.m.grown.includes(p) ? this.#grownFor(p) : this.#aloneFor(p)));
    if (this.#stop() || this.m.movable.length === 1) return;
    let high = Math.min(enough, this.#bound());
    // Where one part alone is far from fitting, how far exactly the rest is serves nobody: only something to show.
    if (high < FAR_SHORT) this.#budget = fewer(this.#budget);
    let wished = high;
    for (let round = 0; round < this.#budget.rounds; round++) {
      this.#round(pools, wished, round);
      if (this.#done()) return;
      const found = this.best ? this.best.spare : -Infinity;
      if (found >= Math.min(high, this.#bound()) - MET) break;
      if (found < wished - MET) high = Math.min(high, wished);
      if (high - found < CLOSED) break;
      wished = found === -Infinity ? high - 0.5 : found + (high - found) / 2;
    }
    this.#redraw(pools);
  }

  #bound(): number {
    return this.alone.reduce((least, a) => Math.min(least, a.spare), Infinity);
  }

  #stop(): boolean {
    if (!this.stopped && this.#hooks.shouldStop()) this.stopped = true;
    return this.stopped;
  }

  #done(): boolean {
    return this.#stop() || (this.best !== undefined && this.best.spare >= this.#hooks.enough);
  }

  /** What is grown into the shell stands where it stands. */
  #grownFor(p: number): Pool {
    const pool = new Pool(this.m, p);
    const spare = this.#exact.grown;
    this.alone.push({ spare, state: newState(this.m) });
    pool.offer(newState(this.m), this.#world, spare);
    return pool;
  }

  /** A part and what is grown into the shell, beside which it must stand in any case. */
  #alone(p: number): readonly number[] {
    return [...this.m.grown, p];
  }

  /** One part alone: a pool at the wish that the parts before it leave, and its best poses climbed. */
  #aloneFor(p: number): Pool {
    const pool = new Pool(this.m, p);
    const { aloneDraws, pool: most } = this.#budget;
    const enough = Math.min(this.#hooks.enough, this.#bound());
    const random = this.#random.fork(100 + p);
    const share = (this.m.parts[p] as PartModel).seat === FREE ? FREE_SHARE : 1;
    for (const lack of [0.08, 0.6, Infinity]) {
      pool.grow(random, this.#ground(p), enough, lack, share * aloneDraws, share * most);
      if (pool.poses.length > 0 || this.#stop()) break;
    }
    let best = this.#climbAlone(p, pool, enough, { spare: -Infinity, state: newState(this.m) });
    // A wish far above what there is draws poses towards compromises, past a snug place: wish little more than the best, while that helps.
    for (let again = 0; again < SNUG && best.spare < enough - MET && !this.#stop(); again++) {
      const wished = Math.min(enough, best.spare + 0.05);
      const closer = new Pool(this.m, p);
      closer.grow(random, this.#ground(p), wished, 0.08, share * aloneDraws, share * most);
      const better = this.#climbAlone(p, closer, enough, best);
      const gain = better.spare - best.spare;
      best = better;
      if (gain < MET) break;
    }
    this.alone.push(best);
    if (this.m.movable.length === 1) this.#found(best.state, best.spare);
    return pool;
  }

  /** Climbs the pool's best poses; the best of them and `so far`. */
  #climbAlone(p: number, pool: Pool, enough: number, soFar: { spare: number; state: State }): { spare: number; state: State } {
    let best = soFar;
    const order = pool.poses.map((_, i) => i).sort((a, b) => (pool.poses[b] as Pose7).spare - (pool.poses[a] as Pose7).spare || a - b);
    const starts = order.slice(0, this.#budget.aloneClimbs).map((i) => pool.poses[i] as Pose7);
    for (const pose of starts) {
      if (pose.spare < best.spare - HOPELESS) break;
      this.#state.set(pose.at, STRIDE * p);
      placePart(this.m, this.#state, this.#world, p);
      const spare = this.#polisher.climb(this.#state, this.#world, this.#alone(p), { turns: 40, enough, least: 0.002, first: 0.15 });
      if (spare > best.spare) best = { spare, state: this.#state.slice() };
      pool.offer(this.#state, this.#world, Math.min(spare, enough));
      if (spare >= enough || this.#stop()) break;
    }
    return best;
  }

  #ground(p: number): Ground {
    return { sites: this.#sites[p] as Sites, relaxer: this.#relaxer, state: this.#state, world: this.#world };
  }

  /** Pools for a wish, combinations, relaxations, climbs. */
  #round(pools: Pool[], wished: number, round: number): void {
    const { draws, pool: most, starts, climbs } = this.#budget;
    const random = this.#random.fork(1000 + round);
    for (const p of this.m.movable) {
      if (this.#stop()) return;
      const grown = new Pool(this.m, p);
      for (const source of [(this.alone[p] as { state: State }).state, this.best?.state]) {
        if (source) this.#offerFrom(grown, p, source, wished);
      }
      for (const pose of (pools[p] as Pool).poses) if (pose.spare >= wished - 0.06) grown.poses.push(pose);
      const more = (this.m.parts[p] as PartModel).seat === FREE ? FREE_SHARE : 1;
      grown.grow(random, this.#ground(p), wished, 0.06, more * draws, more * most);
      if (grown.poses.length === 0) this.#offerFrom(grown, p, (this.alone[p] as { state: State }).state, wished);
      pools[p] = grown;
    }
    const combiner = new Combiner(this.m, pools, wished);
    const candidates: Candidate[] = [];
    let left = climbs;
    for (let start = 0; start < starts; start++) {
      if (this.#stop()) return;
      const chosen = combiner.choose(random, 6);
      this.#take(pools, chosen);
      const short = this.#relaxer.relax(this.#state, this.#world, this.#all, this.m.movable, wished, 40);
      const state = this.#state.slice();
      candidates.push({ state, least: this.#relaxer.least });
      if (short === 0 && left > 0) {
        left--;
        this.#climb(state, wished);
        if (this.#done() || (this.best && this.best.spare >= wished - MET)) return;
        candidates.pop();
      }
    }
    candidates.sort((a, b) => b.least - a.least);
    for (const c of candidates) {
      if (left <= 0 || this.#stop()) return;
      if (this.best && c.least < this.best.spare - HOPELESS) return;
      if (!this.#climb(c.state, wished)) continue;
      left--;
      if (this.#done() || (this.best && this.best.spare >= wished - MET)) return;
    }
  }

  #offerFrom(pool: Pool, p: number, source: State, wished: number): void {
    this.#state.set(source.subarray(STRIDE * p, STRIDE * p + STRIDE), STRIDE * p);
    placePart(this.m, this.#state, this.#world, p);
    pool.offer(this.#state, this.#world, Math.min(wished, this.#exact.spare(this.#world, this.#alone(p))));
  }

  #take(pools: readonly Pool[], chosen: readonly number[]): void {
    for (const p of this.#all) this.#state.set(((pools[p] as Pool).poses[chosen[p] as number] as Pose7).at, STRIDE * p);
    placeAll(this.m, this.#state, this.#world);
  }

  /** Climbs an arrangement unless one like it has been climbed; false if it was left out. */
  #climb(state: State, wished: number): boolean {
    this.#state.set(state);
    placeAll(this.m, this.#state, this.#world);
    const prints = this.#prints();
    if (this.#climbed.some((c) => alike(c.prints, prints))) return false;
    const limits = { turns: 30, enough: Math.min(this.#hooks.enough, Math.max(wished, 0) + 10), least: 0.004, first: 0.12 };
    const spare = this.#polisher.climb(this.#state, this.#world, this.#all, limits);
    this.#climbed.push({ prints, spare });
    this.#found(this.#state, spare);
    return true;
  }

  #prints(): Float64Array[] {
    return this.m.parts.map((part, p) => printOf(part, this.#world.solids[p] as Solids));
  }

  #found(state: State, spare: number): void {
    if (spare === -Infinity) return;
    const kept = { spare, state: state.slice() };
    this.good.push(kept);
    if (this.best && spare <= this.best.spare) return;
    this.best = kept;
    this.#hooks.onBest(kept.state, spare);
    this.#raiseBounds(kept);
  }

  /** An arrangement that beats what a part was thought to reach alone shows where that part stands better: its bound is climbed anew from there. */
  #raiseBounds(found: { spare: number; state: State }): void {
    for (const p of this.m.movable) {
      const alone = this.alone[p];
      if (!alone || found.spare < alone.spare + MET / 2) continue;
      this.#state.set(found.state);
      placePart(this.m, this.#state, this.#world, p);
      const spare = this.#polisher.climb(this.#state, this.#world, this.#alone(p), {
        turns: 40,
        enough: this.#hooks.enough,
        least: 0.002,
        first: 0.15,
      });
      this.alone[p] = { spare: Math.max(spare, found.spare), state: this.#state.slice() };
    }
  }

  /** Draws one to three parts of the best arrangement anew beside the others, as long as that helps. */
  #redraw(pools: readonly Pool[]): void {
    const n = this.m.movable.length;
    let idle = 0;
    for (let turn = 0; idle < this.#budget.redraws && turn < 6 * this.#budget.redraws; turn++) {
      const best = this.best;
      if (!best || this.#done() || best.spare >= this.#bound() - MET) break;
      const random = this.#random.fork(5000 + turn);
      const wished = best.spare + 0.05;
      this.#state.set(best.state);
      placeAll(this.m, this.#state, this.#world);
      const some = this.#someParts(random, Math.min(n, 1 + (turn % 3)), turn % 2 === 0);
      for (const p of some) this.#redrawPart(p, pools[p] as Pool, random, wished, some);
      this.#relaxer.relax(this.#state, this.#world, this.#all, this.m.movable, wished, 40);
      idle++;
      if (this.#relaxer.least < best.spare - 0.1) continue;
      if (!this.#climb(this.#state.slice(), wished)) continue;
      if ((this.best as { spare: number }).spare > best.spare + 0.003) idle = 0;
    }
    this.#finish();
  }

  /** Different parts by chance; with `tight`, one of those that limit the best arrangement among them. */
  #someParts(random: Random, count: number, tight: boolean): number[] {
    const left = [...this.m.movable];
    const out: number[] = [];
    if (tight) {
      this.#exact.spare(this.#world, this.#all);
      const { part, other } = this.#exact.tightest;
      const first = other >= 0 && random.below(2) === 1 ? other : part;
      const at = left.indexOf(first);
      if (at >= 0) out.push(left.splice(at, 1)[0] as number);
    }
    while (out.length < count) out.push(left.splice(random.below(left.length), 1)[0] as number);
    return out;
  }

  /** The least bad of some poses, of the part's pool and drawn anew, beside the other parts as they stand. */
  #redrawPart(p: number, pool: Pool, random: Random, wished: number, free: readonly number[]): void {
    const play = this.#all.filter((q) => q === p || !free.includes(q) || free.indexOf(q) < free.indexOf(p));
    let bestShort = Infinity;
    let bestPose: Float64Array | undefined;
    for (let k = 0; k < FROM_POOL + FRESH && bestShort > 0; k++) {
      if (k < FROM_POOL && pool.poses.length > 0) this.#state.set((pool.poses[random.below(pool.poses.length)] as Pose7).at, STRIDE * p);
      else drawPose(this.m, p, this.#sites[p] as Sites, random, this.#state);
      placePart(this.m, this.#state, this.#world, p);
      const short = this.#relaxer.relax(this.#state, this.#world, play, [p], wished, 8);
      if (short >= bestShort) continue;
      bestShort = short;
      bestPose = this.#state.slice(STRIDE * p, STRIDE * p + STRIDE);
    }
    if (bestPose) this.#state.set(bestPose, STRIDE * p);
    placePart(this.m, this.#state, this.#world, p);
  }

  /**
   * The top has many small summits, some hundredths of a millimetre apart in spare: short shakes of the best find the
   * better ones; then the last climb, to the end.
   */
  #finish(): void {
    const m = this.m;
    for (let k = 0; k < this.#budget.shakes; k++) {
      const best = this.best;
      if (!best || this.#done() || best.spare >= this.#bound() - MET) break;
      const random = this.#random.fork(9000 + k);
      this.#state.set(best.state);
      const size = SHAKE / (1 + (k % 3));
      for (const p of this.m.movable) {
        for (let c = 0; c < 6; c++) this.#delta[c] = size * random.between(-1, 1);
        movePart(m, this.#state, p, this.#delta, 0);
      }
      placeAll(m, this.#state, this.#world);
      this.#found(this.#state, this.#polisher.climb(this.#state, this.#world, this.#all, this.#limits(0.12, 0.002)));
    }
    if (!this.best || this.#done()) return;
    this.#state.set(this.best.state);
    placeAll(m, this.#state, this.#world);
    this.#found(this.#state, this.#polisher.climb(this.#state, this.#world, this.#all, this.#limits(0.05, 0.0005)));
  }

  #limits(first: number, least: number): PolishLimits {
    return { turns: 60, enough: this.#hooks.enough, least, first };
  }
}

const alike = (a: readonly Float64Array[], b: readonly Float64Array[]): boolean =>
  a.every((x, k) => printDistance(x, b[k] as Float64Array) < ALIKE);
