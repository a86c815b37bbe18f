/**
 * Rooms built round a known arrangement: a canal too narrow for the parts, united with every part grown by what the
 * rules ask of it and some slack. The planted arrangement then has (nearly) that slack to spare, and the room hardly
 * anything beside it.
 */
import { type Kernel, withArena } from '../../src/geometry/kernel.ts';
import type { Mesh } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { compose, place, quatBetween, quatFromAxes, rotate } from '../../src/geometry/rotation.ts';
import { cross, distance, normalize, type Pose, pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { Body } from '../../src/model/fit.ts';
import type { Kit, Part, Primitive, Rules } from '../../src/model/parts.ts';
import { topAlong } from '../../src/room/convex.ts';
import { pairGap, posedSolids, type Solids } from '../../src/room/index.ts';
import { bodyOf, canal, USUAL } from './rooms.ts';

export interface Planted {
  readonly body: Body;
  readonly cast: Mesh<'ear'>;
  readonly poses: readonly Pose<'ear'>[];
}

/** Tries to plant `kit`; undefined where chance finds no place for some part in 4000 draws. */
export function plant(
  kernel: Kernel,
  kit: Kit,
  seed: number,
  slack: number,
  size: number,
  cuts: readonly [outer: number, tip: number],
): Planted | undefined {
  const random = seeded(seed, 77);
  const tube = canal(size, 12_000, 0.02);
  const [top, bottom] = cuts;
  const middle = (z: number): Vec3 => centreAt(tube, z);
  const tip = middle(bottom);
  const a = middle(bottom + 1);
  const b = middle(bottom - 1);
  const tangent = normalize(pt<'ear'>(b[0] - a[0], b[1] - a[1], b[2] - a[2]));
  const poses: Pose<'ear'>[] = [];
  const solids: Solids[] = [];
  for (const part of kit.parts) {
    const found = draw(part, random, kit, poses, solids, { top, bottom, middle, tip, tangent });
    if (!found) return undefined;
    poses.push(found);
    solids.push(posedSolids(part.primitives, found));
  }
  const cast = unite(kernel, tube, kit, poses, slack);
  const body = bodyOf(
    cast,
    { point: pt(0, 0, top), normal: pt(0, 0, 1) },
    { point: pt(...tip), normal: tangent },
    pt(...middle((top + bottom) / 2)),
  );
  return { body, cast, poses };
}

interface Where {
  readonly top: number;
  readonly bottom: number;
  readonly middle: (z: number) => Vec3;
  readonly tip: Vec3;
  readonly tangent: Vec3;
}

/** A pose at the part's seat, 0.3 mm clearer of the parts before it and of the cuts than asked, near the canal's middle. */
function draw(
  part: Part,
  random: ReturnType<typeof seeded>,
  kit: Kit,
  poses: readonly Pose<'ear'>[],
  solids: readonly Solids[],
  at: Where,
): Pose<'ear'> | undefined {
  for (let k = 0; k < 4000; k++) {
    const pose = drawOne(part, random, at);
    const s = posedSolids(part.primitives, pose);
    if (!withinCuts(part, s, at)) continue;
    const clear = solids.every((o, q) => {
      const asked = USUAL.partGap + part.margin + (kit.parts[q] as Part).margin + 0.3;
      for (let i = 0; i < s.count; i++) for (let j = 0; j < o.count; j++) if (pairGap(s, i, o, j) < asked) return false;
      return true;
    });
    if (clear && portsHold(kit, part, pose, poses)) return pose;
  }
  return undefined;
}

function drawOne(part: Part, random: ReturnType<typeof seeded>, at: Where): Pose<'ear'> {
  const spread = (r: number): number => random.between(-r, r);
  if (part.seat.at === 'faceplate') {
    const c = at.middle(at.top);
    const angle = random.between(0, 2 * Math.PI);
    const x: Vec3 = [Math.cos(angle), Math.sin(angle), 0];
    return {
      position: pt(c[0] + spread(4.5), c[1] + spread(5.5), at.top - USUAL.faceplate),
      quaternion: quatFromAxes(x, cross([0, 0, 1] as Vec3, x), [0, 0, 1]),
    };
  }
  const turn = rotate(quatBetween([0, 0, 1], normalize([spread(1), spread(1), spread(1)] as Vec3)), [0, 0, 1]) as Vec3;
  if (part.seat.at === 'tip') {
    const axis = normalize([at.tangent[0] + spread(0.35), at.tangent[1] + spread(0.35), at.tangent[2] + spread(0.35)] as Vec3);
    const q = quatBetween([0, 0, 1], axis);
    const roll = random.between(0, 2 * Math.PI);
    const x = rotate(q, [Math.cos(roll), Math.sin(roll), 0]) as Vec3;
    const quaternion = quatFromAxes(x, cross(axis, x), axis);
    const spout = rotate(quaternion, part.seat.spout);
    const p: Vec3 = [at.tip[0] + spread(1) - spout[0], at.tip[1] + spread(1) - spout[1], at.tip[2] + random.between(0, 2) - spout[2]];
    return { position: pt(...p), quaternion };
  }
  const z = random.between(at.bottom + 1, at.top - 1);
  const c = at.middle(z);
  const q = quatBetween([0, 0, 1], turn);
  const roll = random.between(0, 2 * Math.PI);
  const x = rotate(q, [Math.cos(roll), Math.sin(roll), 0]) as Vec3;
  return { position: pt(c[0] + spread(3), c[1] + spread(3), z), quaternion: quatFromAxes(x, cross(turn, x), turn) };
}

function withinCuts(part: Part, s: Solids, at: Where): boolean {
  for (let i = 0; i < s.count; i++) {
    if (part.primitives[i]?.kind === 'service') continue; // may pass an opening
    const asked = USUAL.wall + USUAL.gap + part.margin + 0.3;
    if (
      topAlong(s, i, at.tangent[0], at.tangent[1], at.tangent[2]) >
      at.tip[0] * at.tangent[0] + at.tip[1] * at.tangent[1] + at.tip[2] * at.tangent[2] - asked
    )
      return false;
    if (part.seat.at !== 'faceplate' && topAlong(s, i, 0, 0, 1) > at.top - USUAL.faceplate - USUAL.gap - part.margin - 0.3) return false;
  }
  return true;
}

function portsHold(kit: Kit, part: Part, pose: Pose<'ear'>, poses: readonly Pose<'ear'>[]): boolean {
  return kit.pairRules.every((r) => {
    if (part.id !== r.front && part.id !== r.rear) return true;
    const other = kit.parts.findIndex((p) => p.id === (part.id === r.front ? r.rear : r.front));
    const o = poses[other];
    if (!o) return true;
    const [f, b] = part.id === r.front ? [pose.position, o.position] : [o.position, pose.position];
    const d = distance(f, b);
    return d >= r.least + 0.2 && d <= r.most - 0.2 && f[0] > b[0] + 0.1 && Math.abs(f[1] - b[1]) <= Math.sin(r.tilt) * d * 0.95;
  });
}

/** The tube and every part grown by what it asks of the wall and the slack, one solid. */
function unite(kernel: Kernel, tube: Mesh<'ear'>, kit: Kit, poses: readonly Pose<'ear'>[], slack: number): Mesh<'ear'> {
  return withArena((arena) => {
    const { Manifold } = kernel.wasm;
    let whole = kernel.toManifold(tube, arena);
    kit.parts.forEach((part, p) => {
      for (const prim of part.primitives) {
        const grown = slack + (prim.kind === 'solid' ? USUAL.wall + USUAL.gap + part.margin : 0);
        const points = hullPoints(prim, compose(poses[p] as Pose<'ear'>, prim), grown);
        const lump = arena.keep(Manifold.hull(points));
        whole = arena.keep(Manifold.union(whole, lump));
      }
    });
    return kernel.fromManifold(whole, 'ear').mesh;
  });
}

/** Points whose hull is the primitive grown by r all round, from outside within about 0.003 mm. */
function hullPoints(prim: Primitive, pose: Pose<'ear'>, r: number): [number, number, number][] {
  const out: [number, number, number][] = [];
  const n = 1400;
  for (let k = 0; k < n; k++) {
    const z = 1 - (2 * k + 1) / n;
    const s = Math.sqrt(1 - z * z);
    const t = k * Math.PI * (3 - Math.sqrt(5));
    const u: Vec3 = [s * Math.cos(t), s * Math.sin(t), z];
    const [a, b, c] = prim.size;
    // Slightly larger, so that flats between the points stay outside the true surface.
    const g = r * 1.002 + 0.001;
    let p: Vec3;
    if (prim.shape === 'box') p = [(Math.sign(u[0]) * a) / 2, (Math.sign(u[1]) * b) / 2, (Math.sign(u[2]) * c) / 2];
    else if (prim.shape === 'cylinder') p = [(u[0] / s) * (a / 2), (u[1] / s) * (a / 2), (Math.sign(u[2]) * c) / 2];
    else p = [0, 0, (Math.sign(u[2]) * (c - a)) / 2];
    const own = prim.shape === 'capsule' ? a / 2 : 0;
    const w = place(pose, [p[0] + (g + own) * u[0], p[1] + (g + own) * u[1], p[2] + (g + own) * u[2]]);
    out.push([w[0], w[1], w[2]]);
  }
  return out;
}

function centreAt(mesh: Mesh<'ear'>, z: number): Vec3 {
  let x = 0;
  let y = 0;
  let n = 0;
  for (let i = 0; i < mesh.positions.length; i += 3) {
    if (Math.abs((mesh.positions[i + 2] as number) - z) > 0.4) continue;
    x += mesh.positions[i] as number;
    y += mesh.positions[i + 1] as number;
    n++;
  }
  return [x / n, y / n, z];
}

export const rulesOfPlanted: Rules = USUAL;
