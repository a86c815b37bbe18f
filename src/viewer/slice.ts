/**
 * What a plane square to the canal shows at one depth: cast, body, the inner face of its wall, the parts cut through, and
 * the least distances within that plane. The plane is seen from outside, looking medially: x anterior, y superior.
 *
 * The inner face of the wall is where the true (three-dimensional) distance to the cast, tip and upper faces equals the
 * wall, and the faceplate where the outer cut is `faceplate` away. It is contoured on a grid, good to about 0.02 mm: for
 * the eye, never for a verdict. Distances are in-plane, hence never less than the true ones in the table.
 */
import { TriangleTree } from '../geometry/bvh.ts';
import { boundsOf, type Mesh } from '../geometry/mesh.ts';
import { type Flat, type Outline, outlineHolds, type Section, sectionOf } from '../geometry/section.ts';
import { addScaled, cross, dot, heightOver, type Plane, type Point, pt, sub } from '../geometry/vec.ts';
import type { Ear } from '../model/ear.ts';
import type { Arrangement, Body, Reason } from '../model/fit.ts';
import type { Kit, Part, Primitive, Rules } from '../model/parts.ts';
import { boreOf } from '../parts/vent.ts';
import { between, type Span, toWall } from './flat.ts';
import { meshOfPrimitive } from './solids.ts';
import { planeAlong, planeAt } from './station.ts';

export interface CutPart {
  readonly part: Part;
  readonly solid: readonly Outline[];
  readonly service: readonly Outline[];
  /** The hole in what is grown into the shell. */
  readonly bore: readonly Outline[];
}

export interface InPlane extends Span {
  readonly part: Part;
  readonly other?: Part;
}

export interface Slice {
  readonly depth: number;
  readonly plane: Plane<'ear'>;
  readonly u: Point<'ear'>;
  readonly v: Point<'ear'>;
  readonly cast: readonly Outline[];
  readonly body: readonly Outline[];
  /** Inside wall and faceplate. */
  readonly room: readonly Outline[];
  readonly parts: readonly CutPart[];
  readonly wall?: InPlane;
  readonly gap?: InPlane;
  /** The width that a reason says is too little, where it lies in this plane. */
  readonly squeeze?: Squeeze;
  readonly width?: { readonly major: number; readonly minor: number; readonly area: number };
}

export interface Sliceable {
  readonly ear: Ear;
  readonly body?: Body | undefined;
  readonly kit?: Kit | undefined;
  readonly arrangement?: Arrangement | undefined;
  readonly rules: Pick<Rules, 'wall' | 'faceplate'>;
  readonly reasons?: readonly Reason[] | undefined;
}

/** From `from` along `along` (unit) there are `has` mm; `needs` are needed, about the same middle. */
export interface Squeeze {
  readonly from: Flat;
  readonly along: Flat;
  readonly has: number;
  readonly needs: number;
}

/** How far off the plane the middle of a reason's width may lie, mm, and how much (sine) it may lean out of it. */
const IN_PLANE = 0.75;
const LEANS = 0.5;

function squeezeOf({ reasons = [] }: Sliceable, plane: Plane<'ear'>, u: Point<'ear'>, v: Point<'ear'>): Squeeze | undefined {
  for (const { across, has, needs } of reasons) {
    if (!across || has === undefined || needs === undefined) continue;
    const middle = addScaled(across.from, across.along, has / 2);
    if (Math.abs(heightOver(plane, middle)) > IN_PLANE || Math.abs(dot(across.along, plane.normal)) > LEANS) continue;
    const [x, y] = [dot(across.along, u), dot(across.along, v)];
    const l = Math.sqrt(x * x + y * y);
    const at = sub(across.from, plane.point);
    return { from: [dot(at, u), dot(at, v)], along: [x / l, y / l], has, needs };
  }
  return undefined;
}

/** Everything at one depth, square to the canal. Costs one pass over the meshes and some thousand distance look-ups. */
export const sliceAt = (thing: Sliceable, depth: number): Slice => sliceOn(thing, depth, planeAt(thing.ear.centreline, depth));

/** Along the canal, through the centreline at a depth: seen from the front. */
export const sliceAlong = (thing: Sliceable, depth: number): Slice => sliceOn(thing, depth, planeAlong(thing.ear.centreline, depth));

