/**
 * Exact shapes, meshed finely, and the bodies that two planes cut from them: rooms whose answer is known.
 *
 * A lofted wall's vertices are pushed outwards by 1/cos(pi/n) where `outside` is asked, so that the mesh holds the true
 * shape (a part that exactly fits must be found); left on the shape, the mesh lies within it (one that is too large must
 * be refused). The difference is below 0.005 mm in every test here and is added where it matters.
 */
import type { Mesh } from '../../src/geometry/mesh.ts';
import { cross, normalize, type Plane, type Point, pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { Body, Cut } from '../../src/model/fit.ts';
import type { Kit, Part, Primitive, Rules, Seat } from '../../src/model/parts.ts';

export type Ear = Point<'ear'>;

/** Rules that ask for nothing: pure geometry. */
export const BARE: Rules = { wall: 0, faceplate: 0, gap: 0, partGap: 0, suspension: 0, tolerance: 0 };
export const USUAL: Rules = { wall: 0.6, faceplate: 0.8, gap: 0.1, partGap: 0.1, suspension: 0.25, tolerance: 0.1 };

/** A closed mesh from rings of equally many points, both ends closed by fans. Rings run medially; points counter-clockwise seen from the medial end. */
export function loft(rings: readonly (readonly Vec3[])[]): Mesh<'ear'> {
  const around = (rings[0] as readonly Vec3[]).length;
  const positions: number[] = [];
  for (const ring of rings) for (const p of ring) positions.push(...p);
  const indices: number[] = [];
  for (let r = 0; r + 1 < rings.length; r++) {
    for (let k = 0; k < around; k++) {
      const a = r * around + k;
      const b = r * around + ((k + 1) % around);
      indices.push(a, b, b + around, a, b + around, a + around);
    }
  }
  const fan = (r: number, flip: boolean): void => {
    const centre = [0, 1, 2].map((c) => (rings[r] as readonly Vec3[]).reduce((s, p) => s + (p[c] as number), 0) / around);
    const at = positions.length / 3;
    positions.push(...centre);
    for (let k = 0; k < around; k++) {
      const a = r * around + k;
      const b = r * around + ((k + 1) % around);
      if (flip) indices.push(at, a, b);
      else indices.push(at, b, a);
    }
  };
  fan(0, false);
  fan(rings.length - 1, true);
  return { frame: 'ear', positions: new Float64Array(positions), indices: new Uint32Array(indices) };
}

/** A tube along `centre(s)`, s from 0 to 1 medially, with half axes `radii(s)`; the first along `side`, made square to the tube. */
export function tube(
  centre: (s: number) => Ear,
  radii: (s: number) => readonly [number, number],
  options: { steps: number; around: number; side?: Vec3; outside?: boolean; level?: boolean; shape?: (s: number, angle: number) => number },
): Mesh<'ear'> {
  const { steps, around, side = [1, 0, 0], outside = false, level = false, shape = () => 1 } = options;
  const grow = outside ? 1 / Math.cos(Math.PI / around) : 1;
  const rings: Vec3[][] = [];
  for (let i = 0; i <= steps; i++) {
    const s = i / steps;
    const a = centre(Math.max(0, s - 1e-4));
    const b = centre(Math.min(1, s + 1e-4));
    // Level rings never cross, however sharply the tube bends.
    const t = level ? pt<'ear'>(0, 0, -1) : normalize(pt<'ear'>(b[0] - a[0], b[1] - a[1], b[2] - a[2]));
    const v = normalize(cross(t, side as Ear));
    const u = cross(v, t);
    const c = centre(s);
    const [ru, rv] = radii(s);
    rings.push(
      Array.from({ length: around }, (_, k) => {
        const angle = (2 * Math.PI * k) / around;
        const f = shape(s, angle) * grow;
        const x = f * ru * Math.cos(angle);
        const y = f * rv * Math.sin(angle);
        return [c[0] + x * u[0] + y * v[0], c[1] + x * u[1] + y * v[1], c[2] + x * u[2] + y * v[2]] as Vec3;
      }),
    );
  }
  return loft(rings);
}

/** A body of the whole cast between planes, as `trim` would give it, without its mesh (the search does not read it). */
export function bodyOf(cast: Mesh<'ear'>, outer: Plane<'ear'>, tip: Plane<'ear'>, seed: Ear, tangent: Ear = tip.normal): Body {
  const cuts: Cut[] = [
    { name: 'outer', plane: outer },
    { name: 'tip', plane: tip },
  ];
  return {
    style: 'CIC',
    cuts,
    mesh: cast,
    face: new Uint8Array(cast.indices.length / 3),
    volume: 0,
    tip: { at: tip.point, tangent },
    seed,
  };
}

export const solid = (
  shape: Primitive['shape'],
  size: Vec3,
  position: Vec3 = [0, 0, 0],
  quaternion: Primitive['quaternion'] = [0, 0, 0, 1],
): Primitive => ({
  shape,
  size,
  position,
  quaternion,
  kind: 'solid',
});
export const part = (id: string, primitives: readonly Primitive[], seat: Seat = { at: 'free' }, margin = 0): Part => ({
  id,
  kind: 'chip',
  name: id,
  primitives,
  seat,
  margin,
  source: 'test',
});
export const kitOf = (parts: readonly Part[], pairRules: Kit['pairRules'] = []): Kit => ({ style: 'CIC', parts, pairRules });

/** A canal-like cast: bent, elliptic, opening into a bowl laterally. `size` scales its bore. About `triangles` triangles. */
export function canal(size = 1, triangles = 40_000, wave = 0.03): Mesh<'ear'> {
  const around = Math.max(48, Math.round(Math.sqrt(triangles / 4)));
  const steps = Math.max(60, Math.round(triangles / 2 / around));
  const smooth = (x: number): number => {
    const t = Math.max(0, Math.min(1, x));
    return t * t * (3 - 2 * t);
  };
  const from = 12;
  const to = -19;
  const depth = (s: number): number => -(from + (to - from) * s);
  return tube(
    (s) => {
      const d = depth(s);
      return pt(2.2 * smooth((d - 2) / 8) - 1.8 * smooth((d - 9) / 7), 1.1 * smooth((d - 6) / 10) - 0.8 * smooth(-d / 9), -d);
    },
    (s) => {
      const d = depth(s);
      const open = smooth((-d - 0.5) / 8);
      const narrow = smooth((d - 2) / 14);
      return [size * (3.4 - 0.5 * narrow + 5.4 * open), size * (4.7 - 0.9 * narrow + 6.6 * open)];
    },
    { steps, around, level: true, shape: (s, a) => 1 + wave * Math.sin(3 * a + 9 * s) + wave * 0.5 * Math.sin(7 * a - 21 * s) },
  );
}
