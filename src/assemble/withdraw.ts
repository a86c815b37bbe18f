/**
 * The search for a unit's way out (its way in, backwards): pulled along the centreline in small steps, pushed off what it
 * comes near; where that sticks pulled aslant, then shaken by random twists, the farthest places first. Effort is counted
 * in pulls. Nearly everything that comes out at all comes out at the first pull.
 *
 * What failed: clearances by the field alone near the outer cut (the cast goes on beyond it, the shell does not: in an
 * undercut that hid ways with 0.15 mm to spare); advance judged by the way along the centreline, which jumps off its bends
 * (three of four concha styles then needed dozens of pulls).
 */
import type { Random } from '../geometry/random.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import { add, addScaled, cross, length, normalize, type Point, perpendicular, pt, scale, sub } from '../geometry/vec.ts';
import type { Guide } from './guide.ts';
import { smallestStep, type Twist } from './push.ts';
import { PLATE, Refiner, type Spot } from './refine.ts';
import type { Scene } from './scene.ts';
import { KEEP, Slopes } from './slopes.ts';

/** Longest advance in one step, and the shortest that is still tried, mm. */
const STEP = 0.4;
const SHORTEST = 0.08;
/** Least exact clearance of a step, mm: enough that verifying it does not need countless poses. */
export const LEAST = 0.004;
/** Corrections after an advance. */
const CORRECTIONS = 3;
/** How often a step is halved to look at what is between. */
const LOOKS = 2;
const SQUEEZES = 2;
/** What may lack for a squeeze to be tried, mm. */
const HOPE = 0.1;
/** Advances in a row before a pull is given up as going nowhere. */
const LONGEST_PULL = 400;

/** How a pull goes: by the nose or by the middle, how readily it turns, by how much and to which side it leans from the direction outwards. */
type Manner = readonly [nose: boolean, supple: number, slant: number, turn: number];
/** The first pulls: straight ones, then leaning to eight sides. */
const PLAIN: readonly Manner[] = [
  [false, 1, 0, 0],
  [true, 1, 0, 0],
  [false, 0, 0, 0],
  [false, 0.4, 0, 0],
  ...[0, 4, 2, 6, 1, 5, 3, 7].map((k): Manner => [false, 0.2, 0.6, (k * PI) / 4]),
];

/** A place on the way, and where it was come to from. */
export interface Place extends Spot {
  readonly from: Place | undefined;
  readonly progress: number;
}

/** How much is tried: pulls, and steps in all of them. */
export interface Tries {
  readonly pulls: number;
  readonly steps: number;
}

export interface Withdrawal {
  /** The last place: outside where `out`, else the farthest. */
  readonly last: Place;
  readonly out: boolean;
  /** How many pulls it took. */
  readonly pulls: number;
}

export class Withdrawer {
  readonly #scene: Scene;
  readonly #slopes: Slopes;
  readonly #refiner: Refiner;
  readonly #guide: Guide;
  readonly #unit: number;
  readonly #inside: readonly number[];
  readonly #asked: number;
  readonly #step = new Float64Array(6);
  readonly #drive = new Float64Array(6);
  /** The scene's rows are of where the unit stands. */
  #measured = false;
  #byNose = false;
  /** Steps tried so far. */
  #steps = 0;
  /** Exact clearance, and what the plate has, where the last step that held has led, mm. */
  #clear = 0;
  #plate = Infinity;
  /** How far the last step took along the drive, mm. */
  #made = 0;
  /** How readily the present pull turns, and what is added to the direction outwards. */
  #supple = 1;
  #slant: Point<'ear'> = pt(0, 0, 0);

  constructor(scene: Scene, guide: Guide, unit: number, inside: readonly number[]) {
    this.#scene = scene;
    this.#slopes = new Slopes(scene);
    this.#guide = guide;
    this.#unit = unit;
    this.#inside = inside;
    // A tight arrangement may leave less than is usual: no more can be asked than what there is.
    this.#asked = Math.min(LEAST, scene.exact(unit, inside) - 1e-4);
    this.#refiner = new Refiner(scene, this.#slopes, unit, inside, this.#asked);
  }