function sliceOn(thing: Sliceable, depth: number, { plane, u }: { plane: Plane<'ear'>; u: Point<'ear'> }): Slice {
  const cast = mainFirst(sectionOf(thing.ear.cast, plane, u));
  const body = thing.body ? sectionOf(thing.body.mesh, plane, u).outlines.filter((o) => o.closed) : [];
  const v = cross(plane.normal, u);
  const parts = thing.kit && thing.arrangement ? cutParts(thing.kit, thing.arrangement, thing.rules, plane, u) : [];
  const room = thing.body && body.length > 0 ? roomIn(thing.body, body, plane, u, v, thing.rules) : [];
  const wall = leastToWall(parts, body);
  const gap = leastGap(parts);
  const first = cast[0];
  const squeeze = squeezeOf(thing, plane, u, v);
  return {
    depth,
    plane,
    u,
    v,
    cast,
    body,
    room,
    parts,
    ...(wall ? { wall } : {}),
    ...(gap ? { gap } : {}),
    ...(squeeze ? { squeeze } : {}),
    ...(first ? { width: { ...widthsOf(first), area: Math.abs(first.area) } } : {}),
  };
}

/** The outline round the centreline first; the others (a plane may meet the concha elsewhere) after it. */
function mainFirst(section: Section<'ear'>): Outline[] {
  const closed = section.outlines.filter((o) => o.closed && o.points.length >= 6);
  return closed.sort((a, b) => Number(outlineHolds(b, 0, 0)) - Number(outlineHolds(a, 0, 0)) || Math.abs(b.area) - Math.abs(a.area));
}

/** Largest and least width between parallel lines, by turning through half a circle in steps of 2 degrees. */
export function widthsOf({ points: p }: Outline): { major: number; minor: number } {
  let major = 0;
  let minor = Infinity;
  for (let k = 0; k < 90; k++) {
    const c = Math.cos((k * Math.PI) / 90);
    const s = Math.sin((k * Math.PI) / 90);
    let lo = Infinity;
    let hi = -Infinity;
    for (let i = 0; i < p.length; i += 2) {
      const d = c * (p[i] as number) + s * (p[i + 1] as number);
      lo = Math.min(lo, d);
      hi = Math.max(hi, d);
    }
    major = Math.max(major, hi - lo);
    minor = Math.min(minor, hi - lo);
  }
  return { major, minor };
}

function cutParts(kit: Kit, arrangement: Arrangement, rules: Sliceable['rules'], plane: Plane<'ear'>, u: Point<'ear'>): CutPart[] {
  const out: CutPart[] = [];
  for (const [i, part] of kit.parts.entries()) {
    const pose = arrangement.poses[i];
    if (!pose) continue;
    const cut = (some: readonly Primitive[]): Outline[] =>
      some.flatMap((p) => sectionOf(meshOfPrimitive(p, pose, 'ear'), plane, u).outlines.filter((o) => o.points.length >= 6));
    const solid = cut(part.primitives.filter((p) => p.kind === 'solid'));
    const service = cut(part.primitives.filter((p) => p.kind === 'service'));
    const bore = part.seat.at === 'shell' ? cut(part.primitives.map((p) => boreOf(p, rules))) : [];
    if (solid.length + service.length > 0) out.push({ part, solid, service, bore });
  }
  return out;
}

function leastToWall(parts: readonly CutPart[], body: readonly Outline[]): InPlane | undefined {
  let best: InPlane | undefined;
  if (body.length === 0) return undefined;
  for (const { part, solid, bore } of parts) {
    const span = toWall(part.seat.at === 'shell' ? bore : solid, body);
    if (span && (!best || span.distance < best.distance)) best = { ...span, part };
  }
  return best;
}

function leastGap(parts: readonly CutPart[]): InPlane | undefined {
  let best: InPlane | undefined;
  for (const [i, a] of parts.entries()) {
    for (const b of parts.slice(i + 1)) {
      const span = between(a.solid, b.solid);
      if (span && (!best || span.distance < best.distance)) best = { ...span, part: a.part, other: b.part };
    }
  }
  return best;
}

