/**
 * The referee on a vent: that the bore is the one ordered, with the shell's own thickness of wall round it, one unbroken chain from
 * the outer to the tip cut; how far what stands in its tube's way is from what of the tube is there.
 */
import { addScaled, distance, lerp, type Vec3 } from '../../src/geometry/vec.ts';
import type { PartDocument, StyleDocument, VentDocument, VerdictDocument } from './referee-document.ts';
import type { Piece } from './referee-piece.ts';
import { type Triangle, windingAt } from './referee-scan.ts';
import { bottomOver, type Cut, gapOf, nearest, nearestBehind, over, type Solid, topOver } from './referee-solids.ts';

/** What a kit calls its vent, and the diameter that an order asks for, mm; undefined: no vent. */
export const VENT = 'vent';
export const ventOrdered = ({ order }: VerdictDocument): number | undefined => order.vent || undefined;

/** Sizes are written to 1e-7 mm; an end of a piece is worked out from a turn of twelve places and a length. */
const SIZE = 1e-6;
const END = 1e-5;

/** A piece of a vent without the wall round it. */
export const boreIn = (piece: Solid, { wall }: VerdictDocument['rules']): Solid => {
  const [x, y, z] = piece.size;
  return { ...piece, size: [x - 2 * wall, y - 2 * wall, z - 2 * wall] };
};

/** Both ends of a capsule's middle line. */
function endsOf({ at, axes, size }: Solid): [Vec3, Vec3] {
  const half = (size[2] - size[0]) / 2;
  return [addScaled(at, axes[2], -half), addScaled(at, axes[2], half)];
}

/** Everything that is wrong with a vent as the document has it, but for its clearances. */
export function ventFlaws(
  closed: readonly Triangle[],
  piece: Piece,
  style: StyleDocument,
  document: VerdictDocument,
  solids: readonly Solid[],
): string[] {
  const ordered = ventOrdered(document);
  const said = style.vent ?? undefined;
  const part = style.parts.find((p) => p.id === VENT);
  if (ordered === undefined || !said || !part) return !said && !part ? [] : ['a vent that is not ordered, not described or not there'];
  return [
    ...pieceFlaws(part, solids, ordered, document.rules),
    ...(Math.abs(said.diameter - ordered) > SIZE ? [`the vent: said to be ${said.diameter} mm wide, ${ordered} are ordered`] : []),
    ...lineFlaws(said, solids),
    ...courseFlaws(said, style.cuts, (p) => Math.round(windingAt(closed, p)) === 1 && piece.holds(p)),
  ];
}

/** The pieces of the tube: capsules of matter, as wide as the bore and its wall are. */
function pieceFlaws(part: PartDocument, solids: readonly Solid[], ordered: number, { wall }: VerdictDocument['rules']): string[] {
  const flaws: string[] = [];
  const width = ordered + 2 * wall;
  if (part.seat !== 'shell') flaws.push(`the vent: seat ${part.seat}, it is grown into the shell`);
  if (part.margin !== 0) flaws.push(`the vent: margin ${part.margin}, it has none`);
  solids.forEach(({ shape, kind, size: [x, y, z] }, k) => {
    const name = `the vent's piece ${k + 1}`;
    if (shape !== 'capsule' || kind !== 'solid') flaws.push(`${name}: a ${shape} of ${kind === 'solid' ? 'matter' : 'service room'}`);
    if (Math.abs(x - width) > SIZE || Math.abs(y - width) > SIZE)
      flaws.push(`${name}: ${x} mm wide, a bore of ${ordered} mm with its wall is ${width.toFixed(2)}`);
    if (z < x - SIZE) flaws.push(`${name}: shorter than it is wide`);
  });
  return flaws;
}

/** Whether the line is that of the pieces, each from one of its points to the next, and as long as it is said to be. */
function lineFlaws({ line, length }: VentDocument, solids: readonly Solid[]): string[] {
  if (line.length !== solids.length + 1) return [`the vent: a line of ${line.length} points for ${solids.length} pieces`];
  const flaws: string[] = [];
  solids.forEach((solid, k) => {
    const [a, b] = endsOf(solid);
    const [from, to] = [line[k] as Vec3, line[k + 1] as Vec3];
    const off = Math.min(Math.max(distance(a, from), distance(b, to)), Math.max(distance(a, to), distance(b, from)));
    if (off > END) flaws.push(`the vent's piece ${k + 1}: lies ${off.toFixed(4)} mm off the line that is said`);
  });
  const along = line.slice(1).reduce((sum, p, k) => sum + distance(line[k] as Vec3, p), 0);
  if (Math.abs(along - length) > END) flaws.push(`the vent: said to be ${length} mm long, its line has ${along.toFixed(4)}`);
  return flaws;
}

/**
 * Whether the line comes in at the outer cut, once, goes out at the tip cut, once, and is inside the body's piece in between. That it
 * is so everywhere between the points that are looked at follows from its clearance to the surface.
 */
function courseFlaws({ line }: VentDocument, cuts: StyleDocument['cuts'], inside: (p: Vec3) => boolean): string[] {
  const flaws: string[] = [];
  for (const [name, end, at] of [
    ['outer', 'begins', 0],
    ['tip', 'ends', line.length - 1],
  ] as const) {
    const cut = cuts.find((c) => c.name === name) as Cut;
    const short = -over(cut, line[at] as Vec3);
    if (short > END) flaws.push(`the vent: ${end} ${short.toFixed(4)} mm behind the ${name} cut`);
    const again = line.findIndex((p, k) => k !== at && over(cut, p) >= -END);
    if (again >= 0) flaws.push(`the vent: passes the ${name} cut on its way too, at point ${again + 1} of ${line.length}`);
  }
  line.slice(1).forEach((to, k) => {
    const middle = middleBehind(line[k] as Vec3, to, cuts);
    if (middle && !inside(middle)) flaws.push(`the vent's piece ${k + 1}: not inside the body that ends at the tip`);
  });
  return flaws;
}

/** The middle of what of a line lies behind all cuts; undefined where next to nothing does. */
function middleBehind(a: Vec3, b: Vec3, cuts: readonly Cut[]): Vec3 | undefined {
  let [lo, hi] = [0, 1];
  for (const cut of cuts) {
    const [from, to] = [over(cut, a), over(cut, b)];
    if (from > 0 && to > 0) return undefined;
    if (from > 0) lo = Math.max(lo, from / (from - to));
    if (to > 0) hi = Math.min(hi, from / (from - to));
  }
  return (hi - lo) * distance(a, b) > 1e-3 ? lerp(a, b, (lo + hi) / 2) : undefined;
}

/**
 * How far a solid is from what of a piece of the tube lies behind the outer cut, where the shell ends, mm, from above: to and fro
 * between their nearest points.
 * @param upTo a distance of this much or more need not be right.
 */
export function gapBehind(solid: Solid, piece: Solid, outer: Cut, upTo: number): number {
  const whole = gapOf(solid, piece, upTo);
  if (whole.least >= upTo || topOver(outer, piece) <= 0) return whole.most;
  if (bottomOver(outer, piece) >= 0) return Infinity;
  let p = nearest(solid, piece.at);
  let most = Infinity;
  for (let k = 0; k < 500; k++) {
    const q = nearestBehind(piece, p, outer);
    if (!q) return Infinity;
    const next = nearest(solid, q);
    most = Math.min(most, distance(next, q));
    if (most < 1e-6 || distance(next, p) < 1e-7) break;
    p = next;
  }
  return most;
}
