/**
 * The shell without its faceplate and the things that stand in it: where each is, and by exact distances what there is
 * round one of them. For the search for a way out; what a way is worth, verify/motion.ts tells.
 */
import { softTop } from '../arrange/extremes.ts';
import { type Model, modelOf, type PartModel } from '../arrange/model.ts';
import { movePart, newState, newWorld, placePart, poseOf, STRIDE, type State, setPose, type World } from '../arrange/state.ts';
import { rotate } from '../geometry/rotation.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import {
  addScaled,
  cross,
  distance,
  dot,
  type Plane,
  type Point,
  type Pose,
  perpendicular,
  pointAt,
  pt,
  type Vec3,
} from '../geometry/vec.ts';
import type { Body, Cut } from '../model/fit.ts';
import type { Rules } from '../model/parts.ts';
import { type Solids, topAlong } from '../room/convex.ts';
import { carveRoom, pairGap, type Room } from '../room/index.ts';
import { hit, surfaceDistance } from '../room/surface.ts';
import type { Twist } from './push.ts';
import type { Unit } from './units.ts';

/** Exact clearances are told up to this, mm. */
export const ENOUGH_CLEAR = 0.3;

export class Scene {
  readonly units: readonly Unit[];
  readonly state: State;
  readonly model: Model;
  readonly world: World;
  readonly outer: Plane<'ear'>;
  readonly offset: number;
  readonly wall: number;
  readonly #faceplate: number;
  /** Corners of the shell's edge, where the plate's inner face comes to lie: all of them, and some to steer by. */
  readonly #rim: Float64Array;
  readonly edge: readonly Point<'ear'>[];
  readonly #hints: Int32Array[];