/** What the wall is measured from, as far as it is within `reach` of the plane: all but the face of the outer cut. */
function wallNear(body: Body, plane: Plane<'ear'>, reach: number): TriangleTree<'ear'> {
  const { positions: p, indices: t } = body.mesh;
  const outer = body.cuts.findIndex((c) => c.name === 'outer') + 1;
  const [nx, ny, nz] = plane.normal;
  const off = dot(plane.normal, plane.point);
  const height = new Float64Array(p.length / 3);
  for (let i = 0; i < height.length; i++)
    height[i] = nx * (p[3 * i] as number) + ny * (p[3 * i + 1] as number) + nz * (p[3 * i + 2] as number) - off;
  const near: number[] = [];
  for (let f = 0; f < body.face.length; f++) {
    if (body.face[f] === outer) continue;
    const a = height[t[3 * f] as number] as number;
    const b = height[t[3 * f + 1] as number] as number;
    const c = height[t[3 * f + 2] as number] as number;
    if (Math.min(a, b, c) > reach || Math.max(a, b, c) < -reach) continue;
    near.push(t[3 * f] as number, t[3 * f + 1] as number, t[3 * f + 2] as number);
  }
  return new TriangleTree<'ear'>({ frame: 'ear', positions: p, indices: Uint32Array.from(near) });
}

function roomIn(
  body: Body,
  outlines: readonly Outline[],
  plane: Plane<'ear'>,
  u: Point<'ear'>,
  v: Point<'ear'>,
  rules: Sliceable['rules'],
): readonly Outline[] {
  const outer = body.cuts.find((c) => c.name === 'outer')?.plane;
  const flat = outlines.flatMap((o) => [...o.points]);
  const box = boundsOf(Float64Array.from(flat.flatMap((c, i) => (i % 2 === 1 ? [c, 0] : [c]))));
  const step = Math.max(0.16, Math.max(box.max[0] - box.min[0], box.max[1] - box.min[1]) / 90);
  const wide = Math.ceil((box.max[0] - box.min[0]) / step) + 3;
  const high = Math.ceil((box.max[1] - box.min[1]) / step) + 3;
  const reach = rules.wall + 2 * step;
  const tree = wallNear(body, plane, reach);
  const field = new Float64Array(wide * high);
  let hint = -1;
  for (let row = 0; row < high; row++) {
    const y = box.min[1] + (row - 1) * step;
    const inside = crossingsAt(outlines, y);
    for (let col = 0; col < wide; col++) {
      const x = box.min[0] + (col - 1) * step;
      const p = addScaled(addScaled(plane.point, u, x), v, y);
      const near = tree.nearest(p, reach, hint);
      hint = near ? near.triangle : -1;
      const distance = near ? near.distance : reach;
      const signed = inside(x) ? distance : -distance;
      field[row * wide + col] = Math.min(signed - rules.wall, outer ? -heightOver(outer, p) - rules.faceplate : Infinity);
    }
  }
  return contour(field, wide, high, box.min[0] - step, box.min[1] - step, step);
}

/** Even-odd test along one row, with the crossings found once. */
function crossingsAt(outlines: readonly Outline[], y: number): (x: number) => boolean {
  const at: number[] = [];
  for (const { points: p } of outlines) {
    for (let i = 0, j = p.length - 2; i < p.length; j = i, i += 2) {
      const a = p[i + 1] as number;
      const b = p[j + 1] as number;
      if (a > y === b > y) continue;
      at.push((p[i] as number) + ((y - a) / (b - a)) * ((p[j] as number) - (p[i] as number)));
    }
  }
  return (x) => at.reduce((n, c) => n + (c < x ? 1 : 0), 0) % 2 === 1;
}

/** Where the field passes zero: the surface (x, y, field) cut by the plane z = 0. */
export function contour(field: Float64Array, wide: number, high: number, x0: number, y0: number, step: number): readonly Outline[] {
  const positions = new Float64Array(3 * wide * high);
  const indices: number[] = [];
  for (let row = 0; row < high; row++) {
    for (let col = 0; col < wide; col++) {
      const i = row * wide + col;
      positions.set([x0 + col * step, y0 + row * step, field[i] as number], 3 * i);
      if (row + 1 < high && col + 1 < wide) indices.push(i, i + 1, i + wide, i + 1, i + wide + 1, i + wide);
    }
  }
  const sheet: Mesh<'part'> = { frame: 'part', positions, indices: Uint32Array.from(indices) };
  return sectionOf(sheet, { point: pt(0, 0, 0), normal: pt(0, 0, 1) }, pt(1, 0, 0)).outlines.filter((o) => o.closed);
}
