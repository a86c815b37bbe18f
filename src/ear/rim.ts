/**
 * The plane of the concha's rim.
 *
 * First the plane of the cast's lateral edge (the base, where the scan has one). Then, where material was pressed out over the rim, the
 * crease under that flange: sections parallel to the base shrink there at once, direction by direction, and a plane is laid through the
 * places where they do.
 */
import { cos, PI, sin } from '../geometry/trig.ts';
import { addScaled, cross, dot, normalize, type Plane, type Point, pointAt, pt, scale, sub } from '../geometry/vec.ts';
import type { Slice, Slicer } from './slicer.ts';

export interface Rim {
  readonly plane: Plane<'scan'>;
  readonly confidence: number;
}

const AZIMUTHS = 72;
/** Sections go this far medially of the lateral edge, mm, in steps of LAYER. */
const DEEP = 6;
const LAYER = 0.4;
/** A flange stands out by at least this within DROP mm of height, mm; less is the wall's own slant. */
const LEDGE = 0.8;
const DROP = 0.8;
/** Heights of one crease differ by no more, mm. */
const BAND = 1.7;
export const CONCHA_REACH = 60;

/** `axis`: the canal's, at the aperture. `base`: the cap's plane where there is one. */
export function rimOf(slicer: Slicer<'scan'>, axis: Axis, base: Plane<'scan'> | undefined): Rim {
  const edge = base ?? lateralEdge(slicer.mesh.positions, axis);
  const axes = axesOf(edge.normal, axis);
  const layers = layersBelow(slicer, edge, axis);
  if (layers.length < 5) return { plane: edge, confidence: 0.2 };
  const creases = creasesOf(layers, axes);
  if (creases.length < AZIMUTHS / 6) return { plane: edge, confidence: base ? 0.6 : 0.4 };
  const { plane, spread } = planeThrough(creases, axes, edge.normal);
  if (dot(plane.normal, edge.normal) < 0.9) return { plane: edge, confidence: 0.3 };
  return { plane, confidence: Math.sqrt(creases.length / AZIMUTHS) / (1 + spread / 0.5) };
}

/** Where the canal's axis meets a plane. */
export function axisMeets(axis: Pick<Axis, 'origin' | 'lateral'>, plane: Plane<'scan'>): Point<'scan'> {
  const t = dot(sub(plane.point, axis.origin), plane.normal) / dot(axis.lateral, plane.normal);
  return addScaled(axis.origin, axis.lateral, t);
}

/** The canal's axis at the aperture, and some direction square to it that turns with the ear. */
export interface Axis {
  readonly origin: Point<'scan'>;
  readonly lateral: Point<'scan'>;
  readonly across: Point<'scan'>;
}

interface Axes {
  readonly u: Point<'scan'>;
  readonly v: Point<'scan'>;
}

/** In-plane axes that turn with the ear, not with the scan. */
export function axesOf(normal: Point<'scan'>, axis: Axis): Axes {
  const u = normalize(addScaled(axis.across, normal, -dot(axis.across, normal)));
  return { u, v: cross(normal, u) };
}

/** The plane through the outermost lateral points in every direction, repeated about its own normal. */
function lateralEdge(positions: Float64Array, axis: Axis): Plane<'scan'> {
  let normal = axis.lateral;
  let plane: Plane<'scan'> = { point: axis.origin, normal };
  for (let round = 0; round < 4; round++) {
    const axes = axesOf(normal, axis);
    const { u, v } = axes;
    const found: Point<'scan'>[] = [];
    for (let i = 0; i < AZIMUTHS; i++) {
      const a = (2 * PI * i) / AZIMUTHS;
      const out = addScaled(scale(u, cos(a)), v, sin(a));
      found.push(farthest(positions, normalize(addScaled(out, normal, 1))));
    }
    plane = planeThrough(found, axes, normal).plane;
    normal = plane.normal;
  }
  return plane;
}

function farthest(positions: Float64Array, d: Point<'scan'>): Point<'scan'> {
  let best = -Infinity;
  let at = 0;
  for (let k = 0; k < positions.length; k += 3) {
    const h = d[0] * (positions[k] as number) + d[1] * (positions[k + 1] as number) + d[2] * (positions[k + 2] as number);
    if (h > best) {
      best = h;
      at = k / 3;
    }
  }
  return pointAt(positions, at);
}

interface Layer {
  readonly down: number;
  readonly slice: Slice<'scan'>;
  readonly at: Point<'scan'>; // the slice's own origin
}

function layersBelow(slicer: Slicer<'scan'>, edge: Plane<'scan'>, axis: Axis): Layer[] {
  // From where the canal's axis meets each plane, so that the outline that is found is the concha's.
  const layers: Layer[] = [];
  for (let down = 0.2; down <= DEEP; down += LAYER) {
    const at = axisMeets(axis, { point: addScaled(edge.point, edge.normal, -down), normal: edge.normal });
    const slice = slicer.outline(at, edge.normal, CONCHA_REACH);
    if (slice) layers.push({ down, slice, at });
  }
  return layers;
}

