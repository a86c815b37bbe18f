import type { Mesh } from '../geometry/mesh.ts';
import { seeded } from '../geometry/random.ts';
import { unitQuat } from '../geometry/rotation.ts';
import type { Plane, Quat } from '../geometry/vec.ts';
import type { EarParameters } from './parameters.ts';
import { polygonise, type Triangles } from './polygonise.ts';
import { type CastShape, castShape } from './shape.ts';
import { cutBase, punch, roughen } from './surface.ts';
import { type EarTruth, type Placement, pointInScan, truthOf } from './truth.ts';

export interface SynthEar {
  /** Open at the base, as scanned; outward. */
  readonly mesh: Mesh<'scan'>;
  readonly truth: EarTruth;
}

/**
 * A synthetic ear impression with everything that is known of it. `seed` decides what the sizes leave open: where the
 * unevenness, bubbles, folds and holes lie, and how the cast was laid in the scanner. Same arguments, same bytes.
 */
export function makeEar(params: EarParameters, seed: number): SynthEar {
  const shape = castShape(params, seed);
  const rim: Plane<'ear'> = { point: shape.frame.origin, normal: shape.frame.w };
  const [lo, hi] = extent(shape);
  const whole = polygonise(shape.distance, lo, hi, params.resolution);
  const cut = cutBase(whole, rim, params, seed);
  const rough = punch(roughen(cut, params, seed), rim, params, seed);
  const placed = placement(params, seed);
  return { mesh: laid(rough, placed), truth: truthOf(shape, params, seed, placed) };
}

/** A box round the canal's samples and the concha with its flange. */
function extent({ canal, frame }: CastShape): [number[], number[]] {
  const lo = frame.origin.map((c) => c - 16);
  const hi = frame.origin.map((c) => c + 16);
  lo[0] = (frame.origin[0] as number) - 18;
  hi[0] = (frame.origin[0] as number) + 20;
  lo[1] = (frame.origin[1] as number) - 20;
  hi[1] = (frame.origin[1] as number) + 24;
  for (let i = 0; i < canal.count; i++) {
    if (canal.depthOf(i) < 0) continue;
    for (let k = 0; k < 3; k++) {
      lo[k] = Math.min(lo[k] as number, (canal.at[3 * i + k] as number) - (k === 2 ? 3 : 9));
      hi[k] = Math.max(hi[k] as number, (canal.at[3 * i + k] as number) + (k === 2 ? 3 : 9));
    }
  }
  return [lo, hi];
}

function placement(p: EarParameters, seed: number): Placement {
  if (!p.tumbled) return { side: p.side, quaternion: [0, 0, 0, 1], move: [0, 0, 0] };
  const random = seeded(seed, 41);
  const q: Quat = unitQuat([random.normal(), random.normal(), random.normal(), random.normal()]);
  return { side: p.side, quaternion: q, move: [random.between(-40, 40), random.between(-40, 40), random.between(-40, 40)] };
}

function laid(mesh: Triangles, placed: Placement): Mesh<'scan'> {
  const { positions: p } = mesh;
  const positions = new Float64Array(p.length);
  for (let i = 0; i < p.length; i += 3) {
    positions.set(pointInScan(placed, [p[i] as number, p[i + 1] as number, p[i + 2] as number]), i);
  }
  const indices = Uint32Array.from(mesh.indices);
  if (placed.side === 'left') {
    for (let i = 0; i < indices.length; i += 3) {
      const b = indices[i + 1] as number;
      indices[i + 1] = indices[i + 2] as number;
      indices[i + 2] = b;
    }
  }
  return { frame: 'scan', positions, indices };
}
