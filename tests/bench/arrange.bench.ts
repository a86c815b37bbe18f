/**
 * How many arrangements a second can be evaluated: by the field as the search does it, and the same clearances (the same
 * sample points, the same pairs) asked of triangle meshes through three-mesh-bvh. Also the field itself and whole
 * searches. Prints; asserts nothing about time. Checksums are taken outside the timed loops.
 */
import { BoxGeometry, BufferAttribute, BufferGeometry, CylinderGeometry, Matrix4, Quaternion, Vector3 } from 'three';
import { MeshBVH } from 'three-mesh-bvh';
import { expect, test } from 'vitest';
import { borderRows, pairRows, wallRows } from '../../src/arrange/contacts.ts';
import { Exact } from '../../src/arrange/exact.ts';
import { arrangeKit } from '../../src/arrange/index.ts';
import { type Model, modelOf, type PartModel } from '../../src/arrange/model.ts';
import { Rows } from '../../src/arrange/rows.ts';
import { sampledWall } from '../../src/arrange/sampling.ts';
import { newState, newWorld, placeAll, poseOf, type State, setPose, type World } from '../../src/arrange/state.ts';
import { seeded } from '../../src/geometry/random.ts';
import { multiply, unitQuat } from '../../src/geometry/rotation.ts';
import { pt } from '../../src/geometry/vec.ts';
import type { Primitive } from '../../src/model/parts.ts';
import { kitFor, styleNamed } from '../../src/parts/index.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { bodyOf, canal, USUAL } from '../support/rooms.ts';

const ORDER = { receiver: 'small', microphones: 1, pushButton: false, volumeWheel: false, telecoil: false, radio: false } as const;
const TRIANGLES = 150_000;
const ARRANGEMENTS = 400;

const median = (a: readonly number[]): number => [...a].sort((x, y) => x - y)[a.length >> 1] as number;
const timed = (work: () => void): number => {
  const t = performance.now();
  work();
  return performance.now() - t;
};
const line = (text: string): void => {
  process.stdout.write(`${text}\n`);
};

test('evaluations of arrangements, field against meshes', () => {
  const cast = canal(1.3, TRIANGLES);
  line(`\ncast ${cast.indices.length / 3} triangles, node ${process.version}, ${process.arch}`);
  line(`field: median of 5 ${median(Array.from({ length: 5 }, () => timed(() => measureCast(cast)))).toFixed(0)} ms`);
  const body = bodyOf(cast, { point: pt(0, 0, -1), normal: pt(0, 0, 1) }, { point: pt(0.4, 0.3, -12), normal: pt(0, 0, -1) }, pt(0, 0, -6));
  const room = carveRoom(measureCast(cast), body, USUAL);
  const result = kitFor(styleNamed('IIC'), ORDER, USUAL);
  if (result.kind !== 'kit') throw new Error(result.text);
  const { kit } = result;
  const m = modelOf(room, kit);
  const w = newWorld(m);
  const states = statesNear(m, arrangeKit(room, kit, { seed: 1, effort: 'quick' }).best?.poses ?? []);

  let sum = 0;
  const bySamples = median(
    rates(
      5,
      () => {
        sum = states.reduce((s, x) => s + sampled(m, x, w), 0);
      },
      states.length,
    ),
  );
  line(`field, sample points and pairs:        ${bySamples.toFixed(0)} evaluations/s, checksum ${sum.toFixed(3)}`);
  const rows = new Rows();
  const byRows = median(
    rates(
      5,
      () => {
        sum = states.reduce((s, x) => s + withRows(m, x, w, rows), 0);
      },
      states.length,
    ),
  );
  line(`field, with slopes of close clearances: ${byRows.toFixed(0)} evaluations/s, checksum ${sum.toFixed(3)}`);
  const exact = new Exact(m);
  const all = m.parts.map((_, p) => p);
  const byExact = median(
    rates(
      5,
      () => {
        sum = states.reduce((s, x) => {
          placeAll(m, x, w);
          return s + exact.spare(w, all);
        }, 0);
      },
      states.length,
    ),
  );
  line(`exact distances, pruned:                ${byExact.toFixed(0)} evaluations/s, checksum ${sum.toFixed(3)}`);

  const direct = directOf(m, cast.positions, cast.indices);
  const few = states.slice(0, 20);
  const byMesh = median(
    rates(
      3,
      () => {
        sum = few.reduce((s, x) => s + direct(x, w), 0);
      },
      few.length,
    ),
  );
  line(`meshes, three-mesh-bvh, ${few.length} of them:      ${byMesh.toFixed(1)} evaluations/s, checksum ${sum.toFixed(3)}`);
  line(`the same ${few.length} by the field: checksum ${few.reduce((s, x) => s + sampled(m, x, w), 0).toFixed(3)}`);
  line(`ratio: ${(bySamples / byMesh).toFixed(0)} (with slopes ${(byRows / byMesh).toFixed(0)}, exact ${(byExact / byMesh).toFixed(0)})`);
  expect(Number.isFinite(sum)).toBe(true);
});

