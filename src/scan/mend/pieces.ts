/** Several bodies in one file: the largest is the impression, every other one is named and left out. */
import { TriangleTree } from '../../geometry/bvh.ts';
import { type Mesh, volumeOf } from '../../geometry/mesh.ts';
import { type Point, pointAt, pt } from '../../geometry/vec.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, fixed, grouped, place } from '../wording.ts';
import type { Extract, Oriented, PieceSums } from './orient.ts';
import { extractPiece, turnOver } from './orient.ts';
import type { Surface } from './weld.ts';

/** So many pieces are told one by one; the rest together. */
const MOST_NAMED = 8;
/** At most so many of a piece's triangles are asked whether they lie inside the body. */
const SAMPLES = 256;
/** Lines per axis (a little off the cells' middles, where the edges of boxes would be met) with which an overlap is measured. */
const LINES = 64;
/** A piece that shares more of its own volume with the body belongs to it. */
const SHARED = 0.1;
/** Parts with less than this share of the kept area are specks: leaving them out needs no warning. */
const SPECK = 0.001;

/** By volume (of an open piece: about its own centroid), so that a sheet of table never beats an ear; then by area. */
export function largestPiece(sums: PieceSums): number {
  let best = 0;
  for (let i = 1; i < sums.area.length; i++) {
    const more = Math.abs(sums.volume[i] as number) - Math.abs(sums.volume[best] as number);
    const tie = 1e-9 * Math.abs(sums.volume[best] as number);
    if (more > tie || (more >= -tie && (sums.area[i] as number) > (sums.area[best] as number) * (1 + 1e-9))) best = i;
  }
  return best;
}

/**
 * Names every piece but the kept one. `body` is the kept piece, closed and outward. Returns the closed ones that
 * share much of their volume with it, outward.
 */
export function nameOthers(
  s: Surface,
  twin: Int32Array,
  o: Oriented,
  sums: PieceSums,
  kept: number,
  body: Mesh<'scan'>,
  findings: Finding[],
): Surface[] {
  if (o.pieces === 1) return [];
  const others = Array.from({ length: o.pieces }, (_, i) => i)
    .filter((i) => i !== kept)
    .sort((i, j) => (sums.area[j] as number) - (sums.area[i] as number) || i - j);
  const tree = new TriangleTree(body);
  const volume = volumeOf(body);
  const named = others.slice(0, MOST_NAMED).map((i) => {
    const part = extractPiece(s, twin, o, i);
    return { i, lies: whereIn(tree, part.surface), part };
  });
  const specks = others.every((i) => (sums.area[i] as number) < SPECK * (sums.area[kept] as number));
  // Volumes add up only where the pieces lie apart.
  const apart = named.length === others.length && named.every((n) => n.lies === 'outside' && sums.open[n.i] === 0);
  const total = others.reduce((sum, i) => sum + Math.abs(sums.volume[i] as number), volume);
  findings.push({
    code: 'scan/pieces',
    level: specks ? 'changed' : 'warning',
    text: `The file holds ${grouped(o.pieces)} pieces${apart ? ` (${fixed(total, 3)} mm³ together)` : ''}; the largest, ${fixed(volume, 3)} mm³, is used${touching(s, o, kept)}.`,
    count: o.pieces,
    at: pointAt(sums.centre, kept),
  });
  const inner = named.filter((n) => n.lies === 'inside').length;
  if (inner > 0) {
    findings.push({
      code: 'scan/inner-pieces',
      level: 'note',
      text: `${counted(inner, 'inner piece')} found inside the body and left out: the volume of its outer surface counts, ${fixed(volume, 3)} mm³.`,
      count: inner,
    });
  }
  // Those that share much with the body cannot be left out without a trace; each was turned outward when it was named.
  const surfaces = named.flatMap(({ i, lies, part }) => {
    const shared = nameOne(i, lies, part, sums, tree, findings);
    return shared > SHARED * Math.abs(sums.volume[i] as number) ? [part.surface] : [];
  });
  const rest = others.slice(MOST_NAMED);
  if (rest.length === 0) return surfaces;
  const triangles = rest.reduce((n, i) => n + (sums.triangles[i] as number), 0);
  findings.push({
    code: 'scan/piece',
    level: 'changed',
    text: `${counted(rest.length, 'smaller piece')} left out: ${counted(triangles, 'triangle')} in all.`,
    count: rest.length,
  });
  return surfaces;
}

type Lies = 'inside' | 'outside' | 'across';

