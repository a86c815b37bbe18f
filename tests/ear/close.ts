/** Closes the open base of a synthetic cast by a fan, so that these tests need nothing of the scan stage. */
import type { Mesh } from '../../src/geometry/mesh.ts';
import { addScaled, cross, normalize, type Point, pointAt, pt, sub } from '../../src/geometry/vec.ts';
import type { Base } from '../../src/model/scan.ts';

/** The closed mesh, and the base as `readScan` would describe it. Every open loop is closed; the longest is the base. */
export function closed(open: Mesh<'scan'>): { mesh: Mesh<'scan'>; base: Base } {
  const { indices: t } = open;
  const many = open.positions.length / 3;
  const next = new Map<number, number>();
  const seen = new Set<number>();
  for (let i = 0; i < t.length; i++) seen.add((t[i] as number) * many + (t[i % 3 === 2 ? i - 2 : i + 1] as number));
  for (let i = 0; i < t.length; i++) {
    const a = t[i] as number;
    const b = t[i % 3 === 2 ? i - 2 : i + 1] as number;
    if (!seen.has(b * many + a)) next.set(b, a); // the cap runs the other way
  }
  const loops: number[][] = [];
  while (next.size > 0) {
    const start = next.keys().next().value as number;
    const loop: number[] = [];
    for (let at: number | undefined = start; at !== undefined; ) {
      loop.push(at);
      const to: number | undefined = next.get(at);
      next.delete(at);
      at = to === start ? undefined : to;
    }
    loops.push(loop);
  }
  loops.sort((a, b) => b.length - a.length);
  const positions = [...open.positions];
  const indices = [...t];
  for (const loop of loops) {
    const centre = loop.reduce((sum, v) => addScaled(sum, pointAt<'scan'>(open.positions, v), 1 / loop.length), pt<'scan'>(0, 0, 0));
    const hub = positions.length / 3;
    positions.push(...centre);
    loop.forEach((v, k) => {
      indices.push(v, loop[(k + 1) % loop.length] as number, hub);
    });
  }
  const cap = new Uint8Array(indices.length / 3);
  const base = loops[0] as number[];
  cap.fill(1, t.length / 3, t.length / 3 + base.length);
  return {
    mesh: { frame: 'scan', positions: Float64Array.from(positions), indices: Uint32Array.from(indices) },
    base: { plane: planeOf(open, base), cap },
  };
}

/** By the loop's vector area: exact for a flat loop, fair for a ragged one. */
function planeOf(mesh: Mesh<'scan'>, loop: readonly number[]): Base['plane'] {
  const points = loop.map((v) => pointAt<'scan'>(mesh.positions, v));
  const centre = points.reduce((sum, p) => addScaled(sum, p, 1 / points.length), pt<'scan'>(0, 0, 0));
  let sum: Point<'scan'> = pt(0, 0, 0);
  points.forEach((p, k) => {
    sum = addScaled(sum, cross(sub(p, centre), sub(points[(k + 1) % points.length] as Point<'scan'>, centre)), 1);
  });
  return { point: centre, normal: normalize(sum) };
}
