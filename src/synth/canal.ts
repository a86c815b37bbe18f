/**
 * The canal: a smooth centreline and the ellipses along it, in the ear frame.
 *
 * The centreline is integrated from its curvature: straight along +Z lateral of the aperture, then two smooth bumps of
 * curvature, the bends, in nearly opposite directions. The section square to it at depth s is an ellipse; because the
 * ellipse's half-width across a bend stays below the bend's radius, neighbouring sections never meet, and the section
 * of the finished tube is that ellipse exactly.
 */
import { cos, PI, sin } from '../geometry/trig.ts';
import { addScaled, cross, dot, normalize, type Point, pt } from '../geometry/vec.ts';
import { smoothstep } from './blend.ts';
import type { EarParameters } from './parameters.ts';

/** At the aperture, going laterally, the opening has added this share to the canal's own section: there it begins. */
export const OPENING_SHARE = 0.05;

const STEP = 0.1;
const LATERAL = -12;
/** Beyond the end, so that the tip's rounding has a tube to cut. */
const BEYOND = 4;
/** The first pass of a search along the centreline looks at every so many samples. */
const STRIDE = 10;

export interface Ellipse {
  /** Half axes, mm. */
  readonly major: number;
  readonly minor: number;
  /** Of the major axis, from v (superior at the aperture) towards -u (posterior). */
  readonly angle: number;
}

/** Samples along the centreline, every 0.1 mm of depth. */
interface Samples {
  readonly at: Float64Array;
  /** Medially. */
  readonly tangent: Float64Array;
  /** Axes of the section, carried along without rolling: anterior and superior at the aperture. */
  readonly u: Float64Array;
  readonly v: Float64Array;
  /** Curvature vector, 1/mm. */
  readonly curvature: Float64Array;
}

export class Canal implements Samples {
  readonly endDepth: number;
  readonly count: number;
  readonly at: Float64Array;
  readonly tangent: Float64Array;
  readonly u: Float64Array;
  readonly v: Float64Array;
  readonly curvature: Float64Array;
  readonly sectionAt: (depth: number) => Ellipse;
  readonly #zero = Math.round(-LATERAL / STEP);
  readonly #major: Float64Array;
  readonly #minor: Float64Array;
  readonly #cos: Float64Array;
  readonly #sin: Float64Array;

