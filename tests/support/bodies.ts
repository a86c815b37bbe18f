/** Simple bodies with known geometry, in the ear frame, for the tests of distances, verification and proofs. */
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { type Plane, type Point, pt } from '../../src/geometry/vec.ts';
import type { Body, Cut } from '../../src/model/fit.ts';
import type { Kit, Part, Primitive, Rules, Seat } from '../../src/model/parts.ts';

export const RULES: Rules = { wall: 0.6, faceplate: 0.8, gap: 0.1, partGap: 0.1, suspension: 0.25, tolerance: 0.1 };
/** Nothing asked at all: spare is then the bare distance. */
export const BARE: Rules = { wall: 0, faceplate: 0, gap: 0, partGap: 0, suspension: 0, tolerance: 0 };

export const plane = (point: number[], normal: number[]): Plane<'ear'> => ({
  point: pt(...(point as [number, number, number])),
  normal: pt(...(normal as [number, number, number])),
});

interface BodyParts {
  readonly mesh: Mesh<'ear'>;
  readonly face: Uint8Array;
  readonly cuts: readonly Cut[];
  readonly tip?: Body['tip'];
  readonly seed?: Point<'ear'>;
}

export function bodyOf({ mesh, face, cuts, tip, seed }: BodyParts): Body {
  return {
    style: 'IIC',
    cuts,
    mesh,
    face,
    volume: volumeOf(mesh),
    tip: tip ?? { at: pt(0, 0, 0), tangent: pt(0, 0, -1) },
    seed: seed ?? pt(0, 0, 0),
  };
}

export const noCutsBody = (mesh: Mesh<'ear'>): Body => bodyOf({ mesh, face: new Uint8Array(mesh.indices.length / 3), cuts: [] });

/** A block from lo to hi, each face in k x k squares. */
export function blockMesh(lo: number[], hi: number[], k = 1): Mesh<'ear'> {
  const points: number[] = [];
  const index = new Map<string, number>();
  const indices: number[] = [];
  const vertex = (ijk: number[]): number => {
    const key = ijk.join();
    let v = index.get(key);
    if (v === undefined) {
      v = points.length / 3;
      index.set(key, v);
      for (let c = 0; c < 3; c++) points.push((lo[c] as number) + (((hi[c] as number) - (lo[c] as number)) * (ijk[c] as number)) / k);
    }
    return v;
  };
  for (let axis = 0; axis < 3; axis++) {
    for (const side of [0, k]) {
      for (let i = 0; i < k; i++) {
        for (let j = 0; j < k; j++) {
          const at = (di: number, dj: number): number => {
            const ijk = [0, 0, 0];
            ijk[axis] = side;
            ijk[(axis + 1) % 3] = i + di;
            ijk[(axis + 2) % 3] = j + dj;
            return vertex(ijk);
          };
          const [a, b, c, d] = [at(0, 0), at(1, 0), at(1, 1), at(0, 1)];
          if (side > 0) indices.push(a, b, c, a, c, d);
          else indices.push(a, c, b, a, d, c);
        }
      }
    }
  }
  return { frame: 'ear', positions: Float64Array.from(points), indices: Uint32Array.from(indices) };
}

/**
 * A tube from rings of points, each ring counter-clockwise seen against the way from first to last ring (so the surface
 * faces outward). The first ring's cap is face 1, the last one's face 2.
 */
export function tubeFromRings(rings: readonly (readonly Point<'ear'>[])[]): { mesh: Mesh<'ear'>; face: Uint8Array } {
  const n = (rings[0] as readonly Point<'ear'>[]).length;
  const points = rings.flat(2) as number[];
  const indices: number[] = [];
  const face: number[] = [];
  for (let r = 0; r + 1 < rings.length; r++) {
    for (let i = 0; i < n; i++) {
      const [a, b] = [r * n + i, r * n + ((i + 1) % n)];
      indices.push(a, b, b + n, a, b + n, a + n);
      face.push(0, 0);
    }
  }
  const last = (rings.length - 1) * n;
  for (let i = 1; i + 1 < n; i++) {
    indices.push(0, i + 1, i);
    face.push(1);
  }
  for (let i = 1; i + 1 < n; i++) {
    indices.push(last, last + i, last + i + 1);
    face.push(2);
  }
  return { mesh: { frame: 'ear', positions: Float64Array.from(points), indices: Uint32Array.from(indices) }, face: Uint8Array.from(face) };
}

