/**
 * The true spare of an arrangement: the least over every clearance that the rules ask for, by exact distances.
 */
import type { Solids } from '../room/convex.ts';
import { pairGap } from '../room/pair.ts';
import { hit } from '../room/surface.ts';
import { pairAsked } from './contacts.ts';
import { type Model, type PartModel, SHELL } from './model.ts';
import { newWorld, type World } from './state.ts';

/** What limits an arrangement. */
export interface Tightest {
  spare: number;
  part: number;
  primitive: number;
  /** The other part of a pair, or -1. */
  other: number;
  /** The border, or -1. */
  border: number;
}

/** Surface points that came out as nearest, in the part's frame about its centre: tracked by later steps. */
export interface Witness {
  readonly part: number;
  readonly primitive: number;
  readonly place: number;
  readonly x: number;
  readonly y: number;
  readonly z: number;
}

export class Exact {
  readonly #m: Model;
  /** Nearest triangle that each primitive had last: a good place to begin. */
  readonly #hints: Int32Array[];
  readonly tightest: Tightest = { spare: 0, part: 0, primitive: 0, other: -1, border: -1 };
  /** The wall's witnesses of the last call. */
  readonly witnesses: Witness[] = [];
  evaluations = 0;
  /** What the parts that are grown into the shell leave to the cast, mm: they stay, so it is measured once. */
  readonly grown: number;

  constructor(m: Model) {
    this.#m = m;
    this.#hints = m.parts.map((p) => new Int32Array(p.local.count).fill(-1));
    this.grown = this.#ofGrown();
  }

  /**
   * Exact spare of the parts in play. `bound`: a spare that is known not to be less (from samples, say), which shortens
   * the search; pass Infinity for none. Once below `floor` it returns at once with a value that is an upper bound.
   */
  spare(w: World, play: readonly number[], bound = Infinity, floor = -Infinity): number {
    const m = this.#m;
    const t = this.#begin(Math.min(bound, this.grown));
    this.evaluations++;
    for (let k = 0; k < play.length; k++) {
      const p = play[k] as number;
      if (!this.#grows(p)) this.#borders(w, p);
      for (let l = 0; l < k; l++) this.#pair(w, play[l] as number, p);
      if (t.spare < floor) return t.spare;
    }
    for (let k = 0; k < play.length; k++) {
      const p = play[k] as number;
      const part = m.parts[p] as PartModel;
      if (this.#grows(p)) continue;
      for (let i = 0; i < part.local.count; i++) {
        this.#wall(w, p, i, floor);
        if (t.spare < floor) return t.spare;
      }
    }
    return t.spare;
  }

  #begin(spare: number): Tightest {
    const t = this.tightest;
    t.spare = spare;
    t.part = -1;
    t.other = -1;
    t.border = -1;
    this.witnesses.length = 0;
    return t;
  }

  #grows(p: number): boolean {
    return (this.#m.parts[p] as PartModel).seat === SHELL;
  }

  #ofGrown(): number {
    const m = this.#m;
    const t = this.#begin(Infinity);
    const w = newWorld(m);
    for (const p of m.grown) {
      this.#borders(w, p);
      for (let i = 0; i < (m.parts[p] as PartModel).local.count; i++) this.#wall(w, p, i, -Infinity);
    }
    return t.spare;
  }

  #borders(w: World, p: number): void {
    const part = this.#m.parts[p] as PartModel;
    const s = w.solids[p] as Solids;
    const borders = this.#m.room.borders.length;
    for (let b = 0; b < borders; b++) {
      for (let i = 0; i < s.count; i++) {
        const asked = part.borderAsked[b * s.count + i] as number;
        if (Number.isNaN(asked)) continue;
        this.#offer(this.#m.room.cutClearance(s, i, b) - asked, p, i, -1, b);
      }
    }
  }

  #pair(w: World, p: number, q: number): void {
    const a = this.#m.parts[p] as PartModel;
    const b = this.#m.parts[q] as PartModel;
    for (let i = 0; i < a.local.count; i++) {
      for (let j = 0; j < b.local.count; j++) {
        const asked = pairAsked(this.#m, a, i, b, j);
        if (Number.isNaN(asked)) continue;
        this.#offer(pairGap(w.solids[p] as Solids, i, w.solids[q] as Solids, j, this.tightest.spare + asked) - asked, p, i, q, -1);
      }
    }
  }

  #wall(w: World, p: number, i: number, floor: number): void {
    const part = this.#m.parts[p] as PartModel;
    const asked = part.wallAsked[i] as number;
    const hints = this.#hints[p] as Int32Array;
    hit.place = -1;
    const has = this.#m.room.wallClearance(w.solids[p] as Solids, i, this.tightest.spare + asked, hints[i] as number, floor + asked);
    if (hit.place >= 0) {
      hints[i] = hit.place;
      this.#witness(w, p, i);
    }
    this.#offer(has - asked, p, i, -1, -1);
  }

  #witness(w: World, part: number, primitive: number): void {
    const f = w.frame;
    const o = 12 * part;
    const dx = hit.x - (f[o + 9] as number);
    const dy = hit.y - (f[o + 10] as number);
    const dz = hit.z - (f[o + 11] as number);
    this.witnesses.push({
      part,
      primitive,
      place: hit.place,
      x: (f[o] as number) * dx + (f[o + 3] as number) * dy + (f[o + 6] as number) * dz,
      y: (f[o + 1] as number) * dx + (f[o + 4] as number) * dy + (f[o + 7] as number) * dz,
      z: (f[o + 2] as number) * dx + (f[o + 5] as number) * dy + (f[o + 8] as number) * dz,
    });
  }

  #offer(spare: number, part: number, primitive: number, other: number, border: number): void {
    const t = this.tightest;
    if (!(spare < t.spare)) return;
    t.spare = spare;
    t.part = part;
    t.primitive = primitive;
    t.other = other;
    t.border = border;
  }
}
