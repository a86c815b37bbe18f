/** Closes every open loop of a surface: holes by patches, the base by a cap. */
import { normalize, type Plane } from '../../geometry/vec.ts';
import { nextOf, OPEN } from '../mend/joins.ts';
import type { Surface } from '../mend/weld.ts';
import { capFlat } from './cap.ts';
import type { Loop } from './loops.ts';
import { fan, leastArea, type Patch, type Taken } from './patch.ts';
import { fair, type Ground, refine } from './smooth.ts';

/** Loops of up to so many edges get a least-area patch without new points. */
const SMALL = 12;
/** Loops of up to so many edges begin with the cubic least-area search; larger ones are laid flat first. */
const CUBIC = 128;

export interface Closed {
  readonly surface: Surface;
  /** Complete: no half-edge is open. */
  readonly twin: Int32Array;
  /** Of each triangle: 1 on the base's cap. */
  readonly cap: Uint8Array;
  /** Of each loop: how it was closed. */
  readonly how: readonly ('least-area' | 'smooth' | 'plane' | 'space' | 'fan')[];
  /** Triangles added for each loop. */
  readonly added: readonly number[];
}

/** Loop `base` (an index into `loops`, -1: none) is capped flat, all others are filled. */
export function closeLoops(s: Surface, twin: Int32Array, loops: readonly Loop[], base: number): Closed {
  const builder = new Builder(s, twin, loops);
  const how = loops.map((loop, i) => (i === base ? builder.cap(loop) : builder.fill(loop)));
  return builder.done(how);
}

export const planeOf = (loop: Loop): Plane<'scan'> => ({ point: loop.centre, normal: normalize(loop.areaVector) });

class Builder {
  readonly #positions: number[] = []; // of new points
  readonly #indices: number[] = []; // of new triangles
  readonly #twin: number[] = []; // of their half-edges, by final numbers
  readonly #mates: [half: number, mate: number][] = []; // joins of old half-edges
  readonly #cap: number[] = [];
  readonly #added: number[] = [];
  readonly #edges: Set<number>;
  readonly #s: Surface;
  readonly #old: Int32Array;
  readonly #vertices: number;
  readonly #ground: Map<number, number[]>;

  constructor(s: Surface, twin: Int32Array, loops: readonly Loop[]) {
    this.#s = s;
    this.#old = twin;
    this.#vertices = s.positions.length / 3;
    const border = new Uint8Array(this.#vertices);
    for (const l of loops) for (const h of l.halves) border[s.indices[h] as number] = 1;
    this.#edges = new Set();
    this.#ground = new Map();
    for (let h = 0; h < s.indices.length; h++) {
      const a = s.indices[h] as number;
      const b = s.indices[nextOf(h)] as number;
      if (border[a] === 1 && border[b] === 1) this.#edges.add(this.#key(a, b));
      if (border[a] === 1) this.#neighbour(a, b);
      if (border[b] === 1) this.#neighbour(b, a);
    }
  }

  #neighbour(v: number, w: number): void {
    const list = this.#ground.get(v);
    if (!list) this.#ground.set(v, [w]);
    else if (!list.includes(w)) list.push(w);
  }

