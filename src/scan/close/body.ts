/** Closes one piece, turns it outward, takes touching sheets apart, and says what all of that changed. */
import { areaOf, boundsOf, type Mesh, volumeOf } from '../../geometry/mesh.ts';
import { pointAt } from '../../geometry/vec.ts';
import { Fault } from '../../model/fault.ts';
import type { Base, Finding, OpenLoop } from '../../model/scan.ts';
import { planeShare } from '../judge/shape.ts';
import { longest } from '../judge/unit.ts';
import { type Extract, turnOver } from '../mend/orient.ts';
import { partSheets } from '../mend/part.ts';
import type { Surface } from '../mend/weld.ts';
import { counted, fixed, place } from '../wording.ts';
import { type Closed, closeLoops, planeOf } from './close.ts';
import { baseOf, type Loop, openLoops } from './loops.ts';

/** Volume over area to the power 3/2 below which a body counts as flat (a ball: 0.094; a 20 mm square 0.1 mm thick: 0.0017). */
const FLAT = 0.001;
/** Share of large plane faces above which a scan looks built. A cast cut flat at its base has about 0.2. */
const BUILT = 0.5;

export interface Body {
  readonly mesh: Mesh<'scan'>;
  readonly base?: Base;
  readonly loops: readonly OpenLoop[];
}

/**
 * `piece` is turned over in place where it is inside out. `knotted` says that edges with too many triangles were taken
 * apart in the file, so that sheets of the piece may still share an edge by its vertex numbers.
 */
export function closeBody(piece: Extract, knotted: boolean, findings: Finding[]): Body {
  const many = piece.surface.indices.length / 3;
  const { loops, base, closed, over } = closeOutward(piece);
  nameTurned(over ? many - piece.turned : piece.turned, many, findings);
  nameLoops(loops, base, closed, findings);
  const parted = partSheets(closed.surface, closed.twin, knotted || loops.length > 0);
  nameTouching(parted.doubled, closed.surface, findings);
  const mesh: Mesh<'scan'> = { frame: 'scan', ...parted.surface };
  refuseFlat(mesh);
  nameFlatTriangles(mesh, findings);
  nameBuilt(planeShare(closed.surface, closed.twin, closed.cap), findings);
  const baseLoop = loops[base];
  return {
    mesh,
    ...(baseLoop ? { base: { plane: planeOf(baseLoop), cap: Uint8Array.from(parted.origin, (t) => closed.cap[t] as number) } } : {}),
    loops: loops.map((l, i) => ({ edges: l.halves.length, length: l.length, at: l.centre, role: i === base ? 'base' : 'hole' })),
  };
}

interface Outward {
  readonly loops: readonly Loop[];
  readonly base: number;
  readonly closed: Closed;
  /** The piece had to be turned over as a whole. */
  readonly over: boolean;
}

/** Closes as the file has it; where the closed body then turns out to be inside out, once more the other way round. */
function closeOutward(piece: Extract): Outward {
  const extent = longest(boundsOf<'scan'>(piece.surface.positions));
  for (let over = false; ; over = true) {
    const loops = openLoops(piece.surface, piece.twin);
    const base = baseOf(loops, extent);
    const closed = closeLoops(piece.surface, piece.twin, loops, base);
    if (over || volumeOf({ frame: 'scan', ...closed.surface }) >= 0) return { loops, base, closed, over };
    turnOver(piece.surface.indices, piece.twin);
  }
}

function nameTurned(turned: number, of: number, findings: Finding[]): void {
  if (turned === 0) return;
  findings.push({
    code: 'scan/turned',
    level: 'changed',
    text:
      turned === of
        ? `All ${counted(of, 'triangle')} turned over: the file had inside and outside swapped.`
        : `${counted(turned, 'triangle')} turned over to agree with their neighbours.`,
    count: turned,
  });
}

/** A hole longer than this, mm, is worth a look: what fills it is a guess, not a scan. */
const LARGE_HOLE = 10;
/** So many holes are told one by one. */
const MOST_HOLES = 12;