  /** Seeks a way out from where the unit stands. */
  seek(random: Random, { pulls, steps }: Tries, shouldStop: () => boolean): Withdrawal {
    this.#clear = this.#scene.exact(this.#unit, this.#inside);
    this.#plate = this.#scene.plateClearance(this.#unit, this.#inside);
    const start = this.#place(undefined);
    const ends: Place[] = [];
    for (let k = 0; k < pulls && this.#steps < steps && !shouldStop(); k++) {
      const manner = PLAIN[k];
      const end = manner ? this.#plainPull(start, manner) : this.#shakenPull(ends, random);
      if (this.#isOut()) return { last: end, out: true, pulls: k + 1 };
      ends.push(end);
      ends.sort((a, b) => b.progress - a.progress);
    }
    const farthest = ends[0] ?? start;
    this.#back(farthest.at);
    return { last: farthest, out: false, pulls: ends.length };
  }

  /** The way to a place, from where the unit stood at first, with nothing between its places nearer than asked. */
  wayTo(last: Place): Spot[] {
    const places: Float64Array[] = [];
    for (let place: Place | undefined = last; place; place = place.from) places.unshift(place.at);
    return this.#refiner.refine(places);
  }

  #plainPull(start: Place, [nose, supple, slant, turn]: Manner): Place {
    this.#back(start.at);
    this.#byNose = nose;
    this.#supple = supple;
    const d = this.#guide.direction(this.#scene.centre(this.#unit));
    const x = perpendicular(d);
    this.#slant = addScaled(scale(x, slant * cos(turn)), cross(d, x), slant * sin(turn));
    return this.#pull(start);
  }

