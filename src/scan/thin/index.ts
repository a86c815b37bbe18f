/**
 * A scan with more triangles than any verdict can tell apart, made lighter. How far the lighter surface then lies from the
 * scan is measured at every vertex of the scan; whoever judges the lighter one takes that distance off what it finds.
 */
import { TriangleTree } from '../../geometry/bvh.ts';
import type { Mesh } from '../../geometry/mesh.ts';
import { pt } from '../../geometry/vec.ts';
import type { Finding, Scan } from '../../model/scan.ts';
import { nameCrossings } from '../judge/crossings.ts';
import { counted, grouped } from '../wording.ts';
import { collapseEdges } from './collapse.ts';

/** Up to so many triangles a scan is judged as it is. */
export const LIGHT = 300_000;
/** What is thinned comes down to so many, */
const ENOUGH = 150_000;
/** by steps of so much, mm. The last is a tenth of the tolerance of a verdict. */
const STEPS = [0.0002, 0.0006, 0.0015, 0.004, 0.01] as const;

export interface Thinned {
  readonly mesh: Mesh<'scan'>;
  /** The farthest that any vertex of the scan lies from `mesh`, mm. 0 where nothing was done. */
  readonly deviation: number;
  readonly findings: readonly Finding[];
}

/** The scan's mesh, or a lighter one with its measured deviation and where it passes through itself. Closed and outward like the scan's own. */
export function thinScan({ mesh }: Pick<Scan, 'mesh'>): Thinned {
  const many = mesh.indices.length / 3;
  if (many <= LIGHT) return { mesh, deviation: 0, findings: [] };
  const light: Mesh<'scan'> = { frame: 'scan', ...collapseEdges(mesh, STEPS, ENOUGH) };
  const deviation = farthest(mesh, light);
  const left = light.indices.length / 3;
  const crossings: Finding[] = [];
  nameCrossings(light, crossings);
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
      ...crossings,
    ],
  };
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
