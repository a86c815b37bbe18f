/**
 * A scan with more triangles than any verdict can tell apart, made lighter: the boolean kernel drops vertices that the
 * surface hardly needs. How far the lighter surface then lies from the scan is not taken on trust but measured, at every
 * vertex of the scan; whoever judges the lighter one takes that distance off what it finds.
 *
 * Tried: the kernel promises that no surface moves by more than the tolerance asked for; at 0.002 mm the measured
 * distance was 0.009 mm on a 1.2-million-triangle cast. Hence the measuring.
 */
import { TriangleTree } from '../geometry/bvh.ts';
import { type Kernel, withArena } from '../geometry/kernel.ts';
import { boundsOf, type Mesh } from '../geometry/mesh.ts';
import { pt } from '../geometry/vec.ts';
import type { Finding, Scan } from '../model/scan.ts';
import { counted, grouped } from './wording.ts';

/** Up to so many triangles a scan is judged as it is. */
export const LIGHT = 300_000;
/** Asked of the kernel in turn, mm, until the scan is light. The last is a tenth of the tolerance of a verdict. */
const TOLERANCES = [0.0005, 0.0015, 0.005, 0.01] as const;

export interface Thinned {
  readonly mesh: Mesh<'scan'>;
  /** The farthest that any vertex of the scan lies from `mesh`, mm. 0 where nothing was done. */
  readonly deviation: number;
  readonly findings: readonly Finding[];
}

/** The scan's mesh, or a lighter one with its measured deviation. Closed and outward like the scan's own. */
export function thinScan(kernel: Kernel, { mesh }: Pick<Scan, 'mesh'>): Thinned {
  const many = mesh.indices.length / 3;
  if (many <= LIGHT) return { mesh, deviation: 0, findings: [] };
  const light = simplified(kernel, mesh);
  const deviation = farthest(mesh, light);
  const left = light.indices.length / 3;
  return {
    mesh: light,
    deviation,
    findings: [
      {
        code: 'scan/thinned',
        level: 'note',
        text: `${counted(many, 'triangle')} thinned to ${grouped(left)} for judging: no vertex of the scan lies more than ${deviation.toFixed(4)} mm from what is judged, and that much is taken off every spare.`,
        count: left,
      },
    ],
  };
}

/** The kernel takes 32-bit coordinates: the mesh goes in about its own middle and comes back. */
function simplified(kernel: Kernel, mesh: Mesh<'scan'>): Mesh<'scan'> {
  const { min, max } = boundsOf<'scan'>(mesh.positions);
  const middle = pt<'scan'>((min[0] + max[0]) / 2, (min[1] + max[1]) / 2, (min[2] + max[2]) / 2);
  const about = mesh.positions.map((x, i) => x - (middle[i % 3] as number));
  return withArena((arena) => {
    let solid = kernel.toManifold({ ...mesh, positions: about }, arena);
    for (const tolerance of TOLERANCES) {
      solid = arena.keep(solid.simplify(tolerance));
      if (solid.numTri() <= LIGHT) break;
    }
    const { mesh: light } = kernel.fromManifold(solid, 'scan');
    return { ...light, positions: light.positions.map((x, i) => x + (middle[i % 3] as number)) };
  });
}

function farthest(from: Mesh<'scan'>, to: Mesh<'scan'>): number {
  const tree = new TriangleTree(to);
  let most = 0;
  let hint = -1;
  for (let i = 0; i < from.positions.length; i += 3) {
    const p = pt<'scan'>(from.positions[i] as number, from.positions[i + 1] as number, from.positions[i + 2] as number);
    const near = tree.nearest(p, 0.05, hint) ?? tree.nearest(p);
    if (!near) continue;
    hint = near.triangle; // vertices that follow each other mostly lie side by side
    most = Math.max(most, near.distance);
  }
  return most;
}
