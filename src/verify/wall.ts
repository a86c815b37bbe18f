/** What there is between a solid and the cast surface of a body, mm: the distance, or minus how far it sticks out. */
import { addScaled, heightOver, type Point } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import { deepestOutside } from './depth.ts';
import { Columns, Nearest } from './inside.ts';
import { cornerFactor, type Solid } from './solid.ts';
import { Surface } from './surface.ts';

export interface Reading {
  readonly has: number;
  readonly at: Point<'ear'>; // on the solid
}

/** Below this the corner bound is taken and no search for the deepest point is made, mm. */
const SHALLOW = 0.002;

export class Wall {
  readonly #body: Body;
  readonly #surface: Surface;
  readonly #inside: Columns;
  #nearest: Nearest | undefined;

  constructor(body: Body) {
    this.#body = body;
    this.#surface = new Surface(body);
    this.#inside = new Columns(body.mesh);
  }

  /**
   * A lower bound. Only what lies behind every cut can stick out here (what passes a cut is measured against that cut),
   * so a solid that does not touch the cast surface is as a whole on one side of it, and one point tells which.
   */
  clearance(solid: Solid): Reading {
    const { least, at } = this.#surface.distanceTo(solid);
    const on = solid.closest(at);
    if (least >= 0) {
      const p = this.#pointBehindCuts(solid);
      return !p || this.#inside.contains(p[0], p[1], p[2]) ? { has: least, at: on } : this.#depth(solid, Infinity);
    }
    return this.#crossing(solid, -least, on);
  }

  /**
   * The surface enters the solid by at most `by`. Then the solid shrunk by that much is on one side as a whole; if that is
   * the inner side, whatever is outside is a rim: no farther from the surface than the rim's corners from what it encloses.
   */
  #crossing(solid: Solid, by: number, on: Point<'ear'>): Reading {
    const [x, y, z] = solid.centre;
    const behind = this.#body.cuts.every((c) => heightOver(c.plane, solid.support(c.plane.normal)) < 0);
    const rim = behind && by < solid.inner && this.#inside.contains(x, y, z) ? by * cornerFactor(solid.shape) : Infinity;
    return rim < SHALLOW ? { has: -rim, at: on } : this.#depth(solid, rim);
  }

  #depth(solid: Solid, limit: number): Reading {
    this.#nearest ??= new Nearest(this.#surface.corners);
    const { most, at } = deepestOutside(solid, this.#inside, this.#nearest, this.#body.cuts);
    return { has: -Math.min(most, limit), at };
  }

  /** A point of the solid clearly behind every cut, by projecting to and fro; undefined when there is none. */
  #pointBehindCuts(solid: Solid): Point<'ear'> | undefined {
    for (const margin of [0.05, 1e-3, 1e-5]) {
      let p = solid.centre;
      for (let turn = 0; turn < 60; turn++) {
        const worst = this.#body.cuts.reduce((m, c) => Math.max(m, heightOver(c.plane, p)), -Infinity);
        if (worst <= -margin / 2) return p;
        for (const { plane } of this.#body.cuts) {
          const over = heightOver(plane, p) + margin;
          if (over > 0) p = solid.closest(addScaled(p, plane.normal, -over));
        }
      }
    }
    return undefined;
  }
}
