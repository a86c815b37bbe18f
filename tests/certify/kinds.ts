/** One small certificate of each kind, with the body and the kit that it is about, and poses measured by other code than prover and checker. */
import { BASES, type Certificate, isSeated } from '../../src/certify/format.ts';
import { seeded } from '../../src/geometry/random.ts';
import { multiply, quatFromAxes, unitQuat } from '../../src/geometry/rotation.ts';
import { add, cross, heightOver, type Pose, pt, type Quat, scale } from '../../src/geometry/vec.ts';
import type { Body } from '../../src/model/fit.ts';
import type { Kit, Part, PortRule, Rules } from '../../src/model/parts.ts';
import { writeCertificate } from '../../src/prove/certificate.ts';
import { seatFaults } from '../../src/verify/seats.ts';
import { separation } from '../../src/verify/separation.ts';
import { Solid } from '../../src/verify/solid.ts';
import { Wall } from '../../src/verify/wall.ts';
import { ellipticTube, kitOf, part, primitive, RULES, torusTube } from '../support/bodies.ts';

export const cell = (d: number, h: number): Part =>
  part('cell', [primitive('cylinder', [d, d, h], { position: [0, 0, -d / 2], quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2] })], {
    at: 'faceplate',
  });
export const seatedBox = (id: string, x: number, y: number, z: number, off = 0): Part =>
  part(id, [primitive('box', [x, y, z], { position: [0, off, -z / 2] })], { at: 'faceplate' });
const round = part('wheel', [primitive('cylinder', [6, 6, 2.5], { position: [0, 0, -1.25] })], { at: 'faceplate' });
const free = (x: number, y: number, z: number): Part => part('chip', [primitive('box', [x, y, z])]);
const receiver = (size: readonly [number, number, number], spout: readonly [number, number, number], reach = 4, cone = 0.5): Part =>
  part('receiver', [primitive('box', [...size])], { at: 'tip', spout, reach, cone }, 0.1);
const ports: PortRule = { rule: 'ports', front: 'front', rear: 'rear', least: 5, most: 12, tilt: 0.35 };

export interface Kind {
  readonly name: string;
  readonly body: Body;
  readonly kit: Kit;
  /** What is claimed, mm: somewhat above the truth, so that the proofs are short. */
  readonly ceiling: number;
}

export const KINDS: readonly Kind[] = [
  { name: 'a cell in a straight tube', body: ellipticTube(8.8, 6.6, 14, 72, 30), kit: kitOf([cell(6.1, 3.9)]), ceiling: -0.3 },
  { name: 'a cell in a bent one', body: torusTube(11, 4, 0.9, 72, 40), kit: kitOf([cell(6.1, 3.9)]), ceiling: -0.15 },
  {
    name: 'a part to be looked at in every spin',
    body: ellipticTube(7.4, 7, 14, 60, 30),
    kit: kitOf([seatedBox('button', 4, 5, 3, 0.4)]),
    ceiling: -0.1,
  },
  { name: 'a round one', body: ellipticTube(7.2, 6.8, 14, 60, 30), kit: kitOf([round]), ceiling: -0.1 },
  { name: 'a free part', body: ellipticTube(5.4, 4.6, 8, 40, 16), kit: kitOf([free(5.4, 4.6, 4.2)]), ceiling: -0.1 },
  { name: 'a part at the tip', body: ellipticTube(5.2, 4.6, 8, 40, 16), kit: kitOf([receiver([3.4, 3.4, 6], [0, 0, 3])]), ceiling: -0.1 },
  {
    name: 'one whose spout is off its axis',
    body: ellipticTube(5.2, 4.6, 8, 40, 16),
    kit: kitOf([receiver([3.4, 3.4, 6], [0, 0.5, 3])]),
    ceiling: -0.1,
  },
  {
    name: 'two at the faceplate',
    body: ellipticTube(8.6, 6.6, 9, 48, 20),
    kit: kitOf([cell(5.4, 3.2), seatedBox('mic', 2.6, 2.6, 2.6)]),
    ceiling: -0.15,
  },
  {
    name: 'one at the faceplate and one at the tip',
    body: ellipticTube(7.4, 5.8, 7, 32, 12),
    kit: kitOf([cell(4.6, 2.6), receiver([2.6, 1.9, 4.6], [0, 0, 2.3], 2.5, 0.3)]),
    ceiling: -0.1,
  },
  {
    name: 'three at the faceplate',
    body: ellipticTube(6.6, 4.6, 9, 40, 16),
    kit: kitOf([seatedBox('button', 2.2, 2.2, 2), seatedBox('mic', 2, 2, 2), seatedBox('coil', 2, 2, 2)]),
    ceiling: -0.1,
  },
  {
    name: 'two ports too near to each other',
    body: ellipticTube(5, 6.6, 9, 40, 16),
    kit: kitOf([seatedBox('front', 1.4, 1.4, 1.4), seatedBox('rear', 1.4, 1.4, 1.4)], [ports]),
    ceiling: -0.1,
  },
];

