/** How the scene stands while parts go in: the shell open at its outer cut, the faceplate by itself, and where each thing is. */
import type { Object3D } from 'three';
import type { Mesh } from '../geometry/mesh.ts';
import { conjugate, multiply, rotate, unitQuat } from '../geometry/rotation.ts';
import { addScaled, type Pose, pointAt, pt, sub } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { Shaded } from './shade.ts';

/** The motion (ear frame) that takes a thing from its place to where it is now, or that it is not to be seen yet. */
export type Stand = Pose<'ear'> | 'away';

export interface OnTheWay {
  /** The body without the face of its outer cut. */
  readonly shell: Shaded;
  /** The edge of its opening: pairs of points. */
  readonly rim: Float32Array<ArrayBuffer>;
  /** What closes it, in its place, and where that is now. */
  readonly plate: { readonly shape: Shaded; readonly stand: Stand } | undefined;
  /** By id. A part that is not listed is in its place. */
  readonly parts: ReadonlyMap<string, Stand>;
}

/** The motion that takes something from the pose `from` to the pose `to`. */
export function motionBetween(from: Pose<'ear'>, to: Pose<'ear'>): Pose<'ear'> {
  const quaternion = unitQuat(multiply(to.quaternion, conjugate(from.quaternion)));
  const [x, y, z] = rotate(quaternion, from.position);
  return { position: sub(to.position, pt<'ear'>(x, y, z)), quaternion };
}

/** Puts an object that was made in its place where it is now. */
export function stand(object: Object3D, where: Stand | undefined): void {
  object.visible = where !== 'away';
  if (where === undefined || where === 'away') {
    object.position.set(0, 0, 0);
    object.quaternion.identity();
    return;
  }
  const [x, y, z] = where.position;
  object.position.set(x, y, z);
  object.quaternion.set(...where.quaternion);
}

/** The triangles of a body that lie on its outer cut, or those that do not. */
function facesOf({ mesh, face, cuts }: Body, lid: boolean): Uint32Array {
  const outer = cuts.findIndex((c) => c.name === 'outer') + 1;
  const onLid = (f: number): boolean => outer > 0 && face[f] === outer;
  return mesh.indices.filter((_, corner) => onLid(Math.floor(corner / 3)) === lid);
}

/** The body without the face of its outer cut: what the parts go into. */
export const openShell = (body: Body): Mesh<'ear'> => ({ ...body.mesh, indices: facesOf(body, false) });

/** The faceplate as a closed slab: the face of the outer cut, `thick` mm deep inwards. Undefined where there is no such face. */
export function plateOf(body: Body, thick: number): Mesh<'ear'> | undefined {
  const plane = body.cuts.find((c) => c.name === 'outer')?.plane;
  const lid = facesOf(body, true);
  if (!plane || lid.length === 0) return undefined;
  const number = new Map<number, number>();
  for (const v of lid) if (!number.has(v)) number.set(v, number.size);
  const n = number.size;
  const positions = new Float64Array(6 * n);
  for (const [v, k] of number) {
    const p = pointAt<'ear'>(body.mesh.positions, v);
    positions.set(p, 3 * k);
    positions.set(addScaled(p, plane.normal, -thick), 3 * (n + k));
  }
  const front = Array.from(lid, (v) => number.get(v) as number);
  const back = front.map((_, i) => n + (front[i % 3 === 0 ? i : i % 3 === 1 ? i + 1 : i - 1] as number));
  const sides = rimOf(front).flatMap(([a, b]) => [b, a, n + a, b, n + a, n + b]);
  return { frame: 'ear', positions, indices: Uint32Array.from([...front, ...back, ...sides]) };
}

/** The edge of the opening at the outer cut: pairs of points, for drawing. */
export const openingOf = (body: Body): Float32Array<ArrayBuffer> =>
  Float32Array.from(rimOf(facesOf(body, true)).flatMap((ends) => ends.flatMap((v) => [...pointAt(body.mesh.positions, v)])));

/** Edges that only one triangle has, in its direction. */
function rimOf(indices: ArrayLike<number>): [number, number][] {
  const rim = new Map<string, [number, number]>();
  for (let i = 0; i < indices.length; i++) {
    const a = indices[i] as number;
    const b = indices[i % 3 === 2 ? i - 2 : i + 1] as number;
    if (!rim.delete(`${b},${a}`)) rim.set(`${a},${b}`, [a, b]);
  }
  return [...rim.values()];
}
