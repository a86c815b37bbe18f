/**
 * Can an arrangement be put together as a list of moves says? Every move is followed from outside to its end, by exact
 * distances and without a gap: where two poses d apart (no point travels farther) have a and b to spare, nothing between
 * them has less than (a + b - d) / 2. Steps are at most 0.1 mm and are halved until that settles them.
 *
 * Shares nothing with what found the moves. Whether the arrangement itself holds is verifyArrangement's business.
 */
import { rotate } from '../geometry/rotation.ts';
import {
  addScaled,
  distance,
  dot,
  heightOver,
  length,
  type Plane,
  type Point,
  type Pose,
  pointAt,
  pt,
  scale,
  sub,
} from '../geometry/vec.ts';
import type { Body, Move } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import { poseBetween, travel, turnsLittle } from './between.ts';
import { separation } from './separation.ts';
import { FAR, Mover, Shell } from './shell.ts';
import { Solid } from './solid.ts';

/** Longest step, mm: no point of a part travels farther between two poses that are measured. */
export const MOTION_STEP = 0.1;
/** A touch: what a motion may fall short of the clearance asked, mm. Far below what can be made or measured. */
export const TOUCH = 0.001;
/** Poses measured in one move before it is refused as too long. */
const MOST = 40_000;

export interface MotionEvidence {
  readonly sound: boolean;
  /** The least clearance all along, certified from below, mm; at most FAR, beyond which nothing is told apart. */
  readonly least: number;
  /** How many poses were measured. */
  readonly poses: number;
  /** What is wrong, in words; empty when sound. */
  readonly faults: readonly string[];
}

/**
 * Verifies that `moves`, one after the other, bring every part of `kit` from outside the shell of `body` to its pose in
 * `finals` (ear frame, mm). Asked of the clearance to the shell and between parts: 0, or what the arrangement itself
 * leaves where that is less; TOUCH below it passes.
 */
export function verifyMoves(body: Body, rules: Rules, kit: Kit, finals: readonly Pose<'ear'>[], moves: readonly Move[]): MotionEvidence {
  const outer = body.cuts.find((c) => c.name === 'outer');
  if (!outer) return { sound: false, least: -Infinity, poses: 0, faults: ['the shell has no outer cut to go in by'] };
  const check = new MovesCheck(body, rules, kit, finals, outer.plane);
  check.complete(moves);
  for (const move of moves) if (check.faults.length === 0) check.follow(move);
  return { sound: check.faults.length === 0, least: check.least, poses: check.poses, faults: check.faults };
}

interface Traveller {
  readonly part: Part;
  readonly movers: readonly Mover[];
  readonly final: Pose<'ear'>;
}

/** A pose for every part that moves, with the clearance there. */
interface Stop {
  readonly poses: readonly Pose<'ear'>[];
  readonly clear: number;
  /** What there is in front of the shell's edge and of what is in, for the plate of a faceplate that moves along; at most FAR. */
  readonly plate: number;
}

class MovesCheck {
  readonly faults: string[] = [];
  least = FAR;
  poses = 0;
  readonly #shell: Shell;
  readonly #outer: Plane<'ear'>;
  readonly #travellers: Map<string, Traveller>;
  /** Solids of the parts that are in. */
  readonly #in: Solid[] = [];
  /** Solids of what is grown into the shell: there from the first, and the faceplate has an opening for it. */
  readonly #grown: readonly Solid[];
  /** The shell's edge against which the plate comes to lie. */
  readonly #edge: readonly Point<'ear'>[];

