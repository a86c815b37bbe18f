/**
 * The canal: a smooth centreline and the ellipses along it, in the ear frame.
 *
 * The centreline is integrated from its curvature: straight along +Z lateral of the aperture, then two smooth bumps of
 * curvature, the bends, in nearly opposite directions. The section square to it at depth s is an ellipse; because the
 * ellipse's half-width across a bend stays below the bend's radius, neighbouring sections never meet, and the section
 * of the finished tube is that ellipse exactly.
 */
import { cos, PI, sin } from '../geometry/trig.ts';
import type { EarParameters } from './parameters.ts';

/** At the aperture, going laterally, the opening has added this share to the canal's own section: there it begins. */
export const OPENING_SHARE = 0.05;

const STEP = 0.1;
const LATERAL = -12;
/** Beyond the end, so that the tip's rounding has a tube to cut. */
const BEYOND = 4;

export interface Canal {
  readonly count: number;
  readonly endDepth: number;
  /** Of each sample: position, medial tangent, section axes u (anterior at the aperture) and v (superior), curvature vector. */
  readonly at: Float64Array;
  readonly tangent: Float64Array;
  readonly u: Float64Array;
  readonly v: Float64Array;
  readonly curvature: Float64Array;
  depthOf(sample: number): number;
  /** Half axes and the major axis's angle from v towards -u. */
  sectionAt(depth: number): { readonly major: number; readonly minor: number; readonly angle: number };
  /** Signed distance to the tube's side, mm, near it: negative inside. Exactly zero on the ellipses. */
  distance(x: number, y: number, z: number): number;
  /** Depth of the point's foot on the centreline. */
  depth(x: number, y: number, z: number): number;
}

/** Smooth bump on (-1, 1), integral 16/15. */
const bump = (t: number): number => {
  const q = 1 - t * t;
  return q > 0 ? q * q : 0;
};
const BUMP_INTEGRAL = 16 / 15;

/** Half-length of a bend: long enough that the tube's inner side keeps a radius. */
const bendHalfLength = (angle: number, across: number): number => Math.max(3.2, ((angle / BUMP_INTEGRAL) * across) / 0.72);

export function makeCanal(p: EarParameters): Canal {
  const endDepth = p.secondBendDepth + p.pastSecondBend;
  const zero = Math.round(-LATERAL / STEP);
  const count = zero + Math.ceil((endDepth + BEYOND) / STEP) + 1;
  const law = sectionLaw(p);
  const flat = (): Float64Array => new Float64Array(3 * count);
  const at = flat();
  const tangent = flat();
  const u = flat();
  const v = flat();
  const curvature = flat();
  const across = (depth: number): number => law(depth).minor * 1.12;
  const w1 = Math.min(p.firstBendDepth, bendHalfLength(p.firstBendAngle, across(p.firstBendDepth)));
  const w2 = bendHalfLength(p.secondBendAngle, across(p.secondBendDepth));
  const k1 = p.firstBendAngle / (BUMP_INTEGRAL * w1);
  const k2 = p.secondBendAngle / (BUMP_INTEGRAL * w2);
  const d1 = p.bendDirection;
  const d2 = p.bendDirection + PI + p.bendTwist;
  // Curvature in the carried axes (u, v).
  const kappa = (s: number): [number, number] => {
    const a = k1 * bump((s - p.firstBendDepth) / w1);
    const b = k2 * bump((s - p.secondBendDepth) / w2);
    return [a * cos(d1) + b * cos(d2), a * sin(d1) + b * sin(d2)];
  };
  const frame = { t: [0, 0, -1], u: [1, 0, 0], v: [0, 1, 0], c: [0, 0, 0] };
  const store = (i: number): void => {
    const [ku, kv] = kappa((i - zero) * STEP);
    for (let k = 0; k < 3; k++) {
      at[3 * i + k] = frame.c[k] as number;
      tangent[3 * i + k] = frame.t[k] as number;
      u[3 * i + k] = frame.u[k] as number;
      v[3 * i + k] = frame.v[k] as number;
      curvature[3 * i + k] = ku * (frame.u[k] as number) + kv * (frame.v[k] as number);
    }
  };
  for (let i = 0; i <= zero; i++) {
    frame.c[2] = -(i - zero) * STEP;
    store(i);
  }
  for (let i = zero; i + 1 < count; i++) {
    const [ku, kv] = kappa((i - zero + 0.5) * STEP);
    carry(frame, ku, kv, STEP);
    store(i + 1);
  }

  const near = (x: number, y: number, z: number): number => {
    let best = Infinity;
    let from = 0;
    for (let i = 0; i < count; i += 10) {
      const dx = x - (at[3 * i] as number);
      const dy = y - (at[3 * i + 1] as number);
      const dz = z - (at[3 * i + 2] as number);
      const d = dx * dx + dy * dy + dz * dz;
      if (d < best) {
        best = d;
        from = i;
      }
    }
    let s = from;
    for (let turn = 0; turn < 5; turn++) {
      const i = Math.max(0, Math.min(count - 2, Math.floor(s)));
      const f = s - i;
      const o = 3 * i;
      let along = 0;
      let bend = 0;
      for (let k = 0; k < 3; k++) {
        const c = (at[o + k] as number) + f * ((at[o + 3 + k] as number) - (at[o + k] as number));
        const e = (k === 0 ? x : k === 1 ? y : z) - c;
        along += e * ((tangent[o + k] as number) + f * ((tangent[o + 3 + k] as number) - (tangent[o + k] as number)));
        bend += e * ((curvature[o + k] as number) + f * ((curvature[o + 3 + k] as number) - (curvature[o + k] as number)));
      }
      const move = along / STEP / Math.max(0.25, 1 - bend);
      s = Math.max(0, Math.min(count - 1, s + Math.max(-12, Math.min(12, move))));
    }
    return s;
  };

  const distance = (x: number, y: number, z: number): number => {
    const s = near(x, y, z);
    const i = Math.max(0, Math.min(count - 2, Math.floor(s)));
    const f = s - i;
    const o = 3 * i;
    let du = 0;
    let dv = 0;
    for (let k = 0; k < 3; k++) {
      const c = (at[o + k] as number) + f * ((at[o + 3 + k] as number) - (at[o + k] as number));
      const e = (k === 0 ? x : k === 1 ? y : z) - c;
      du += e * ((u[o + k] as number) + f * ((u[o + 3 + k] as number) - (u[o + k] as number)));
      dv += e * ((v[o + k] as number) + f * ((v[o + 3 + k] as number) - (v[o + k] as number)));
    }
    const j = Math.min(count - 2, i);
    const major = table(tabMajor, j, f);
    const minor = table(tabMinor, j, f);
    const ca = table(tabCos, j, f);
    const sa = table(tabSin, j, f);
    const m = dv * ca - du * sa;
    const n = dv * sa + du * ca;
    const rho = Math.sqrt((m * m) / (major * major) + (n * n) / (minor * minor));
    if (rho < 0.05) return -minor;
    const slope = Math.sqrt((m * m) / (major * major * major * major) + (n * n) / (minor * minor * minor * minor));
    return (rho * (rho - 1)) / slope;
  };

  const tabMajor = new Float64Array(count);
  const tabMinor = new Float64Array(count);
  const tabCos = new Float64Array(count);
  const tabSin = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const e = law((i - zero) * STEP);
    tabMajor[i] = e.major;
    tabMinor[i] = e.minor;
    tabCos[i] = cos(e.angle);
    tabSin[i] = sin(e.angle);
  }
  return {
    count,
    endDepth,
    at,
    tangent,
    u,
    v,
    curvature,
    depthOf: (i) => (i - zero) * STEP,
    sectionAt: law,
    distance,
    depth: (x, y, z) => (near(x, y, z) - zero) * STEP,
  };
}

