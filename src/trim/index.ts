/**
 * Cutting the cast into a body: outer cut, tip cut and, for a half shell, upper cut.
 *
 * The cast becomes a kernel solid once; each style trims that solid by its planes. What is left may fall into several
 * pieces (an infinite plane also meets the helix's hook, say): the piece that holds the centreline between the cuts is
 * the body.
 */
import { type Arena, type Kernel, type Solid, withArena } from '../geometry/kernel.ts';
import { type Mesh, volumeOf } from '../geometry/mesh.ts';
import { outlineHolds, sectionOf } from '../geometry/section.ts';
import { dot, heightOver, type Plane, type Point, pointAt } from '../geometry/vec.ts';
import type { Ear } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import { mm } from '../model/figures.ts';
import type { Body, Cut, Reason } from '../model/fit.ts';
import { DEEP, type Style } from '../parts/index.ts';
import { atDepth, faceCentre, facesOf, ON_PLANE, outerPlane, RIM_LEAVE, tipDepth, upperPlane } from './planes.ts';

export { atDepth } from './planes.ts';

export type TrimResult =
  | { readonly kind: 'body'; readonly body: Body; readonly cautions: readonly string[] }
  | { readonly kind: 'short'; readonly reason: Reason };

/** A cast as a kernel solid, for as many trims as are wanted. Lives as long as its arena. */
export interface CastSolid {
  readonly kernel: Kernel;
  readonly solid: Solid;
}

/**
 * @throws Fault of the kernel when the cast is not closed.
 */
export const solidCast = (kernel: Kernel, ear: Ear, arena: Arena): CastSolid => ({ kernel, solid: kernel.toManifold(ear.cast, arena) });

/**
 * The body of one style, or what the impression lacks for it. A cut that leaves nothing is a `short` result too: the
 * user can mend it (another impression, another cut), so it is an answer and not an exception.
 */
export function trimCast(cast: CastSolid, ear: Ear, style: Style): TrimResult {
  const tip = tipDepth(ear, style);
  if (tip.kind === 'short') return tip;
  const cuts = cutsOf(ear, style, tip.depth);
  if (cuts.kind === 'short') return cuts;
  return withArena((arena) => {
    let left = cast.solid;
    for (const cut of cuts.cuts) left = arena.keep(trimBy(left, cut.plane));
    const seed = seedOf(ear, cuts.cuts, tip.depth);
    const body = seed && pieceWith(cast.kernel, left, seed, arena);
    if (!body) return nothingLeft(style, cuts.cuts);
    const described = describe(style, body, cuts.cuts, ear, tip.depth, seed);
    return tooTilted(ear, style, described) ?? { kind: 'body', body: described, cautions: cautionsOf(tip.depth) };
  });
}

/**
 * A tilted faceplate whose edge stands out of the concha: what lies beyond the rim is no part of the ear. (An upright one is held by
 * its style's range.)
 */
function tooTilted(ear: Ear, { outer, title }: Style, { mesh, face }: Body): TrimResult | undefined {
  if (outer.from === 'rim' || !outer.tilt) return undefined;
  const { rim } = ear;
  let highest: Point<'ear'> | undefined;
  let below = Infinity;
  for (let i = 0; i < mesh.indices.length; i++) {
    if (face[Math.floor(i / 3)] !== 1) continue;
    const at = pointAt<'ear'>(mesh.positions, mesh.indices[i] as number);
    const own = -heightOver(rim.plane, at);
    if (own >= below) continue;
    below = own;
    highest = at;
  }
  if (!highest || below >= RIM_LEAVE - ON_PLANE) return undefined;
  const where = below >= 0 ? `only ${mm(below)} below` : `${mm(-below)} above`;
  const text = `tilted like this, the faceplate's edge would lie ${where} the concha's rim plane, and ${mm(RIM_LEAVE)} below it is where it must end (${title})`;
  return { kind: 'short', reason: { code: 'trim/over-rim', text, parts: [], needs: RIM_LEAVE, has: below, at: highest } };
}

