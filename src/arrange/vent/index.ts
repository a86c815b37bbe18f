/**
 * A kit with a vent: its course is found with the arrangement. Two ways of beginning, then both give way in turn: a course
 * round the best arrangement that the parts have without a vent, or parts arranged beside a course along one side of the canal.
 */

import { cos, PI, sin } from '../../geometry/trig.ts';
import type { Point } from '../../geometry/vec.ts';
import { pt } from '../../geometry/vec.ts';
import type { Arrangement, Effort } from '../../model/fit.ts';
import type { Kit, Part } from '../../model/parts.ts';
import { GROWN, lineOf, tubeRadius, ventAlong } from '../../parts/vent.ts';
import { posedSolids } from '../../room/convex.ts';
import type { Room } from '../../room/index.ts';
import { pairGap } from '../../room/pair.ts';
import { Exact } from '../exact.ts';
import { type Model, modelOf } from '../model.ts';
import { Polisher } from '../polish.ts';
import { AS_GOOD, AS_GOOD_TIGHT, PLENTY } from '../prefer.ts';
import { Relaxer } from '../relax.ts';
import { newState, newWorld, placeAll, poseOf, setPose } from '../state.ts';
import { Lattice } from './course.ts';
import { JointClimber } from './joint.ts';
import { ballOf, type Line, LineClimber, lineAlong, type Obstacle } from './refine.ts';

export interface Vented {
  /** The kit with its vent among the parts. */
  readonly kit: Kit;
  readonly best: Arrangement;
}

/** Sides of the canal along which a course is tried. */
const SIDES: Record<Effort, number> = { quick: 4, normal: 8, thorough: 16 };
/** Turns in which parts and vent give way to each other, and the least gain for another, mm. */
const TURNS = 6;
const GAIN = 0.01;
/** The same of the best in the end: in turn and together. */
const LAST = { turns: 6, gain: 0.001 } as const;
/** Nearer than this to what the parts have without a vent no other course is tried, mm. */
const NEAR = 0.003;
/** A course chosen before the parts keeps this much off the walls, mm: little, to leave them room. */
const CLOSE = 0.1;
/** What is lacking is met by this much more than the present spare at a time, mm. */
const MORE = 0.15;

/** Arranges a kit with no vent in it, or with one that stays where it is. */
export type ArrangeFixed = (kit: Kit, effort: Effort, enough: number) => Arrangement | undefined;

/**
 * `kit` asks for a vent that has no place yet; `plain` is its best arrangement without one. Undefined where no course
 * leads from the outer cut to the tip. Deterministic.
 */
export function arrangeVented(
  room: Room,
  kit: Kit,
  plain: Arrangement,
  options: { readonly effort: Effort; readonly enough: number; readonly shouldStop: () => boolean },
  arrange: ArrangeFixed,
): Vented | undefined {
  const search = new VentedSearch(room, kit, options.enough, options.shouldStop);
  const most = Math.min(options.enough, plain.spare);
  let best = search.around(plain);
  const done = (): boolean => options.shouldStop() || (best !== undefined && best.best.spare >= most - NEAR);
  const sides = SIDES[options.effort];
  for (let k = 0; k < sides && !done(); k++) {
    const line = search.along((2 * PI * k) / sides);
    if (!line) continue;
    const fixed = search.withVent(line);
    const beside = arrange(fixed, options.effort === 'thorough' ? 'normal' : 'quick', most);
    const found = beside && search.settle(beside, line);
    if (found && (!best || found.best.spare > best.best.spare)) best = found;
  }
  return best && search.finish(best);
}

const lineOfVent = (kit: Kit): Line => lineOf(kit.parts[kit.parts.length - 1] as Part);

/** A model's parts at given poses; what is grown into the shell where it is. */
function standing(m: Model, poses: Arrangement['poses']) {
  const s = newState(m);
  const w = newWorld(m);
  for (const p of m.movable) setPose(m, s, p, poses[p] ?? GROWN);
  placeAll(m, s, w);
  return { s, w, all: m.parts.map((_, p) => p) };
}

class VentedSearch {
  readonly #room: Room;
  readonly #kit: Kit;
  readonly #diameter: number;
  readonly #enough: number;
  readonly #shouldStop: () => boolean;
  readonly #lattice: Lattice;
  readonly #climber: LineClimber;
  readonly #radius: number;
  /** The parts without the vent. */
  readonly #model: Model;

  constructor(room: Room, kit: Kit, enough: number, shouldStop: () => boolean) {
    this.#room = room;
    this.#kit = kit;
    this.#diameter = kit.vent ?? 0;
    this.#enough = enough;
    this.#shouldStop = shouldStop;
    this.#radius = tubeRadius(this.#diameter, room.rules);
    this.#model = modelOf(room, kit);
    this.#lattice = new Lattice(room);
    this.#climber = new LineClimber(room, this.#diameter);
  }

