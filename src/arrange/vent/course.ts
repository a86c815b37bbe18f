/**
 * A vent's course on a lattice: from the outer cut to the tip cut, first as wide as any (the greatest least clearance),
 * then, of those, the one that costs least. Coarse; `refine` makes it exact.
 */
import { Heap } from '../../geometry/heap.ts';
import { dot, type Point, pt } from '../../geometry/vec.ts';
import type { Room } from '../../room/index.ts';
import { interpolate } from '../../room/room.ts';

/** Every so many nodes of the field, each way. */
const STRIDE = 2;
/** A course may begin, or end, at nodes this near to its cut, in steps of the lattice. */
const NEAR_CUT = 1.3;
/** How much dearer a millimetre on the far side of the canal is than on the side wished for. */
const ASIDE = 2;
/** What a millimetre off the wall adds to the cost of a millimetre. */
const OFF_WALL = 1;

export class Lattice {
  readonly #room: Room;
  /** Field nodes of the lattice, and of each field node its place among them or -1. */
  readonly #nodes: Int32Array;
  readonly #slots: Int32Array;
  readonly #starts: readonly number[];
  readonly #ends: ReadonlySet<number>;
  readonly #outer: Border;
  readonly #tip: Border;
  /** To the cast's surface or the upper cut, mm, one a node. */
  readonly wall: Float32Array;

