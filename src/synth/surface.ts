/** What material and scanner add to a perfect cast: unevenness, bubbles, fold lines, noise, holes, a ragged base. */

import type { Triangles } from '../geometry/polygonise.ts';
import { seeded } from '../geometry/random.ts';
import { heightOver, type Plane, pointAt } from '../geometry/vec.ts';
import { fieldOf } from './blend.ts';
import { keepBelow, largestPiece, normalsOf } from './clip.ts';
import type { EarParameters } from './parameters.ts';

/** Cuts the flange off at its ragged edge. What is left has one open loop. */
export function cutBase(mesh: Triangles, rim: Plane<'ear'>, p: EarParameters, seed: number): Triangles {
  const uneven = fieldOf(seed ^ 0x2f1d);
  const n = mesh.positions.length / 3;
  const value = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const q = pointAt<'ear'>(mesh.positions, i);
    const broad = uneven(0.12 * q[0], 0.12 * q[1], 3.3);
    const fine = uneven(0.55 * q[0], 0.55 * q[1], 9.1);
    value[i] = heightOver(rim, q) - p.flangeHeight - p.raggedness * (1.6 * broad + 0.7 * fine);
  }
  return largestPiece(keepBelow(mesh, value));
}

/** Moves the vertices along their normals; the triangles stay as they are. */
export function roughen(mesh: Triangles, p: EarParameters, seed: number): Triangles {
  const { positions: at } = mesh;
  const count = at.length / 3;
  const lift = new Float64Array(count);
  wave(at, lift, p, seed);
  bubble(at, lift, p, seed);
  seam(at, lift, p, seed);
  noise(mesh, lift, p, seed);
  const normals = normalsOf(mesh);
  const positions = Float64Array.from(at);
  for (let i = 0; i < positions.length; i++) {
    positions[i] = (positions[i] as number) + (lift[(i - (i % 3)) / 3] as number) * (normals[i] as number);
  }
  return { positions, indices: mesh.indices };
}

function wave(at: Float64Array, lift: Float64Array, p: EarParameters, seed: number): void {
  if (p.waviness <= 0) return;
  const field = fieldOf(seed ^ 0x77c1);
  for (let i = 0; i < lift.length; i++) {
    const [x, y, z] = pointAt(at, i);
    // A lattice field of this kind has sd 0.29.
    lift[i] = (lift[i] as number) + (p.waviness / 0.29) * (0.95 * field(x / 4, y / 4, z / 4) + 0.3 * field(x / 1.7 + 40, y / 1.7, z / 1.7));
  }
}

/** Trapped air leaves pits, a void in the ear's skin film leaves bumps. Round, 0.4 to 1.1 mm across the top. */
function bubble(at: Float64Array, lift: Float64Array, p: EarParameters, seed: number): void {
  const random = seeded(seed, 31);
  for (let b = 0; b < p.bubbles; b++) {
    const c = pointAt(at, random.below(lift.length));
    const radius = random.between(0.45, 1.1);
    const height = radius * random.between(0.25, 0.5) * (random.next() < 0.65 ? -1 : 1);
    for (let i = 0; i < lift.length; i++) {
      const q = pointAt(at, i);
      const r2 = ((q[0] - c[0]) * (q[0] - c[0]) + (q[1] - c[1]) * (q[1] - c[1]) + (q[2] - c[2]) * (q[2] - c[2])) / (radius * radius);
      if (r2 < 1) lift[i] = (lift[i] as number) + height * (1 - r2) * (1 - r2);
    }
  }
}

/** Fold lines where fresh material met older: fine grooves along a wavy surface. */
function seam(at: Float64Array, lift: Float64Array, p: EarParameters, seed: number): void {
  const random = seeded(seed, 32);
  for (let s = 0; s < p.seams; s++) {
    const through = pointAt(at, random.below(lift.length));
    const n = [random.normal(), random.normal(), random.normal()] as const;
    const l = Math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]) || 1;
    const reach = random.between(6, 11);
    const depth = random.between(0.06, 0.16);
    const width = random.between(0.3, 0.5);
    const wavy = fieldOf(seed ^ (0x1000 + s));
    for (let i = 0; i < lift.length; i++) {
      const q = pointAt(at, i);
      const e = [q[0] - through[0], q[1] - through[1], q[2] - through[2]] as const;
      const far = Math.sqrt(e[0] * e[0] + e[1] * e[1] + e[2] * e[2]) / reach;
      if (far >= 1) continue;
      const off = (e[0] * n[0] + e[1] * n[1] + e[2] * n[2]) / l + 0.8 * wavy(0.3 * q[0], 0.3 * q[1], 0.3 * q[2]);
      const t = off / width;
      if (t * t < 1) lift[i] = (lift[i] as number) - depth * (1 - t * t) * (1 - t * t) * (1 - far * far);
    }
  }
}

/** Noise of the asked sd, shared among neighbours: a scanner's points are not independent, and its software smooths. */
function noise(mesh: Triangles, lift: Float64Array, p: EarParameters, seed: number): void {
  if (p.noise <= 0) return;
  const random = seeded(seed, 33);
  let field = new Float64Array(lift.length).map(() => random.normal());
  for (let turn = 0; turn < 4; turn++) field = shared(mesh.indices, field);
  let square = 0;
  for (const x of field) square += x * x;
  const scale = p.noise / Math.sqrt(square / field.length);
  for (let i = 0; i < lift.length; i++) lift[i] = (lift[i] as number) + scale * (field[i] as number);
}

/** Mean of each vertex's value and its neighbours'. */
function shared(t: Uint32Array, field: Float64Array): Float64Array<ArrayBuffer> {
  const sum = Float64Array.from(field);
  const many = new Float64Array(field.length).fill(1);
  for (let i = 0; i < t.length; i++) {
    const a = t[i] as number;
    sum[a] = (sum[a] as number) + (field[t[i % 3 === 2 ? i - 2 : i + 1] as number] as number);
    many[a] = (many[a] as number) + 1;
  }
  return sum.map((s, i) => s / (many[i] as number));
}

/** Patches where the scanner saw nothing: as many holes as asked, away from the base and from each other. */
export function punch(mesh: Triangles, rim: Plane<'ear'>, p: EarParameters, seed: number): Triangles {
  const random = seeded(seed, 34);
  const uneven = fieldOf(seed ^ 0x3aa3);
  let out = mesh;
  const centres: (readonly [number, number, number])[] = [];
  for (let turn = 0; turn < 400 && centres.length < p.holes; turn++) {
    const c = pointAt<'ear'>(out.positions, random.below(out.positions.length / 3));
    const radius = p.holeRadius * random.between(0.8, 1.25);
    const apart = (q: readonly [number, number, number]): number =>
      Math.sqrt((q[0] - c[0]) * (q[0] - c[0]) + (q[1] - c[1]) * (q[1] - c[1]) + (q[2] - c[2]) * (q[2] - c[2]));
    if (heightOver(rim, c) > -2.5 * radius || centres.some((q) => apart(q) < 5 * radius)) continue;
    const value = new Float64Array(out.positions.length / 3);
    for (let i = 0; i < value.length; i++) {
      const q = pointAt<'ear'>(out.positions, i);
      value[i] = radius * (1 + 0.25 * uneven(2 * q[0], 2 * q[1], 2 * q[2])) - apart(q);
    }
    out = largestPiece(keepBelow(out, value));
    centres.push(c);
  }
  return out;
}