function nameLoops(loops: readonly Loop[], base: number, { how, added }: Closed, findings: Finding[]): void {
  const baseLoop = loops[base];
  if (baseLoop) {
    const fanned = how[base] !== 'plane';
    findings.push({
      code: 'scan/base',
      level: fanned ? 'warning' : 'changed',
      text: `The open base (${counted(baseLoop.halves.length, 'edge')}, ${fixed(baseLoop.length, 3)} mm round) closed ${fanned ? 'as well as its ragged edge allows' : 'with a flat cap'} of ${counted(added[base] as number, 'triangle')}.`,
      count: added[base] as number,
      at: baseLoop.centre,
    });
  }
  const holes = loops.map((l, i) => ({ l, i })).filter(({ i }) => i !== base);
  holes.sort((a, b) => b.l.length - a.l.length || a.i - b.i);
  for (const { l, i } of holes.slice(0, MOST_HOLES)) {
    findings.push({
      code: 'scan/hole',
      level: l.length > LARGE_HOLE ? 'warning' : 'changed',
      text: `Hole of ${counted(l.halves.length, 'edge')}, ${fixed(l.length, 3)} mm round, at ${place(l.centre)} filled with ${counted(added[i] as number, 'triangle')}${l.length > LARGE_HOLE ? '; nothing was scanned there' : ''}.`,
      count: added[i] as number,
      at: l.centre,
    });
  }
  const rest = holes.slice(MOST_HOLES);
  if (rest.length === 0) return;
  const triangles = rest.reduce((n, { i }) => n + (added[i] as number), 0);
  findings.push({
    code: 'scan/holes',
    level: 'changed',
    text: `${counted(rest.length, 'more hole')}, each at most ${fixed((rest[0] as { l: Loop }).l.length, 3)} mm round, filled with ${counted(triangles, 'triangle')}.`,
    count: rest.length,
  });
}

function nameTouching(doubled: readonly number[], s: Surface, findings: Finding[]): void {
  const first = doubled[0];
  if (first === undefined) return;
  const at = pointAt<'scan'>(s.positions, first);
  findings.push({
    code: 'scan/touching',
    level: 'note',
    text: `The surface touches itself in ${counted(doubled.length, 'vertex', 'vertices')} (the first at ${place(at)}); each side got a vertex of its own there.`,
    count: doubled.length,
    at,
  });
}

function refuseFlat(mesh: Mesh<'scan'>): void {
  const volume = volumeOf(mesh);
  const area = areaOf(mesh);
  if (volume > FLAT * area * Math.sqrt(area)) return;
  throw new Fault(
    'scan/flat',
    `the surface encloses next to nothing (${fixed(volume, 3)} mm³ within ${fixed(area, 2)} mm²): it is flat, or only a patch`,
    '',
    'Choose the scan of a whole impression.',
  );
}

function nameFlatTriangles(mesh: Mesh<'scan'>, findings: Finding[]): void {
  const flat = flatTriangles(mesh);
  if (flat.length === 0) return;
  const at = pointAt<'scan'>(mesh.positions, mesh.indices[3 * (flat[0] as number)] as number);
  findings.push({
    code: 'scan/no-area',
    level: 'note',
    text: `${counted(flat.length, 'triangle')} without area kept: they hold their neighbours together (the first at ${place(at)}).`,
    count: flat.length,
    at,
  });
}

/** Triangles whose height is below a billionth of their longest side. */
function flatTriangles(mesh: Mesh<'scan'>): number[] {
  const { positions: p, indices: ix } = mesh;
  const flat: number[] = [];
  for (let t = 0; 3 * t < ix.length; t++) {
    const a = 3 * (ix[3 * t] as number);
    const b = 3 * (ix[3 * t + 1] as number);
    const c = 3 * (ix[3 * t + 2] as number);
    const ux = (p[b] as number) - (p[a] as number);
    const uy = (p[b + 1] as number) - (p[a + 1] as number);
    const uz = (p[b + 2] as number) - (p[a + 2] as number);
    const vx = (p[c] as number) - (p[a] as number);
    const vy = (p[c + 1] as number) - (p[a + 1] as number);
    const vz = (p[c + 2] as number) - (p[a + 2] as number);
    const x = uy * vz - uz * vy;
    const y = uz * vx - ux * vz;
    const z = ux * vy - uy * vx;
    const wx = vx - ux;
    const wy = vy - uy;
    const wz = vz - uz;
    const side2 = Math.max(ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz, wx * wx + wy * wy + wz * wz);
    if (x * x + y * y + z * z <= 1e-18 * side2 * side2) flat.push(t);
  }
  return flat;
}

function nameBuilt(share: number, findings: Finding[]): void {
  if (share <= BUILT) return;
  findings.push({
    code: 'scan/built',
    level: 'warning',
    text: `${fixed(100 * share, 0)} % of the surface lies in large plane faces: this looks like something built, not like an ear impression.`,
  });
}
