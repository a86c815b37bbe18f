/** From loose but welded triangles to a surface: copies and collapsed triangles out, cracks closed, heaps refused. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { splitAtJunctions, weldCracks } from './cracks.ts';
import { type Joins, joinEdges } from './joins.ts';
import { dropCollapsed, dropDuplicates } from './tidy.ts';
import type { Surface } from './weld.ts';

/** More open edges than this, and the triangles are no surface in any sense (memory would decide first). */
const MOST_OPEN = 600_000;
/** Share of triangle sides without a neighbour above which the file is a heap of triangles. A bare sheet of 2 x 2 squares has 0.33. */
const HEAP = 0.6;

/** Leaves out what is no surface and closes cracks, until neither finds anything more. */
export function mend(raw: Surface, findings: Finding[]): { surface: Surface; joins: Joins } {
  let surface = dropCollapsed(raw, findings);
  let joins = joinAgain(surface);
  if (joins.knots.length > 0) {
    surface = dropDuplicates(surface, findings);
    joins = joinAgain(surface);
  }
  refuseHeap(surface, joins);
  const welded = joins.open > 0 ? weldCracks(surface, joins.twin, findings) : surface;
  if (welded !== surface) {
    surface = dropDuplicates(dropCollapsed(welded, findings), findings);
    joins = joinAgain(surface);
  }
  // One side of a triangle at a time: three rounds split all three sides.
  for (let round = 0; round < 8 && joins.open > 0; round++) {
    const split = splitAtJunctions(surface, joins.twin, findings);
    if (split === surface) break;
    surface = split;
    joins = joinAgain(surface);
  }
  refuseNothing(surface);
  const share = joins.open / surface.indices.length;
  if (share > HEAP) throw heap(joins.open, surface.indices.length);
  return { surface, joins };
}

const joinAgain = (s: Surface): Joins => joinEdges(s.indices, s.positions.length / 3);

/** Fewest triangles that can enclose anything. */
const FEWEST = 4;

function refuseNothing(s: Surface): void {
  const left = s.indices.length / 3;
  if (left >= FEWEST) return;
  throw new Fault(
    'scan/too-few',
    `${counted(left, 'triangle')} left after copies and collapsed triangles: fewer than ${FEWEST} cannot enclose anything`,
    '',
    'Choose the scan of a whole impression.',
  );
}

function refuseHeap(s: Surface, joins: Joins): void {
  if (joins.open > MOST_OPEN) throw heap(joins.open, s.indices.length);
}

const heap = (open: number, of: number): Fault =>
  new Fault(
    'scan/loose',
    `${grouped(open)} of ${grouped(of)} triangle sides have no neighbour: these are loose triangles, not a surface`,
    '',
    'Let the scanning software merge the scan into one surface and export it again.',
  );
