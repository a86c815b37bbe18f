/**
 * Clearances of one unit by sample points, as rows with their slopes: what pushes it off what it comes near. Fast and
 * approximate; what counts is Scene.exact.
 */
import { pairRows } from '../arrange/contacts.ts';
import type { PartModel } from '../arrange/model.ts';
import { Rows } from '../arrange/rows.ts';
import { type At, pointRows } from '../arrange/walls.ts';
import { dot, type Point, type Vec3 } from '../geometry/vec.ts';
import { type Solids, topAlong } from '../room/convex.ts';
import { interpolate, placeNear } from '../room/room.ts';
import { hit, surfaceDistance } from '../room/surface.ts';
import { type Scene, topOf } from './scene.ts';
import type { Unit } from './units.ts';

/** How much the interpolated field may overvalue a point beside the true distance before it is measured, mm. */
const DOUBT = 0.05;
/** What a plate's rows are lifted by, mm: as much as steps try to keep of other clearances, for a plate may rest on what it meets. */
export const KEEP = 0.08;

export class Slopes {
  readonly rows = new Rows();
  readonly #scene: Scene;
  readonly #at: At = { x: 0, y: 0, z: 0, cx: 0, cy: 0, cz: 0 };

  constructor(scene: Scene) {
    this.#scene = scene;
  }

  /**
   * Fills `rows` with unit u's clearances below `below` against the shell and the units in `inside`; the least by samples.
   * `fine`: of more samples, each measured to the triangles themselves.
   */
  measure(u: number, inside: readonly number[], below: number, fine = false): number {
    const m = this.#scene.model;
    const rows = this.rows;
    rows.clear();
    let least = Math.min(this.#wallRows(u, below, fine), this.#cutRows(u, below));
    for (const v of inside) if (v !== u) least = Math.min(least, pairRows(m, this.#scene.world, u, v, below, 0, true, rows));
    if ((this.#scene.units[u] as Unit).plate) least = Math.min(least, this.#plateRows(u, inside, below));
    return least;
  }

  /** Sample points against the shell's wall: by the field, and near the shell's edge, past which the cast goes on but the shell does not, exactly. */
  #wallRows(u: number, below: number, fine: boolean): number {
    const m = this.#scene.model;
    const part = m.parts[u] as PartModel;
    const { at: points, asked: asks, count } = fine ? part.fine : part.coarse;
    const f = this.#scene.world.frame;
    const o = 12 * u;
    const [nx, ny, nz] = this.#scene.outer.normal;
    const at = this.#at;
    at.cx = f[o + 9] as number;
    at.cy = f[o + 10] as number;
    at.cz = f[o + 11] as number;
    const { field, values } = m.room;
    let least = Infinity;
    for (let k = 0; k < count; k++) {
      const [px, py, pz] = [points[3 * k] as number, points[3 * k + 1] as number, points[3 * k + 2] as number];
      at.x = (f[o] as number) * px + (f[o + 1] as number) * py + (f[o + 2] as number) * pz;
      at.y = (f[o + 3] as number) * px + (f[o + 4] as number) * py + (f[o + 5] as number) * pz;
      at.z = (f[o + 6] as number) * px + (f[o + 7] as number) * py + (f[o + 8] as number) * pz;
      const asked = asks[k] as number;
      const over = nx * (at.x + at.cx) + ny * (at.y + at.cy) + nz * (at.z + at.cz) - this.#scene.offset;
      if (over >= asked) continue;
      const v = interpolate(field, values, at.x + at.cx, at.y + at.cy, at.z + at.cz);
      let d = v - asked;
      if (d < below + DOUBT) {
        if (over > 0 || (over > -asked && v > 0)) d = over >= below ? over : this.#edgeRow(u, part, over, asked, below);
        else d = pointRows(m, this.rows, u, part, at, v, asked, below, fine);
      }
      if (d < least) least = d;
    }
    return least;
  }

  /** The sample point in `at`, so far over the outer cut, against the shell near its edge. */
  #edgeRow(u: number, part: PartModel, over: number, asked: number, below: number): number {
    const at = this.#at;
    const point = POINT.frame;
    point[9] = at.x + at.cx;
    point[10] = at.y + at.cy;
    point[11] = at.z + at.cz;
    const { field, planes } = this.#scene.model.room;
    const d =
      surfaceDistance(field.near, planes, POINT, 0, below + asked, placeNear(field, at.x + at.cx, at.y + at.cy, at.z + at.cz)) - asked;
    const beyond = over > d;
    const has = Math.max(d, over);
    if (has >= below) return has;
    const n = this.#scene.outer.normal;
    const r = this.rows.add(has, u, -1);
    if (beyond) this.rows.point(this.#scene.model, r, 0, part, n[0], n[1], n[2], at.x, at.y, at.z);
    else this.rows.point(this.#scene.model, r, 0, part, hit.ux, hit.uy, hit.uz, at.x, at.y, at.z);
    return has;
  }

  /** Against the shell's bottom at the tip and upper cuts; a solid that is out has left them behind. */
  #cutRows(u: number, below: number): number {
    const m = this.#scene.model;
    const part = m.parts[u] as PartModel;
    const s = this.#scene.world.solids[u] as Solids;
    let least = Infinity;
    for (const border of m.room.borders) {
      if (border.name === 'outer') continue;
      const [x, y, z] = border.normal;
      for (let i = 0; i < s.count; i++) {
        const has = border.offset - topAlong(s, i, x, y, z) - this.#scene.wall;
        if (has < below && this.#scene.lowest(s, i) < 0) {
          const top = topOf(s, i, border.normal);
          const r = this.rows.add(has, u, -1);
          this.#row(r, u, part, [-x, -y, -z], top);
          least = Math.min(least, has);
        }
      }
    }
    return least;
  }

  #row(r: number, u: number, part: PartModel, n: Vec3, at: Vec3): void {
    const c = this.#scene.centre(u);
    this.rows.point(this.#scene.model, r, 0, part, n[0], n[1], n[2], at[0] - c[0], at[1] - c[1], at[2] - c[2]);
  }

  /** What the plate must stay in front of: the shell's edge and the tops of the units that are in. */
  #plateStops(u: number, inside: readonly number[], normal: Point<'ear'>): Point<'ear'>[] {
    const tops: Point<'ear'>[] = [];
    for (const v of inside) {
      if ((this.#scene.units[v] as Unit).grown) continue;
      const s = this.#scene.world.solids[v] as Solids;
      for (let i = 0; v !== u && i < s.count; i++) tops.push(topOf(s, i, normal));
    }
    return [...this.#scene.edge, ...tops];
  }

  #plateRows(u: number, inside: readonly number[], below: number): number {
    const { normal, height } = this.#scene.plate(u);
    const part = this.#scene.model.parts[u] as PartModel;
    let least = Infinity;
    for (const q of this.#plateStops(u, inside, normal)) {
      const has = height - dot(normal, q);
      if (has + KEEP < least) least = has + KEEP;
      if (has + KEEP < below) this.#row(this.rows.add(has + KEEP, u, -1), u, part, normal, q);
    }
    return least;
  }
}

/** A point as a solid. */
const POINT: Solids = {
  count: 1,
  shape: new Uint8Array(1),
  half: new Float64Array(3),
  round: new Float64Array(1),
  frame: new Float64Array([1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0]),
};
