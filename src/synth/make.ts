import type { Mesh } from '../geometry/mesh.ts';
import { polygonise, type Triangles } from '../geometry/polygonise.ts';
import { seeded } from '../geometry/random.ts';
import { unitQuat } from '../geometry/rotation.ts';
import { type Plane, pointAt, type Quat, type Vec3 } from '../geometry/vec.ts';
import { fromConcha } from './concha.ts';
import type { EarParameters } from './parameters.ts';
import { type CastShape, castShape, FLANGE_TOP } from './shape.ts';
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
  const [lo, hi] = extent(shape, params);
  const whole = polygonise(shape.distance, lo, hi, params.resolution);
  if (!whole) throw new Error(`no closed net at step ${params.resolution}: the drawn ear has sheets nearer to each other than that`);
  const cut = cutBase(whole, rim, params, seed);
  const rough = punch(roughen(cut, params, seed), rim, params, seed);
  const placed = placement(params, seed);
  return { mesh: laid(rough, placed), truth: truthOf(shape, params, seed, placed) };
}

/** A box round the canal and the concha with its flange. */
function extent({ canal, frame }: CastShape, p: EarParameters): [number[], number[]] {
  const lo = [Infinity, Infinity, Infinity];
  const hi = [-Infinity, -Infinity, -Infinity];
  const hold = (q: Vec3, room: number): void => {
    for (let k = 0; k < 3; k++) {
      lo[k] = Math.min(lo[k] as number, (q[k] as number) - room);
      hi[k] = Math.max(hi[k] as number, (q[k] as number) + room);
    }
  };
  for (let i = 0; i < canal.count; i++) {
    if (canal.depthOf(i) >= 0 && canal.depthOf(i) <= canal.endDepth + 1) hold(pointAt(canal.at, i), canal.sectionAt(0).major + 0.5);
  }
  const out = 2.3 * p.overflow + 2;
  const [x, y] = [p.cavumWidth / 2 + out, p.cavumHeight / 2 + out];
  const top = y + p.crusWidth + p.cymbaHeight + Math.max(0, p.hookRise);
  for (const cx of [-x - 2, x + p.hookLength]) {
    for (const cy of [-y - p.notchWidth / 2, top])
      for (const w of [-p.cavumDepth - 3, FLANGE_TOP + 1]) hold(fromConcha(frame, cx, cy, w), 0);
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
