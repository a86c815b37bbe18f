/**
 * The way in as the document tells it, followed again from the scan's bytes and the JSON alone: own interpolation, own
 * distances (tests/support/recheck.ts), every vertex of the cast, steps of at most 0.1 mm.
 */
import { beforeAll, describe, expect, test } from 'vitest';
import { check, readScan, verdictDocument } from '../../src/engine/index.ts';
import { encodeStl } from '../../src/synth/index.ts';
import { distanceTo, readTriangles } from '../support/recheck.ts';
import { sampleBytes } from '../support/samples.ts';

type V = [number, number, number];
type Q = [number, number, number, number];
interface PoseJson {
  readonly position: V;
  readonly quaternion: Q;
}
interface PrimitiveJson extends PoseJson {
  readonly shape: 'box' | 'cylinder' | 'capsule';
  readonly size: V;
  readonly kind: 'solid' | 'service';
}
interface StyleJson {
  readonly style: string;
  readonly verdict: string;
  readonly cuts: readonly { readonly name: string; readonly point: V; readonly normal: V }[];
  readonly parts: readonly { readonly id: string; readonly primitives: readonly PrimitiveJson[] }[];
  readonly assembly: {
    readonly order: readonly (readonly string[])[];
    readonly least: number;
    readonly moves: readonly { readonly parts: readonly { readonly id: string; readonly poses: readonly PoseJson[] }[] }[];
  } | null;
}

const times = (a: Q, b: Q): Q => [
  a[3] * b[0] + a[0] * b[3] + a[1] * b[2] - a[2] * b[1],
  a[3] * b[1] - a[0] * b[2] + a[1] * b[3] + a[2] * b[0],
  a[3] * b[2] + a[0] * b[1] - a[1] * b[0] + a[2] * b[3],
  a[3] * b[3] - a[0] * b[0] - a[1] * b[1] - a[2] * b[2],
];
const back = (q: Q): Q => [-q[0], -q[1], -q[2], q[3]];
const turned = (q: Q, v: V): V => times(times(q, [...v, 0]), back(q)).slice(0, 3) as V;
const minus = (a: V, b: V): V => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const plus = (a: V, b: V): V => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
const dot = (a: V, b: V): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

/** A pose between two, by the angle between the turns: what the straight mixture of quaternions comes to, near enough. */
function between(a: PoseJson, b: PoseJson, t: number): PoseJson {
  const cos = a.quaternion.reduce((s, x, k) => s + x * (b.quaternion[k] as number), 0);
  const q = (cos < 0 ? b.quaternion.map((x) => -x) : b.quaternion) as Q;
  const mixed = a.quaternion.map((x, k) => (1 - t) * x + t * (q[k] as number));
  const l = Math.hypot(...mixed);
  return {
    position: a.position.map((x, k) => (1 - t) * x + t * (b.position[k] as number)) as V,
    quaternion: mixed.map((x) => x / l) as Q,
  };
}

/** Corners, middles of sides and faces, and the centre: enough to see one box or cylinder enter another. */
function marks(p: PrimitiveJson): V[] {
  const out: V[] = [];
  for (const a of [-1, -0.5, 0, 0.5, 1])
    for (const b of [-1, -0.5, 0, 0.5, 1])
      for (const c of [-1, -0.5, 0, 0.5, 1]) {
        const f = p.shape === 'box' || Math.hypot(a, b) <= 1 ? 1 : 1 / Math.hypot(a, b);
        out.push(plus(p.position, turned(p.quaternion, [(f * a * p.size[0]) / 2, (f * b * p.size[1]) / 2, (c * p.size[2]) / 2])));
      }
  return out;
}

describe.each(['qb-102-left-average.stl', 'qb-101-right-wide-straight.stl'])('%s', (file) => {
  let styles: StyleJson[];
  let cast: Float64Array;
  let wall = 0;
  beforeAll(async () => {
    const result = await check({ bytes: sampleBytes(file), name: file, styles: ['IIC', 'ITC'] });
    const document = JSON.parse(JSON.stringify(verdictDocument(result)));
    styles = document.styles;
    wall = document.rules.wall;
    cast = readTriangles(encodeStl(readScan(sampleBytes(file), file).mesh));
  });

  test('every fit has a way in that holds when followed again', () => {
    const fits = styles.filter((s) => s.verdict === 'fits');
    expect(fits.length).toBeGreaterThan(0);
    for (const style of fits) {
      const { assembly } = style;
      expect(assembly?.order.flat().sort(), style.style).toEqual(style.parts.map((p) => p.id).sort());
      expect(assembly?.least).toBeGreaterThanOrEqual(-0.001);
      const held = follow(style, cast);
      expect(held.outside, `${style.style}: begins outside`).toBe(true);
      expect(held.wall, `${style.style}: least to the cast`).toBeGreaterThan(wall - 0.002);
      expect(held.parts, `${style.style}: least between parts`).toBeGreaterThan(-0.002);
    }
  });
});

