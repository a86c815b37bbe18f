/**
 * Where the middle of a canal is that is only partly there.
 *
 * Near the tip the end face, slanting and rounded, cuts into the sections, and their centroids run off to the side that is left. The
 * wall that is left still lies where it lay: an outline taken where the canal was whole is shifted (and slightly scaled) until it fits.
 */
import { atan2, cos, PI, sin } from '../geometry/trig.ts';
import { addScaled, cross, dot, type Frame, length, normalize, type Point, perpendicular } from '../geometry/vec.ts';
import type { Slice } from './slicer.ts';

/**
 * How much more than its fellows a direction's wall may slant against the line (cosine) up to which a direction counts fully, and from which on it counts not
 * at all: a rounded edge of 2.4 mm has given way by 0.03 mm and 0.15 mm there. Means over a direction, as noise tilts single facets by 0.2.
 */
const UPRIGHT = 0.12;
const FALLEN = 0.3;
/** No canal tapers faster than this (cosine of its walls' normal against the line). */
const TAPER = 0.3;
/** Directions in which an outline is known. */
export const BINS = 48;

/** 1: upright as a canal's wall, 0: none of it, by how much the slant (cosine) differs from its fellows'. */
export const uprightShare = (slant: number): number => Math.max(0, Math.min(1, (FALLEN - Math.abs(slant)) / (FALLEN - UPRIGHT)));

/** The outline by direction about a centre, in axes a and b: mean distance, mean slant, and 0..1 how much of a canal's wall it is. */
interface Rays {
  readonly radii: Float64Array;
  readonly trust: Float64Array;
  readonly tilt: Float64Array;
  readonly weight: Float64Array;
  /** Mean of the outline's outward normals. */
  readonly nx: Float64Array;
  readonly ny: Float64Array;
  /** What slant counts as upright: a tapering canal's walls all slant alike. */
  readonly level: number;
}

/** Axes square to unit `along`, the first as near to `across` as can be: directions are counted from what turns with the cast, never from the scan's axes. */
export function axesSquareTo<F extends Frame>(along: Point<F>, across: Point<F>): { a: Point<F>; b: Point<F> } {
  const square = addScaled(across, along, -dot(across, along));
  const a = length(square) > 1e-3 ? normalize(square) : perpendicular(along);
  return { a, b: cross(along, a) };
}

/** Share of the directions about the centroid in which the outline is canal wall. */
export const wallShare = <F extends Frame>(slice: Slice<F>, at: Point<F>, along: Point<F>, across: Point<F>): number =>
  shareOf(templateOf(slice, at, along, across).rays);

const shareOf = ({ trust }: Rays): number => trust.reduce((sum, t) => sum + t, 0) / BINS;

/**
 * The canal's own direction at a section: the one that its walls are most nearly parallel to, all slanting alike. By least absolute
 * deviations over the directions, so that a side that opens or is cut off does not pull.
 */
export const directionOfWalls = <F extends Frame>(slice: Slice<F>, at: Point<F>, along: Point<F>, across: Point<F>): Point<F> =>
  directionBy(templateOf(slice, at, along, across), along);

/** `wallShare` and `directionOfWalls` of one section. */
export function wallsOf<F extends Frame>(
  slice: Slice<F>,
  at: Point<F>,
  along: Point<F>,
  across: Point<F>,
): { readonly share: number; readonly direction: Point<F> } {
  const template = templateOf(slice, at, along, across);
  return { share: shareOf(template.rays), direction: directionBy(template, along) };
}