  /** From one of the farthest places, or some way back from it: shaken, then pulled aslant. */
  #shakenPull(ends: readonly Place[], random: Random): Place {
    let from = ends[random.below(random.next() < 0.5 ? 1 : Math.min(8, ends.length))] as Place;
    for (let back = random.below(8); back > 0 && from.from; back--) from = from.from;
    this.#supple = random.below(3) / 2;
    this.#byNose = random.next() < 0.5;
    const shaken = this.#shake(from, random);
    const size = random.next() < 0.4 ? 0 : random.next();
    this.#slant = pt(size * random.between(-1, 1), size * random.between(-1, 1), size * random.between(-1, 1));
    return this.#pull(shaken);
  }

  #back(at: Float64Array): void {
    this.#measured = false;
    this.#scene.restore(this.#unit, at);
  }

  #isOut(): boolean {
    return this.#scene.out(this.#unit) > 0;
  }

  #place(from: Place | undefined): Place {
    return {
      at: this.#scene.save(this.#unit),
      clear: this.#clear,
      plate: this.#plate,
      from,
      progress: this.#guide.progress(this.#scene.centre(this.#unit)),
    };
  }

  /** Where the unit stands now, come to from a place; undefined where the straight motion from there does not hold. */
  #reached(from: Place): Place | undefined {
    const place = this.#place(from);
    if (!this.#refiner.holds(from, place, LOOKS)) return undefined;
    this.#scene.restore(this.#unit, place.at);
    return place;
  }

  /** Outwards until out or stuck. */
  #pull(start: Place): Place {
    let place = start;
    for (let k = 0; k < LONGEST_PULL && !this.#isOut(); k++) {
      this.#aim(this.#slant);
      let next = this.#advance(place);
      if (!next && length(this.#slant) > 0) {
        this.#aim(pt(0, 0, 0));
        next = this.#advance(place);
      }
      if (!next) break;
      place = next;
    }
    return place;
  }

  /** Points the drive outwards, leaning as said: at the nose, so that it turns with the canal, or at the middle. */
  #aim(slant: Point<'ear'>): void {
    const middle = this.#scene.centre(this.#unit);
    const at = this.#byNose ? this.#scene.nose(this.#unit, this.#guide.direction(middle)) : middle;
    const d = normalize(add(this.#guide.direction(at), slant));
    this.#drive.set(d);
    this.#drive.set(scale(cross(sub(at, middle), d), 1 / this.#scene.radius(this.#unit)), 3);
  }

  /** One step along the drive, shorter where a long one does not go; undefined where none does. */
  #advance(from: Place): Place | undefined {
    for (let size = STEP; size >= SHORTEST; size /= 2) {
      for (const go of [this.#go, this.#goStraight]) {
        this.#made = 0;
        // Not judged by `progress`: off a bent centreline that jumps where another of its points becomes the nearest.
        const place = go.call(this, size) && this.#made > size / 4 ? this.#reached(from) : undefined;
        if (place) return place;
        this.#back(from.at);
      }
    }
    return undefined;
  }

  #take(): void {
    for (let k = 0; k < 6; k++) this.#made += (this.#step[k] as number) * (this.#drive[k] as number);
    this.#scene.move(this.#unit, this.#step);
  }

  #holds(): boolean {
    this.#clear = -Infinity;
    this.#plate = this.#scene.plateClearance(this.#unit, this.#inside);
    if (this.#plate < -PLATE) return false;
    this.#clear = this.#scene.exact(this.#unit, this.#inside, this.#asked - HOPE);
    return this.#clear >= this.#asked;
  }

  /** Moves by `size` along the drive and no other way. */
  #goStraight(size: number): boolean {
    this.#measured = false;
    this.#steps++;
    for (let k = 0; k < 6; k++) this.#step[k] = k < 3 ? size * (this.#drive[k] as number) : 0;
    this.#take();
    return this.#holds();
  }

  /** Moves by `size` along the drive and pushes the unit off what it then comes near. True: with the clearance asked. */
  #go(size: number): boolean {
    this.#steps++;
    const slopes = this.#slopes;
    const reach = KEEP + STEP;
    if (!this.#measured) slopes.measure(this.#unit, this.#inside, reach);
    this.#measured = false;
    smallestStep(slopes.rows, KEEP, this.#drive, size, this.#supple, this.#step);
    this.#take();
    for (let k = 0; k < CORRECTIONS; k++) {
      this.#measured = slopes.measure(this.#unit, this.#inside, reach) >= KEEP / 2;
      if (this.#measured) break;
      smallestStep(slopes.rows, KEEP, this.#drive, 0, this.#supple, this.#step);
      this.#take();
    }
    return this.#holds() || (this.#clear >= this.#asked - HOPE && this.#squeeze());
  }

  /** Pushes once more by a finer measure, for where the room is hardly more than asked. True: with the clearance asked. */
  #squeeze(): boolean {
    this.#measured = false;
    for (let k = 0; k < SQUEEZES; k++) {
      this.#slopes.measure(this.#unit, this.#inside, KEEP, true);
      smallestStep(this.#slopes.rows, KEEP, this.#drive, 0, this.#supple, this.#step);
      this.#take();
      if (this.#holds()) return true;
    }
    return false;
  }

  /** From a place, some steps along a random twist as far as they go. */
  #shake(from: Place, random: Random): Place {
    this.#back(from.at);
    // Every other time a turn on the spot, which takes long things round: it is given more steps.
    const turn = random.next() < 0.5;
    randomTwist(random, turn ? 3 : 0, this.#drive);
    if (turn) this.#supple = 1;
    let place = from;
    for (let k = 1 + random.below(turn ? 12 : 5); k > 0; k--) {
      const next = this.#go(0.3) ? this.#reached(place) : undefined;
      if (!next) {
        this.#back(place.at);
        break;
      }
      place = next;
    }
    return place;
  }

  /** What a plain step outwards from where the unit stands would lack to the shell, mm; 0 where that is not what stops it. */
  lack(): number {
    const saved = this.#scene.save(this.#unit);
    this.#byNose = false;
    this.#aim(pt(0, 0, 0));
    this.#goStraight(STEP);
    const has = Math.min(this.#scene.exact(this.#unit, []), this.#scene.plateClearance(this.#unit, []) + LEAST);
    this.#back(saved);
    return Math.max(0, this.#asked - has);
  }
}

/** A twist of length 1 in any direction; from its number `first` on. */
function randomTwist(random: Random, first: number, out: Twist): void {
  let square = 0;
  out.fill(0);
  for (let k = first; k < 6; k++) {
    const x = random.normal();
    out[k] = x;
    square += x * x;
  }
  const l = Math.sqrt(square);
  for (let k = 0; k < 6; k++) out[k] = l > 0 ? (out[k] as number) / l : 0;
}