  constructor(body: Body, rules: Rules, kit: Kit, finals: readonly Pose<'ear'>[], outer: Plane<'ear'>) {
    this.#shell = new Shell(body, rules.wall, outer);
    this.#outer = outer;
    this.#edge = edgeOf(body, rules.faceplate);
    const isGrown = (part: Part): boolean => part.seat.at === 'shell';
    this.#grown = kit.parts.flatMap((part, k) => (isGrown(part) ? part.primitives.map((p) => new Solid(p, finals[k] as Pose<'ear'>)) : []));
    const placed = kit.parts.map((part, k) => ({ part, final: finals[k] as Pose<'ear'> }));
    this.#travellers = new Map(
      placed
        .filter(({ part }) => !isGrown(part))
        .map(({ part, final }) => [
          part.id,
          { part, final, movers: part.primitives.filter((p) => p.kind === 'solid').map((p) => new Mover(p)) },
        ]),
    );
  }

  /** Every part goes in once, all that is seated at the faceplate in one move, and the last. */
  complete(moves: readonly Move[]): void {
    const ids = moves.flatMap((m) => m.parts);
    for (const id of this.#travellers.keys()) {
      const times = ids.filter((i) => i === id).length;
      if (times !== 1) this.faults.push(`${id} goes in ${times} times`);
    }
    for (const id of ids) if (!this.#travellers.has(id)) this.faults.push(`${id} is not in the kit`);
    moves.forEach((m, k) => {
      const seated = m.parts.some((id) => this.#seated(id));
      if (seated && k + 1 < moves.length) this.faults.push(`the faceplate does not go on last`);
    });
  }

  #seated(id: string): boolean {
    return this.#travellers.get(id)?.part.seat.at === 'faceplate';
  }

  /** Follows one move and leaves its parts in. */
  follow(move: Move): void {
    const group = move.parts.map((id) => this.#travellers.get(id) as Traveller);
    this.#ends(move, group);
    if (this.faults.length > 0) return;
    const end = this.#stop(group, move.poses[move.poses.length - 1] as readonly Pose<'ear'>[]);
    const asked = Math.min(0, end.clear) - TOUCH;
    let stop = this.#stop(group, move.poses[0] as readonly Pose<'ear'>[]);
    const most = this.poses + MOST;
    for (let k = 1; k < move.poses.length && this.faults.length === 0; k++) {
      const to = move.poses[k] as readonly Pose<'ear'>[];
      const next = this.#stop(group, to);
      if (!stop.poses.every((p, i) => turnsLittle(p, to[i] as Pose<'ear'>))) this.faults.push(`${named(move)}: turns too far in step ${k}`);
      else if (!this.#settle(group, stop, next, asked, most))
        this.faults.push(`${named(move)}: touches in step ${k} of ${move.poses.length - 1}`);
      stop = next;
    }
    for (const t of group) for (const m of t.movers) this.#in.push(new Solid(m.primitive, t.final));
  }

  /** Outside at first, as a whole beyond the outer cut; at the end where the arrangement has them; rigid all along. */
  #ends(move: Move, group: readonly Traveller[]): void {
    const first = move.poses[0];
    const last = move.poses[move.poses.length - 1];
    const whole = move.poses.every((p) => p.length === group.length && p.every(isPose));
    if (!first || !last || !whole || group.length === 0) {
      this.faults.push(`${named(move)}: the poses are not one for each part`);
      return;
    }
    const down = scale(this.#outer.normal, -1);
    group.forEach((t, i) => {
      const begin = first[i] as Pose<'ear'>;
      for (const m of t.movers)
        if (heightOver(this.#outer, new Solid(m.primitive, begin).support(down)) < 0)
          this.faults.push(`${t.part.id} does not begin outside`);
      if (travel(last[i] as Pose<'ear'>, t.final, reachOf(t)) > 1e-6) this.faults.push(`${t.part.id} does not end at its place`);
    });
    if (!rigid(move)) this.faults.push(`${named(move)}: its parts move against each other`);
  }

  #stop(group: readonly Traveller[], poses: readonly Pose<'ear'>[]): Stop {
    this.poses++;
    let plate = FAR;
    group.forEach((t, i) => {
      if (t.part.seat.at === 'faceplate') plate = Math.min(plate, this.#plateClearance(poses[i] as Pose<'ear'>));
    });
    return { poses, clear: this.#clearance(group, poses), plate };
  }

  /** True when all of the way from a to b keeps `asked`, and the plate what it covers. */
  #settle(group: readonly Traveller[], a: Stop, b: Stop, asked: number, most: number): boolean {
    if (Math.min(a.clear, b.clear) < asked || Math.min(a.plate, b.plate) < -TOUCH || this.poses > most) return false;
    const d = this.#travel(group, a.poses, b.poses, reachOf);
    const sure = (a.clear + b.clear - d) / 2;
    const plate = (a.plate + b.plate - this.#travel(group, a.poses, b.poses, (t, i) => this.#plateReach(t, i, a, b))) / 2;
    if (d <= MOTION_STEP && sure >= asked && plate >= -TOUCH) {
      this.least = Math.min(this.least, sure);
      return true;
    }
    if (d < TOUCH / 4) return false;
    const middle = this.#stop(
      group,
      a.poses.map((p, i) => poseBetween(p, b.poses[i] as Pose<'ear'>, 0.5)),
    );
    return this.#settle(group, a, middle, asked, most) && this.#settle(group, middle, b, asked, most);
  }

  /** How far any part's points within its reach go on the way from a to b, at most, mm. */
  #travel(
    group: readonly Traveller[],
    a: readonly Pose<'ear'>[],
    b: readonly Pose<'ear'>[],
    reach: (t: Traveller, i: number) => number,
  ): number {
    return Math.max(0, ...group.map((t, i) => travel(a[i] as Pose<'ear'>, b[i] as Pose<'ear'>, reach(t, i))));
  }

  /** Clearance of all that moves, to the shell and to what is in, certified from below; at most FAR. */
  #clearance(group: readonly Traveller[], poses: readonly Pose<'ear'>[]): number {
    let least = FAR;
    group.forEach((t, i) => {
      const pose = poses[i] as Pose<'ear'>;
      for (const m of t.movers) {
        if (least < -TOUCH) return;
        least = Math.min(least, this.#shell.clearance(m, pose));
        const solid = new Solid(m.primitive, pose);
        for (const other of [...this.#in, ...this.#grown]) {
          if (distance(solid.centre, other.centre) - solid.reach - other.reach >= FAR) continue;
          least = Math.min(least, separation(solid, other).least);
        }
      }
    });
    return least;
  }

  /** How far the shell's edge and the parts that are in stay behind a plate whose inner face is the pose's z = 0 plane. */
  #plateClearance(pose: Pose<'ear'>): number {
    const normal = pt<'ear'>(...rotate(pose.quaternion, [0, 0, 1]));
    const height = dot(normal, pose.position);
    let top = -Infinity;
    for (const q of this.#edge) top = Math.max(top, dot(normal, q));
    for (const s of this.#in) top = Math.max(top, dot(normal, s.support(normal)));
    return height - top;
  }

  /** Farthest that the plate of a part is asked about from the part's position, mm. */
  #plateReach(t: Traveller, i: number, a: Stop, b: Stop): number {
    if (t.part.seat.at !== 'faceplate') return 0;
    let most = 0;
    for (const p of [(a.poses[i] as Pose<'ear'>).position, (b.poses[i] as Pose<'ear'>).position]) {
      for (const q of this.#edge) most = Math.max(most, distance(p, q));
      for (const s of this.#in) most = Math.max(most, distance(p, s.centre) + s.reach);
    }
    return most;
  }
}

const named = (move: Move): string => move.parts.join(' with ');
const reachOf = (t: Traveller): number => Math.max(0, ...t.movers.map((m) => m.reach));
const isPose = (p: Pose<'ear'>): boolean =>
  [...p.position, ...p.quaternion].every(Number.isFinite) && Math.abs(length4(p.quaternion) - 1) < 1e-6;
const length4 = (q: Pose<'ear'>['quaternion']): number => Math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);

/** Do a move's parts keep their places to each other at every pose listed? By the distances of some points of each. */
function rigid(move: Move): boolean {
  const pattern = (poses: readonly Pose<'ear'>[]): number[] => {
    const points = poses.flatMap((p) => MARKS.map((m) => addScaled(p.position, pt<'ear'>(...rotate(p.quaternion, m)), 5)));
    return points.flatMap((a, i) => points.slice(i + 1).map((b) => length(sub(a, b))));
  };
  const last = pattern(move.poses[move.poses.length - 1] as readonly Pose<'ear'>[]);
  return move.poses.every((poses) => pattern(poses).every((d, k) => Math.abs(d - (last[k] as number)) < 1e-5));
}
const MARKS = [
  [0, 0, 0],
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
] as const;

/** Corners of the outer cut's outline, as deep as the faceplate is thick: there the shell ends and the plate's inner face lies. */
function edgeOf(body: Body, faceplate: number): Point<'ear'>[] {
  const index = body.cuts.findIndex((c) => c.name === 'outer');
  const corners = new Set<number>();
  body.face.forEach((f, i) => {
    if (f === index + 1) for (let k = 0; k < 3; k++) corners.add(body.mesh.indices[3 * i + k] as number);
  });
  const n = (body.cuts[index] as Body['cuts'][number]).plane.normal;
  return [...corners].map((v) => addScaled(pointAt<'ear'>(body.mesh.positions, v), n, -faceplate));
}
