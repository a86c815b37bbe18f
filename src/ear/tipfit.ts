/**
 * The last millimetres of a canal, where the end face cuts into every section: a tube is laid along a bending line until it lies on the wall
 * that is left, all of it at once.
 *
 * Section by section (`followMedially`) goes astray where a bend runs into the tip: planes that follow a line which misses the bend show walls
 * that seem to end, and so the line is never put right. The whole wall at once has no such blind spot. The tube has the outline of the last
 * whole section and may taper; its line's curvature is a parabola of the way along it, eleven numbers in all, found by damped least squares.
 * It is grown from where the canal is known by GROWTH at a time, as wall that is seen under a wrong angle cannot be told from end face.
 */
import { solveInPlace } from '../geometry/solve.ts';
import { atan2, PI } from '../geometry/trig.ts';
import { addScaled, cross, dot, type Frame, normalize, type Point, pointAt, sub } from '../geometry/vec.ts';
import { BINS, type Template, uprightShare } from './template.ts';

/** Curve samples, mm. */
const GRAIN = 0.25;
const GROWTH = 1;
const FIRST_GROWTH = 2.5;
const LONGEST = 14;
/** A ring of the tube counts as seen if there is wall in this share of its directions. */
const SEEN = 0.3;
/** So many faces of the wall are enough. */
const FACES = 1200;
/** Skin and material make a wall uneven by this much (sd, mm), over patches of this size, mm2. Common practice, no published source. */
const UNEVEN = 0.08;
const PATCH = 4;
/** A bubble or an edge pulls no harder than this does, mm. */
const PULL = 0.25;

/** tilt a, b (radians); curvature at the start, its first and second growth, each along a and b; taper a mm; shift a, b (mm). */
const SIZE = 11;
/** How far each may stray from where it starts (sd). Curvature: a canal's bend has up to 0.2 a mm. */
const SPREAD = [0.06, 0.06, 0.08, 0.08, 0.05, 0.05, 0.012, 0.012, 0.008, 0.12, 0.12] as const;
const NUDGE = [1e-4, 1e-4, 1e-4, 1e-4, 3e-5, 3e-5, 1e-5, 1e-5, 1e-4, 1e-3, 1e-3] as const;

/** A stretch of the canal that is known: its last whole section, and how the line turns there (per mm, going medially). */
export interface Known<F extends Frame> {
  readonly at: Point<F>;
  readonly medially: Point<F>;
  readonly curvature: Point<F>;
  /** Share of its radius that the canal loses a mm. */
  readonly taper: number;
  readonly template: Template<F>;
}

export interface Fitted<F extends Frame> {
  /** From the known place medially, GRAIN apart. */
  readonly at: readonly Point<F>[];
  /** Of each: share of directions in which there is wall, 0..1. */
  readonly seen: readonly number[];
}

export const FIT_GRAIN = GRAIN;

/** Faces: centre, normal, area; seven numbers each. Only those that may belong to the tube medially of `known`. */
function facesAhead<F extends Frame>(
  mesh: { readonly positions: Float64Array; readonly indices: Uint32Array },
  known: Known<F>,
  widest: number,
): Float64Array {
  const { positions: p, indices: t } = mesh;
  const { at, medially: m } = known;
  const ahead: number[] = [];
  const far = (LONGEST + widest) * (LONGEST + widest);
  for (let i = 0; i < t.length; i += 3) {
    const o = 3 * (t[i] as number);
    const x = (p[o] as number) - at[0];
    const y = (p[o + 1] as number) - at[1];
    const z = (p[o + 2] as number) - at[2];
    if (x * m[0] + y * m[1] + z * m[2] >= -0.5 && x * x + y * y + z * z <= far) ahead.push(i);
  }
  // Every so many, each with the area of those it stands for.
  const every = Math.max(1, Math.floor(ahead.length / FACES));
  const out: number[] = [];
  for (let k = 0; k < ahead.length; k += every) {
    const i = ahead[k] as number;
    const a = pointAt<F>(p, t[i] as number);
    const e = sub(pointAt<F>(p, t[i + 1] as number), a);
    const g = sub(pointAt<F>(p, t[i + 2] as number), a);
    const n = cross(e, g);
    const twice = Math.sqrt(dot(n, n));
    if (!(twice > 0)) continue;
    for (let c = 0; c < 3; c++) out.push((a[c] as number) + ((e[c] as number) + (g[c] as number)) / 3);
    out.push(n[0] / twice, n[1] / twice, n[2] / twice, (every * twice) / 2);
  }
  return Float64Array.from(out);
}

