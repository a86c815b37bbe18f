/**
 * Does a certificate prove what it claims? A short checker that believes nothing of the prover: it measures distances to the
 * body's triangles itself, halves the cells itself, and works out each cell's inequality from its own derivation.
 *
 * The claim is about poses (a, b, spin) of a part whose z = 0 plane lies on the faceplate's inner face. Let q(pose) be where
 * a point p of the part goes, o the asked distance. If q lies behind all cuts that count for the part, its room is at most
 * phi(w) + |q - w| for any w behind all cuts (phi: distance to the cast surface, positive inside; a way between two such
 * points that leaves the body crosses that surface), so the spare is at most phi(w) + |q - w| - o. If q lies beyond a
 * cut, the spare is at most -(what is asked of that cut). So with `least` the least of all that is asked, a ceiling of at least
 * -least holds wherever the inequalities of points behind the cuts hold.
 */
import { TriangleTree } from '../geometry/bvh.ts';
import { conjugate, rotate } from '../geometry/rotation.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import { cross, dot, heightOver, length, type Plane, type Point, pt, sub } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Certificate, Row } from './format.ts';

export type CheckedCertificate =
  | { readonly holds: true; readonly ceiling: number; readonly cells: number }
  | { readonly holds: false; readonly why: string };

/** Rounding of what is compared, mm. */
const ROUNDING = 1e-9;

/** Why a certificate does not hold. */
class Refusal extends Error {}

const demand = (condition: boolean, why: string): void => {
  if (!condition) throw new Refusal(why);
};

/** Checks a certificate against the body that the scan and the style give (ear frame, mm). Never throws for a bad one. */
export function certify(certificate: Certificate, body: Body): CheckedCertificate {
  try {
    const cells = new Checker(certificate, body).check();
    return { holds: true, ceiling: certificate.ceiling, cells };
  } catch (e) {
    if (e instanceof Refusal) return { holds: false, why: e.message };
    throw e;
  }
}

/** A box of poses: middle and half sizes of a, b and spin. */
export interface Poses {
  readonly middle: readonly [number, number, number];
  readonly half: readonly [number, number, number];
}

export class Checker {
  readonly #c: Certificate;
  readonly #body: Body;
  readonly #outer: Plane<'ear'>;
  /** The cuts that count for a part at the faceplate. */
  readonly #cuts: readonly Plane<'ear'>[];
  readonly #u: Point<'ear'>;
  readonly #v: Point<'ear'>;
  readonly #origin: Point<'ear'>;
  readonly #asked: number;
  readonly #cast: TriangleTree<'ear'>;
  readonly #whole: TriangleTree<'ear'>;
  readonly #phi = new Map<string, number>();