test('whole searches', () => {
  const cast = canal(1.3, 40_000);
  const field = measureCast(cast);
  for (const [style, top, bottom, wishes] of [
    ['IIC', -1, -12, {}],
    ['ITC', 4, -11, { pushButton: true }],
    ['HS', 7, -10, { microphones: 2, pushButton: true }],
    ['ITE', 9, -10, { microphones: 2, pushButton: true, telecoil: true, volumeWheel: true }],
  ] as const) {
    const room = carveRoom(
      field,
      bodyOf(
        cast,
        { point: pt(0, 0, top), normal: pt(0, 0, 1) },
        { point: pt(0.4, 0.3, bottom), normal: pt(0, 0, -1) },
        pt(0, 0, (top + bottom) / 2),
      ),
      USUAL,
    );
    const result = kitFor(styleNamed(style), { ...ORDER, ...wishes }, USUAL);
    if (result.kind !== 'kit') throw new Error(result.text);
    const spares: number[] = [];
    const times = [1, 2, 3, 4, 5].map((seed) =>
      timed(() => spares.push(arrangeKit(room, result.kit, { seed, effort: 'normal' }).best?.spare ?? Number.NaN)),
    );
    line(
      `${style}, ${result.kit.parts.length} parts, normal: median ${median(times).toFixed(0)} ms, spare ${spares.map((s) => s.toFixed(4)).join(' ')}`,
    );
  }
});

function rates(times: number, work: () => void, many: number): number[] {
  work();
  return Array.from({ length: times }, () => (1000 * many) / timed(work));
}

/** Arrangements about a good one: what a search looks at. */
function statesNear(m: Model, poses: readonly ReturnType<typeof poseOf>[]): State[] {
  const random = seeded(5);
  return Array.from({ length: ARRANGEMENTS }, () => {
    const s = newState(m);
    poses.forEach((p, k) => {
      const e = (size: number): number => random.between(-size, size);
      const position = pt<'ear'>(p.position[0] + e(0.4), p.position[1] + e(0.4), p.position[2] + e(0.4));
      setPose(m, s, k, { position, quaternion: unitQuat(multiply([e(0.1), e(0.1), e(0.1), 1], p.quaternion)) });
    });
    return s;
  });
}

/** Every pair's and every sample point's clearance, least spare. */
function sampled(m: Model, s: State, w: World): number {
  placeAll(m, s, w);
  let least = Infinity;
  none.clear();
  for (let p = 0; p < m.parts.length; p++) {
    least = Math.min(
      least,
      sampledWall(m, (m.parts[p] as PartModel).coarse, w.frame, 12 * p),
      borderRows(m, w, p, -Infinity, 0, true, none),
    );
    for (let q = 0; q < p; q++) least = Math.min(least, pairRows(m, w, q, p, 0.5, 0, true, none));
  }
  return least;
}
const none = new Rows();