/** The curve's samples: place, direction and the two carried axes, twelve numbers each. */
function curveOf<F extends Frame>(known: Known<F>, q: Float64Array, count: number): Float64Array {
  const out = new Float64Array(12 * count);
  let { a, b } = known.template;
  let d = normalize(addScaled(addScaled(known.medially, a, q[0] as number), b, q[1] as number));
  let p = addScaled(addScaled(known.at, a, q[9] as number), b, q[10] as number);
  const [ca, cb] = [dot(known.curvature, a), dot(known.curvature, b)];
  for (let i = 0; i < count; i++) {
    a = normalize(addScaled(a, d, -dot(a, d)));
    b = normalize(addScaled(addScaled(b, d, -dot(b, d)), a, -dot(a, b)));
    out.set(p, 12 * i);
    out.set(d, 12 * i + 3);
    out.set(a, 12 * i + 6);
    out.set(b, 12 * i + 9);
    const s = (i + 0.5) * GRAIN;
    const ka = ca + (q[2] as number) + s * ((q[4] as number) + s * (q[6] as number));
    const kb = cb + (q[3] as number) + s * ((q[5] as number) + s * (q[7] as number));
    const half = normalize(addScaled(addScaled(d, a, (ka * GRAIN) / 2), b, (kb * GRAIN) / 2));
    p = addScaled(p, half, GRAIN);
    d = normalize(addScaled(addScaled(d, a, ka * GRAIN), b, kb * GRAIN));
  }
  return out;
}

class TubeFit<F extends Frame> {
  readonly #known: Known<F>;
  readonly #faces: Float64Array;
  readonly #feet: Float64Array;
  readonly #level: number;

  constructor(known: Known<F>, faces: Float64Array) {
    this.#known = known;
    this.#faces = faces;
    this.#feet = new Float64Array(faces.length / 7);
    this.#level = known.template.rays.level;
  }

  /** Every face's foot on the curve, in samples, from scratch. */
  settleFeet(curve: Float64Array): void {
    const faces = this.#faces;
    for (let f = 0; f < this.#feet.length; f++) {
      const [fx, fy, fz] = [faces[7 * f] as number, faces[7 * f + 1] as number, faces[7 * f + 2] as number];
      let best = Infinity;
      let foot = 0;
      for (let o = 0; o < curve.length; o += 12) {
        const x = fx - (curve[o] as number);
        const y = fy - (curve[o + 1] as number);
        const z = fz - (curve[o + 2] as number);
        const d = x * x + y * y + z * z;
        if (d >= best) continue;
        best = d;
        foot = o;
      }
      this.#feet[f] = foot / 12;
    }
  }