export function written(kind: Kind, ceiling = kind.ceiling): Certificate {
  const result = writeCertificate(kind.body, RULES, { kit: kind.kit, parts: kind.kit.parts.map((p) => p.id), ceiling }, { side: 'left' });
  if (result.kind !== 'written') throw new Error(`${kind.name}: ${result.why}`);
  return result.certificate;
}

export const kindNamed = (name: string): Kind => KINDS.find((k) => k.name === name) as Kind;

/** The spare of some posed parts by the verifier's distances, which are lower bounds; -Infinity where seats or ports are not kept. */
export function spareOf(wall: Wall, body: Body, rules: Rules, kit: Kit, poses: readonly Pose<'ear'>[]): number {
  if (seatFaults(body, rules, kit, poses).length > 0) return -Infinity;
  const solids = kit.parts.map((p, i) => p.primitives.map((s) => new Solid(s, poses[i] as Pose<'ear'>)));
  let spare = Infinity;
  for (const [i, p] of kit.parts.entries()) {
    for (const s of solids[i] ?? []) {
      spare = Math.min(spare, wall.clearance(s).has - (rules.wall + rules.gap + p.margin));
      for (const c of body.cuts) {
        if (c.name === 'outer' && p.seat.at === 'faceplate') continue;
        const asked = (c.name === 'outer' ? rules.faceplate : rules.wall) + rules.gap + p.margin;
        spare = Math.min(spare, -heightOver(c.plane, s.support(c.plane.normal)) - asked);
      }
      for (let j = 0; j < i; j++) {
        const asked = rules.partGap + p.margin + (kit.parts[j] as Part).margin;
        for (const other of solids[j] ?? []) spare = Math.min(spare, separation(s, other).least - asked);
      }
    }
  }
  return spare;
}

/** The pose of a part that its certificate's coordinates mean. */
export function poseAt(
  p: Certificate['parts'][number],
  root: number,
  x: readonly number[],
  normal: readonly [number, number, number],
): Pose<'ear'> {
  const { poses } = p;
  const [a, b, c, d, e, f] = x as [number, number, number, number, number, number];
  if (isSeated(poses)) {
    const [o, u, v, n] = [pt<'ear'>(...poses.origin), pt<'ear'>(...poses.u), pt<'ear'>(...poses.v), pt<'ear'>(...normal)];
    const along = add(scale(u, Math.cos(c)), scale(v, Math.sin(c)));
    return { position: add(add(o, scale(u, a)), scale(v, b)), quaternion: quatFromAxes(along, cross(n, along), n) };
  }
  const base: Quat[] = [
    [0, 0, 0, 1],
    [1, 0, 0, 0],
    [0, 1, 0, 0],
    [0, 0, 1, 0],
  ];
  const turn = base[BASES.indexOf(poses.bases[root] ?? '1')] as Quat;
  return { position: pt<'ear'>(a, b, c), quaternion: unitQuat(multiply(multiply(poses.start, turn), [d, e, f, 1])) };
}

/** Poses of the parts of a kit, drawn near the best that a short random climb finds: what a claim about them has to withstand. */
export function goodPoses({ body, kit }: Pick<Kind, 'body' | 'kit'>, c: Certificate, seed: number, tries: number): Pose<'ear'>[][] {
  const random = seeded(seed);
  const wall = new Wall(body);
  const normal = (body.cuts[0] as Body['cuts'][number]).plane.normal;
  const start = (p: Certificate['parts'][number]): number[] =>
    isSeated(p.poses)
      ? [random.between(-1.5, 1.5), random.between(-1.5, 1.5), random.between(0, 6.28)]
      : [random.between(-1, 1), random.between(-1, 1), random.between(-6, -1.5), ...[0, 0, 0].map(() => random.between(-1, 1))];
  const out: { readonly poses: Pose<'ear'>[]; readonly spare: number }[] = [];
  let at = c.parts.map(start);
  let best = -Infinity;
  for (let k = 0; k < tries; k++) {
    const next = k % 60 === 0 ? c.parts.map(start) : at.map((x) => x.map((y) => y + 0.3 * random.normal() * random.next()));
    const poses = c.parts.map((p, i) => poseAt(p, 0, next[i] as number[], normal));
    const spare = spareOf(wall, body, RULES, kit, poses);
    if (spare < best && k % 60 !== 0) continue;
    [at, best] = [next, spare];
    out.push({ poses, spare });
  }
  return out
    .sort((p, q) => q.spare - p.spare)
    .slice(0, 8)
    .map((o) => o.poses);
}