/** Returns the volume that it shares with the body, mm3. */
function nameOne(i: number, lies: Lies, part: Extract, sums: PieceSums, tree: TriangleTree<'scan'>, findings: Finding[]): number {
  const open = sums.open[i] as number;
  const volume = sums.volume[i] as number;
  const size = open > 0 ? `open, ${fixed(sums.area[i] as number, 2)} mm²` : `${fixed(Math.abs(volume), 3)} mm³`;
  const what = lies === 'inside' ? (volume < 0 ? 'Cavity' : 'Inner piece') : 'Piece';
  const at = pointAt<'scan'>(sums.centre, i);
  let how = '';
  let shared = 0;
  if (lies === 'across') {
    if (volume < 0) turnOver(part.surface.indices, part.twin);
    shared = open > 0 ? 0 : overlap(tree, new TriangleTree({ frame: 'scan', ...part.surface }));
    how = shared > 0 ? `; it overlaps the piece in use by about ${fixed(shared, 1)} mm³` : '; it passes through the piece in use';
  }
  findings.push({
    code: lies === 'inside' ? 'scan/inner-piece' : lies === 'across' ? 'scan/overlap' : 'scan/piece',
    level: lies === 'across' ? 'warning' : 'changed',
    text: `${what} left out: ${counted(sums.triangles[i] as number, 'triangle')}, ${size}, at ${place(at)}${how}.`,
    count: sums.triangles[i] as number,
    at,
  });
  return shared;
}

/** ", touching another in n vertices at ..." where pieces share vertices. */
function touching(s: Surface, o: Oriented, kept: number): string {
  const mine = new Uint8Array(s.positions.length / 3);
  for (let h = 0; h < s.indices.length; h++) if (o.piece[Math.floor(h / 3)] === kept) mine[s.indices[h] as number] = 1;
  const shared = new Set<number>();
  for (let h = 0; h < s.indices.length; h++) {
    const v = s.indices[h] as number;
    if (mine[v] === 1 && o.piece[Math.floor(h / 3)] !== kept) shared.add(v);
  }
  const first = shared.values().next();
  return first.done
    ? ''
    : `, touching another in ${counted(shared.size, 'vertex', 'vertices')} at ${place(pointAt(s.positions, first.value))}`;
}

/** Middle points of the part's triangles against the body, spread over at most SAMPLES of them. */
function whereIn(tree: TriangleTree<'scan'>, part: Surface): Lies {
  const many = part.indices.length / 3;
  const step = Math.max(1, Math.floor(many / SAMPLES));
  let inside = 0;
  let asked = 0;
  for (let t = 0; t < many; t += step) {
    const [a, b, c] = [0, 1, 2].map((k) => pointAt<'scan'>(part.positions, part.indices[3 * t + k] as number)) as [
      Point<'scan'>,
      Point<'scan'>,
      Point<'scan'>,
    ];
    const middle = pt<'scan'>((a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3, (a[2] + b[2] + c[2]) / 3);
    asked++;
    // A middle point that lies in the body's surface tells nothing about the two sides.
    if (tree.nearest(middle, 1e-9)) asked--;
    else if (tree.contains(middle)) inside++;
  }
  return inside === 0 ? 'outside' : inside === asked ? 'inside' : 'across';
}

/** Volume common to two closed outward bodies, mm3, from parallel lines through the boxes' common part. */
function overlap(treeA: TriangleTree<'scan'>, treeB: TriangleTree<'scan'>): number {
  const lo = [0, 1, 2].map((k) => Math.max(treeA.boxes[k] as number, treeB.boxes[k] as number)) as [number, number, number];
  const hi = [0, 1, 2].map((k) => Math.min(treeA.boxes[3 + k] as number, treeB.boxes[3 + k] as number)) as [number, number, number];
  const size = hi.map((h, k) => h - (lo[k] as number)) as [number, number, number];
  if (size.some((s) => s <= 0)) return 0;
  const start = lo[2] - 1 - size[2]; // below both boxes' common part; crossings below it are counted all the same
  let length = 0;
  for (let i = 0; i < LINES; i++) {
    for (let j = 0; j < LINES; j++) {
      const p = pt<'scan'>(lo[0] + ((i + 0.4791) / LINES) * size[0], lo[1] + ((j + 0.5387) / LINES) * size[1], start);
      const below = (treeA.contains(p) ? 1 : 0) + (treeB.contains(p) ? 1 : 0);
      length += commonLength(p, below, treeA, treeB);
    }
  }
  return (length * size[0] * size[1]) / (LINES * LINES);
}

function commonLength(p: Point<'scan'>, below: number, a: TriangleTree<'scan'>, b: TriangleTree<'scan'>): number {
  const crossings: [at: number, step: number][] = [];
  for (const tree of [a, b]) tree.alongRay(p, [0, 0, 1], (_t, at, facing) => crossings.push([at, -facing]));
  crossings.sort((s, t) => s[0] - t[0]);
  let depth = below;
  let from = 0;
  let length = 0;
  for (const [at, step] of crossings) {
    if (depth >= 2) length += at - from;
    depth += step;
    from = at;
  }
  return length;
}
