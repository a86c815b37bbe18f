/**
 * Balls inside a primitive: two parts are no farther apart than any ball within one is from any ball within the other
 * (or from a point of it, a ball of radius 0). The middles of all balls of one radius make a smaller body of the same kind, the core.
 */
import { rotate } from '../geometry/rotation.ts';
import type { Part, Primitive } from '../model/parts.ts';

/** Radii of the balls, as shares of the largest that the primitive holds: the second reaches nearer to its edges. */
const SHARES = [1, 0.35] as const;

export interface Core {
  readonly radius: number; // of its balls, mm
  readonly round: number; // a cylinder's or capsule's own radius less the balls'; 0 for a box
  /** Half extents: a box's three; else the half length along z. */
  readonly half: readonly [number, number, number];
  readonly shape: Primitive['shape'];
  /** From the core's frame to the part's: rotation by rows, then the place. */
  readonly frame: Float64Array;
}

/** Cores of a part's solids, the largest balls first. */
export function coresOf(part: Part): Core[] {
  return part.primitives.filter((p) => p.kind === 'solid').flatMap((p) => SHARES.map((share) => coreOf(p, share)));
}

function coreOf(p: Primitive, share: number): Core {
  const [x, y, z] = [p.size[0] / 2, p.size[1] / 2, p.size[2] / 2];
  const radius = share * Math.min(x, y, z);
  const [i, j, k] = [rotate(p.quaternion, [1, 0, 0]), rotate(p.quaternion, [0, 1, 0]), rotate(p.quaternion, [0, 0, 1])];
  const frame = Float64Array.of(i[0], j[0], k[0], i[1], j[1], k[1], i[2], j[2], k[2], ...p.position);
  if (p.shape === 'box') return { radius, round: 0, half: [x - radius, y - radius, z - radius], shape: p.shape, frame };
  const along = p.shape === 'capsule' ? Math.max(0, z - x) : z - radius;
  return { radius, round: x - radius, half: [0, 0, along], shape: p.shape, frame };
}

const clamp = (x: number, by: number): number => Math.max(-by, Math.min(by, x));

/** Writes the point of a core that is nearest to (x, y, z), both in the part's frame, to out[at ...]. */
export function nearestOfCore(core: Core, x: number, y: number, z: number, out: Float64Array, at: number): void {
  const f = core.frame;
  const dx = x - (f[9] as number);
  const dy = y - (f[10] as number);
  const dz = z - (f[11] as number);
  let a = (f[0] as number) * dx + (f[3] as number) * dy + (f[6] as number) * dz;
  let b = (f[1] as number) * dx + (f[4] as number) * dy + (f[7] as number) * dz;
  let c = (f[2] as number) * dx + (f[5] as number) * dy + (f[8] as number) * dz;
  if (core.shape === 'box') {
    a = clamp(a, core.half[0]);
    b = clamp(b, core.half[1]);
    c = clamp(c, core.half[2]);
  } else {
    const end = clamp(c, core.half[2]);
    const over = core.shape === 'capsule' ? c - end : 0;
    const off = Math.sqrt(a * a + b * b + over * over);
    const scale = off > core.round ? core.round / off : 1;
    a *= scale;
    b *= scale;
    c = core.shape === 'capsule' ? end + over * scale : end;
  }
  out[at] = (f[9] as number) + (f[0] as number) * a + (f[1] as number) * b + (f[2] as number) * c;
  out[at + 1] = (f[10] as number) + (f[3] as number) * a + (f[4] as number) * b + (f[5] as number) * c;
  out[at + 2] = (f[11] as number) + (f[6] as number) * a + (f[7] as number) * b + (f[8] as number) * c;
}