/** A straight tube down from the outer cut z = 0 to the tip cut z = -long; full axes A (along x) and B (along y), n sides, corners on the ellipse. */
export function ellipticTube(A: number, B: number, long: number, n = 96, stations = 24): Body {
  const rings = Array.from({ length: stations + 1 }, (_, r) =>
    Array.from({ length: n }, (_, i) => {
      const t = (-2 * Math.PI * i) / n;
      return pt<'ear'>((A / 2) * Math.cos(t), (B / 2) * Math.sin(t), (-long * r) / stations);
    }),
  );
  const cuts: Cut[] = [
    { name: 'outer', plane: plane([0, 0, 0], [0, 0, 1]) },
    { name: 'tip', plane: plane([0, 0, -long], [0, 0, -1]) },
  ];
  return bodyOf({ ...tubeFromRings(rings), cuts, tip: { at: pt(0, 0, -long), tangent: pt(0, 0, -1) }, seed: pt(0, 0, -long / 2) });
}

/**
 * A bent round tube: centreline of radius rho in the x-z plane, from the outer cut at the origin (z = 0, pointing +z)
 * bending towards +x by `turn` radians down to the tip cut.
 */
export function torusTube(rho: number, radius: number, turn: number, n = 96, stations = 60): Body {
  const rings = Array.from({ length: stations + 1 }, (_, r) => {
    const s = (turn * r) / stations;
    return Array.from({ length: n }, (_, i) => {
      const t = (-2 * Math.PI * i) / n;
      const out = radius * Math.cos(t); // away from +x, towards the bend's outside when negative
      return pt<'ear'>(rho - (rho - out) * Math.cos(s), radius * Math.sin(t), -(rho - out) * Math.sin(s));
    });
  });
  const end = pt<'ear'>(rho - rho * Math.cos(turn), 0, -rho * Math.sin(turn));
  const tangent = pt<'ear'>(Math.sin(turn), 0, -Math.cos(turn));
  const cuts: Cut[] = [
    { name: 'outer', plane: plane([0, 0, 0], [0, 0, 1]) },
    { name: 'tip', plane: { point: end, normal: tangent } },
  ];
  const half = turn / 2;
  const seed = pt<'ear'>(rho - rho * Math.cos(half), 0, -rho * Math.sin(half));
  return bodyOf({ ...tubeFromRings(rings), cuts, tip: { at: end, tangent }, seed });
}

/** A sphere about the origin, corners on it. */
export function sphereMesh(radius: number, n = 64): Mesh<'ear'> {
  const points: number[] = [0, 0, radius];
  const indices: number[] = [];
  const rows = n / 2;
  for (let r = 1; r < rows; r++) {
    const polar = (Math.PI * r) / rows;
    for (let i = 0; i < n; i++) {
      const t = (2 * Math.PI * i) / n;
      points.push(radius * Math.sin(polar) * Math.cos(t), radius * Math.sin(polar) * Math.sin(t), radius * Math.cos(polar));
    }
  }
  points.push(0, 0, -radius);
  const at = (r: number, i: number): number => 1 + (r - 1) * n + (i % n);
  const south = points.length / 3 - 1;
  for (let i = 0; i < n; i++) {
    indices.push(0, at(1, i), at(1, i + 1), south, at(rows - 1, i + 1), at(rows - 1, i));
    for (let r = 1; r + 1 < rows; r++) indices.push(at(r, i), at(r + 1, i), at(r + 1, i + 1), at(r, i), at(r + 1, i + 1), at(r, i + 1));
  }
  return { frame: 'ear', positions: Float64Array.from(points), indices: Uint32Array.from(indices) };
}

export const primitive = (shape: Primitive['shape'], size: number[], extra: Partial<Primitive> = {}): Primitive => ({
  shape,
  size: size as unknown as Primitive['size'],
  position: [0, 0, 0],
  quaternion: [0, 0, 0, 1],
  kind: 'solid',
  ...extra,
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

export const kitOf = (parts: readonly Part[], pairRules: Kit['pairRules'] = []): Kit => ({ style: 'IIC', parts, pairRules });
