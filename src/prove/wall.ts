/**
 * Upper bounds on the room at a point of a body, from witnesses.
 *
 * phi(q) is the distance from q to the cast surface, positive inside the body, negative outside. Between points that lie
 * behind all cuts it changes by no more than the way between them (a way that leaves the body there crosses the cast
 * surface), so that every witness w gives phi(q) <= phi(w) + |q - w|. Three kinds: a node near q; the surface point
 * nearest to that node (phi = 0); and points well outside, whose bound is nearly that of a plane and therefore keeps
 * its direction when many of them are combined. All values are exact triangle distances; which witnesses are chosen
 * decides only how tight a bound is.
 */
import { TriangleTree } from '../geometry/bvh.ts';
import { heightOver, type Plane, type Point, pt } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';

/** How far outside the far witnesses are looked for, mm. */
const FAR = [1.2, 3.5];
/** Added to every distance, mm: rounding of coordinates of some tens of mm is below 1e-12. */
const ROUNDING = 1e-9;

/** A place on a grid with its witnesses: x y z phi each; the first is the place itself, the second on the surface. */
export type Witnesses = Float64Array;

export class WallOracle {
  readonly cuts: readonly Plane<'ear'>[];
  readonly #surface: TriangleTree<'ear'>;
  readonly #whole: TriangleTree<'ear'>;
  readonly #known = new Map<number, Witnesses>();
  #hint = -1;
  /** How many places were measured: the cost of a proof. */
  measured = 0;

  constructor(body: Body) {
    const { positions, indices } = body.mesh;
    let n = 0;
    for (const f of body.face) if (f === 0) n++;
    const cast = new Uint32Array(3 * n);
    n = 0;
    for (let i = 0; i < body.face.length; i++) if (body.face[i] === 0) cast.set(indices.subarray(3 * i, 3 * i + 3), 3 * n++);
    this.cuts = body.cuts.map((c) => c.plane);
    this.#surface = new TriangleTree({ frame: 'ear', positions, indices: cast });
    this.#whole = new TriangleTree(body.mesh);
  }

  /** How far the point lies beyond the cuts: at most 0 when behind all. */
  over(p: Point<'ear'>): number {
    let over = -Infinity;
    for (const c of this.cuts) over = Math.max(over, heightOver(c, p));
    return over;
  }

  /** phi at a point behind all cuts. */
  phi(p: Point<'ear'>): number {
    const near = this.#surface.nearest(p, Infinity, this.#hint);
    if (!near) return Infinity;
    this.#hint = near.triangle;
    return this.#outside(p) ? ROUNDING - near.distance : near.distance + ROUNDING;
  }

  /**
   * Certainly outside the body? Crossings along two rays must agree; in doubt a point counts as inside, which can only
   * make a bound larger.
   */
  #outside(p: Point<'ear'>): boolean {
    for (const d of RAYS) {
      let turns = 0;
      this.#whole.alongRay(p, d, (_t, _d, facing) => {
        turns += facing;
      });
      if (turns > 0) return false;
    }
    return true;
  }

  /**
   * The witnesses of the place nearest to p on a grid of `spacing` (a power of two, mm). Places are measured once. A place
   * beyond the cuts has none (an empty list).
   */
  near(p: Point<'ear'>, level: number): Witnesses {
    const spacing = 2 ** -level;
    const [i, j, k] = [Math.round(p[0] / spacing), Math.round(p[1] / spacing), Math.round(p[2] / spacing)];
    const key = (((level + 4) * 8192 + (i + 4096)) * 8192 + (j + 4096)) * 8192 + (k + 4096);
    let found = this.#known.get(key);
    if (!found) {
      found = this.#measure(pt<'ear'>(i * spacing, j * spacing, k * spacing));
      this.#known.set(key, found);
    }
    return found;
  }

  #measure(p: Point<'ear'>): Witnesses {
    if (this.over(p) > 0) return NONE;
    this.measured++;
    const near = this.#surface.nearest(p, Infinity, this.#hint);
    if (!near) return NONE;
    this.#hint = near.triangle;
    const outside = this.#outside(p);
    const d = near.distance + ROUNDING;
    const out = [p[0], p[1], p[2], outside ? 2 * ROUNDING - d : d, near.point[0], near.point[1], near.point[2], ROUNDING];
    if (near.distance > 1e-6) {
      const s = (outside ? 1 : -1) / near.distance;
      const away = [0, 1, 2].map((k) => s * ((p[k] as number) - (near.point[k] as number)));
      for (const far of FAR) this.#addFar(out, near.point, away, far);
    }
    return Float64Array.from(out);
  }

  #addFar(out: number[], foot: Point<'ear'>, away: readonly number[], far: number): void {
    const w = pt<'ear'>(foot[0] + far * (away[0] as number), foot[1] + far * (away[1] as number), foot[2] + far * (away[2] as number));
    if (this.over(w) > 0) return;
    const phi = this.phi(w);
    if (phi < 0) out.push(w[0], w[1], w[2], phi);
  }
}

const NONE = new Float64Array(0);

const unit = (v: readonly [number, number, number]): readonly [number, number, number] => {
  const l = Math.sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
  return [v[0] / l, v[1] / l, v[2] / l];
};
/** Two directions without a special relation to any axis or to each other. */
const RAYS = [unit([0.6131, -0.3719, 0.6977]), unit([-0.2713, 0.8831, 0.3827])] as const;
