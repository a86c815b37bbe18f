/**
 * Assemble: is there a way in? The shell is closed but for its outer cut; the parts of an arrangement go in through it
 * one thing after the other, the faceplate with all that it carries last (common practice, no published source).
 *
 * The search takes things out instead: what can be taken out while others are in can be taken out when fewer are, so that
 * whatever comes out first is never wrong, and no order need be tried twice. Every way found is verified, backwards, by
 * code that shares nothing with the search (verify/motion.ts) before it counts.
 */
import { seeded } from '../geometry/random.ts';
import type { Pose } from '../geometry/vec.ts';
import type { Centreline } from '../model/ear.ts';
import type { Assembly, Cut, Effort, Move } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import type { Room } from '../room/index.ts';
import { verifyMoves } from '../verify/motion.ts';
import { Guide } from './guide.ts';
import { reachOf, type Stop, thinned } from './path.ts';
import type { Spot } from './refine.ts';
import { Scene } from './scene.ts';
import { partsAt, type Unit, unitsOf } from './units.ts';
import { type Tries, Withdrawer } from './withdraw.ts';

export { moveAt } from './play.ts';

export interface AssembleOptions {
  readonly seed: number;
  readonly effort: Effort;
  /** How far the scan may lie from the cast that the room was made of, mm: the shell is taken to be so much thicker. */
  readonly deviation?: number;
  readonly shouldStop?: () => boolean;
}

/** Tries spent on one thing before it counts as stuck: pulls, and steps in all of them. */
export const TRIES: Record<Effort, Tries> = {
  quick: { pulls: 25, steps: 800 },
  normal: { pulls: 90, steps: 4500 },
  thorough: { pulls: 350, steps: 18000 },
};

/**
 * Looks for a way in for every part of `kit` to its pose (ear frame, mm) in the shell of `room`'s body, and verifies it.
 * `line`: the canal's centreline, which shows the way. Where a free part is in the faceplate's way, it may go in with
 * it: it hangs on its wires (common practice, no published source). Same input: same bytes. Undefined: shouldStop ended it.
 */
export function assembleKit(
  room: Room,
  kit: Kit,
  poses: readonly Pose<'ear'>[],
  line: Centreline,
  options: AssembleOptions,
): Assembly | undefined {
  const outer = room.body.cuts.find((c) => c.name === 'outer');
  // Closed all round: nothing goes in.
  if (!outer) return { kind: 'stuck', parts: kit.parts.map((p) => p.id), at: room.body.seed, depth: 0, lacks: 0 };
  const tried = (carried: readonly string[]): Assembler => new Assembler(room, outer, kit, poses, line, options, carried);
  const first = tried([]);
  const plain = first.run();
  if (plain?.kind !== 'stuck' || !first.faceplateBlocked()) return plain;
  const free = kit.parts.filter((p) => p.seat.at === 'free').map((p) => p.id);
  for (const carried of [...free.map((id) => [id]), ...(free.length > 1 ? [free] : [])]) {
    const other = tried(carried).run();
    if (other?.kind !== 'stuck') return other;
  }
  return plain;
}

/** One try with given units. */
class Assembler {
  readonly #room: Room;
  readonly #rules: Rules;
  readonly #kit: Kit;
  readonly #poses: readonly Pose<'ear'>[];
  readonly #options: AssembleOptions;
  readonly #units: readonly Unit[];
  readonly #scene: Scene;
  readonly #guide: Guide;
  /** The unit that stuck, or -1. */
  #stuck = -1;

  constructor(
    room: Room,
    outer: Cut,
    kit: Kit,
    poses: readonly Pose<'ear'>[],
    line: Centreline,
    options: AssembleOptions,
    carried: readonly string[],
  ) {
    this.#room = room;
    this.#rules = { ...room.rules, wall: room.rules.wall + (options.deviation ?? 0) };
    this.#kit = kit;
    this.#poses = poses;
    this.#options = options;
    this.#units = unitsOf(kit, poses, carried);
    this.#scene = new Scene(room, this.#rules, this.#units, outer);
    this.#guide = new Guide(line, outer.plane);
  }