  constructor(certificate: Certificate, body: Body) {
    this.#c = certificate;
    this.#body = body;
    const outer = body.cuts.find((c) => c.name === 'outer')?.plane;
    if (!outer) throw new Refusal('the body has no outer cut');
    this.#outer = outer;
    this.#cuts = body.cuts.filter((c) => c.name !== 'outer').map((c) => c.plane);
    const { origin, u, v } = certificate.seat;
    [this.#origin, this.#u, this.#v] = [pt(...origin), pt(...u), pt(...v)];
    this.#asked = certificate.rules.wall + certificate.rules.gap + certificate.part.margin;
    this.#cast = new TriangleTree({ ...body.mesh, indices: body.mesh.indices.filter((_, i) => body.face[Math.floor(i / 3)] === 0) });
    this.#whole = new TriangleTree(body.mesh);
  }

  /** The number of cells, all of which are closed. */
  check(): number {
    demand(this.#c.style === this.#body.style, `it is about ${this.#c.style}, the body is that of ${this.#body.style}`);
    // Tip and upper cut ask what the wall asks, so that all that is asked is the same.
    demand(this.#c.ceiling >= -this.#asked, 'its ceiling is lower than any such proof can show');
    this.#seat();
    this.#points();
    this.#domain();
    return this.#cells();
  }

  #seat(): void {
    const n = this.#outer.normal;
    const square = [dot(this.#u, this.#v), dot(this.#u, n), dot(this.#v, n)].every((x) => Math.abs(x) < ROUNDING);
    demand(square && Math.abs(length(this.#u) - 1) < ROUNDING && Math.abs(length(this.#v) - 1) < ROUNDING, 'its directions are not square');
    demand(dot(cross(this.#u, this.#v), n) > 0, 'its directions turn the wrong way');
    const height = heightOver(this.#outer, this.#origin);
    demand(Math.abs(height + this.#c.rules.faceplate) < ROUNDING, "its seat is not on the faceplate's inner face");
  }

  #points(): void {
    for (const [i, p] of this.#c.points.entries()) {
      demand(p[2] < this.#c.rules.faceplate, `point ${i} passes the outer cut`);
      demand(
        this.#c.part.primitives.some((s) => isWithin(s, p)),
        `point ${i} is not of the part`,
      );
    }
    for (const { quaternion: q } of this.#c.part.primitives) {
      demand(
        Math.abs(Math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]) - 1) < ROUNDING,
        'a primitive is turned by no rotation',
      );
    }
  }

  /** Beyond these slides a point of the part lies outside the box round the body; beyond these spins all is as before. */
  #domain(): void {
    const [x, y] = this.#c.points[0] as readonly [number, number, number];
    const off = Math.sqrt(x * x + y * y);
    const { positions: p } = this.#body.mesh;
    for (const [k, along] of [this.#u, this.#v].entries()) {
      const [lo, hi] = this.#c.slide[k] as readonly [number, number];
      for (let i = 0; i < p.length; i += 3) {
        const s = dot(along, sub(pt<'ear'>(p[i] as number, p[i + 1] as number, p[i + 2] as number), this.#origin));
        demand(lo <= s - off && s + off <= hi, 'it leaves out slides that are possible');
      }
    }
    const { range } = this.#c.spin;
    if (range === 'half') demand(this.#c.part.primitives.every(isHalfTurned), 'half of the spins do not stand for all of this part');
    if (range === 'none') demand(this.#c.part.primitives.every(isTurned), 'one spin does not stand for all of this part');
  }

  #cells(): number {
    const { range, parts } = this.#c.spin;
    const spin = range === 'whole' ? 2 * PI : range === 'half' ? PI : 0;
    const [a, b] = this.#c.slide;
    const half = spin / (2 * parts);
    const count = range === 'none' ? 1 : parts;
    const stack: Poses[] = [];
    for (let i = count - 1; i >= 0; i--) {
      stack.push({
        middle: [(a[0] + a[1]) / 2, (b[0] + b[1]) / 2, (2 * i + 1) * half],
        half: [(a[1] - a[0]) / 2, (b[1] - b[0]) / 2, half],
      });
    }
    let closed = 0;
    for (const [i, entry] of this.#c.cells.entries()) {
      const cell = stack.pop();
      if (!cell) throw new Refusal('there are more cells than poses');
      if (typeof entry === 'number') {
        const [lower, upper] = halved(cell, entry);
        stack.push(upper, lower);
      } else {
        const bound = this.bound(cell, entry);
        demand(bound <= this.#c.ceiling + ROUNDING, `cell ${i} is not closed: its rows allow ${bound.toFixed(4)} mm`);
        closed++;
      }
    }
    demand(stack.length === 0, 'some poses are in no cell');
    return closed;
  }

  /**
   * What a cell's rows allow, mm. For the poses middle + z half, z in [-1, 1]^3: with v from the witness to the point's place at
   * the middle and e its move, |v + e| <= |v| + v.e / |v| + |e|^2 / (2 |v|), by the square root's concavity. e is its
   * first order in z and a rest of at most r spin^2 / 2 for a point r from the spin's axis; |e| at most slide + r spin, and at most
   * the first order's largest at a corner plus the rest. Weighted
   * with sum 1, first orders cancel before their sizes are added. One row alone may take |v| + |e| instead.
   */
  bound(cell: Poses, rows: readonly Row[]): number {
    const total = rows.reduce((s, r) => s + r[1], 0);
    demand(total > 0 && rows.every((r) => r[1] >= 0), 'a weight is negative, or all are 0');
    let sum = 0;
    let plain = Infinity;
    const g = [0, 0, 0];
    for (const row of rows) {
      const w = row[1] / total;
      const { even, slopes, reach, rest, curve } = this.#row(cell, row);
      plain = Math.min(plain, even + reach);
      sum += w * (even + rest + curve);
      for (const k of [0, 1, 2]) g[k] = (g[k] as number) + w * (slopes[k] as number);
    }
    const all = sum + g.reduce((s, x) => s + Math.abs(x), 0) + ROUNDING;
    return rows.length === 1 ? Math.min(all, plain + ROUNDING) : all;
  }

  #row(cell: Poses, row: Row) {
    const p = this.#c.points[row[0]];
    if (!p) throw new Refusal(`there is no point ${row[0]}`);
    const [a, b, spin] = cell.middle;
    const [ha, hb, hs] = cell.half;
    const [c, s] = [cos(spin), sin(spin)];
    const [x, y] = [c * p[0] - s * p[1], s * p[0] + c * p[1]];
    const n = this.#outer.normal;
    const at = [0, 1, 2].map(
      (k) => (this.#origin[k] as number) + (a + x) * (this.#u[k] as number) + (b + y) * (this.#v[k] as number) + p[2] * (n[k] as number),
    );
    const q = pt<'ear'>(at[0] as number, at[1] as number, at[2] as number);
    const r = Math.sqrt(x * x + y * y);
    const reach = Math.sqrt(ha * ha + hb * hb) + r * hs;
    const rest = (r * hs * hs) / 2;
    const far = Math.min(reach, corner(ha, hb, -hs * y, hs * x) + rest);
    /** How a distance along d changes with each variable. */
    const along = (d: Point<'ear'>): number[] => [
      ha * dot(d, this.#u),
      hb * dot(d, this.#v),
      hs * (x * dot(d, this.#v) - y * dot(d, this.#u)),
    ];
    if (row.length === 3) {
      const cut = this.#cuts[row[2]];
      if (!cut) throw new Refusal(`there is no cut ${row[2]}`);
      return { even: -heightOver(cut, q) - this.#asked, slopes: along(cut.normal).map((t) => -t), reach, rest, curve: 0 };
    }
    const w = pt<'ear'>(row[2], row[3], row[4]);
    const v = sub(q, w);
    const l = length(v);
    demand(l > 0, 'a witness lies where the point does');
    const d = pt<'ear'>(v[0] / l, v[1] / l, v[2] / l);
    return { even: this.#room(w) + l - this.#asked, slopes: along(d), reach, rest, curve: (far * far) / (2 * l) };
  }

  /** Signed distance of a witness to the cast surface. */
  #room(w: Point<'ear'>): number {
    const key = w.join();
    let phi = this.#phi.get(key);
    if (phi !== undefined) return phi;
    for (const c of this.#body.cuts) demand(heightOver(c.plane, w) <= 0, 'a witness lies beyond a cut');
    const near = this.#cast.nearest(w);
    if (!near) throw new Refusal('the body has no cast surface');
    phi = this.#whole.contains(w) ? near.distance : -near.distance;
    this.#phi.set(key, phi);
    return phi;
  }
}

function halved({ middle, half }: Poses, k: number): [Poses, Poses] {
  const h = half.map((x, i) => (i === k ? x / 2 : x)) as unknown as Poses['half'];
  const at = (side: number): Poses => ({
    middle: middle.map((x, i) => (i === k ? x + side * (h[i] as number) : x)) as unknown as Poses['middle'],
    half: h,
  });
  return [at(-1), at(1)];
}

/** The longest of (z1 a + z3 c, z2 b + z3 d), z in [-1, 1]^3: convex, so at a corner. */
const corner = (a: number, b: number, c: number, d: number): number => length([Math.abs(a) + Math.abs(c), Math.abs(b) + Math.abs(d), 0]);

type Solid = Certificate['part']['primitives'][number];

function isWithin({ shape, size, position, quaternion }: Solid, p: readonly [number, number, number]): boolean {
  const [x, y, z] = rotate(conjugate(quaternion), [p[0] - position[0], p[1] - position[1], p[2] - position[2]]);
  const [a, b, c] = [size[0] / 2 + ROUNDING, size[1] / 2 + ROUNDING, size[2] / 2 + ROUNDING];
  if (shape === 'box') return Math.abs(x) <= a && Math.abs(y) <= b && Math.abs(z) <= c;
  const flat = Math.sqrt(x * x + y * y);
  if (shape === 'cylinder') return flat <= a && Math.abs(z) <= c;
  const over = Math.max(0, Math.abs(z) - Math.max(0, c - a));
  return Math.sqrt(flat * flat + over * over) <= a;
}

/** Centred on the part's z axis, with every axis of its own along it or square to it: half a turn leaves it as it is. */
function isHalfTurned({ position, quaternion }: Solid): boolean {
  const axes = [rotate(quaternion, [1, 0, 0]), rotate(quaternion, [0, 1, 0]), rotate(quaternion, [0, 0, 1])];
  return isAlong(position) && axes.every(isSquare);
}

const isAlong = ([x, y]: readonly [number, number, number]): boolean => Math.sqrt(x * x + y * y) < ROUNDING;
const isSquare = (axis: readonly [number, number, number]): boolean => Math.abs(axis[2]) < ROUNDING || isAlong(axis);

/** Round about the part's z axis. */
const isTurned = (s: Solid): boolean => isAlong(s.position) && s.shape !== 'box' && isAlong(rotate(s.quaternion, [0, 0, 1]));
