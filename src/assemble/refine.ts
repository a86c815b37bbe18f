/**
 * Between two steps of a way the straight motion may cut a corner. Here each step is looked at half-way, and half-way
 * again, until the clearances at both ends vouch for all between; a place that is too near is pushed off and stays as a
 * place of its own.
 */
import { type Pose, pt, type Quat } from '../geometry/vec.ts';
import { poseBetween, travel } from '../verify/between.ts';
import { smallestStep } from './push.ts';
import type { Scene } from './scene.ts';
import { KEEP, type Slopes } from './slopes.ts';

/** The plate rests on the shell's edge: this much of rounding is no touch, mm. */
export const PLATE = 1e-5;
/** Steps shorter than this are left to the verification, mm. */
const SHORT = 0.02;
const PUSHES = 3;
/** How often a step is halved at most. */
const HALVINGS = 7;

/** A place by its seven numbers, with the clearance there and what the plate has, mm (+Infinity without a plate). */
export interface Spot {
  readonly at: Float64Array;
  readonly clear: number;
  readonly plate: number;
}

const poseOf = (at: Float64Array): Pose<'ear'> => ({
  position: pt(at[4] as number, at[5] as number, at[6] as number),
  quaternion: [at[0], at[1], at[2], at[3]] as unknown as Quat,
});

export class Refiner {
  readonly #scene: Scene;
  readonly #slopes: Slopes;
  readonly #u: number;
  readonly #inside: readonly number[];
  readonly #asked: number;

  constructor(scene: Scene, slopes: Slopes, u: number, inside: readonly number[], asked: number) {
    this.#scene = scene;
    this.#slopes = slopes;
    this.#u = u;
    this.#inside = inside;
    this.#asked = asked;
  }

  /** The places with what had to be put between them. Where that does not help they are left as they are. */
  refine(places: readonly Float64Array[]): Spot[] {
    const out: Spot[] = [];
    for (const at of places) {
      const last = out[out.length - 1];
      const spot = this.#spot(at);
      if (last) out.push(...this.#between(last, spot, HALVINGS));
      out.push(spot);
    }
    return out;
  }

  /** Does the straight motion between two places keep what is asked, looked at to `halvings` halvings of it? */
  holds(a: Spot, b: Spot, halvings: number): boolean {
    const from = poseOf(a.at);
    const to = poseOf(b.at);
    if (halvings === 0 || this.#sure(a, b, from, to)) return true;
    const half = poseBetween(from, to, 0.5);
    const middle = this.#spot(Float64Array.of(...half.quaternion, ...half.position));
    return this.#fair(middle) && this.holds(a, middle, halvings - 1) && this.holds(middle, b, halvings - 1);
  }

  /** Is what both ends have enough for all between, or the step too short to matter? */
  #sure(a: Spot, b: Spot, from: Pose<'ear'>, to: Pose<'ear'>): boolean {
    const d = travel(from, to, this.#scene.radius(this.#u));
    if (d < SHORT) return true;
    if (a.clear + b.clear - d < 2 * this.#asked) return false;
    return a.plate + b.plate - travel(from, to, this.#scene.plateReach(this.#u)) >= -2 * PLATE;
  }

  #fair(spot: Spot): boolean {
    return spot.clear >= this.#asked && spot.plate >= -PLATE;
  }

  #spot(at: Float64Array): Spot {
    this.#scene.restore(this.#u, at);
    return { at, clear: this.#scene.exact(this.#u, this.#inside), plate: this.#scene.plateClearance(this.#u, this.#inside) };
  }

  /** What must stand between two places. */
  #between(a: Spot, b: Spot, halvings: number): Spot[] {
    const from = poseOf(a.at);
    const to = poseOf(b.at);
    if (halvings === 0 || this.#sure(a, b, from, to)) return [];
    const half = poseBetween(from, to, 0.5);
    const middle = this.#spot(Float64Array.of(...half.quaternion, ...half.position));
    const pushed = this.#fair(middle) ? undefined : this.#pushed();
    const m = pushed ?? middle;
    return [...this.#between(a, m, halvings - 1), ...(pushed ? [pushed] : []), ...this.#between(m, b, halvings - 1)];
  }

  /** Where the unit stands, pushed off what it comes near; undefined where that does not bring the clearance asked. */
  #pushed(): Spot | undefined {
    const step = new Float64Array(6);
    for (let k = 0; k < PUSHES; k++) {
      this.#slopes.measure(this.#u, this.#inside, KEEP, true);
      smallestStep(this.#slopes.rows, KEEP / 2, NO_DRIVE, 0, 1, step);
      this.#scene.move(this.#u, step);
      const spot = this.#spot(this.#scene.save(this.#u));
      if (this.#fair(spot)) return spot;
    }
    return undefined;
  }
}

const NO_DRIVE = new Float64Array(6);