  constructor(room: Room) {
    this.#room = room;
    const { grid: g } = room.field;
    this.#nodes = room.reachable.filter(
      (n) => (n % g.nx) % STRIDE === 0 && (Math.floor(n / g.nx) % g.ny) % STRIDE === 0 && Math.floor(n / (g.nx * g.ny)) % STRIDE === 0,
    );
    this.#slots = new Int32Array(room.values.length).fill(-1);
    this.#nodes.forEach((n, k) => {
      this.#slots[n] = k;
    });
    const border = (name: string): Border => room.borders.find((b) => b.name === name) ?? { normal: pt(0, 0, 1), offset: Infinity };
    this.#outer = border('outer');
    this.#tip = border('tip');
    const upper = room.borders.find((b) => b.name === 'upper');
    this.wall = new Float32Array(this.#nodes.length);
    const starts: number[] = [];
    const ends = new Set<number>();
    const near = NEAR_CUT * STRIDE * g.h;
    this.#nodes.forEach((n, k) => {
      const at = this.at(k);
      const wall = room.values[n] as number;
      this.wall[k] = upper ? Math.min(wall, upper.offset - dot(upper.normal, at)) : wall;
      if (this.#outer.offset - dot(this.#outer.normal, at) < near) starts.push(k);
      if (this.#tip.offset - dot(this.#tip.normal, at) < near) ends.add(k);
    });
    this.#starts = starts;
    this.#ends = ends;
  }

  get size(): number {
    return this.#nodes.length;
  }

  at(k: number): Point<'ear'> {
    const { grid: g } = this.#room.field;
    const n = this.#nodes[k] as number;
    return pt(g.x0 + g.h * (n % g.nx), g.y0 + g.h * (Math.floor(n / g.nx) % g.ny), g.z0 + g.h * Math.floor(n / (g.nx * g.ny)));
  }

  /** What going through each node costs a millimetre: least along the wall on the side of unit vector `side`. */
  costs(radius: number, side?: Point<'ear'>): Float32Array {
    const { field, values } = this.#room;
    const e = 2 * field.grid.h;
    return Float32Array.from(this.#nodes, (_, k) => {
      const off = Math.max(0, (this.wall[k] as number) - radius);
      if (!side) return 1 + OFF_WALL * off;
      const [x, y, z] = this.at(k);
      const value = (dx: number, dy: number, dz: number): number => interpolate(field, values, x + dx, y + dy, z + dz);
      const inward = pt<'ear'>(value(e, 0, 0) - value(-e, 0, 0), value(0, e, 0) - value(0, -e, 0), value(0, 0, e) - value(0, 0, -e));
      const l = Math.sqrt(dot(inward, inward));
      return 1 + OFF_WALL * off + (ASIDE * (1 + (l > 1e-9 ? dot(inward, side) / l : 0))) / 2;
    });
  }

  /** The course from cut to cut; undefined where the lattice does not connect them. `clear`: spare of a tube at each node, mm. */
  course(clear: Float32Array, costs: Float32Array): Point<'ear'>[] | undefined {
    const widest = this.#widest(clear);
    if (widest === -Infinity) return undefined;
    const way = this.#cheapest(clear, widest, costs);
    const points = way.map((k) => this.at(k));
    const [first, last] = [points[0], points[points.length - 1]];
    return first && last ? [onto(this.#outer, first), ...points, onto(this.#tip, last)] : undefined;
  }

  /** The greatest clearance with which the cuts are connected. */
  #widest(clear: Float32Array): number {
    const best = new Float32Array(this.size).fill(-Infinity);
    const open = new Heap<number>();
    for (const k of this.#starts) {
      best[k] = clear[k] as number;
      open.push(k, -(best[k] as number));
    }
    while (open.size > 0) {
      const key = -open.key;
      const k = open.pop() as number;
      if (this.#ends.has(k)) return key;
      if (key < (best[k] as number)) continue;
      this.#each(k, (q) => {
        const through = Math.min(key, clear[q] as number);
        if (through <= (best[q] as number)) return;
        best[q] = through;
        open.push(q, -through);
      });
    }
    return -Infinity;
  }

  #cheapest(clear: Float32Array, least: number, costs: Float32Array): number[] {
    const cost = new Float64Array(this.size).fill(Infinity);
    const from = new Int32Array(this.size).fill(-1);
    const open = new Heap<number>();
    for (const k of this.#starts) {
      if ((clear[k] as number) < least) continue;
      cost[k] = 0;
      open.push(k, 0);
    }
    while (open.size > 0) {
      const key = open.key;
      const k = open.pop() as number;
      if (key > (cost[k] as number)) continue;
      if (this.#ends.has(k)) return traced(from, k);
      this.#each(k, (q, d) => {
        if ((clear[q] as number) < least) return;
        const through = key + (d * ((costs[k] as number) + (costs[q] as number))) / 2;
        if (through >= (cost[q] as number)) return;
        cost[q] = through;
        from[q] = k;
        open.push(q, through);
      });
    }
    return [];
  }

  /** Each neighbour (26 ways) with its distance, mm. */
  #each(k: number, meet: (q: number, d: number) => void): void {
    const { grid: g } = this.#room.field;
    const n = this.#nodes[k] as number;
    const i = n % g.nx;
    const j = Math.floor(n / g.nx) % g.ny;
    const l = Math.floor(n / (g.nx * g.ny));
    for (let c = -STRIDE; c <= STRIDE; c += STRIDE) {
      if (l + c < 0 || l + c >= g.nz) continue;
      for (let b = -STRIDE; b <= STRIDE; b += STRIDE) {
        if (j + b < 0 || j + b >= g.ny) continue;
        for (let a = -STRIDE; a <= STRIDE; a += STRIDE) {
          if (i + a < 0 || i + a >= g.nx || (a === 0 && b === 0 && c === 0)) continue;
          const q = this.#slots[n + a + g.nx * (b + g.ny * c)] as number;
          if (q >= 0) meet(q, g.h * Math.sqrt(a * a + b * b + c * c));
        }
      }
    }
  }
}

interface Border {
  readonly normal: Point<'ear'>;
  readonly offset: number;
}

function traced(from: Int32Array, last: number): number[] {
  const way = [last];
  for (let k = from[last] as number; k >= 0; k = from[k] as number) way.unshift(k);
  return way;
}

/** The point of a plane that is nearest to p. */
export function onto({ normal, offset }: Border, p: Point<'ear'>): Point<'ear'> {
  const h = offset - dot(normal, p);
  return pt(p[0] + h * normal[0], p[1] + h * normal[1], p[2] + h * normal[2]);
}
