/**
 * How far a witness lets a point be inside. phi is the distance to the cast's surface, positive inside the body. For a point q behind all cuts
 * and any witness w, phi(q) <= |q - w| + (w's distance to the surface); if w lies behind all cuts and outside, the way from q to it, which stays
 * behind the cuts, crosses the cast's surface, so that the distance counts less than nothing: phi(q) <= |q - w| - (that distance).
 */
import { TriangleTree } from '../geometry/bvh.ts';
import { heightOver, type Point, pt } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Vec } from './format.ts';
import { refuse } from './refusal.ts';

/** A body passes a 32-bit kernel: its cut faces lie in their planes within this, mm. Nearer to a cut than this no witness counts as outside, and all count for so much more room. */
const CUT_FACE = 1e-4;

export class Witnesses {
  readonly #body: Body;
  readonly #listed: readonly Vec[];
  readonly #cast: TriangleTree<'ear'>;
  readonly #whole: TriangleTree<'ear'>;
  /** Measured when first asked for. */
  readonly #room: (number | undefined)[] = [];

  constructor(listed: readonly Vec[], body: Body) {
    this.#listed = listed;
    this.#body = body;
    const { mesh, face } = body;
    this.#cast = new TriangleTree({ ...mesh, indices: mesh.indices.filter((_, i) => face[Math.floor(i / 3)] === 0) });
    this.#whole = new TriangleTree(mesh);
  }

  /** A witness by its number: its place, and no less than phi there, mm. */
  at(number: number): { readonly at: Vec; readonly room: number } {
    const at = this.#listed[number];
    if (!at) refuse(`there is no witness ${number}`);
    this.#room[number] ??= this.#measure(pt<'ear'>(...at));
    return { at, room: this.#room[number] as number };
  }

  #measure(w: Point<'ear'>): number {
    const near = this.#cast.nearest(w);
    if (!near) refuse('the body has no cast surface');
    const behind = this.#body.cuts.every((c) => heightOver(c.plane, w) < -CUT_FACE);
    return (behind && !this.#whole.contains(w) ? -near.distance : near.distance) + CUT_FACE;
  }
}