const table = (t: Float64Array, i: number, f: number): number => (t[i] as number) + f * ((t[i + 1] as number) - (t[i] as number));

interface Carried {
  t: number[];
  u: number[];
  v: number[];
  c: number[];
}
/** One step along the curve: the frame turns without rolling (midpoint rule), then moves. */
function carry(f: Carried, ku: number, kv: number, ds: number): void {
  const before = f.t;
  const turn = (t: number[], h: number): number[] => unit(t.map((x, k) => x + h * (ku * (f.u[k] as number) + kv * (f.v[k] as number))));
  const mid = turn(before, ds / 2);
  const after = turn(before, ds);
  f.c = f.c.map((x, k) => x + ds * (mid[k] as number));
  f.t = after;
  f.u = unit(square(f.u, after));
  // right-handed with t pointing medially: t = v x u, as at the aperture (-Z = Y x X)
  const [a, b] = [after, f.u] as [number[], number[]];
  f.v = [
    (b[1] as number) * (a[2] as number) - (b[2] as number) * (a[1] as number),
    (b[2] as number) * (a[0] as number) - (b[0] as number) * (a[2] as number),
    (b[0] as number) * (a[1] as number) - (b[1] as number) * (a[0] as number),
  ];
}
const dot3 = (a: number[], b: number[]): number =>
  (a[0] as number) * (b[0] as number) + (a[1] as number) * (b[1] as number) + (a[2] as number) * (b[2] as number);
const unit = (a: number[]): number[] => {
  const l = Math.sqrt(dot3(a, a));
  return a.map((x) => x / l);
};
const square = (a: number[], t: number[]): number[] => {
  const along = dot3(a, t);
  return a.map((x, k) => x - along * (t[k] as number));
};

/** Ellipse against depth. Equivalent radius: a cubic from aperture to first bend, then the taper, steady past the second bend. */
function sectionLaw(p: EarParameters): Canal['sectionAt'] {
  const r0 = Math.sqrt(p.areaAperture / (1 + OPENING_SHARE) / PI);
  const r1 = Math.sqrt(p.areaFirstBend / PI);
  const s1 = p.firstBendDepth;
  const m0 = (-1.2 * (r0 - r1)) / s1;
  const m1 = (-p.taper * r1) / 2;
  const isthmus = p.secondBendDepth + 1;
  const radius = (s: number): number => {
    if (s < 0) return r0 + m0 * s;
    if (s > s1) {
      const area = p.areaFirstBend * (1 - p.taper * (Math.min(s, isthmus) - s1) + 0.3 * p.taper * Math.max(0, s - isthmus));
      return Math.sqrt(area / PI);
    }
    const t = s / s1;
    const a = (1 + 2 * t) * (1 - t) * (1 - t);
    const b = t * (1 - t) * (1 - t);
    const c = t * t * (3 - 2 * t);
    const e = t * t * (t - 1);
    return a * r0 + b * s1 * m0 + c * r1 + e * s1 * m1;
  };
  const smooth = (t: number): number => {
    const x = Math.max(0, Math.min(1, t));
    return x * x * (3 - 2 * x);
  };
  return (s) => {
    const ratio = p.ratioAperture + (p.ratioBend - p.ratioAperture) * smooth(s / s1);
    const r = radius(s);
    const q = Math.sqrt(ratio);
    return { major: r * q, minor: r / q, angle: p.majorTilt + p.majorTurn * smooth(s / p.secondBendDepth) };
  };
}
