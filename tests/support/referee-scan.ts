/**
 * The referee's scan: raw triangles, cut by the document's planes, asked how far they are from a solid. No tree, no field, no repair:
 * the triangles as they are in the file, gathered in cubes so that the far ones can be passed over.
 */
import { add, addScaled, cross, distance, dot, lerp, scale, sub, type Vec3 } from '../../src/geometry/vec.ts';
import { type Bracket, type Cut, nearest, nearestBehind, over, reachOf, type Solid } from './referee-solids.ts';

export type Triangle = readonly [Vec3, Vec3, Vec3];

/** The triangles of a binary STL file, in its own coordinates. */
export function stlTriangles(bytes: Uint8Array): Triangle[] {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const n = view.getUint32(80, true);
  if (bytes.byteLength !== 84 + 50 * n) throw new Error(`not a binary STL file: ${bytes.byteLength} bytes for ${n} triangles`);
  return Array.from({ length: n }, (_, t) => {
    const corner = (k: number): Vec3 => {
      const o = 84 + 50 * t + 12 + 12 * k;
      return [view.getFloat32(o, true), view.getFloat32(o + 4, true), view.getFloat32(o + 8, true)];
    };
    return [corner(0), corner(1), corner(2)] as const;
  });
}

/** The triangles of an indexed mesh. */
export function meshTriangles({ positions, indices }: { positions: Float64Array; indices: Uint32Array }): Triangle[] {
  const corner = (i: number): Vec3 => {
    const o = 3 * (indices[i] as number);
    return [positions[o] as number, positions[o + 1] as number, positions[o + 2] as number];
  };
  return Array.from({ length: indices.length / 3 }, (_, t) => [corner(3 * t), corner(3 * t + 1), corner(3 * t + 2)] as const);
}

/**
 * Fans over the open edges, one for each ring or hole, from the middle of its corners. Only for telling inside from outside: nothing
 * is measured to them.
 */
export function lids(triangles: readonly Triangle[]): Triangle[] {
  const key = (p: Vec3): string => p.join();
  const open = new Map<string, readonly [Vec3, Vec3]>();
  for (const t of triangles) {
    for (let k = 0; k < 3; k++) {
      const a = t[k] as Vec3;
      const b = t[(k + 1) % 3] as Vec3;
      if (!open.delete(`${key(b)}|${key(a)}`)) open.set(`${key(a)}|${key(b)}`, [a, b]);
    }
  }
  const ring = new Map<string, Vec3[]>(); // the corners of the ring that a corner belongs to, shared by all of them
  for (const [a, b] of open.values()) {
    const one = ring.get(key(a)) ?? [a];
    const other = ring.get(key(b)) ?? [b];
    if (one !== other) one.push(...other);
    for (const p of one) ring.set(key(p), one);
  }
  const middle = new Map<Vec3[], Vec3>();
  for (const points of ring.values())
    if (!middle.has(points))
      middle.set(
        points,
        scale(
          points.reduce<Vec3>((s, p) => add(s, p), [0, 0, 0]),
          1 / points.length,
        ),
      );
  return [...open.values()].map(([a, b]) => [b, a, middle.get(ring.get(key(a)) as Vec3[]) as Vec3] as const);
}

/** How often closed triangles go round a point: 1 inside, 0 outside (van Oosterom and Strackee 1983). */
export function windingAt(triangles: readonly Triangle[], p: Vec3): number {
  let sum = 0;
  for (const t of triangles) {
    const a = sub(t[0], p);
    const b = sub(t[1], p);
    const c = sub(t[2], p);
    const [x, y, z] = [Math.sqrt(dot(a, a)), Math.sqrt(dot(b, b)), Math.sqrt(dot(c, c))];
    sum += Math.atan2(dot(a, cross(b, c)), x * y * z + dot(a, b) * z + dot(b, c) * x + dot(c, a) * y);
  }
  return sum / (2 * Math.PI);
}

/** What of a triangle lies behind all cuts, in triangles. */
export function clip(triangle: Triangle, cuts: readonly Cut[]): Triangle[] {
  let points: readonly Vec3[] = triangle;
  for (const cut of cuts) {
    const kept: Vec3[] = [];
    points.forEach((a, k) => {
      const b = points[(k + 1) % points.length] as Vec3;
      const [ha, hb] = [over(cut, a), over(cut, b)];
      if (ha <= 0) kept.push(a);
      if (ha <= 0 !== hb <= 0) kept.push(lerp(a, b, ha / (ha - hb)));
    });
    points = kept;
  }
  const first = points[0];
  return first ? points.slice(2).map((c, k) => [first, points[k + 1] as Vec3, c] as const) : [];
}

/** Triangles in cubes of 1.5 mm, each cube with a ball round what it holds. */
export interface Surface {
  readonly cubes: readonly { readonly at: Vec3; readonly radius: number; readonly triangles: readonly Triangle[] }[];
}

const SIDE = 1.5;

export function surfaceOf(triangles: readonly Triangle[]): Surface {
  const cubes = new Map<string, Triangle[]>();
  for (const t of triangles) {
    const key = middleOf(t)
      .map((x) => Math.floor(x / SIDE))
      .join();
    const list = cubes.get(key);
    if (list) list.push(t);
    else cubes.set(key, [t]);
  }
  return {
    cubes: [...cubes.values()].map((list) => {
      const at = scale(
        list.reduce<Vec3>((s, t) => add(s, middleOf(t)), [0, 0, 0]),
        1 / list.length,
      );
      const radius = Math.max(...list.map((t) => Math.max(...t.map((p) => distance(p, at)))));
      return { at, radius, triangles: list };
    }),
  };
}

const middleOf = ([a, b, c]: Triangle): Vec3 => scale(add(add(a, b), c), 1 / 3);

