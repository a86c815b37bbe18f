/**
 * Upper bounds on the room at a point of a body, from witnesses.
 *
 * phi(q) is the distance from q to the cast surface, positive inside the body, negative outside. Between points that lie
 * behind all cuts it changes by no more than the way between them (a way that leaves the body there crosses the cast
 * surface), so that every witness w gives phi(q) <= phi(w) + |q - w|. Three kinds: a place near q; the surface point
 * nearest to that place (phi = 0); and points well outside, whose bound is nearly that of a plane and therefore keeps
 * its direction when many of them are combined. Values are triangle distances with their tolerance taken on the safe
 * side; which witnesses are chosen decides only how tight a bound is.
 */
import { distance, heightOver, type Plane, type Point, pt } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import { NearestTriangle } from './nearest.ts';
import { Rays } from './rays.ts';

/** How far outside the far witnesses are looked for, mm. */
const FAR = [2, 9] as const;
/** Added to every distance, mm: rounding of coordinates of some tens of mm is below 1e-12. */
const ROUNDING = 1e-9;
/** Where the grid of places begins, in spacings: at no round number, so that its lines meet no edge of a drawn body. */
const OFF = [0.2137, 0.3719, 0.1933] as const;
/** Levels of the grid of places: spacing 2^-level mm. */
export const FINEST = 4;

/** A body passes a 32-bit kernel: its cut faces lie in their planes within this, mm. Between face and plane a place seems to be outside and is not. */
const CUT_FACE = 1e-4;

/** Places this many spacings from the body's middle are not measured: at the finest level, 32 mm. Small keys are found faster. */
const FAR_OFF = 512;

/** A measured place. */
export interface Place {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** No more than this at the place (and at most `loose` too much). */
  readonly phi: number;
  readonly loose: number;
  readonly triangle: number;
  readonly outside: boolean;
  readonly foot: readonly [number, number, number];
  /** Far witnesses, x y z phi each, once asked for. */
  far?: Float64Array;
}

export class WallOracle {
  readonly cuts: readonly Plane<'ear'>[];
  readonly #nearest: NearestTriangle;
  readonly #rays: Rays;
  /** By level; keys are places of the grid about the middle of the body. */
  readonly #known: readonly Map<number, Place | null>[] = Array.from({ length: FINEST + 1 }, () => new Map());
  readonly #middle: Point<'ear'>;
  /** How many distances were measured: the cost of a proof. */
  measured = 0;

  constructor(body: Body) {
    const { positions, indices } = body.mesh;
    let n = 0;
    for (const f of body.face) if (f === 0) n++;
    const cast = new Uint32Array(3 * n);
    n = 0;
    for (let i = 0; i < body.face.length; i++) if (body.face[i] === 0) cast.set(indices.subarray(3 * i, 3 * i + 3), 3 * n++);
    this.#middle = middleOf(positions);
    this.cuts = body.cuts.map((c) => c.plane);
    this.#nearest = new NearestTriangle({ frame: 'ear', positions, indices: cast });
    this.#rays = new Rays(body.mesh);
  }

  /** How far the point lies beyond the cuts: at most 0 when behind all. */
  over(x: number, y: number, z: number): number {
    let over = -Infinity;
    const p = pt<'ear'>(x, y, z);
    for (const c of this.cuts) over = Math.max(over, heightOver(c, p));
    return over;
  }

  /** phi at a point behind all cuts, at most `tolerance` too large. */
  phi(x: number, y: number, z: number, tolerance: number, hint = -1): number {
    this.measured++;
    const d = this.#nearest.distance(x, y, z, tolerance, hint);
    return this.#rays.outside(x, y, z, d - tolerance) ? tolerance - d + ROUNDING : d + ROUNDING;
  }

  /** The place nearest to a point on the grid of a level, measured once. Undefined for a place beyond the cuts, or far off. */
  near(p: Point<'ear'>, level: number): Place | undefined {
    const per = 1 << level;
    const [x, y, z] = this.#middle;
    const i = Math.round((p[0] - x) * per - OFF[0]);
    const j = Math.round((p[1] - y) * per - OFF[1]);
    const k = Math.round((p[2] - z) * per - OFF[2]);
    if (Math.abs(i) >= FAR_OFF || Math.abs(j) >= FAR_OFF || Math.abs(k) >= FAR_OFF) return undefined;
    const known = this.#known[level] as Map<number, Place | null>;
    const key = ((i + FAR_OFF) << 20) | ((j + FAR_OFF) << 10) | (k + FAR_OFF);
    let found = known.get(key);
    if (found === undefined) {
      found = this.#measure(x + (i + OFF[0]) / per, y + (j + OFF[1]) / per, z + (k + OFF[2]) / per, level);
      known.set(key, found);
    }
    return found ?? undefined;
  }

  #measure(x: number, y: number, z: number, level: number): Place | null {
    if (this.over(x, y, z) > -CUT_FACE) return null;
    const coarse = level > 1 ? this.near(pt<'ear'>(x, y, z), level - 2) : undefined;
    const loose = 1 / (32 << level);
    this.measured++;
    const d = this.#nearest.distance(x, y, z, loose, coarse?.triangle ?? -1);
    if (d === Infinity) return null;
    const foot = [...this.#nearest.foot] as [number, number, number];
    const triangle = this.#nearest.triangle;
    const outside = this.#side(x, y, z, coarse, d - loose);
    return { x, y, z, phi: (outside ? loose - d : d) + ROUNDING, loose, triangle, outside, foot };
  }

  /** On the same side as a coarser place that is nearer than the surface; else by a ray. */
  #side(x: number, y: number, z: number, coarse: Place | undefined, clear: number): boolean {
    if (coarse) {
      const way = distance([x, y, z], [coarse.x, coarse.y, coarse.z]);
      if (Math.abs(coarse.phi) - coarse.loose - ROUNDING > way) return coarse.outside;
    }
    return this.#rays.outside(x, y, z, clear);
  }

  /** The place's witnesses outside the body: up to two, beyond its foot on the surface. */
  far(place: Place): Float64Array {
    if (place.far) return place.far;
    const out: number[] = [];
    const [fx, fy, fz] = place.foot;
    const d = distance([place.x, place.y, place.z], place.foot);
    if (d > 1e-4) {
      for (const l of FAR) {
        const s = ((place.outside ? 1 : -1) * l) / d;
        const [x, y, z] = [fx + s * (place.x - fx), fy + s * (place.y - fy), fz + s * (place.z - fz)];
        if (this.over(x, y, z) > -CUT_FACE) break;
        const phi = this.phi(x, y, z, 0.002, place.triangle);
        if (phi < 0) out.push(x, y, z, phi);
      }
    }
    place.far = Float64Array.from(out);
    return place.far;
  }
}

/** Of the box round all points. */
function middleOf(positions: Float64Array): Point<'ear'> {
  const lo = [Infinity, Infinity, Infinity];
  const hi = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < positions.length; i++) {
    lo[i % 3] = Math.min(lo[i % 3] as number, positions[i] as number);
    hi[i % 3] = Math.max(hi[i % 3] as number, positions[i] as number);
  }
  const [x, y, z] = lo.map((l, k) => (l + (hi[k] as number)) / 2);
  return pt<'ear'>(x as number, y as number, z as number);
}