type Cuts = { readonly kind: 'cuts'; readonly cuts: readonly Cut[] } | { readonly kind: 'short'; readonly reason: Reason };

function cutsOf(ear: Ear, style: Style, depth: number): Cuts {
  const { at, tangent } = atDepth(ear.centreline, depth);
  const cuts: Cut[] = [
    { name: 'outer', plane: outerPlane(ear, style) },
    { name: 'tip', plane: { point: at, normal: tangent } },
  ];
  if (style.upper) {
    const plane = upperPlane(ear, style.upper.belowCrus);
    if (!plane) {
      const text = 'the cast shows no crus of the helix, below which this style is cut';
      return { kind: 'short', reason: { code: 'impression/no-crus', text, parts: [] } };
    }
    cuts.push({ name: 'upper', plane });
  }
  return { kind: 'cuts', cuts };
}

/** The kernel keeps the side that its normal points to; a cut's normal points out of the body. */
const trimBy = (solid: Solid, plane: Plane<'ear'>): Solid => {
  const n = plane.normal;
  return solid.trimByPlane([-n[0], -n[1], -n[2]], -dot(n, plane.point));
};

/** The middle of the centreline's stretch that all cuts keep, or undefined when they keep none of it. */
function seedOf(ear: Ear, cuts: readonly Cut[], depth: number): ReturnType<typeof atDepth>['at'] | undefined {
  const first = ear.centreline.depths[0] as number;
  const kept: number[] = [];
  for (let d = first; d < depth; d += 0.25) {
    const { at } = atDepth(ear.centreline, d);
    if (cuts.every((c) => heightOver(c.plane, at) < -0.05)) kept.push(d);
  }
  return kept.length > 0 ? atDepth(ear.centreline, kept[kept.length >> 1] as number).at : undefined;
}

function pieceWith(kernel: Kernel, solid: Solid, seed: NonNullable<ReturnType<typeof seedOf>>, arena: Arena): Mesh<'ear'> | undefined {
  if (solid.isEmpty()) return undefined;
  const pieces = solid.decompose().map((p) => arena.keep(p));
  if (pieces.length === 1) return kernel.fromManifold(pieces[0] as Solid, 'ear').mesh;
  // The section through the seed tells which piece goes round it; a piece is a solid, so one plane is enough.
  const normal = [0, 0, 1] as unknown as typeof seed;
  return pieces
    .map((p) => kernel.fromManifold(p, 'ear').mesh)
    .find((mesh) => {
      const holding = sectionOf(mesh, { point: seed, normal }).outlines.filter((o) => outlineHolds(o, 0, 0)).length;
      return holding % 2 === 1;
    });
}

function nothingLeft(style: Style, cuts: readonly Cut[]): TrimResult {
  const outer = cuts[0] as Cut;
  const text = `the cuts of this style leave nothing of this cast: its faceplate would lie beyond its tip, or outside the cast`;
  return { kind: 'short', reason: { code: 'trim/nothing-left', text: `${text} (${style.title})`, parts: [], at: outer.plane.point } };
}

function describe(style: Style, mesh: Mesh<'ear'>, cuts: readonly Cut[], ear: Ear, depth: number, seed: Body['seed']): Body {
  const face = facesOf(mesh.positions, mesh.indices, cuts);
  const line = atDepth(ear.centreline, depth);
  const tipAt = faceCentre(mesh.positions, mesh.indices, face, 2);
  if (!tipAt) {
    throw new Fault('trim/no-tip', 'the tip cut does not meet the body', style.title, 'Check the survey: aperture, bends and end.');
  }
  return { style: style.name, cuts, mesh, face, volume: volumeOf(mesh), tip: { at: tipAt, tangent: line.tangent }, seed };
}

const cautionsOf = (depth: number): string[] =>
  depth > DEEP
    ? [
        `The tip lies ${depth.toFixed(1)} mm inside the aperture. Past ${DEEP} mm a device may come nearer than 10 mm to the drum (21 CFR 800.30 as a yardstick): local codes and licensed practice decide.`,
      ]
    : [];
