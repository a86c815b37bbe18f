import { dot, type Point, type Pose } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Primitive, Rules } from '../model/parts.ts';
import { ballRadius, posedSolids, type Solids, topAlong } from './convex.ts';
import { DEPTH_ERROR, deepest, depthOutside } from './depth.ts';
import type { CastField } from './field.ts';
import { hit, type Planes, surfaceDistance } from './surface.ts';

/**
 * A point that faces the nearest triangle this squarely (cosine) is on the side that it faces: to be on the other, it would
 * have to have another sheet of the surface nearer. Beside edges and vertices crossings are counted instead.
 */
const CLEARLY = 0.7;

/** A cut and what the rules ask of it. */
export interface Border {
  readonly name: 'outer' | 'tip' | 'upper';
  /** The plane as n . x <= d. */
  readonly normal: Point<'ear'>;
  readonly offset: number;
  /** Asked of a solid, before its margin, mm. The outer cut asks nothing of a part that is seated there. */
  readonly asked: number;
}

/**
 * The space in one body where parts may be: the cast's field, the cuts with what is asked of each, and which nodes can
 * be reached from the body's seed (other lumps of the cast may lie behind the same planes).
 */
export class Room {
  readonly field: CastField;
  readonly body: Body;
  readonly rules: Rules;
  readonly borders: readonly Border[];
  readonly planes: Planes;
  /** Asked of a solid by the cast's surface, before its margin, mm. */
  readonly wallAsked: number;
  /** As the field's values, but negated where the seed cannot reach; the field's own array where it reaches everything. */
  readonly values: Float32Array;
  /** Nodes within the cuts that the seed reaches: place for parts' centres. */
  readonly reachable: Int32Array;
  /** Place of the last exact distance's triangle. */
  #place = -1;

  constructor(field: CastField, body: Body, rules: Rules) {
    this.field = field;
    this.body = body;
    this.rules = rules;
    this.wallAsked = rules.wall + rules.gap;
    this.borders = body.cuts.map((c) => ({
      name: c.name,
      normal: c.plane.normal,
      offset: dot(c.plane.normal, c.plane.point),
      asked: (c.name === 'outer' ? rules.faceplate : rules.wall) + rules.gap,
    }));
    this.planes = { count: this.borders.length, flat: new Float64Array(this.borders.flatMap((b) => [...b.normal, b.offset])) };
    const { reached, values } = flood(field, this.planes, body.seed);
    this.reachable = reached;
    this.values = values;
  }

  /** Distance to the cast's surface by interpolation, positive inside, mm. See CastField for how far it may be off. */
  distance(x: number, y: number, z: number): number {
    return interpolate(this.field, this.values, x, y, z);
  }

  /** Exact signed distance of a point to the cast's surface (the whole cast, whatever the cuts), mm. */
  exactDistance(x: number, y: number, z: number): number {
    const { near } = this.field;
    this.#place = near.query(x, y, z, placeNear(this.field, x, y, z), Infinity);
    const d = Math.sqrt(near.found);
    const facing = this.#facing(x, y, z);
    if (facing > CLEARLY * d) return -d;
    return facing < -CLEARLY * d || this.#inside(x, y, z, d) ? d : -d;
  }