  run(): Assembly | undefined {
    const ways: Way[] = [];
    const waiting = this.#firstToLast();
    while (waiting.length > 0) {
      const taken = this.#takeOne(waiting, ways);
      if (typeof taken !== 'number') return taken;
      waiting.splice(waiting.indexOf(taken), 1);
    }
    let fault = '';
    // What is left out of a way may have mattered: then all of it is kept.
    for (const thin of [true, false]) {
      const moves = ways.map((w) => this.#moveOf(w, thin));
      const evidence = verifyMoves(this.#room.body, this.#rules, this.#kit, this.#poses, moves);
      if (evidence.sound) return { kind: 'way-in', moves, least: evidence.least };
      fault = evidence.faults[0] ?? '';
    }
    // A way that its verification refuses is none; the fault begins with the name of what touched.
    const touched = this.#units.findIndex((u) => u.parts.some((id) => fault.startsWith(id)));
    this.#stuck = Math.max(0, touched);
    this.#scene.home(this.#stuck);
    return this.#stuckAt(this.#stuck, 0);
  }

  /** The faceplate stuck, and would not have, had nothing else been in. */
  faceplateBlocked(): boolean {
    const u = this.#stuck;
    if (u < 0 || !(this.#units[u] as Unit).plate) return false;
    return this.#search(u, [u]).out;
  }

  /** The faceplate first, then from the outermost in: likely to come out in that order. */
  #firstToLast(): number[] {
    const key = this.#units.map((u, k) => (u.plate ? -Infinity : this.#guide.depth(this.#scene.centre(k))));
    const moving = this.#units.flatMap((u, k) => (u.grown ? [] : [k]));
    return moving.sort((a, b) => (key[a] as number) - (key[b] as number) || a - b);
  }

  /** Takes the first unit out that comes out and adds its way; where none does, how the first of them sticks. */
  #takeOne(waiting: readonly number[], ways: Way[]): number | Assembly | undefined {
    let stuck: Assembly | undefined;
    for (const u of waiting) {
      const { out, way, lacks } = this.#search(u, waiting);
      if (this.#options.shouldStop?.()) return undefined;
      if (out) {
        ways.unshift({ unit: u, stops: this.#stopsOf(u, way) });
        return u;
      }
      if (!stuck) {
        stuck = this.#stuckAt(u, lacks);
        this.#stuck = u;
      }
      this.#scene.home(u);
      // Nothing goes before the faceplate: it is on top of all else.
      if ((this.#units[u] as Unit).plate) break;
    }
    return stuck;
  }

  #search(u: number, inside: readonly number[]): { readonly out: boolean; readonly way: readonly Spot[]; readonly lacks: number } {
    const { seed, effort, shouldStop } = this.#options;
    this.#scene.home(u);
    const grown = this.#units.flatMap((unit, k) => (unit.grown ? [k] : []));
    const search = new Withdrawer(this.#scene, this.#guide, u, [...inside, ...grown]);
    const { last, out } = search.seek(seeded(seed, u), TRIES[effort], shouldStop ?? (() => false));
    return { out, way: out ? search.wayTo(last) : [], lacks: out ? 0 : search.lack() };
  }

  #stuckAt(u: number, lacks: number): Assembly {
    const at = this.#scene.centre(u);
    return { kind: 'stuck', parts: (this.#units[u] as Unit).parts, at, depth: this.#guide.depth(at), lacks };
  }

  /** The way out, turned round. */
  #stopsOf(u: number, way: readonly Spot[]): Stop[] {
    const unit = this.#units[u] as Unit;
    const stops: Stop[] = [];
    for (const { at, clear } of way) {
      this.#scene.restore(u, at);
      stops.unshift({ poses: partsAt(unit, this.#scene.moved(u)), clear });
    }
    this.#scene.home(u);
    // The end is where the arrangement has them, to the last bit.
    stops[stops.length - 1] = { poses: unit.finals, clear: (stops[stops.length - 1] as Stop).clear };
    return stops;
  }

  #moveOf({ unit, stops }: Way, thin: boolean): Move {
    const { parts } = this.#units[unit] as Unit;
    const reaches = parts.map((id) => reachOf(this.#kit.parts.find((p) => p.id === id) as Part));
    return { parts, poses: (thin ? thinned(stops, reaches) : stops).map((s) => s.poses) };
  }
}

/** A unit's way in. */
interface Way {
  readonly unit: number;
  readonly stops: readonly Stop[];
}
