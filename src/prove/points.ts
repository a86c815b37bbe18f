/**
 * Points that stand for a part in a bound: a subset of its matter, so that whatever is impossible for them is impossible
 * for the part. More points make a bound tighter, never less sound.
 */
import { rotate } from '../geometry/rotation.ts';
import { cos, PI, sin } from '../geometry/trig.ts';
import type { Vec3 } from '../geometry/vec.ts';
import type { Part, Primitive } from '../model/parts.ts';

/** Round a rim: measured, 24 lose 0.01 mm of a cell's ceiling and more gain nothing. */
const RIM = 24;

/** Surface points of the solid primitives, in the part's frame, x y z each; `rim` of them round a rim. */
export function pointsOf(part: Part, rim = RIM): Float64Array {
  const out: number[] = [];
  for (const primitive of part.primitives) {
    if (primitive.kind !== 'solid') continue;
    for (const local of localPoints(primitive, rim)) {
      const p = rotate(primitive.quaternion, local);
      out.push(p[0] + primitive.position[0], p[1] + primitive.position[1], p[2] + primitive.position[2]);
    }
  }
  return Float64Array.from(out);
}

/** The same of the largest solid primitive alone: one convex body. */
export function hullOf(part: Part): Float64Array {
  const volume = (p: Primitive): number => p.size[0] * p.size[1] * p.size[2];
  const solids = part.primitives.filter((p) => p.kind === 'solid').sort((a, b) => volume(b) - volume(a));
  return pointsOf({ ...part, primitives: solids.slice(0, 1) });
}

function localPoints(p: Primitive, rim: number): Vec3[] {
  const [x, y, z] = [p.size[0] / 2, p.size[1] / 2, p.size[2] / 2];
  if (p.shape === 'box') return boxPoints(x, y, z);
  if (p.shape === 'cylinder') return [...circle(x, -z, rim), ...circle(x, z, rim), ...circle(x, 0, rim / 2), [0, 0, z], [0, 0, -z]];
  const core = Math.max(0, z - x);
  const half = x * Math.SQRT1_2;
  return [
    [0, 0, -core - x],
    [0, 0, core + x],
    ...[-1, 1].flatMap((s) => [...circle(x, s * core, rim / 2), ...circle(half, s * (core + half), rim / 2)]),
    ...circle(x, 0, rim / 2),
  ];
}

/** Corners, middles of edges and of faces. */
function boxPoints(x: number, y: number, z: number): Vec3[] {
  const out: Vec3[] = [];
  for (const a of [-1, 0, 1]) for (const b of [-1, 0, 1]) for (const c of [-1, 0, 1]) if (a || b || c) out.push([a * x, b * y, c * z]);
  return out;
}

function circle(r: number, z: number, n: number): Vec3[] {
  return Array.from({ length: n }, (_, i) => [r * cos((2 * PI * i) / n), r * sin((2 * PI * i) / n), z] as const);
}

/** Do half turns about the part's own axes bring its points onto themselves? */
export function halfTurns(points: Float64Array): readonly [x: boolean, y: boolean, z: boolean] {
  const same = (sx: number, sy: number, sz: number): boolean => {
    for (let i = 0; i < points.length; i += 3) {
      const x = sx * (points[i] as number);
      const y = sy * (points[i + 1] as number);
      const z = sz * (points[i + 2] as number);
      let met = false;
      for (let j = 0; j < points.length && !met; j += 3) {
        met =
          Math.abs((points[j] as number) - x) < 1e-9 &&
          Math.abs((points[j + 1] as number) - y) < 1e-9 &&
          Math.abs((points[j + 2] as number) - z) < 1e-9;
      }
      if (!met) return false;
    }
    return true;
  };
  return [same(1, -1, -1), same(-1, 1, -1), same(-1, -1, 1)];
}

/** Is the part round about its own z axis, so that its spin is all one? */
export function isRound(part: Part): boolean {
  return part.primitives.every((p) => {
    const up = rotate(p.quaternion, [0, 0, 1]);
    const centred = Math.abs(p.position[0]) < 1e-12 && Math.abs(p.position[1]) < 1e-12;
    return p.kind === 'service' || (p.shape !== 'box' && centred && Math.abs(up[0]) < 1e-12 && Math.abs(up[1]) < 1e-12);
  });
}
