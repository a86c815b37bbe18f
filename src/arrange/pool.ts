/**
 * Pools: for each part a set of different poses that suit it alone. What decides the search for many parts is whether
 * each pool holds a pose in the right basin, so draws are relaxed before they are judged (unrelaxed, one draw in
 * hundreds is any good), and near-duplicates are dropped.
 */
import type { Random } from '../geometry/random.ts';
import type { Solids } from '../room/convex.ts';
import { drawPose, type Sites } from './draw.ts';
import type { Model, PartModel } from './model.ts';
import type { Relaxer } from './relax.ts';
import { sampledWall } from './sampling.ts';
import { placePart, STRIDE, type State, solidsLike, type World } from './state.ts';

/** One pose of one part: seven numbers, its primitives there, and how good it is alone. */
export interface Pose7 {
  readonly at: Float64Array;
  readonly solids: Solids;
  /** Spare alone by the samples' measure, at most the wished one. */
  readonly spare: number;
  readonly print: Float64Array;
}

/** Draws less deep in the wall than this are worth relaxing, mm; where few are, the best few are taken all the same. */
const DEEPEST = 2.2;
const BEST_FEW = 0.2;
/** Two poses whose prints differ by less than this are one, mm. */
const SAME = 0.45;

/** What growing a pool works with. */
export interface Ground {
  readonly sites: Sites;
  readonly relaxer: Relaxer;
  readonly state: State;
  readonly world: World;
}

export class Pool {
  readonly poses: Pose7[] = [];
  readonly #m: Model;
  readonly #p: number;

  constructor(m: Model, p: number) {
    this.#m = m;
    this.#p = p;
  }

  /** Draws `draws` poses, relaxes the promising ones for a wished spare and keeps different ones that fall short by at most `lack`. */
  grow(random: Random, on: Ground, wished: number, lack: number, draws: number, most: number): void {
    const m = this.#m;
    const p = this.#p;
    const { state: s, world: w } = on;
    const part = m.parts[p] as PartModel;
    const drawn: { at: Float64Array; depth: number }[] = [];
    for (let k = 0; k < draws; k++) {
      drawPose(m, p, on.sites, random, s);
      placePart(m, s, w, p);
      drawn.push({ at: s.slice(STRIDE * p, STRIDE * p + STRIDE), depth: sampledWall(m, part.coarse, w.frame, 12 * p) });
    }
    const ranked = drawn.map((d) => d.depth).sort((a, b) => b - a);
    const least = Math.min(wished - DEEPEST, ranked[Math.floor(BEST_FEW * draws)] ?? -Infinity);
    // In the order drawn, not by depth: a pool wants variety, and the roomiest poses are much alike.
    for (const { at, depth } of drawn) {
      if (depth < least) continue;
      if (this.poses.length >= most) break;
      s.set(at, STRIDE * p);
      placePart(m, s, w, p);
      on.relaxer.relax(s, w, [...m.grown, p], [p], wished, depth < wished - DEEPEST ? 30 : 12);
      if (on.relaxer.least >= wished - lack) this.offer(s, w, on.relaxer.least);
    }
  }

  /** Adds the part's pose in the state unless a like one is there; a better one takes the place of a like one. */
  offer(s: State, w: World, spare: number): void {
    const print = printOf(this.#m.parts[this.#p] as PartModel, w.solids[this.#p] as Solids);
    const like = this.poses.findIndex((q) => printDistance(q.print, print) < SAME);
    if (like >= 0 && (this.poses[like] as Pose7).spare >= spare) return;
    const solids = solidsLike(this.#m.parts[this.#p] as PartModel);
    solids.frame.set((w.solids[this.#p] as Solids).frame);
    const pose: Pose7 = { at: s.slice(STRIDE * this.#p, STRIDE * this.#p + STRIDE), solids, spare, print };
    if (like >= 0) this.poses[like] = pose;
    else this.poses.push(pose);
  }
}

/**
 * What a part's pose looks like, whatever symmetry it has: of each primitive its centre, and its axes as the matrix
 * R diag(size) R' (the same for a box turned half round, and for a cylinder spun about its axis), mm.
 */
export function printOf(part: PartModel, s: Solids): Float64Array {
  const out = new Float64Array(9 * s.count);
  for (let i = 0; i < s.count; i++) {
    const f = s.frame;
    const o = 12 * i;
    for (let k = 0; k < 3; k++) out[9 * i + k] = f[o + 9 + k] as number;
    const h = part.local.half;
    const a = h[3 * i] as number;
    const b = h[3 * i + 1] as number;
    const c = h[3 * i + 2] as number;
    let n = 9 * i + 3;
    for (let r = 0; r < 3; r++) {
      for (let q = r; q < 3; q++) {
        out[n++] =
          a * (f[o + 3 * r] as number) * (f[o + 3 * q] as number) +
          b * (f[o + 3 * r + 1] as number) * (f[o + 3 * q + 1] as number) +
          c * (f[o + 3 * r + 2] as number) * (f[o + 3 * q + 2] as number);
      }
    }
  }
  return out;
}

/** Greatest difference of any primitive's centre or axes, mm. */
export function printDistance(a: Float64Array, b: Float64Array): number {
  let most = 0;
  for (let i = 0; i < a.length; i += 9) {
    let shift = 0;
    for (let k = 0; k < 3; k++) shift += ((a[i + k] as number) - (b[i + k] as number)) ** 2;
    let turn = 0;
    for (let k = 3; k < 9; k++) turn += ((a[i + k] as number) - (b[i + k] as number)) ** 2;
    most = Math.max(most, shift, turn);
  }
  return Math.sqrt(most);
}
