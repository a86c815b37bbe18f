import { cos, sin } from '../geometry/trig.ts';
import { add, addScaled, cross, distance, dot, lerp, normalize, type Plane, type Point, pointAt, pt, scale, sub } from '../geometry/vec.ts';
import type { Centreline, Ear } from '../model/ear.ts';
import type { Cut, Reason } from '../model/fit.ts';
import type { Tilt } from '../model/parts.ts';
import type { Style } from '../parts/index.ts';

/** A place on the centreline and its medial direction. Depths beyond its ends go straight on. */
export function atDepth(line: Centreline, depth: number): { readonly at: Point<'ear'>; readonly tangent: Point<'ear'> } {
  const { depths, points, tangents } = line;
  const last = depths.length - 1;
  let k = 0;
  while (k < last - 1 && (depths[k + 1] as number) < depth) k++;
  const d0 = depths[k] as number;
  const d1 = depths[k + 1] as number;
  const t = (depth - d0) / (d1 - d0);
  const held = Math.max(0, Math.min(1, t));
  const at = lerp(pointAt<'ear'>(points, k), pointAt<'ear'>(points, k + 1), held);
  const tangent = normalize(lerp(pointAt<'ear'>(tangents, k), pointAt<'ear'>(tangents, k + 1), held));
  return { at: addScaled(at, tangent, (t - held) * (d1 - d0)), tangent };
}

const ANTERIOR = pt<'ear'>(1, 0, 0);
const SUPERIOR = pt<'ear'>(0, 1, 0);
const LATERAL = pt<'ear'>(0, 0, 1);

/** The plane of a style's faceplate; its normal points laterally. A tilt turns it about its own point on the canal's axis. */
export function outerPlane(ear: Ear, style: Style): Plane<'ear'> {
  const rim = ear.rim.plane;
  if (style.outer.from === 'rim') {
    return { point: addScaled(rim.point, rim.normal, -style.outer.medial), normal: rim.normal };
  }
  const { point, normal } = uprightPlane(ear, style.outer);
  return { point, normal: style.outer.tilt ? tilted(normal, style.outer.tilt) : normal };
}

/**
 * The normal n turned: normalised n + tan(superior) S + tan(anterior) A, S and A being the ear's directions made square to n. Each
 * angle alone turns it by just that; of both together neither comes first.
 */
function tilted(n: Point<'ear'>, { superior, anterior }: Tilt): Point<'ear'> {
  const square = (d: Point<'ear'>): Point<'ear'> => normalize(addScaled(d, n, -dot(d, n)));
  const towards = (from: Point<'ear'>, d: Point<'ear'>, angle: number) => addScaled(from, square(d), sin(angle) / cos(angle));
  return normalize(towards(towards(n, SUPERIOR, superior), ANTERIOR, anterior));
}

type FromAperture = Extract<Style['outer'], { readonly from: 'aperture' }>;

function uprightPlane(ear: Ear, { lateral, facing }: FromAperture): Plane<'ear'> {
  const rim = ear.rim.plane;
  if (facing === 'axis') {
    const { at, tangent } = atDepth(ear.centreline, -lateral);
    return { point: at, normal: scale(tangent, -1) };
  }
  const at = (out: number): Point<'ear'> => addScaled(ear.aperture.at, LATERAL, out);
  if (facing === 'half-way') return { point: at(lateral), normal: normalize(add(LATERAL, rim.normal)) };
  return { point: at(Math.min(lateral, rimHeight(ear) - RIM_LEAVE)), normal: rim.normal };
}

/** A faceplate along the rim plane stays this far below it, as a full shell's does, however shallow the concha; a tilted one too. */
export const RIM_LEAVE = 1;

/** How far lateral of the aperture the canal's axis meets the rim plane, mm. */
const rimHeight = ({ aperture, rim: { plane } }: Ear): number =>
  dot(plane.normal, sub(plane.point, aperture.at)) / Math.max(0.2, dot(plane.normal, LATERAL));