/** How finely a distance to the scan is worked out, mm: the referee's error where things stand. */
export const FINE = 1e-4;

/** How near a triangle can be to a solid whose point nearest to its middle is `off` away, at distance d, mm. */
const lowest = (t: Triangle, middle: Vec3, off: Vec3, d: number): number =>
  d + Math.min(dot(off, sub(t[0], middle)), dot(off, sub(t[1], middle)), dot(off, sub(t[2], middle))) / d;

/**
 * Distance of a solid from a surface. Each triangle is halved until the plane that parts the solid from its middle (they are convex:
 * everything of the triangle lies at least so far out as its lowest corner along that plane's normal) leaves no more than `fine` open.
 * @param upTo nothing at this distance or beyond is looked at, mm.
 * @param behind only what of the solid lies behind this cut counts.
 */
export function distanceTo(surface: Surface, solid: Solid, upTo = Infinity, behind?: Cut, fine = FINE): Bracket {
  let least = upTo;
  let most = Infinity;
  const look = (t: Triangle, halvings: number): void => {
    const middle = middleOf(t);
    let q: Vec3 | undefined = nearest(solid, middle);
    let off = sub(middle, q);
    let d = Math.sqrt(dot(off, off));
    const size = Math.max(distance(t[0], middle), distance(t[1], middle), distance(t[2], middle));
    if (d - size >= Math.min(most, upTo)) return;
    // What the whole solid leaves open is a bound for the part of it too, and cheap.
    if (behind && over(behind, q) > 0) {
      if (lowest(t, middle, off, d) >= Math.min(upTo, most - fine)) return;
      q = nearestBehind(solid, middle, behind);
      if (!q) return;
      off = sub(middle, q);
      d = Math.sqrt(dot(off, off));
    }
    most = Math.min(most, d);
    if (d < 1e-9) {
      least = 0;
      return;
    }
    const low = lowest(t, middle, off, d);
    if (low >= Math.min(upTo, most - fine) || halvings === 0) {
      least = Math.min(least, Math.max(0, low));
      return;
    }
    const [ab, bc, ca] = [lerp(t[0], t[1], 0.5), lerp(t[1], t[2], 0.5), lerp(t[2], t[0], 0.5)];
    for (const part of [
      [ab, bc, ca],
      [t[0], ab, ca],
      [t[1], bc, ab],
      [t[2], ca, bc],
    ] as const)
      look(part, halvings - 1);
  };
  const reach = reachOf(solid);
  const near = surface.cubes
    .filter((cube) => distance(cube.at, solid.at) - cube.radius - reach < upTo)
    .map((cube) => ({ cube, from: distance(nearest(solid, cube.at), cube.at) - cube.radius }))
    .filter(({ from }) => from < upTo)
    .sort((a, b) => a.from - b.from);
  for (const { cube, from } of near) {
    if (from >= most) break;
    for (const t of cube.triangles) look(t, 14);
    if (most === 0) break;
  }
  return { least: Math.min(least, most), most };
}

/** The closed rings in which a plane meets triangles, each a list of points on the plane. */
export function ringsOf(triangles: readonly Triangle[], cut: Cut): Vec3[][] {
  const next = new Map<string, { readonly to: string; readonly at: Vec3 }>();
  for (const t of triangles) {
    const h = t.map((p) => over(cut, p));
    if (h.every((x) => x > 0) || h.every((x) => x <= 0)) continue;
    const ends: { up: boolean; at: Vec3; key: string }[] = [];
    for (let k = 0; k < 3; k++) {
      const j = (k + 1) % 3;
      const [a, b, ha, hb] = [t[k] as Vec3, t[j] as Vec3, h[k] as number, h[j] as number];
      if (ha > 0 === hb > 0) continue;
      // The edge's own order, so that both of its triangles find the same point.
      const [p, q, hp, hq] = ha > 0 ? [a, b, ha, hb] : [b, a, hb, ha];
      ends.push({ up: hb > 0, at: lerp(p, q, hp / (hp - hq)), key: `${p.join()}|${q.join()}` });
    }
    const from = ends.find((e) => e.up);
    const to = ends.find((e) => !e.up);
    if (from && to) next.set(from.key, { to: to.key, at: from.at });
  }
  const rings: Vec3[][] = [];
  while (next.size > 0) {
    const [start] = next.keys();
    const ring: Vec3[] = [];
    let key = start as string;
    for (let step = next.get(key); step; step = next.get(key)) {
      ring.push(step.at);
      next.delete(key);
      key = step.to;
    }
    if (key === start) rings.push(ring);
  }
  return rings;
}

/** Signed area of a plane ring, mm2, and the middle of that area. */
export function middleOfRing(ring: readonly Vec3[], { point, normal }: Cut): { area: number; at: Vec3 } {
  let area = 0;
  let sum: Vec3 = [0, 0, 0];
  ring.forEach((a, k) => {
    const b = ring[(k + 1) % ring.length] as Vec3;
    const piece = dot(normal, cross(sub(a, point), sub(b, point))) / 2;
    area += piece;
    sum = addScaled(sum, add(sub(a, point), sub(b, point)), piece / 3);
  });
  return { area, at: addScaled(point, sum, 1 / area) };
}

/** Whether a plane ring goes round a point of its plane. */
export function goesRound(ring: readonly Vec3[], p: Vec3, normal: Vec3): boolean {
  let turned = 0;
  ring.forEach((q, k) => {
    const a = sub(q, p);
    const b = sub(ring[(k + 1) % ring.length] as Vec3, p);
    turned += Math.atan2(dot(normal, cross(a, b)), dot(a, b));
  });
  return Math.abs(turned) > Math.PI;
}
