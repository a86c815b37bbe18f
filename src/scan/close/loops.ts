/** Open edge loops of a surface, and which of them is the impression's open base. */
import { length, type Point, pt } from '../../geometry/vec.ts';
import { nextOf } from '../mend/joins.ts';
import type { Surface } from '../mend/weld.ts';

export interface Loop {
  /** Half-edges in the surface's own direction, each beginning where the one before ends; no vertex occurs twice. */
  readonly halves: readonly number[];
  readonly length: number; // mm
  /** Length-weighted middle of the edges. */
  readonly centre: Point<'scan'>;
  /** Area vector, mm2, pointing out of the surface's body when the surface is outward: the cap's normal times its flat area. */
  readonly areaVector: Point<'scan'>;
}

/** All loops, in order of their first half-edges. The surface's triangles must agree in orientation. */
export function openLoops(s: Surface, twin: Int32Array): Loop[] {
  const done = new Set<number>();
  const loops: Loop[] = [];
  for (let h = 0; h < twin.length; h++) {
    if ((twin[h] as number) >= 0 || done.has(h)) continue;
    const walk: number[] = [];
    for (let g = h; !done.has(g); g = nextOpen(g, twin)) {
      done.add(g);
      walk.push(g);
    }
    for (const halves of simpleLoops(walk, s.indices)) loops.push(measure(s, halves));
  }
  return loops;
}

/** The open half-edge that follows: round the vertex at the end of h, through the triangles there. */
function nextOpen(h: number, twin: Int32Array): number {
  let g = nextOf(h);
  while ((twin[g] as number) >= 0) g = nextOf(twin[g] as number);
  return g;
}

/** Takes a walk apart where it comes back to a vertex, so that holes that touch in a vertex are holes of their own. */
function simpleLoops(walk: readonly number[], ix: Uint32Array): number[][] {
  const loops: number[][] = [];
  const path: number[] = [];
  const place = new Map<number, number>(); // vertex -> where in the path the half-edge that starts there stands
  for (const h of walk) {
    const v = ix[h] as number;
    const at = place.get(v);
    if (at !== undefined) {
      const loop = path.splice(at);
      for (const g of loop) place.delete(ix[g] as number);
      loops.push(loop);
    }
    place.set(v, path.length);
    path.push(h);
  }
  if (path.length > 0) loops.push(path);
  return loops;
}

function measure(s: Surface, halves: readonly number[]): Loop {
  const { positions: p, indices: ix } = s;
  const first = 3 * (ix[halves[0] as number] as number);
  const [ox, oy, oz] = [p[first] as number, p[first + 1] as number, p[first + 2] as number];
  const middle = [0, 0, 0];
  const area = [0, 0, 0];
  let round = 0;
  for (const h of halves) {
    const a = 3 * (ix[h] as number);
    const b = 3 * (ix[nextOf(h)] as number);
    const [ax, ay, az] = [(p[a] as number) - ox, (p[a + 1] as number) - oy, (p[a + 2] as number) - oz];
    const [bx, by, bz] = [(p[b] as number) - ox, (p[b + 1] as number) - oy, (p[b + 2] as number) - oz];
    const l = Math.sqrt((bx - ax) * (bx - ax) + (by - ay) * (by - ay) + (bz - az) * (bz - az));
    round += l;
    middle[0] = (middle[0] as number) + (l * (ax + bx)) / 2;
    middle[1] = (middle[1] as number) + (l * (ay + by)) / 2;
    middle[2] = (middle[2] as number) + (l * (az + bz)) / 2;
    // The cap runs against the surface's half-edges: b to a.
    area[0] = (area[0] as number) + (by * az - bz * ay) / 2;
    area[1] = (area[1] as number) + (bz * ax - bx * az) / 2;
    area[2] = (area[2] as number) + (bx * ay - by * ax) / 2;
  }
  const w = round > 0 ? 1 / round : 0;
  return {
    halves,
    length: round,
    centre: pt(ox + (middle[0] as number) * w, oy + (middle[1] as number) * w, oz + (middle[2] as number) * w),
    areaVector: pt(area[0] as number, area[1] as number, area[2] as number),
  };
}

/** A loop narrower than this, mm, or than this share of the scan's longest extent, is a hole and never the base. */
const BASE_WIDTH = 5;
const BASE_SHARE = 0.3;

/** Diameter of the disc of the same flat area: unlike the length, it does not grow with a ragged edge. */
export const widthOf = (l: Loop): number => 2 * Math.sqrt(length(l.areaVector) / Math.PI);

/** Which loop is the base: the widest, where it is wide enough to be where the material left the ear; -1: none is. */
export function baseOf(loops: readonly Loop[], extent: number): number {
  let best = -1;
  loops.forEach((l, i) => {
    if (best < 0 || widthOf(l) > widthOf(loops[best] as Loop)) best = i;
  });
  const widest = loops[best];
  return widest && widthOf(widest) >= Math.max(BASE_WIDTH, BASE_SHARE * extent) ? best : -1;
}