  #key(a: number, b: number): number {
    return Math.min(a, b) * this.#vertices + Math.max(a, b);
  }

  /** The loop's vertices in the patch's direction, with the half-edge that each of its edges meets. */
  #ring(loop: Loop): { ring: number[]; mates: number[] } {
    const halves = [...loop.halves].reverse();
    return { ring: halves.map((h) => this.#s.indices[nextOf(h)] as number), mates: halves };
  }

  #start(ring: readonly number[]): { points: number[]; taken: Taken } {
    const points = ring.flatMap((v) => [...this.#s.positions.subarray(3 * v, 3 * v + 3)]);
    return { points, taken: (i, j) => this.#edges.has(this.#key(ring[i] as number, ring[j] as number)) };
  }

  cap(loop: Loop): 'plane' | 'space' | 'fan' {
    const { ring, mates } = this.#ring(loop);
    const { points, taken } = this.#start(ring);
    const flat = capFlat(points, ring.length, loop.areaVector, taken);
    this.#add({ points, loop: ring.length, triangles: flat.triangles }, ring, mates, 1);
    return flat.how;
  }

  fill(loop: Loop): 'least-area' | 'smooth' {
    const { ring, mates } = this.#ring(loop);
    const { points, taken } = this.#start(ring);
    const n = ring.length;
    if (n === 2) {
      this.#join(mates[0] as number, mates[1] as number); // two open sides that lie on each other
      this.#added.push(0);
      return 'least-area';
    }
    const cubic = n <= CUBIC ? leastArea(points, n, taken) : capFlat(points, n, loop.areaVector, taken).triangles;
    const patch: Patch = { points, loop: n, triangles: cubic ?? fan(points, n, loop.centre) };
    const small = n <= SMALL;
    if (!small) {
      refine(patch, taken);
      fair(patch, this.#groundOf(ring));
    }
    this.#add(patch, ring, mates, 0);
    return small ? 'least-area' : 'smooth';
  }

  /** Neighbours of loop points on the surface; those on the loop's own edges belong to the patch already. */
  #groundOf(ring: readonly number[]): Ground {
    const p = this.#s.positions;
    const n = ring.length;
    return (i) => {
      const beside = [ring[(i + 1) % n], ring[(i + n - 1) % n]];
      return (this.#ground.get(ring[i] as number) ?? [])
        .filter((w) => !beside.includes(w))
        .map((w) => [p[3 * w], p[3 * w + 1], p[3 * w + 2]] as [number, number, number]);
    };
  }

  #add(patch: Patch, ring: readonly number[], mates: readonly number[], cap: 0 | 1): void {
    const n = patch.loop;
    const newPoints = this.#vertices + this.#positions.length / 3;
    for (let i = 3 * n; i < patch.points.length; i++) this.#positions.push(patch.points[i] as number);
    const global = (i: number): number => (i < n ? (ring[i] as number) : newPoints + i - n);
    const firstHalf = this.#s.indices.length + this.#indices.length;
    const span = patch.points.length / 3;
    const waiting = new Map<number, number[]>(); // directed edge -> half-edges that wait for their partners
    for (let h = 0; h < patch.triangles.length; h++) {
      const a = patch.triangles[h] as number;
      const b = patch.triangles[nextOf(h)] as number;
      const half = firstHalf + h;
      this.#indices.push(global(a));
      this.#twin.push(OPEN);
      if (a < n && b < n) this.#edges.add(this.#key(global(a), global(b)));
      const mate = waiting.get(b * span + a)?.pop();
      if (mate !== undefined) this.#join(half, mate);
      else waiting.set(a * span + b, [...(waiting.get(a * span + b) ?? []), half]);
    }
    for (let i = 0; i < n; i++) {
      const half = waiting.get(i * span + ((i + 1) % n))?.pop();
      if (half !== undefined) this.#join(half, mates[i] as number);
    }
    const many = patch.triangles.length / 3;
    for (let t = 0; t < many; t++) this.#cap.push(cap);
    this.#added.push(many);
  }

  #join(a: number, b: number): void {
    const many = this.#s.indices.length;
    for (const [h, g] of [
      [a, b],
      [b, a],
    ] as const) {
      if (h < many) this.#mates.push([h, g]);
      else this.#twin[h - many] = g;
    }
  }

  done(how: Closed['how']): Closed {
    const positions = new Float64Array(this.#s.positions.length + this.#positions.length);
    positions.set(this.#s.positions);
    positions.set(this.#positions, this.#s.positions.length);
    const indices = new Uint32Array(this.#s.indices.length + this.#indices.length);
    indices.set(this.#s.indices);
    indices.set(this.#indices, this.#s.indices.length);
    const twin = new Int32Array(indices.length);
    twin.set(this.#old);
    twin.set(this.#twin, this.#old.length);
    for (const [h, g] of this.#mates) twin[h] = g;
    const cap = new Uint8Array(indices.length / 3);
    cap.set(this.#cap, this.#s.indices.length / 3);
    return { surface: { positions, indices }, twin, cap, how, added: this.#added };
  }
}