function directionBy<F extends Frame>({ a, b, rays: { tilt, weight, nx, ny } }: Template<F>, along: Point<F>): Point<F> {
  let [level, ga, gb] = [0, 0, 0];
  for (let round = 0; round < 12; round++) {
    const m = { xx: 1e-9, xy: 0, yy: 1e-9, xs: 0, ys: 0, ss: 1e-9, x: 0, y: 0, s: 0 };
    for (let k = 0; k < BINS; k++) {
      if ((weight[k] as number) < 0.02) continue;
      const [x, y, t] = [nx[k] as number, ny[k] as number, tilt[k] as number];
      const w = 1 / Math.max(0.03, Math.abs(t - level - ga * x - gb * y));
      m.xx += w * x * x;
      m.xy += w * x * y;
      m.yy += w * y * y;
      m.xs += w * x;
      m.ys += w * y;
      m.ss += w;
      m.x += w * x * t;
      m.y += w * y * t;
      m.s += w * t;
    }
    [ga, gb] = solve3(m);
    level = (m.s - m.xs * ga - m.ys * gb) / m.ss;
  }
  // Walls that are square to along + d have the slant -d . n.
  return normalize(addScaled(addScaled(along, a, -ga), b, -gb));
}

/** What a whole section looks like from its centroid. */
export interface Template<F extends Frame> {
  readonly a: Point<F>;
  readonly b: Point<F>;
  readonly rays: Rays;
}

export function templateOf<F extends Frame>(slice: Slice<F>, at: Point<F>, along: Point<F>, across: Point<F>): Template<F> {
  const { a, b } = axesSquareTo(along, across);
  return { a, b, rays: raysOf(segmentsOf(slice, a, b), offsetOf(slice.centroid, at, a, b)) };
}

const offsetOf = <F extends Frame>(c: Point<F>, at: Point<F>, a: Point<F>, b: Point<F>): [number, number] => {
  const d = addScaled(c, at, -1);
  return [dot(d, a), dot(d, b)];
};

/** Of each segment: its middle in the axes a and b about the slice's own origin, its length, tilt and outward normal. Six numbers each. */
function segmentsOf<F extends Frame>(slice: Slice<F>, a: Point<F>, b: Point<F>): Float64Array {
  const p = slice.points;
  const out = new Float64Array(3 * p.length);
  const [ua, va, ub, vb] = [dot(slice.u, a), dot(slice.v, a), dot(slice.u, b), dot(slice.v, b)];
  for (let k = 0; k < p.length; k += 2) {
    const j = k + 2 < p.length ? k + 2 : 0;
    const u = ((p[k] as number) + (p[j] as number)) / 2;
    const v = ((p[k + 1] as number) + (p[j + 1] as number)) / 2;
    const dx = (p[j] as number) - (p[k] as number);
    const dy = (p[j + 1] as number) - (p[k + 1] as number);
    const l = Math.sqrt(dx * dx + dy * dy);
    const inv = l > 0 ? 1 / l : 0;
    // Outlines run counter-clockwise about the plane's normal: outward is to the right, (dv, -du).
    const o = 3 * k;
    out[o] = ua * u + va * v;
    out[o + 1] = ub * u + vb * v;
    out[o + 2] = l;
    out[o + 3] = slice.tilts[k / 2] as number;
    out[o + 4] = (ua * dy - va * dx) * inv;
    out[o + 5] = (ub * dy - vb * dx) * inv;
  }
  return out;
}

/** `level`: the slant that counts as upright; the median of this outline's own unless given. */
function raysOf(segments: Float64Array, [cx, cy]: readonly [number, number], level?: number): Rays {
  const radii = new Float64Array(BINS);
  const tilt = new Float64Array(BINS);
  const weight = new Float64Array(BINS);
  const nx = new Float64Array(BINS);
  const ny = new Float64Array(BINS);
  for (let i = 0; i < segments.length; i += 6) {
    const dx = (segments[i] as number) - cx;
    const dy = (segments[i + 1] as number) - cy;
    const r = Math.sqrt(dx * dx + dy * dy);
    // Shared between the two nearest directions, so that nothing jumps when an outline turns by a hair.
    const turn = ((atan2(dy, dx) / (2 * PI) + 1) * BINS) % BINS;
    const low = Math.floor(turn);
    for (let near = 0; near < 2; near++) {
      const bin = (low + near) % BINS;
      const w = (segments[i + 2] as number) * (near === 0 ? 1 - (turn - low) : turn - low);
      radii[bin] = (radii[bin] as number) + r * w;
      tilt[bin] = (tilt[bin] as number) + (segments[i + 3] as number) * w;
      nx[bin] = (nx[bin] as number) + (segments[i + 4] as number) * w;
      ny[bin] = (ny[bin] as number) + (segments[i + 5] as number) * w;
      weight[bin] = (weight[bin] as number) + w;
    }
  }
  for (let k = 0; k < BINS; k++) {
    const w = weight[k] as number;
    if (w < 0.02) continue;
    radii[k] = (radii[k] as number) / w;
    tilt[k] = (tilt[k] as number) / w;
    nx[k] = (nx[k] as number) / w;
    ny[k] = (ny[k] as number) / w;
  }
  const median = medianOf(tilt.filter((_, k) => (weight[k] as number) >= 0.02));
  const upright = level ?? Math.max(-TAPER, Math.min(TAPER, median));
  const trust = tilt.map((t, k) => ((weight[k] as number) < 0.02 ? 0 : uprightShare(t - upright)));
  return { radii, trust, tilt, weight, nx, ny, level: upright };
}