/** Per direction from the lowest layer's centre: where the outline steps in most, and the place there. */
function creasesOf(layers: readonly Layer[], axes: Axes): Point<'scan'>[] {
  const centre = (layers[layers.length - 1] as Layer).slice.centroid;
  const reach = layers.map((layer) => radii(layer, centre, axes));
  const span = Math.round(DROP / LAYER);
  const out: { down: number; at: Point<'scan'> }[] = [];
  for (let i = 0; i < AZIMUTHS; i++) {
    let most = 0;
    let at = -1;
    for (let k = 0; k + span < layers.length; k++) {
      const drop = (reach[k]?.[i] as number) - (reach[k + span]?.[i] as number);
      if (drop > most) {
        most = drop;
        at = k;
      }
    }
    if (most < LEDGE || at < 0) continue;
    const low = layers[at + span] as Layer;
    const a = (2 * PI * i) / AZIMUTHS;
    const direction = addScaled(scale(axes.u, cos(a)), axes.v, sin(a));
    const normal = cross(axes.u, axes.v);
    const foot = addScaled(centre, normal, dot(sub(low.at, centre), normal) + LAYER / 2);
    out.push({ down: low.down, at: addScaled(foot, direction, reach[at + span]?.[i] as number) });
  }
  return densest(out);
}

/** Bowls slant and curve, and step in too, but at all heights: the flange's crease is where many directions agree. */
function densest(steps: readonly { down: number; at: Point<'scan'> }[]): Point<'scan'>[] {
  let best: Point<'scan'>[] = [];
  for (let low = 0; low < DEEP - BAND; low += LAYER) {
    const within = steps.filter((c) => c.down >= low - 1e-9 && c.down <= low + BAND).map((c) => c.at);
    if (within.length > best.length) best = within;
  }
  return best;
}

/** Distance from the axis through `centre` to the outline's farthest crossing in each direction; 0 for none. */
function radii(layer: Layer, centre: Point<'scan'>, axes: Axes): Float64Array {
  const { slice, at } = layer;
  const out = new Float64Array(AZIMUTHS);
  const p = slice.points;
  const d = sub(at, centre);
  const flat = new Float64Array(p.length);
  for (let k = 0; k < p.length; k += 2) {
    const q = addScaled(addScaled(d, slice.u, p[k] as number), slice.v, p[k + 1] as number);
    flat[k] = dot(q, axes.u);
    flat[k + 1] = dot(q, axes.v);
  }
  for (let i = 0; i < AZIMUTHS; i++) {
    const a = (2 * PI * i) / AZIMUTHS;
    out[i] = farthestCrossing(flat, cos(a), sin(a));
  }
  return out;
}

/** Farthest crossing of a ray from the origin with an outline of x y pairs; 0 for none. */
export function farthestCrossing(flat: Float64Array, c: number, s: number): number {
  let most = 0;
  for (let k = 0, j = flat.length - 2; k < flat.length; j = k, k += 2) {
    const ah = c * (flat[j + 1] as number) - s * (flat[j] as number);
    const bh = c * (flat[k + 1] as number) - s * (flat[k] as number);
    if (ah >= 0 === bh >= 0) continue;
    const t = ah / (ah - bh);
    const ax = c * (flat[j] as number) + s * (flat[j + 1] as number);
    const bx = c * (flat[k] as number) + s * (flat[k + 1] as number);
    const r = ax + t * (bx - ax);
    if (r > most) most = r;
  }
  return most;
}

/** Least-squares plane z = a + b x + c y in the axes about `normal`, three times over, each time without what lies far off. */
function planeThrough(points: readonly Point<'scan'>[], { u, v }: Axes, normal: Point<'scan'>): { plane: Plane<'scan'>; spread: number } {
  let kept = points;
  let plane: Plane<'scan'> = { point: kept[0] as Point<'scan'>, normal };
  let spread = 0;
  for (let round = 0; round < 4; round++) {
    plane = leastSquares(kept, u, v, normal);
    const off = points.map((p) => Math.abs(dot(plane.normal, sub(p, plane.point))));
    const sorted = [...off].sort((a, b) => a - b);
    spread = sorted[sorted.length >> 1] as number;
    const limit = Math.max(0.15, 2.5 * spread);
    kept = points.filter((_, k) => (off[k] as number) <= limit);
  }
  return { plane, spread };
}

function leastSquares(points: readonly Point<'scan'>[], u: Point<'scan'>, v: Point<'scan'>, n: Point<'scan'>): Plane<'scan'> {
  let centre = pt<'scan'>(0, 0, 0);
  for (const p of points) centre = addScaled(centre, p, 1 / points.length);
  let xx = 0;
  let xy = 0;
  let yy = 0;
  let xz = 0;
  let yz = 0;
  for (const p of points) {
    const d = sub(p, centre);
    const [x, y, z] = [dot(d, u), dot(d, v), dot(d, n)];
    xx += x * x;
    xy += x * y;
    yy += y * y;
    xz += x * z;
    yz += y * z;
  }
  const det = xx * yy - xy * xy;
  if (!(det > 1e-9 * (xx + yy) * (xx + yy))) return { point: centre, normal: n };
  const b = (xz * yy - yz * xy) / det;
  const c = (yz * xx - xz * xy) / det;
  return { point: centre, normal: normalize(addScaled(addScaled(n, u, -b), v, -c)) };
}
