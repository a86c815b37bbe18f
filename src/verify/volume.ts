/**
 * The second opinion: volumes by boolean operations in the kernel, which know nothing of distances.
 *
 * A curved primitive must become facets. Where the arrangement has room for it they are drawn round the primitive, so
 * that "no volume outside" of the facets proves it of the primitive; where it is nearer than that (touching, or through)
 * they are drawn inside, so that any volume found is really there.
 */
import type { Arena, Kernel, Solid as KernelSolid } from '../geometry/kernel.ts';
import { withArena } from '../geometry/kernel.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import { addScaled, dot, type Plane } from '../geometry/vec.ts';
import { Fault } from '../model/fault.ts';
import type { Body } from '../model/fit.ts';
import { ballsApart } from './separation.ts';
import type { Solid } from './solid.ts';

const SIDES = 48;
const RINGS = 8; // of a capsule's round end, from equator to pole

/** By how much the facets drawn round a radius exceed it, relative. */
const CIRCLE = 1 / cos(PI / SIDES);
const BALL = CIRCLE / cos(PI / (4 * RINGS));

/** A part for this purpose: what must lie in the body, what is matter to other parts, what must stay free, and which cuts it may pass. */
export interface Matter {
  readonly id: string;
  readonly held: readonly Solid[];
  readonly solids: readonly Solid[];
  readonly service: readonly Solid[];
  readonly passes: readonly Plane<'ear'>[];
}

/** How much farther than the true surface the outer facets reach at most, mm. */
export const facetExcess = (s: Solid): number => (s.shape === 'box' ? 0 : s.radius * ((s.shape === 'cylinder' ? CIRCLE : BALL) - 1));

export interface Overlaps {
  readonly volume: number; // mm3
  readonly faults: readonly string[];
}

/** Volumes below this are rounding of 32-bit coordinates on faces of some 100 mm2, mm3. */
export const VOLUME_NOISE = 1e-6;

/** Volume of matter outside the body and of matter in other parts' matter or service room. `round`: facets drawn outside. */
export function overlaps(kernel: Kernel, body: Body, parts: readonly Matter[], round: boolean): Overlaps {
  return withArena((arena) => {
    const faults: string[] = [];
    let volume = 0;
    try {
      const shell = kernel.toManifold(body.mesh, arena);
      const facets = new Map<Solid, KernelSolid>();
      const of = (s: Solid): KernelSolid => {
        const made = facets.get(s) ?? arena.keep(kernel.wasm.Manifold.hull(cornersOf(s, round)));
        facets.set(s, made);
        return made;
      };
      const all = parts.flatMap((part) => inner(arena, part, of));
      // One subtraction answers for a kit that is in order; only a kit that is not is asked part by part.
      const clear = all.length === 0 || arena.keep(arena.keep(kernel.wasm.Manifold.union(all)).subtract(shell)).volume() <= VOLUME_NOISE;
      for (const part of clear ? [] : parts) {
        const out = outsideVolume(arena, shell, part, of);
        if (out > VOLUME_NOISE) faults.push(`${part.id}: ${out.toFixed(6)} mm3 of it lie outside the body`);
        volume += Math.max(0, out);
      }
      for (const [a, b, both] of pairs(parts, of, arena)) {
        if (both > VOLUME_NOISE) faults.push(`${a} and ${b}: overlap by ${both.toFixed(6)} mm3`);
        volume += Math.max(0, both);
      }
    } catch (e) {
      if (!(e instanceof Fault)) throw e;
      return { volume: Infinity, faults: [`volumes could not be checked: ${e.message}`] };
    }
    return { volume, faults };
  });
}

/** The body's cut faces lie in their planes within this, mm (32-bit coordinates). */
const FLAT = 1e-4;

/** What must lie in the body of a part, less what lies beyond the cuts that it may pass. */
const inner = (arena: Arena, part: Matter, of: (s: Solid) => KernelSolid): KernelSolid[] =>
  part.held.map((s) =>
    part.passes.reduce((left, { normal: n, point }) => arena.keep(left.trimByPlane([-n[0], -n[1], -n[2]], -dot(n, point) + FLAT)), of(s)),
  );

const outsideVolume = (arena: Arena, shell: KernelSolid, part: Matter, of: (s: Solid) => KernelSolid): number =>
  inner(arena, part, of).reduce((sum, s) => sum + arena.keep(s.subtract(shell)).volume(), 0);

function pairs(parts: readonly Matter[], of: (s: Solid) => KernelSolid, arena: Arena): [string, string, number][] {
  const out: [string, string, number][] = [];
  const meet = (a: readonly Solid[], b: readonly Solid[]): number => {
    let sum = 0;
    for (const s of a) for (const t of b) if (!ballsApart(s, t)) sum += Math.max(0, arena.keep(of(s).intersect(of(t))).volume());
    return sum;
  };
  for (const [i, a] of parts.entries()) {
    for (const b of parts.slice(i + 1))
      out.push([a.id, b.id, meet(a.solids, b.solids) + meet(a.solids, b.service) + meet(a.service, b.solids)]);
  }
  return out;
}

/** Corners of the facetted primitive, round it or within it. */
function cornersOf(s: Solid, round: boolean): [number, number, number][] {
  const [x, y, z] = s.axes;
  const at = (a: number, b: number, c: number): [number, number, number] => {
    const p = addScaled(addScaled(addScaled(s.centre, x, a), y, b), z, c);
    return [p[0], p[1], p[2]];
  };
  const out: [number, number, number][] = [];
  const circle = (r: number, h: number): void => {
    for (let i = 0; i < SIDES; i++) out.push(at(r * cos((2 * PI * i) / SIDES), r * sin((2 * PI * i) / SIDES), h));
  };
  if (s.shape === 'box')
    for (const a of [-1, 1]) for (const b of [-1, 1]) for (const c of [-1, 1]) out.push(at(a * s.half[0], b * s.half[1], c * s.half[2]));
  if (s.shape === 'cylinder') for (const c of [-1, 1]) circle(s.radius * (round ? CIRCLE : 1), c * s.half[2]);
  if (s.shape === 'capsule') {
    const r = s.radius * (round ? BALL : 1);
    for (const c of [-1, 1]) {
      for (let k = 0; k < RINGS; k++) circle(r * cos((PI * k) / (2 * RINGS)), c * (s.half[2] + r * sin((PI * k) / (2 * RINGS))));
      out.push(at(0, 0, c * (s.half[2] + r)));
    }
  }
  return out;
}
