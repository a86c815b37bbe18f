/** From a file's bytes to a closed mesh in millimetres: the one pipeline behind every format. */
import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { areaOf, boundsOf, volumeOf } from '../geometry/mesh.ts';
import { Fault } from '../model/fault.ts';
import type { Finding, Scan, Unit } from '../model/scan.ts';
import { type Body, closeBody } from './close/body.ts';
import { readSoup } from './files/format.ts';
import { type Crossings, nameCrossings } from './judge/crossings.ts';
import { judgePrecision, longest, settleUnit, toMillimetres } from './judge/unit.ts';
import { joinEdges } from './mend/joins.ts';
import { untie } from './mend/knots.ts';
import { mend } from './mend/mend.ts';
import { extractPiece, orient, sumPieces } from './mend/orient.ts';
import { largestPiece, nameOthers } from './mend/pieces.ts';
import { dropCollapsed } from './mend/tidy.ts';
import { type Surface, weldExact } from './mend/weld.ts';
import { capOn, crossesDeeply, nameRebuilt, rebuildSurface } from './rebuild/index.ts';
import { LIGHT } from './thin/index.ts';
import { counted, fixed } from './wording.ts';

export interface ReadOptions {
  /** The file's unit. Without it: as the file states, else millimetres, where the size is believable; a Fault that names alternatives where not. */
  readonly unit?: Unit;
}

/**
 * Reads a scan. Synchronous; the bytes are neither changed nor kept.
 *
 * The result is closed (every edge has two triangles that run it in opposite directions), outward, in millimetres, and
 * in the file's own coordinates; whatever differs from the file is in `findings` with level "changed" or "warning". A
 * sound file keeps its vertices (numbered by first appearance) and its triangles as they are. Where the surface passes
 * through itself, a warning names the place (of a heavy scan: where the thinned surface does, see `thinScan`).
 *
 * @throws Fault with a code "scan/..." for anything that cannot be read as one closed body.
 */
export function readScan(bytes: Uint8Array, name: string, options: ReadOptions = {}): Scan {
  const findings: Finding[] = [];
  const soup = readSoup(bytes);
  findings.push(...soup.findings);
  if (soup.corners.length < 4 * 9) {
    throw new Fault(
      'scan/too-few',
      `${counted(soup.corners.length / 9, 'triangle')}: fewer than 4 cannot enclose anything`,
      '',
      'Choose the scan of a whole impression.',
    );
  }
  const raw = weldExact(soup.corners);
  const box = boundsOf<'scan'>(raw.positions);
  const unit = settleUnit(longest(box), () => longestPiece(raw), { asked: options.unit, stated: soup.unit }, findings);
  judgePrecision(box, unit, soup.single, findings);
  if (unit !== 'mm') for (let i = 0; i < raw.positions.length; i++) raw.positions[i] = toMillimetres(raw.positions[i] as number, unit);

  const { surface, joins } = mend(raw, findings);
  const vertices = usedVertices(surface);
  const untied = untie(surface, joins, findings);
  const oriented = orient(untied.surface.indices, untied.twin);
  nameCuts(oriented.cuts, findings);
  const sums = sumPieces(untied.surface, untied.twin, oriented);
  const kept = largestPiece(sums);
  const closed = closeBody(extractPiece(untied.surface, untied.twin, oriented, kept), untied.parted > 0, findings);
  // A heavy surface is searched once it has been made lighter (thin/index.ts): 2 million triangles take some seconds.
  const light = closed.mesh.indices.length <= 3 * LIGHT;
  const crossings = light ? nameCrossings(closed.mesh, findings) : undefined;
  const across = nameOthers(untied.surface, untied.twin, oriented, sums, kept, closed.mesh, findings);
  const body = rebuiltWhere(closed, crossings, light ? across : [], findings);
  return {
    name,
    sha256: bytesToHex(sha256(bytes)),
    format: soup.format,
    unit,
    mesh: body.mesh,
    ...(body.base ? { base: body.base } : {}),
    read: { triangles: soup.triangles, vertices, pieces: oriented.pieces, openLoops: body.loops },
    volume: volumeOf(body.mesh),
    area: areaOf(body.mesh),
    bounds: boundsOf(body.mesh.positions),
    findings,
  };
}

/** Fewer triangles than any scan has: something built, whose edges a new net would round. */
const FEWEST = 1000;

/** The body as it is, or made anew where a large crossing or other bodies leave its inside in doubt; else that doubt is told. */
function rebuiltWhere(body: Body, crossings: Crossings | undefined, across: readonly Surface[], findings: Finding[]): Body {
  const crossed = crossings !== undefined && crossesDeeply(body.mesh, crossings);
  if (!crossed && across.length === 0) return body;
  const whole = together([body.mesh, ...across]);
  const rebuilt = whole.indices.length >= 3 * FEWEST ? rebuildSurface({ frame: 'scan', ...whole }) : undefined;
  // A net that lost what the scan shows is worse than the crossing.
  if (!rebuilt || rebuilt.p95 > rebuilt.step) {
    nameDoubt(body, findings);
    return body;
  }
  const { mesh, step } = rebuilt;
  nameRebuilt(
    rebuilt,
    across.length > 0 ? 'The pieces that pass through each other are one body' : 'The surface that crosses itself',
    findings,
  );
  return { ...body, mesh, ...(body.base ? { base: capOn(mesh, body.base.plane, step) } : {}) };
}

function nameDoubt({ mesh }: Body, findings: Finding[]): void {
  findings.push({
    code: 'scan/doubtful',
    level: 'warning',
    text: `What is inside is in doubt where the surface passes through itself or another piece: its volume, ${fixed(volumeOf(mesh), 3)} mm³ as it stands, is not sure.`,
  });
}

/** Several surfaces in one, none joined to another. */
function together(all: readonly Surface[]): Surface {
  const positions = new Float64Array(all.reduce((n, s) => n + s.positions.length, 0));
  const indices = new Uint32Array(all.reduce((n, s) => n + s.indices.length, 0));
  let vertex = 0;
  let corner = 0;
  for (const s of all) {
    positions.set(s.positions, 3 * vertex);
    for (const v of s.indices) indices[corner++] = v + vertex;
    vertex += s.positions.length / 3;
  }
  return { positions, indices };
}

/** Longest extent of the largest piece, in the file's unit, by the exact weld alone. */
function longestPiece(s: Surface): number {
  const quiet: Finding[] = [];
  const whole = dropCollapsed({ positions: s.positions, indices: s.indices }, quiet);
  const { twin } = joinEdges(whole.indices, s.positions.length / 3);
  const oriented = orient(whole.indices, twin);
  const sums = sumPieces(whole, twin, oriented);
  const at = 6 * largestPiece(sums);
  return Math.max(...[0, 1, 2].map((k) => (sums.box[at + 3 + k] as number) - (sums.box[at + k] as number)));
}

function usedVertices(s: Surface): number {
  const used = new Uint8Array(s.positions.length / 3);
  for (const v of s.indices) used[v] = 1;
  return used.reduce((n, u) => n + u, 0);
}

function nameCuts(cuts: number, findings: Finding[]): void {
  if (cuts === 0) return;
  findings.push({
    code: 'scan/one-sided',
    level: 'warning',
    text: `The surface comes back to itself the other way round (like a twisted band): cut open along ${counted(cuts, 'edge')} and closed again.`,
    count: cuts,
  });
}