  constructor(p: EarParameters) {
    this.endDepth = p.secondBendDepth + p.pastSecondBend;
    this.count = this.#zero + Math.ceil((this.endDepth + BEYOND) / STEP) + 1;
    this.sectionAt = sectionLaw(p);
    const s = integrate(bending(p, this.sectionAt), this.#zero, this.count);
    this.at = s.at;
    this.tangent = s.tangent;
    this.u = s.u;
    this.v = s.v;
    this.curvature = s.curvature;
    const ellipses = Array.from({ length: this.count }, (_, i) => this.sectionAt(this.depthOf(i)));
    this.#major = Float64Array.from(ellipses, (e) => e.major);
    this.#minor = Float64Array.from(ellipses, (e) => e.minor);
    this.#cos = Float64Array.from(ellipses, (e) => cos(e.angle));
    this.#sin = Float64Array.from(ellipses, (e) => sin(e.angle));
  }

  depthOf(sample: number): number {
    return (sample - this.#zero) * STEP;
  }

  /** The sample at this depth, or the last one. */
  sampleAt(depth: number): number {
    return Math.max(0, Math.min(this.count - 1, this.#zero + Math.round(depth / STEP)));
  }

  /** Signed distance to the tube's side, mm, near it: negative inside. Exactly zero on the ellipses. */
  distance(x: number, y: number, z: number): number {
    const s = this.#foot(x, y, z);
    const i = Math.max(0, Math.min(this.count - 2, Math.floor(s)));
    const f = s - i;
    const du = this.#along(this.u, i, f, x, y, z);
    const dv = this.#along(this.v, i, f, x, y, z);
    const a = between(this.#major, i, f);
    const b = between(this.#minor, i, f);
    const c = between(this.#cos, i, f);
    const d = between(this.#sin, i, f);
    const m = (dv * c - du * d) / a;
    const n = (dv * d + du * c) / b;
    const rho = Math.sqrt(m * m + n * n);
    if (rho < 0.05) return -b;
    return (rho * (rho - 1)) / Math.sqrt((m * m) / (a * a) + (n * n) / (b * b));
  }

  /** Place of the point's foot on the centreline, in samples: nearest coarse sample, then Newton steps. */
  #foot(x: number, y: number, z: number): number {
    const { at, count } = this;
    let best = Infinity;
    let s = 0;
    for (let i = 0; i < count; i += STRIDE) {
      const dx = x - (at[3 * i] as number);
      const dy = y - (at[3 * i + 1] as number);
      const dz = z - (at[3 * i + 2] as number);
      const d = dx * dx + dy * dy + dz * dz;
      if (d >= best) continue;
      best = d;
      s = i;
    }
    for (let turn = 0; turn < 5; turn++) {
      const i = Math.max(0, Math.min(count - 2, Math.floor(s)));
      const off = this.#along(this.tangent, i, s - i, x, y, z);
      const bend = this.#along(this.curvature, i, s - i, x, y, z);
      const move = off / STEP / Math.max(0.25, 1 - bend);
      s = Math.max(0, Math.min(count - 1, s + Math.max(-1.2 * STRIDE, Math.min(1.2 * STRIDE, move))));
    }
    return s;
  }

  /** Dot product of (point - centreline) with a sampled vector, both between samples i and i + 1. */
  #along(w: Float64Array, i: number, f: number, x: number, y: number, z: number): number {
    const { at } = this;
    const o = 3 * i;
    const ex = x - (at[o] as number) - f * ((at[o + 3] as number) - (at[o] as number));
    const ey = y - (at[o + 1] as number) - f * ((at[o + 4] as number) - (at[o + 1] as number));
    const ez = z - (at[o + 2] as number) - f * ((at[o + 5] as number) - (at[o + 2] as number));
    const wx = (w[o] as number) + f * ((w[o + 3] as number) - (w[o] as number));
    const wy = (w[o + 1] as number) + f * ((w[o + 4] as number) - (w[o + 1] as number));
    const wz = (w[o + 2] as number) + f * ((w[o + 5] as number) - (w[o + 2] as number));
    return ex * wx + ey * wy + ez * wz;
  }
}

const between = (t: Float64Array, i: number, f: number): number => (t[i] as number) + f * ((t[i + 1] as number) - (t[i] as number));

/** Curvature at a depth, in the section's own axes u and v, 1/mm. */
type Bending = (depth: number) => readonly [number, number];

/** Smooth bump on (-1, 1) and its integral. */
const bump = (t: number): number => {
  const q = 1 - t * t;
  return q > 0 ? q * q : 0;
};
const BUMP_INTEGRAL = 16 / 15;
/** A bend is at least this long on either side of its middle, mm, and so long that this share of its radius is not filled by the tube. */
const SHORTEST_BEND = 3.2;
const RADIUS_USED = 0.72;

function bending(p: EarParameters, sectionAt: (depth: number) => Ellipse): Bending {
  const half = (angle: number, depth: number): number =>
    Math.max(SHORTEST_BEND, ((angle / BUMP_INTEGRAL) * 1.12 * sectionAt(depth).minor) / RADIUS_USED);
  const w1 = Math.min(p.firstBendDepth, half(p.firstBendAngle, p.firstBendDepth));
  const w2 = half(p.secondBendAngle, p.secondBendDepth);
  const k1 = p.firstBendAngle / (BUMP_INTEGRAL * w1);
  const k2 = p.secondBendAngle / (BUMP_INTEGRAL * w2);
  const d1 = p.bendDirection;
  const d2 = p.bendDirection + PI + p.bendTwist;
  return (depth) => {
    const a = k1 * bump((depth - p.firstBendDepth) / w1);
    const b = k2 * bump((depth - p.secondBendDepth) / w2);
    return [a * cos(d1) + b * cos(d2), a * sin(d1) + b * sin(d2)];
  };
}

/** From the aperture (sample `zero`, the origin) medially by the midpoint rule; laterally straight. */
function integrate(bend: Bending, zero: number, count: number): Samples {
  const flat = (): Float64Array => new Float64Array(3 * count);
  const out = { at: flat(), tangent: flat(), u: flat(), v: flat(), curvature: flat() };
  let c = pt<'ear'>(0, 0, 0);
  let t = pt<'ear'>(0, 0, -1);
  let u = pt<'ear'>(1, 0, 0);
  let v = pt<'ear'>(0, 1, 0);
  const turned = (k: readonly [number, number], h: number): Point<'ear'> => normalize(addScaled(addScaled(t, u, h * k[0]), v, h * k[1]));
  const store = (i: number, at: Point<'ear'>): void => {
    const k = i > zero ? bend((i - zero) * STEP) : ([0, 0] as const);
    out.at.set(at, 3 * i);
    out.tangent.set(t, 3 * i);
    out.u.set(u, 3 * i);
    out.v.set(v, 3 * i);
    out.curvature.set(addScaled(addScaled(pt<'ear'>(0, 0, 0), u, k[0]), v, k[1]), 3 * i);
  };
  for (let i = 0; i <= zero; i++) store(i, pt(0, 0, (zero - i) * STEP));
  for (let i = zero + 1; i < count; i++) {
    const k = bend((i - zero - 0.5) * STEP);
    c = addScaled(c, turned(k, STEP / 2), STEP);
    t = turned(k, STEP);
    u = normalize(addScaled(u, t, -dot(u, t)));
    v = cross(u, t);
    store(i, c);
  }
  return out;
}

/**
 * Ellipse against depth. The equivalent radius follows a cubic from the aperture to the first bend (areas fall steadily:
 * Voss et al. 2020), then the taper up to just past the second bend, where the canal's isthmus lies (Sweetow et al.
 * 2014), then widens a little.
 */
function sectionLaw(p: EarParameters): (depth: number) => Ellipse {
  const r0 = Math.sqrt(p.areaAperture / (1 + OPENING_SHARE) / PI);
  const r1 = Math.sqrt(p.areaFirstBend / PI);
  const s1 = p.firstBendDepth;
  const m0 = (-1.2 * (r0 - r1)) / s1;
  const m1 = (-p.taper * r1) / 2;
  const isthmus = p.secondBendDepth + 1;
  const radius = (s: number): number => {
    if (s < 0) return r0 + m0 * s;
    if (s > s1) {
      const share = 1 - p.taper * (Math.min(s, isthmus) - s1) + 0.3 * p.taper * Math.max(0, s - isthmus);
      return Math.sqrt((p.areaFirstBend * share) / PI);
    }
    const t = s / s1;
    const w = 1 - t;
    return (1 + 2 * t) * w * w * r0 + t * w * w * s1 * m0 + t * t * (3 - 2 * t) * r1 - t * t * w * s1 * m1;
  };
  return (s) => {
    const ratio = p.ratioAperture + (p.ratioBend - p.ratioAperture) * smoothstep(0, s1, s);
    const r = radius(s);
    const q = Math.sqrt(ratio);
    return { major: r * q, minor: r / q, angle: p.majorTilt + p.majorTurn * smoothstep(0, p.secondBendDepth, s) };
  };
}