/** The plane that leaves the cymba out: below the crus's groove, along the canal's axis and the crus's own direction (anterior). */
export function upperPlane(ear: Ear, below: number): Plane<'ear'> | undefined {
  if (!ear.crus) return undefined;
  return { point: addScaled(ear.crus.at, SUPERIOR, -below), normal: SUPERIOR };
}

export type Tip = { readonly kind: 'tip'; readonly depth: number } | { readonly kind: 'short'; readonly reason: Reason };

/** How deep a style's tip goes, or what the impression lacks for it. */
export function tipDepth(ear: Ear, style: Style): Tip {
  const { bend, beyond, leave } = style.tip;
  const seen = bend === 'first' ? ear.firstBend : ear.secondBend;
  const end = ear.end;
  if (!seen) {
    const text = `the impression shows ${end.depth.toFixed(1)} mm of canal and ends before the ${bend} bend, where this style needs its tip`;
    return { kind: 'short', reason: { code: 'impression/no-bend', text, parts: [], has: end.depth, at: end.at } };
  }
  const wanted = seen.depth + beyond;
  // An IIC may stop short of its full depth, but not of the bend itself; every other style needs its depth.
  const needed = (bend === 'second' ? seen.depth : wanted) + leave;
  if (end.depth < needed) {
    const text = `this style needs ${needed.toFixed(1)} mm of canal (the ${bend} bend at ${seen.depth.toFixed(1)} mm and beyond); the impression ends at ${end.depth.toFixed(1)} mm`;
    return { kind: 'short', reason: { code: 'impression/too-short', text, parts: [], needs: needed, has: end.depth, at: end.at } };
  }
  return { kind: 'tip', depth: Math.min(wanted, end.depth - leave) };
}

/** Heights of every vertex of a cut's face are within this of its plane, mm: the kernel keeps 32-bit coordinates. */
export const ON_PLANE = 1e-4;

/** Which face of the body each triangle belongs to: 0 the cast's own surface, 1 + k the face of cut k. */
export function facesOf(positions: Float64Array, indices: Uint32Array, cuts: readonly Cut[]): Uint8Array {
  const face = new Uint8Array(indices.length / 3);
  cuts.forEach((cut, k) => {
    const { normal: n, point } = cut.plane;
    const off = dot(n, point);
    const on = new Uint8Array(positions.length / 3);
    for (let i = 0; i < on.length; i++) {
      const h =
        n[0] * (positions[3 * i] as number) + n[1] * (positions[3 * i + 1] as number) + n[2] * (positions[3 * i + 2] as number) - off;
      on[i] = Math.abs(h) <= ON_PLANE ? 1 : 0;
    }
    for (let t = 0; t < face.length; t++) {
      if (on[indices[3 * t] as number] && on[indices[3 * t + 1] as number] && on[indices[3 * t + 2] as number]) face[t] = 1 + k;
    }
  });
  return face;
}

/** Area-weighted centre of the triangles of one face; undefined when the cut made no face. */
export function faceCentre(positions: Float64Array, indices: Uint32Array, face: Uint8Array, which: number): Point<'ear'> | undefined {
  let sum = pt<'ear'>(0, 0, 0);
  let weight = 0;
  for (let t = 0; t < face.length; t++) {
    if (face[t] !== which) continue;
    const [a, b, c] = [0, 1, 2].map((k) => pointAt<'ear'>(positions, indices[3 * t + k] as number)) as [
      Point<'ear'>,
      Point<'ear'>,
      Point<'ear'>,
    ];
    const area = distance(cross(sub(b, a), sub(c, a)), pt<'ear'>(0, 0, 0));
    sum = addScaled(sum, add(add(a, b), c), area / 3);
    weight += area;
  }
  return weight > 0 ? scale(sum, 1 / weight) : undefined;
}