function withRows(m: Model, s: State, w: World, rows: Rows): number {
  placeAll(m, s, w);
  rows.clear();
  let least = Infinity;
  for (let p = 0; p < m.parts.length; p++) {
    least = Math.min(least, wallRows(m, w, p, false, 0.3, rows), borderRows(m, w, p, 0.3, 0, true, rows));
    for (let q = 0; q < p; q++) least = Math.min(least, pairRows(m, w, q, p, 0.5, 0, true, rows));
  }
  return least;
}

/** The same clearances asked of meshes: sample points to the cast (sign by the nearest face), part meshes to part meshes. */
function directOf(m: Model, positions: Float64Array, indices: Uint32Array): (s: State, w: World) => number {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(positions), 3));
  geometry.setIndex(new BufferAttribute(indices.slice(), 1));
  const bvh = new MeshBVH(geometry);
  const parts = m.parts.map((p) => p.part.primitives.map((q) => solidMesh(q)));
  const point = new Vector3();
  return (s, w) => {
    placeAll(m, s, w);
    let least = Infinity;
    m.parts.forEach((part, p) => {
      const f = w.frame.subarray(12 * p, 12 * p + 12) as unknown as number[];
      const { at, asked, count } = part.coarse;
      for (let k = 0; k < count; k++) {
        const [x, y, z] = at.subarray(3 * k, 3 * k + 3) as unknown as [number, number, number];
        const c = (r: number): number =>
          (f[3 * r] as number) * x + (f[3 * r + 1] as number) * y + (f[3 * r + 2] as number) * z + (f[9 + r] as number);
        point.set(c(0), c(1), c(2));
        const near = bvh.closestPointToPoint(point);
        if (near) least = Math.min(least, signed(geometry, near.faceIndex, near.point, point) - (asked[k] as number));
      }
      for (let q = 0; q < p; q++) least = Math.min(least, between(m, s, parts, q, p));
    });
    return least;
  };
}

const corner = [new Vector3(), new Vector3(), new Vector3()] as const;
function signed(g: BufferGeometry, face: number, near: Vector3, p: Vector3): number {
  const index = g.getIndex() as BufferAttribute;
  const at = g.getAttribute('position') as BufferAttribute;
  for (let k = 0; k < 3; k++) (corner[k] as Vector3).fromBufferAttribute(at, index.getX(3 * face + k));
  const [a, b, c] = corner;
  const normal = b.clone().sub(a).cross(c.clone().sub(a));
  // Beside an edge or a vertex the nearest face may face away from an inside point: only a clear answer counts as outside.
  return near.distanceTo(p) * (p.clone().sub(near).normalize().dot(normal.normalize()) > 0.3 ? -1 : 1);
}

interface Meshed {
  readonly geometry: BufferGeometry;
  readonly bvh: MeshBVH;
}
function solidMesh(p: Primitive): Meshed {
  const [x, y, z] = p.size;
  const geometry = p.shape === 'box' ? new BoxGeometry(x, y, z) : new CylinderGeometry(x / 2, x / 2, z, 32).rotateX(Math.PI / 2);
  geometry.applyMatrix4(new Matrix4().compose(new Vector3(...p.position), new Quaternion(...p.quaternion), new Vector3(1, 1, 1)));
  return { geometry, bvh: new MeshBVH(geometry) };
}

function between(m: Model, s: State, parts: readonly (readonly Meshed[])[], q: number, p: number): number {
  const matrix = (k: number): Matrix4 => {
    const pose = poseOf(m, s, k);
    return new Matrix4().compose(new Vector3(...pose.position), new Quaternion(...pose.quaternion), new Vector3(1, 1, 1));
  };
  const relative = matrix(q).invert().multiply(matrix(p));
  const asked = m.room.rules.partGap + (m.parts[p] as PartModel).part.margin + (m.parts[q] as PartModel).part.margin;
  let least = Infinity;
  for (const a of parts[q] as readonly Meshed[]) {
    for (const b of parts[p] as readonly Meshed[]) {
      const near = a.bvh.closestPointToGeometry(b.geometry, relative);
      if (near) least = Math.min(least, near.distance - asked);
    }
  }
  return least;
}