  /** What face f says: its misfit (mm), slant, direction bin and way along (mm); undefined beyond `reach` mm or off the tube. */
  #look(
    curve: Float64Array,
    q: Float64Array,
    f: number,
    reach: number,
  ): { misfit: number; trust: number; turn: number; s: number } | undefined {
    const i = Math.min(curve.length / 12 - 1, this.#feet[f] as number);
    const o = 12 * i;
    const x = (this.#faces[7 * f] as number) - (curve[o] as number);
    const y = (this.#faces[7 * f + 1] as number) - (curve[o + 1] as number);
    const z = (this.#faces[7 * f + 2] as number) - (curve[o + 2] as number);
    const ahead = x * (curve[o + 3] as number) + y * (curve[o + 4] as number) + z * (curve[o + 5] as number);
    const s = i * GRAIN + ahead;
    if (s < 0 || s > reach) return undefined;
    const u = x * (curve[o + 6] as number) + y * (curve[o + 7] as number) + z * (curve[o + 8] as number);
    const v = x * (curve[o + 9] as number) + y * (curve[o + 10] as number) + z * (curve[o + 11] as number);
    const turn = ((atan2(v, u) / (2 * PI) + 1) * BINS) % BINS;
    const low = Math.floor(turn);
    const radii = this.#known.template.rays.radii;
    const r0 = radii[low] as number;
    const want = (r0 + (turn - low) * ((radii[(low + 1) % BINS] as number) - r0)) * (1 - (this.#known.taper + (q[8] as number)) * s);
    const misfit = Math.sqrt(u * u + v * v) - want;
    if (misfit > 0.6 * want) return undefined; // the concha, or whatever lies beside
    const n = 7 * f + 3;
    const out = -(
      (this.#faces[n] as number) * (curve[o + 3] as number) +
      (this.#faces[n + 1] as number) * (curve[o + 4] as number) +
      (this.#faces[n + 2] as number) * (curve[o + 5] as number)
    );
    return { misfit, trust: uprightShare(out - this.#level), turn, s };
  }

  /** Damped least squares over the wall up to `reach`. */
  fit(start: Float64Array, reach: number, rounds: number): Float64Array {
    let q = start;
    const count = Math.ceil(reach / GRAIN) + 3;
    for (let round = 0; round < rounds; round++) {
      const curve = curveOf(this.#known, q, count);
      this.settleFeet(curve);
      const m = new Float64Array(SIZE * SIZE);
      const g = new Float64Array(SIZE);
      const plus = NUDGE.map((h, k) => this.#nudged(q, k, h, count));
      const minus = NUDGE.map((h, k) => this.#nudged(q, k, -h, count));
      const slope = new Float64Array(SIZE);
      for (let f = 0; f < this.#feet.length; f++) {
        const here = this.#look(curve, q, f, reach);
        if (!here || here.trust === 0) continue;
        const w =
          ((this.#faces[7 * f + 6] as number) * here.trust * Math.min(1, PULL / Math.max(1e-9, Math.abs(here.misfit)))) /
          (PATCH * UNEVEN * UNEVEN);
        let whole = true;
        for (let k = 0; k < SIZE; k++) {
          const [up, down] = [plus[k] as Nudged, minus[k] as Nudged];
          const a = this.#look(up.curve, up.q, f, Infinity);
          const b = this.#look(down.curve, down.q, f, Infinity);
          if (a && b) slope[k] = (a.misfit - b.misfit) / (2 * (NUDGE[k] as number));
          else whole = false;
        }
        if (!whole) continue;
        for (let k = 0; k < SIZE; k++) {
          g[k] = (g[k] as number) - w * (slope[k] as number) * here.misfit;
          for (let j = 0; j <= k; j++) m[k * SIZE + j] = (m[k * SIZE + j] as number) + w * (slope[k] as number) * (slope[j] as number);
        }
      }
      SPREAD.forEach((sd, k) => {
        m[k * SIZE + k] = (m[k * SIZE + k] as number) + 1 / (sd * sd);
        g[k] = (g[k] as number) - (q[k] as number) / (sd * sd);
      });
      if (!solveInPlace(m, g, SIZE)) break; // the spreads keep it definite
      q = q.map((x, k) => x + (g[k] as number));
    }
    return q;
  }

  #nudged(q: Float64Array, k: number, h: number, count: number): Nudged {
    const moved = q.slice();
    moved[k] = (moved[k] as number) + h;
    return { q: moved, curve: curveOf(this.#known, moved, count) };
  }

  /** Of each sample up to `reach`: the share of directions in which there is wall within half a millimetre of it. */
  seen(q: Float64Array, reach: number): { curve: Float64Array; share: Float64Array } {
    const count = Math.ceil(reach / GRAIN) + 1;
    const curve = curveOf(this.#known, q, count);
    this.settleFeet(curve);
    const sectors = 24;
    const weight = new Float64Array(count * sectors);
    const total = new Float64Array(count * sectors);
    for (let f = 0; f < this.#feet.length; f++) {
      const here = this.#look(curve, q, f, reach + 0.5);
      if (!here) continue;
      const good = here.trust * (Math.abs(here.misfit) < 2 * PULL ? 1 : 0);
      const area = this.#faces[7 * f + 6] as number;
      const sector = Math.floor((here.turn * sectors) / BINS) % sectors;
      const mid = Math.round(here.s / GRAIN);
      for (let i = Math.max(0, mid - 2); i <= Math.min(count - 1, mid + 2); i++) {
        weight[i * sectors + sector] = (weight[i * sectors + sector] as number) + good * area;
        total[i * sectors + sector] = (total[i * sectors + sector] as number) + area;
      }
    }
    const share = Float64Array.from({ length: count }, (_, i) => {
      let sum = 0;
      for (let k = 0; k < sectors; k++) {
        const all = total[i * sectors + k] as number;
        if (all > 0) sum += (weight[i * sectors + k] as number) / all / sectors;
      }
      return sum;
    });
    return { curve, share };
  }
}

interface Nudged {
  readonly q: Float64Array;
  readonly curve: Float64Array;
}

/** The canal's line from a known place to as far as there is wall to tell it; at least the known place itself. */
export function fitTip<F extends Frame>(
  mesh: { readonly positions: Float64Array; readonly indices: Uint32Array },
  known: Known<F>,
): Fitted<F> {
  const widest = known.template.rays.radii.reduce((most, r) => Math.max(most, r), 0);
  const tube = new TubeFit(known, facesAhead(mesh, known, widest));
  let q: Float64Array = new Float64Array(SIZE);
  let told: { curve: Float64Array; share: Float64Array; last: number } = {
    curve: curveOf(known, q, 1),
    share: Float64Array.of(1),
    last: 0,
  };
  for (let reach = FIRST_GROWTH; reach <= LONGEST; reach += GROWTH) {
    q = tube.fit(q, reach, reach === FIRST_GROWTH ? 3 : 2);
    const { curve, share } = tube.seen(q, reach);
    let last = 0;
    while (last + 1 < share.length && (share[last + 1] as number) >= SEEN) last++;
    told = { curve, share, last };
    if ((last + 2) * GRAIN < reach) break;
  }
  const at: Point<F>[] = [];
  for (let i = 0; i <= told.last; i++) at.push(pointAt<F>(told.curve, 4 * i));
  return { at, seen: Array.from(told.share.subarray(0, told.last + 1)) };
}