test('this check sees a way that was bent into the wall', () => {
  const cast = Float64Array.from(WALLS.flat(2));
  const way = (x: number): PoseJson[] => [0, 1, 2].map((k) => ({ position: [k === 1 ? x : 0, 0, 8 - 7 * k], quaternion: [0, 0, 0, 1] }));
  const style = (x: number): StyleJson => ({
    style: 'IIC',
    verdict: 'fits',
    cuts: [{ name: 'outer', point: [0, 0, 5], normal: [0, 0, 1] }],
    parts: [{ id: 'chip', primitives: [{ ...(way(x)[2] as PoseJson), shape: 'box', size: [1, 1, 1], kind: 'solid' }] }],
    assembly: { order: [['chip']], least: 0, moves: [{ parts: [{ id: 'chip', poses: way(x) }] }] },
  });
  expect(follow(style(0), cast).wall).toBeCloseTo(2.5, 9);
  expect(follow(style(1.5), cast).wall).toBeCloseTo(1, 1);
});
/** Dots of two walls, x = -3 and x = 3, as triangles without area. */
const WALLS = [-3, 3].flatMap((x) =>
  Array.from({ length: 1000 }, (_, k) => [0, 1, 2].map(() => [x, (k % 10) / 5 - 1, Math.floor(k / 10) / 8 - 7.5])),
);

/** Least distance of anything that moves to the cast behind the cuts and to what is in. */
function follow(style: StyleJson, cast: Float64Array): { outside: boolean; wall: number; parts: number } {
  const outer = style.cuts.find((c) => c.name === 'outer') as StyleJson['cuts'][number];
  const over = (q: V): number => dot(outer.normal, minus(q, outer.point));
  const points: V[] = [];
  for (let k = 0; k < cast.length; k += 3) {
    const q = cast.slice(k, k + 3) as unknown as V;
    if (style.cuts.every((c) => dot(c.normal, minus(q, c.point)) <= 0)) points.push(q);
  }
  const inside: PrimitiveJson[] = [];
  const found = { outside: true, wall: Infinity, parts: Infinity };
  for (const move of style.assembly?.moves ?? []) {
    const steps = move.parts[0]?.poses.length ?? 0;
    for (let k = 0; k + 1 < steps; k++) {
      const far = Math.max(
        ...move.parts.map((p) => {
          const [a, b] = [p.poses[k] as PoseJson, p.poses[k + 1] as PoseJson];
          return (
            Math.hypot(...minus(a.position, b.position)) +
            20 * Math.min(1, Math.hypot(...a.quaternion.map((x, i) => x - (b.quaternion[i] as number))))
          );
        }),
      );
      const n = Math.ceil(far / 0.1);
      for (let s = 0; s <= n; s++) {
        const placed = move.parts.flatMap((p) =>
          primitivesAt(style, p.id, p.poses, between(p.poses[k] as PoseJson, p.poses[k + 1] as PoseJson, s / n)),
        );
        if (k === 0 && s === 0 && placed.some((p) => marks(p).some((q) => over(q) < 0))) found.outside = false;
        for (const p of placed) measure(p, points, inside, over, found);
      }
    }
    inside.push(...move.parts.flatMap((p) => style.parts.find((x) => x.id === p.id)?.primitives ?? []));
  }
  return found;
}

function primitivesAt(style: StyleJson, id: string, poses: readonly PoseJson[], now: PoseJson): PrimitiveJson[] {
  const home = poses.at(-1) as PoseJson;
  return (style.parts.find((p) => p.id === id)?.primitives ?? [])
    .filter((p) => p.kind === 'solid')
    .map((p) => ({
      ...p,
      position: plus(now.position, turned(now.quaternion, turned(back(home.quaternion), minus(p.position, home.position)))),
      quaternion: times(now.quaternion, times(back(home.quaternion), p.quaternion)),
    }));
}

function measure(
  p: PrimitiveJson,
  points: readonly V[],
  inside: readonly PrimitiveJson[],
  over: (q: V) => number,
  found: { wall: number; parts: number },
): void {
  const on = marks(p);
  const radius = Math.hypot(...p.size) / 2;
  if (Math.min(...on.map(over)) < 0) {
    for (const q of points) {
      const [x, y, z] = minus(q, p.position);
      if (x * x + y * y + z * z < (radius + found.wall) ** 2) found.wall = Math.min(found.wall, distanceTo(p, q));
    }
  }
  for (const other of inside) {
    if (Math.hypot(...minus(other.position, p.position)) > radius + Math.hypot(...other.size) / 2) continue;
    for (const q of on) found.parts = Math.min(found.parts, distanceTo(other, q));
    for (const q of marks(other)) found.parts = Math.min(found.parts, distanceTo(p, q));
  }
}
