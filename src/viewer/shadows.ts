/** The shadow of a part by itself, for its drawing: what is solid, and the room that service takes. */
import { hullOf } from '../ear/widths.ts';
import { pt } from '../geometry/vec.ts';
import type { Part, Primitive } from '../model/parts.ts';
import type { Loops } from './silhouette.ts';
import { meshOfPrimitive } from './solids.ts';

/** Seen along the part's y (x right, z up), or along its z (x right, y up). */
export type PartView = 'side' | 'top';

export interface Shadow {
  /** One loop a primitive, convex, mm: every primitive is. */
  readonly solid: Loops;
  readonly service: Loops;
  /** Of all that is drawn: left, right, bottom, top, mm. */
  readonly bounds: readonly [number, number, number, number];
  /** Of the solids: mm along the picture's x and y. */
  readonly size: readonly [number, number];
}

export function shadowOf(part: Part, view: PartView): Shadow {
  const up = view === 'side' ? 2 : 1;
  const of = (kind: Primitive['kind']): Loops => part.primitives.filter((p) => p.kind === kind).map((p) => outlineOf(p, up));
  const [solid, service] = [of('solid'), of('service')];
  const [x0, x1, y0, y1] = boundsOf(solid);
  return { solid, service, bounds: boundsOf([...solid, ...service]), size: [x1 - x0, y1 - y0] };
}

function outlineOf(primitive: Primitive, up: 1 | 2): Float64Array<ArrayBuffer> {
  const { positions } = meshOfPrimitive(primitive, { position: pt<'part'>(0, 0, 0), quaternion: [0, 0, 0, 1] }, 'part');
  const flat = new Float64Array((2 * positions.length) / 3);
  for (let i = 0; 3 * i < positions.length; i++) flat.set([positions[3 * i] as number, positions[3 * i + up] as number], 2 * i);
  return Float64Array.from(hullOf(flat));
}

function boundsOf(loops: Loops): [number, number, number, number] {
  const out: [number, number, number, number] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const loop of loops) {
    for (let i = 0; i < loop.length; i += 2) {
      const [x, y] = [loop[i] as number, loop[i + 1] as number];
      out[0] = Math.min(out[0], x);
      out[1] = Math.max(out[1], x);
      out[2] = Math.min(out[2], y);
      out[3] = Math.max(out[3], y);
    }
  }
  return out;
}