function medianOf(values: Float64Array): number {
  const sorted = values.sort();
  return sorted.length > 0 ? ((sorted[(sorted.length - 1) >> 1] as number) + (sorted[sorted.length >> 1] as number)) / 2 : 0;
}

/** Where the template's centre, at `size` times its own size, lies in the slice's plane, and the share of directions in which there is wall to tell it. */
export function fitTemplate<F extends Frame>(
  template: Template<F>,
  size: number,
  slice: Slice<F>,
  at: Point<F>,
): { at: Point<F>; share: number } {
  const { a, b, rays } = template;
  const segments = segmentsOf(slice, a, b);
  let [cx, cy] = offsetOf(slice.centroid, at, a, b);
  let share = 0;
  for (let round = 0; round < 8; round++) {
    const here = raysOf(segments, [cx, cy], rays.level);
    const m = { xx: 1e-6, xy: 0, yy: 1e-6, xs: 0, ys: 0, ss: STIFF, x: 0, y: 0, s: 0 };
    share = 0;
    for (let k = 0; k < BINS; k++) {
      const trust = (here.trust[k] as number) * (rays.trust[k] as number);
      if (trust === 0) continue;
      share += trust / BINS;
      const want = size * (rays.radii[k] as number);
      const [c, s] = DIRECTIONS[k] as readonly [number, number];
      const e = (here.radii[k] as number) - want;
      const w = trust * Math.min(1, PULL / Math.max(1e-9, Math.abs(e)));
      m.xx += w * c * c;
      m.xy += w * c * s;
      m.yy += w * s * s;
      m.xs += w * c * want;
      m.ys += w * s * want;
      m.ss += w * want * want;
      m.x += w * c * e;
      m.y += w * s * e;
      m.s += w * want * e;
    }
    if (share < 0.3) break;
    const [dx, dy] = solve3(m);
    cx += dx;
    cy += dy;
  }
  return { at: addScaled(addScaled(at, a, cx), b, cy), share };
}

/** A bubble or a fold pulls no harder than this does, mm. */
const PULL = 0.3;
/** Holds the template near the asked size: 1000 is a spread of 3 % against a wall known to 1 mm. */
const STIFF = 1000;

const DIRECTIONS: readonly (readonly [number, number])[] = Array.from({ length: BINS }, (_, k) => {
  const a = (2 * PI * k) / BINS;
  return [cos(a), sin(a)] as const;
});

interface Normal3 {
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
  readonly xs: number;
  readonly ys: number;
  readonly ss: number;
  readonly x: number;
  readonly y: number;
  readonly s: number;
}

/** The shift part of the normal equations in shift x, y and scale s, with s eliminated. */
function solve3(m: Normal3): [number, number] {
  const xx = m.xx - (m.xs * m.xs) / m.ss;
  const xy = m.xy - (m.xs * m.ys) / m.ss;
  const yy = m.yy - (m.ys * m.ys) / m.ss;
  const x = m.x - (m.xs * m.s) / m.ss;
  const y = m.y - (m.ys * m.s) / m.ss;
  const det = xx * yy - xy * xy;
  if (!(det > 1e-9)) return [0, 0];
  return [(x * yy - y * xy) / det, (y * xx - x * xy) / det];
}