  withVent(line: Line): Kit {
    return { ...this.#kit, parts: [...this.#kit.parts, ventAlong(line, this.#diameter, this.#room.rules)] };
  }

  /** A course round parts that have their places. */
  around(plain: Arrangement): Vented | undefined {
    const course = this.#lattice.course(this.#clearances(this.#obstacles(plain.poses)), this.#lattice.costs(this.#radius));
    return course && this.settle(plain, lineAlong(course));
  }

  /** A course along the side of the canal that lies at this angle in the plane of the outer cut, radians. */
  along(angle: number): Line | undefined {
    const { e1, e2 } = this.#model.face;
    const [c, s] = [cos(angle), sin(angle)];
    const side: Point<'ear'> = pt(c * e1[0] + s * e2[0], c * e1[1] + s * e2[1], c * e1[2] + s * e2[2]);
    const course = this.#lattice.course(this.#clearances([], CLOSE), this.#lattice.costs(this.#radius, side));
    return course && this.#climber.climb(lineAlong(course), [], CLOSE).line;
  }

  /** Vent and parts give way to each other in turn; the best of all turns. */
  settle(from: Arrangement, begin: Line): Vented {
    let line = begin;
    let poses = from.poses.slice(0, this.#kit.parts.length);
    let best: Vented | undefined;
    for (let turn = 0; turn < TURNS; turn++) {
      line = this.#climber.climb(line, this.#obstacles(poses), this.#enough).line;
      const now = this.#giveWay(line, poses);
      const gain = best ? now.best.spare - best.best.spare : Infinity;
      if (gain > 0) best = now;
      poses = now.best.poses.slice(0, this.#kit.parts.length);
      if (gain < GAIN || now.best.spare >= this.#enough || this.#shouldStop()) break;
    }
    return best as Vented;
  }

  /** Together and in turn, as long as that helps. */
  finish(found: Vented): Vented {
    let best = found;
    for (let turn = 0; turn < LAST.turns && best.best.spare < this.#enough && !this.#shouldStop(); turn++) {
      const joint = this.#together(best);
      const other = joint.best.spare < this.#enough ? this.settle(joint.best, lineOfVent(joint.kit)) : joint;
      const next = other.best.spare > joint.best.spare ? other : joint;
      const gain = next.best.spare - best.best.spare;
      if (gain > 0) best = next;
      if (gain < LAST.gain) break;
    }
    return this.#shouldStop() ? best : this.#taut(best);
  }

  /** The same parts with the vent's line pulled taut, as far as that costs hardly anything. */
  #taut({ kit, best }: Vented): Vented {
    const { spare } = best;
    const least = spare >= this.#enough ? this.#enough : spare - (spare >= PLENTY ? AS_GOOD : AS_GOOD_TIGHT);
    const line = this.#climber.straightened(lineOfVent(kit), this.#obstacles(best.poses), least);
    const taut = this.withVent(line);
    const m = modelOf(this.#room, taut);
    const { w, all } = standing(m, best.poses);
    return { kit: taut, best: { poses: best.poses, spare: new Exact(m).spare(w, all) } };
  }

  #together({ kit, best }: Vented): Vented {
    const m = this.#model;
    const { s, w } = standing(m, best.poses);
    const asked = this.#kit.parts.map((part) => this.#asked(part));
    const climbed = new JointClimber(m, w, new Exact(m), this.#climber, asked).climb(s, w, lineOfVent(kit), this.#enough);
    if (climbed.spare <= best.spare) return { kit, best };
    const poses = [...m.parts.map((_, p) => poseOf(m, s, p)), GROWN];
    return { kit: this.withVent(climbed.line), best: { poses, spare: climbed.spare } };
  }

  /** The parts move off a vent that stays. */
  #giveWay(line: Line, poses: Arrangement['poses']): Vented {
    const kit = this.withVent(line);
    const m = modelOf(this.#room, kit);
    const exact = new Exact(m);
    const { s, w, all } = standing(m, poses);
    const first = exact.spare(w, all);
    const polisher = new Polisher(m, exact, this.#shouldStop);
    const limits = { turns: 40, enough: this.#enough, least: 0.002, first: 0.12 };
    let best = { state: s.slice(), spare: Math.max(first, polisher.climb(s, w, all, limits)) };
    best = { ...best, state: s.slice() };
    if (best.spare < this.#enough) {
      new Relaxer(m).relax(s, w, all, m.movable, Math.min(this.#enough, Math.max(0, best.spare + MORE)), 40);
      const other = polisher.climb(s, w, all, limits);
      if (other > best.spare) best = { state: s.slice(), spare: other };
    }
    return { kit, best: { poses: kit.parts.map((_: Part, p) => poseOf(m, best.state, p)), spare: best.spare } };
  }

  /** The parts where they stand, with what each of their solids asks of a vent. */
  #obstacles(poses: Arrangement['poses']): Obstacle[] {
    return this.#kit.parts.map((part, p) => ({
      solids: posedSolids(part.primitives, poses[p] ?? GROWN),
      asked: this.#asked(part),
    }));
  }

  #asked({ primitives, margin }: Part): Float64Array {
    return Float64Array.from(primitives, ({ kind }) => this.#room.rules.gap + (kind === 'solid' ? margin : 0));
  }

  /** Spare of a ball of the tube at each node of the lattice, mm; at most `enough`. */
  #clearances(obstacles: readonly Obstacle[], enough = this.#enough): Float32Array {
    const r = this.#radius;
    const ball = ballOf(r);
    const out = new Float32Array(this.#lattice.size);
    for (let k = 0; k < out.length; k++) {
      let least = Math.min(enough, (this.#lattice.wall[k] as number) - r);
      ball.frame.set(this.#lattice.at(k), 9);
      for (const { solids, asked } of obstacles) {
        for (let j = 0; j < solids.count; j++) {
          const gap = asked[j] as number;
          least = Math.min(least, pairGap(ball, 0, solids, j, least + gap, false) - gap);
        }
      }
      out[k] = least;
    }
    return out;
  }
}
