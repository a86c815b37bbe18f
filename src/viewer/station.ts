/** Places along the canal's centreline. */
import { addScaled, cross, dot, lerp, normalize, type Plane, type Point, pointAt, pt, scale, type Vec3 } from '../geometry/vec.ts';
import type { Centreline } from '../model/ear.ts';

/** The centreline's place and direction (medial) at a depth, between its ends. */
export function stationAt(line: Centreline, depth: number): { at: Point<'ear'>; tangent: Point<'ear'>; depth: number } {
  const d = line.depths;
  const n = d.length;
  const held = Math.max(d[0] as number, Math.min(d[n - 1] as number, depth));
  let i = 0;
  while (i < n - 2 && (d[i + 1] as number) < held) i++;
  const span = (d[i + 1] as number) - (d[i] as number);
  const s = span > 0 ? (held - (d[i] as number)) / span : 0;
  return {
    at: lerp(pointAt<'ear'>(line.points, i), pointAt<'ear'>(line.points, i + 1), s),
    tangent: normalize(lerp(pointAt<'ear'>(line.tangents, i), pointAt<'ear'>(line.tangents, i + 1), s)),
    depth: held,
  };
}

/** The plane at a depth, its normal lateral, with the axis that points anterior in it. */
export function planeAt(line: Centreline, depth: number): { plane: Plane<'ear'>; u: Point<'ear'> } {
  const { at, tangent } = stationAt(line, depth);
  const normal = scale(tangent, -1);
  const superior = pt<'ear'>(0, 1, 0);
  const steep = Math.abs(dot(superior, normal)) > 0.95;
  return { plane: { point: at, normal }, u: normalize(steep ? addScaled(pt(1, 0, 0), normal, -normal[0]) : cross(superior, normal)) };
}

/** The plane along the canal at a depth: it holds the centreline's direction there and what is superior; its normal is anterior. */
export function planeAlong(line: Centreline, depth: number): { plane: Plane<'ear'>; u: Point<'ear'> } {
  const { at, tangent } = stationAt(line, depth);
  const anterior = pt<'ear'>(1, 0, 0);
  return { plane: { point: at, normal: normalize(addScaled(anterior, tangent, -dot(anterior, tangent))) }, u: scale(tangent, -1) };
}

/** The depth of the centreline's point nearest to a place, to a twentieth of a millimetre. */
export function depthNear(line: Centreline, at: Vec3): number {
  let best = Infinity;
  let depth = 0;
  for (let i = 0; i < line.depths.length; i++) {
    const x = (line.points[3 * i] as number) - at[0];
    const y = (line.points[3 * i + 1] as number) - at[1];
    const z = (line.points[3 * i + 2] as number) - at[2];
    const d2 = x * x + y * y + z * z;
    if (d2 >= best) continue;
    best = d2;
    depth = line.depths[i] as number;
  }
  return Math.round(depth * 20) / 20;
}