  constructor(room: Room, rules: Rules, units: readonly Unit[], outer: Cut) {
    this.units = units;
    // Nothing is asked here but the wall, and the outer cut is open.
    const open = carveRoom(room.field, room.body, { ...rules, gap: 0, partGap: 0, faceplate: -1000 });
    this.model = modelOf(open, { style: room.body.style, parts: units.map((u) => u.whole), pairRules: [] });
    this.state = newState(this.model);
    this.world = newWorld(this.model);
    this.outer = outer.plane;
    this.offset = dot(outer.plane.normal, outer.plane.point);
    this.wall = rules.wall;
    this.#faceplate = rules.faceplate;
    this.#rim = rimOf(room.body, outer.plane, rules.faceplate);
    this.edge = edgeOf(this.#rim, outer.plane);
    this.#hints = units.map((u) => new Int32Array(u.whole.primitives.length).fill(-1));
    for (let u = 0; u < units.length; u++) this.home(u);
  }

  /** Puts a unit back where the arrangement has it. */
  home(u: number): void {
    setPose(this.model, this.state, u, HOME);
    placePart(this.model, this.state, this.world, u);
  }

  save(u: number): Float64Array {
    return this.state.slice(STRIDE * u, STRIDE * u + STRIDE);
  }

  restore(u: number, saved: Float64Array): void {
    this.state.set(saved, STRIDE * u);
    placePart(this.model, this.state, this.world, u);
  }

  move(u: number, twist: Twist): void {
    movePart(this.model, this.state, u, twist, 0);
    placePart(this.model, this.state, this.world, u);
  }

  /** Where the ear frame that unit u was built in has got to. */
  moved(u: number): Pose<'ear'> {
    return poseOf(this.model, this.state, u);
  }

  centre(u: number): Point<'ear'> {
    const o = STRIDE * u + 4;
    return pt(this.state[o] as number, this.state[o + 1] as number, this.state[o + 2] as number);
  }

  /** Radius of the ball about the centre that holds a unit, mm: turns are measured at it. */
  radius(u: number): number {
    return (this.model.parts[u] as PartModel).radius;
  }

  /** Farthest that the plate of a unit is asked about from the unit's centre, mm; 0 without a plate. */
  plateReach(u: number): number {
    if (!(this.units[u] as Unit).plate) return 0;
    const { centre } = this.model.parts[u] as PartModel;
    return this.edge.reduce((most, q) => Math.max(most, distance(q, centre)), 0);
  }

  /** A unit's foremost point along unit d. */
  nose(u: number, d: Point<'ear'>): Point<'ear'> {
    const s = this.world.solids[u] as Solids;
    let best = -Infinity;
    let first = -1;
    for (let i = 0; i < s.count; i++) {
      const h = topAlong(s, i, d[0], d[1], d[2]);
      if (h <= best) continue;
      best = h;
      first = i;
    }
    return first < 0 ? this.centre(u) : topOf(s, first, d);
  }

  /** How far the whole of a unit is beyond the outer cut; below zero while some of it is behind. */
  out(u: number): number {
    const s = this.world.solids[u] as Solids;
    let low = Infinity;
    for (let i = 0; i < s.count; i++) low = Math.min(low, this.lowest(s, i));
    return s.count > 0 ? low : dot(this.outer.normal, this.centre(u)) - this.offset;
  }

  /** How far one solid is beyond the outer cut as a whole, mm. */
  lowest(s: Solids, i: number): number {
    const [x, y, z] = this.outer.normal;
    return -topAlong(s, i, -x, -y, -z) - this.offset;
  }

  /** The plate's inner face where unit u has it: its normal and how high it lies along that. */
  plate(u: number): { readonly normal: Point<'ear'>; readonly height: number } {
    const moved = this.moved(u);
    const normal = pt<'ear'>(...rotate(moved.quaternion, this.outer.normal));
    return { normal, height: this.offset - this.#faceplate + dot(normal, moved.position) };
  }

  /** Exact clearance of unit u to the shell and the units in `inside`, at most ENOUGH_CLEAR; below `floor` any figure below it. */
  exact(u: number, inside: readonly number[], floor = -Infinity): number {
    const s = this.world.solids[u] as Solids;
    let least = ENOUGH_CLEAR;
    for (const v of inside) {
      const t = this.world.solids[v] as Solids;
      if (v === u) continue;
      for (let i = 0; i < s.count; i++) for (let j = 0; j < t.count; j++) least = Math.min(least, pairGap(s, i, t, j, least, false));
    }
    for (let i = 0; i < s.count && least >= floor; i++) least = Math.min(least, this.#shellDistance(u, s, i, least));
    return least;
  }

  /** How far the plate that goes with unit u stays in front of the shell's edge and the units in `inside`, mm; +Infinity without one. */
  plateClearance(u: number, inside: readonly number[]): number {
    if (!(this.units[u] as Unit).plate) return Infinity;
    const { normal, height } = this.plate(u);
    let top = -Infinity;
    const r = this.#rim;
    for (let k = 0; k < r.length; k += 3)
      top = Math.max(top, normal[0] * (r[k] as number) + normal[1] * (r[k + 1] as number) + normal[2] * (r[k + 2] as number));
    for (const v of inside) {
      if ((this.units[v] as Unit).grown) continue;
      const s = this.world.solids[v] as Solids;
      for (let i = 0; v !== u && i < s.count; i++) top = Math.max(top, topAlong(s, i, normal[0], normal[1], normal[2]));
    }
    return height - top;
  }

  #shellDistance(u: number, s: Solids, i: number, limit: number): number {
    const out = this.lowest(s, i);
    if (out >= limit) return limit;
    const { room } = this.model;
    const hints = this.#hints[u] as Int32Array;
    let least = surfaceDistance(room.field.near, room.planes, s, i, limit + this.wall, hints[i] as number) - this.wall;
    if (hit.place >= 0) hints[i] = hit.place;
    for (const b of room.borders) {
      if (b.name === 'outer') continue;
      least = Math.min(least, b.offset - topAlong(s, i, b.normal[0], b.normal[1], b.normal[2]) - this.wall);
    }
    return Math.max(least, out);
  }
}

const HOME: Pose<'ear'> = { position: pt(0, 0, 0), quaternion: [0, 0, 0, 1] };

/** Every corner of the outer cut's outline, as deep as the faceplate is thick: three numbers each. */
function rimOf(body: Body, outer: Plane<'ear'>, faceplate: number): Float64Array {
  const index = body.cuts.findIndex((c) => c.name === 'outer');
  const corners = new Set<number>();
  body.face.forEach((f, t) => {
    for (let k = 0; f === index + 1 && k < 3; k++) corners.add(body.mesh.indices[3 * t + k] as number);
  });
  return Float64Array.from([...corners].flatMap((v) => addScaled(pointAt<'ear'>(body.mesh.positions, v), outer.normal, -faceplate)));
}

/** The outermost of a rim's corners in some directions: enough to steer by. */
function edgeOf(rim: Float64Array, outer: Plane<'ear'>): Point<'ear'>[] {
  const x = perpendicular(outer.normal);
  const y = cross(outer.normal, x);
  const all = Array.from({ length: rim.length / 3 }, (_, k) => pointAt<'ear'>(rim, k));
  if (all.length === 0) return [];
  return SPOKES.map(([c, sn]) => all.reduce((p, q) => (c * dot(q, x) + sn * dot(q, y) > c * dot(p, x) + sn * dot(p, y) ? q : p)));
}
const SPOKES = Array.from({ length: 16 }, (_, k) => [cos((k * PI) / 8), sin((k * PI) / 8)] as const);

/** One point to stand for all of a solid's top along unit n. */
export function topOf(s: Solids, i: number, n: Vec3): Point<'ear'> {
  softTop(s, i, n[0], n[1], n[2], top);
  return pt(top[0] as number, top[1] as number, top[2] as number);
}
const top = new Float64Array(3);