  /** Height of a point over the plane of the triangle that the last query found: above is outside. */
  #facing(x: number, y: number, z: number): number {
    const { packed } = this.field.near;
    const t = 12 * this.#place;
    return (
      (x - (packed[t] as number)) * (packed[t + 9] as number) +
      (y - (packed[t + 1] as number)) * (packed[t + 10] as number) +
      (z - (packed[t + 2] as number)) * (packed[t + 11] as number)
    );
  }

  /** Inside the cast? `clear`: a distance within which there is no surface; past a cell's diagonal a node of the cell tells. */
  #inside(x: number, y: number, z: number, clear: number): boolean {
    const { grid } = this.field;
    if (clear > grid.h * 0.88) {
      const n = nodeNear(this.field, x, y, z);
      if (n >= 0) return (this.field.values[n] as number) > 0;
    }
    return this.field.near.tree.contains([x, y, z] as unknown as Point<'ear'>);
  }

  /**
   * Clearance of a posed convex solid to the body's cast surface, exact, mm: the distance when it lies inside, else minus
   * the depth of its deepest point outside (that within 0.002, see depth.ts). At most `limit`, and once below `floor` any figure below that: both make the search shorter.
   * `hit` (room/surface.ts) is left with the witness.
   */
  wallClearance(s: Solids, i: number, limit = Infinity, hint = -1, floor = -Infinity): number {
    const { near } = this.field;
    const f = s.frame;
    const x = f[12 * i + 9] as number;
    const y = f[12 * i + 10] as number;
    const z = f[12 * i + 11] as number;
    const first = hint >= 0 ? hint : placeNear(this.field, x, y, z);
    // Below zero the limit says nothing about crossing or not, which must be known first.
    const d = surfaceDistance(near, this.planes, s, i, Math.max(limit, 1e-6), first);
    if (d > 0 && this.#holds(x, y, z, d + leastHalf(s, i))) return d;
    // A capsule whose axis clears the surface by c is nowhere deeper than its radius less c: often that is the answer.
    const core = d + (s.round[i] as number);
    if (d < 0 && core > 0 && -this.exactDistance(hit.x, hit.y, hit.z) >= -d - DEPTH_ERROR && this.#holds(x, y, z, core)) return d;
    const depth = depthOutside(
      s,
      i,
      this.planes,
      (a, b, c, at) => {
        const v = -this.exactDistance(a, b, c);
        near.distance2(this.#place, a, b, c);
        at[0] = near.qx;
        at[1] = near.qy;
        at[2] = near.qz;
        return v;
      },
      Math.max(0, -floor),
    );
    if (depth > 0) {
      hit.x = deepest.x;
      hit.y = deepest.y;
      hit.z = deepest.z;
    }
    // Crossing, yet nowhere deeper than can be told: a touch.
    return d > 0 ? -Math.max(depth, ballRadius(s, i)) : Math.min(-depth, -1e-6);
  }

  /** Does a solid that crosses no surface lie in the body's own lump? By its centre. */
  #holds(x: number, y: number, z: number, clear: number): boolean {
    if (!this.#inside(x, y, z, clear)) return false;
    if (this.values === this.field.values) return true;
    const n = nodeNear(this.field, x, y, z);
    return n < 0 || (this.values[n] as number) > 0;
  }

  /** Clearance of a solid to one of the cuts: below 0, minus how far it sticks out. Exact, mm. */
  cutClearance(s: Solids, i: number, border: number): number {
    const b = this.borders[border] as Border;
    return b.offset - topAlong(s, i, b.normal[0], b.normal[1], b.normal[2]);
  }

  /** The same for one primitive of a posed part, in the terms of the model; for a viewer or a test. */
  clearanceOf(primitive: Primitive, pose: Pose<'ear'>): { readonly wall: number; readonly cuts: readonly number[] } {
    const s = posedSolids([primitive], pose);
    return { wall: this.wallClearance(s, 0), cuts: this.borders.map((_, k) => this.cutClearance(s, 0, k)) };
  }
}

/** A solid that the surface does not come within d of keeps it at least this much farther from its centre. */
function leastHalf(s: Solids, i: number): number {
  const x = s.half[3 * i] as number;
  const y = s.half[3 * i + 1] as number;
  const z = s.half[3 * i + 2] as number;
  return Math.min(x, y, z) + (s.round[i] as number);
}

/** Number of the nearest node, or -1 outside the grid. */
export function nodeNear(f: CastField, x: number, y: number, z: number): number {
  const { grid: g } = f;
  const i = Math.round((x - g.x0) / g.h);
  const j = Math.round((y - g.y0) / g.h);
  const k = Math.round((z - g.z0) / g.h);
  if (i < 0 || j < 0 || k < 0 || i >= g.nx || j >= g.ny || k >= g.nz) return -1;
  return (k * g.ny + j) * g.nx + i;
}

/** A triangle's place that is probably near, or -1. */
export function placeNear(f: CastField, x: number, y: number, z: number): number {
  const n = nodeNear(f, x, y, z);
  return n < 0 ? -1 : (f.places[n] as number);
}

/** Trilinear value; beyond the grid, that of the nearest point of it less the way there. */
export function interpolate(f: CastField, values: Float32Array, x: number, y: number, z: number): number {
  const { h, x0, y0, z0, nx, ny, nz } = f.grid;
  let a = (x - x0) / h;
  let b = (y - y0) / h;
  let c = (z - z0) / h;
  let away = 0;
  if (!(a >= 0 && b >= 0 && c >= 0 && a < nx - 1 && b < ny - 1 && c < nz - 1)) {
    const ca = Math.max(0, Math.min(nx - 1.001, a));
    const cb = Math.max(0, Math.min(ny - 1.001, b));
    const cc = Math.max(0, Math.min(nz - 1.001, c));
    away = h * Math.sqrt((a - ca) * (a - ca) + (b - cb) * (b - cb) + (c - cc) * (c - cc));
    a = ca;
    b = cb;
    c = cc;
  }
  const i = Math.floor(a);
  const j = Math.floor(b);
  const k = Math.floor(c);
  const u = a - i;
  const v = b - j;
  const w = c - k;
  const n = (k * ny + j) * nx + i;
  const m = n + nx * ny;
  const v00 = (values[n] as number) * (1 - u) + (values[n + 1] as number) * u;
  const v10 = (values[n + nx] as number) * (1 - u) + (values[n + nx + 1] as number) * u;
  const v01 = (values[m] as number) * (1 - u) + (values[m + 1] as number) * u;
  const v11 = (values[m + nx] as number) * (1 - u) + (values[m + nx + 1] as number) * u;
  return (v00 * (1 - v) + v10 * v) * (1 - w) + (v01 * (1 - v) + v11 * v) * w - away;
}

/** The nodes within the cuts that the seed reaches through inside nodes, and the values with the others' sign turned. */
function flood(field: CastField, planes: Planes, seed: Point<'ear'>): { reached: Int32Array; values: Float32Array } {
  const { grid: g, values } = field;
  const state = new Uint8Array(values.length); // 1: inside and within the cuts; 2: reached
  const p = planes.flat;
  let total = 0;
  for (let k = 0, n = 0; k < g.nz; k++) {
    for (let j = 0; j < g.ny; j++) {
      for (let i = 0; i < g.nx; i++, n++) {
        if ((values[n] as number) <= 0) continue;
        let within = true;
        for (let c = 0; c < planes.count; c++) {
          const h =
            (p[4 * c] as number) * (g.x0 + g.h * i) +
            (p[4 * c + 1] as number) * (g.y0 + g.h * j) +
            (p[4 * c + 2] as number) * (g.z0 + g.h * k);
          if (h > (p[4 * c + 3] as number)) within = false;
        }
        if (within) {
          state[n] = 1;
          total++;
        }
      }
    }
  }
  const reached = new Int32Array(total);
  let size = 0;
  const start = startNode(field, state, seed);
  if (start >= 0) {
    state[start] = 2;
    reached[size++] = start;
  }
  for (let at = 0; at < size; at++) {
    const n = reached[at] as number;
    const i = n % g.nx;
    const j = Math.floor(n / g.nx) % g.ny;
    const layer = g.nx * g.ny;
    if (i > 0 && state[n - 1] === 1) reached[size++] = mark(state, n - 1);
    if (i + 1 < g.nx && state[n + 1] === 1) reached[size++] = mark(state, n + 1);
    if (j > 0 && state[n - g.nx] === 1) reached[size++] = mark(state, n - g.nx);
    if (j + 1 < g.ny && state[n + g.nx] === 1) reached[size++] = mark(state, n + g.nx);
    if (n >= layer && state[n - layer] === 1) reached[size++] = mark(state, n - layer);
    if (n + layer < state.length && state[n + layer] === 1) reached[size++] = mark(state, n + layer);
  }
  if (size === total) return { reached, values };
  const own = values.slice();
  for (let n = 0; n < state.length; n++) if (state[n] === 1) own[n] = -(own[n] as number);
  return { reached: reached.slice(0, size), values: own };
}

function mark(state: Uint8Array, n: number): number {
  state[n] = 2;
  return n;
}

/** The allowed node nearest the seed among its surroundings, or -1. */
function startNode(field: CastField, state: Uint8Array, seed: Point<'ear'>): number {
  const { grid: g } = field;
  const at = [(seed[0] - g.x0) / g.h, (seed[1] - g.y0) / g.h, (seed[2] - g.z0) / g.h] as const;
  let best = Infinity;
  let found = -1;
  for (let k = Math.max(0, Math.floor(at[2]) - 1); k <= Math.min(g.nz - 1, Math.floor(at[2]) + 2); k++) {
    for (let j = Math.max(0, Math.floor(at[1]) - 1); j <= Math.min(g.ny - 1, Math.floor(at[1]) + 2); j++) {
      for (let i = Math.max(0, Math.floor(at[0]) - 1); i <= Math.min(g.nx - 1, Math.floor(at[0]) + 2); i++) {
        const n = (k * g.ny + j) * g.nx + i;
        const d = (i - at[0]) ** 2 + (j - at[1]) ** 2 + (k - at[2]) ** 2;
        if (state[n] === 1 && d < best) {
          best = d;
          found = n;
        }
      }
    }
  }
  return found;
}
