/**
 * What there is between a convex solid and a shell that is open at its outer cut, mm, certified from below.
 *
 * The shell is what lies behind the outer cut within `wall` of the cast surface, of the tip face or of the upper face.
 * Each of those lies in a set that the distance to can be bounded for: all of it in the half-space behind the outer cut;
 * the wall within `wall` of the surface; the bottom of a cut in the wedge of two half-spaces. The greatest bound holds.
 */
import { cos, PI, sin } from '../geometry/trig.ts';
import { dot, heightOver, length, type Plane, type Pose, pt, scale } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Primitive } from '../model/parts.ts';
import { travel } from './between.ts';
import { Solid } from './solid.ts';
import { Surface } from './surface.ts';

/** Nothing farther off than this is told apart, mm. */
export const FAR = 0.15;
/** How far a solid may travel before the triangles near it are gathered anew: from a region, and the region from all, mm. */
const ROAM = 0.5;
const REGION = 2;

/** Triangles that may lie nearer than `within` to a solid whose part stood at `pose`. */
interface Gathered {
  readonly pose: Pose<'ear'>;
  readonly within: number;
  readonly which: Int32Array;
}

/** One solid primitive of a part that moves, with the triangles near it. */
export class Mover {
  readonly primitive: Primitive;
  /** Farthest point from the part's origin, mm. */
  readonly reach: number;
  region: Gathered | undefined;
  near: (Gathered & { readonly surface: Surface }) | undefined;
  /** A certified distance to the cast surface, and where it was had. */
  known: { readonly pose: Pose<'ear'>; readonly least: number } | undefined;

  constructor(primitive: Primitive) {
    this.primitive = primitive;
    this.reach = length(primitive.position) + new Solid(primitive, HOME).reach;
  }
}

const HOME: Pose<'ear'> = { position: pt(0, 0, 0), quaternion: [0, 0, 0, 1] };

export class Shell {
  readonly #body: Body;
  readonly #wall: number;
  readonly #surface: Surface;
  readonly #outer: Plane<'ear'>;
  /** Every triangle of the cast surface. */
  readonly #all: Int32Array;

  constructor(body: Body, wall: number, outer: Plane<'ear'>) {
    this.#body = body;
    this.#wall = wall;
    this.#outer = outer;
    this.#surface = new Surface(body);
    this.#all = Int32Array.from({ length: this.#surface.triangles }, (_, k) => k);
  }

  /** Clearance of a mover whose part stands at `pose`, at most FAR; below zero it touches, by how much is not told. */
  clearance(mover: Mover, pose: Pose<'ear'>): number {
    const solid = new Solid(mover.primitive, pose);
    const out = heightOver(this.#outer, solid.support(scale(this.#outer.normal, -1)));
    if (out >= FAR) return FAR;
    let least = this.#wallDistance(mover, pose, solid) - this.#wall;
    for (const cut of this.#body.cuts) if (cut.name !== 'outer') least = Math.min(least, this.#bottomDistance(solid, cut.plane));
    return Math.min(FAR, Math.max(least, out));
  }

  /** Certified distance to the cast surface, no more than what the gathered triangles can vouch for. */
  #wallDistance(mover: Mover, pose: Pose<'ear'>, solid: Solid): number {
    const wanted = this.#wall + FAR;
    const { known } = mover;
    const still = known ? known.least - travel(known.pose, pose, mover.reach) : -Infinity;
    if (still >= wanted) return still;
    const slack = (g: Gathered | undefined): number => (g ? g.within - travel(g.pose, pose, mover.reach) : -Infinity);
    if (!mover.near || slack(mover.near) < wanted) {
      const within = wanted + ROAM;
      if (!mover.region || slack(mover.region) < within) {
        const wide = within + REGION;
        mover.region = { pose, within: wide, which: this.#gather(solid, wide, this.#all) };
      }
      const which = this.#gather(solid, within, mover.region.which);
      mover.near = { pose, within, which, surface: new Surface(this.#bodyOf(which)) };
    }
    const least = Math.min(mover.near.surface.distanceTo(solid).least, slack(mover.near));
    mover.known = { pose, least };
    return least;
  }

  /** Those of some triangles of the cast surface that may lie nearer to the solid than `within`. */
  #gather(solid: Solid, within: number, from: Int32Array): Int32Array {
    const { balls } = this.#surface;
    const out = new Int32Array(from.length);
    const [cx, cy, cz] = solid.centre;
    let n = 0;
    for (let k = 0; k < from.length; k++) {
      const i = from[k] as number;
      const x = balls[4 * i] as number;
      const y = balls[4 * i + 1] as number;
      const z = balls[4 * i + 2] as number;
      const far = within + (balls[4 * i + 3] as number);
      const ball = far + solid.reach;
      if ((x - cx) * (x - cx) + (y - cy) * (y - cy) + (z - cz) * (z - cz) > ball * ball) continue;
      if (solid.distance(x, y, z) < far) out[n++] = i;
    }
    return out.slice(0, n);
  }

  /** The body with no more than some triangles of its cast surface. */
  #bodyOf(which: Int32Array): Body {
    const positions = new Float64Array(9 * which.length);
    which.forEach((t, k) => {
      positions.set(this.#surface.corners.subarray(9 * t, 9 * t + 9), 9 * k);
    });
    const indices = Uint32Array.from({ length: 3 * which.length }, (_, k) => k);
    return { ...this.#body, mesh: { frame: 'ear', positions, indices }, face: new Uint8Array(which.length) };
  }

  /** Distance to the wedge within `wall` of a cut and behind the outer cut: the gap along the best of some directions. */
  #bottomDistance(solid: Solid, cut: Plane<'ear'>): number {
    const n = cut.normal;
    const m = this.#outer.normal;
    const e = dot(n, cut.point) - this.#wall;
    const d = dot(m, this.#outer.point);
    let best = -Infinity;
    for (const [a, b] of DIRECTIONS) {
      const v = pt<'ear'>(a * n[0] - b * m[0], a * n[1] - b * m[1], a * n[2] - b * m[2]);
      const l = length(v);
      if (l > 1e-6) best = Math.max(best, (a * e - b * d - dot(v, solid.support(v))) / l);
      if (best >= FAR) break;
    }
    return best;
  }
}

/** From square to the cut towards square to the outer cut. */
const DIRECTIONS = Array.from({ length: 9 }, (_, k) => [cos((k * PI) / 16), sin((k * PI) / 16)] as const);
