/** The checks that are a yes or no: seats, ports, and whether the body is what it says it is. Each fault is a sentence. */
import { place, rotate } from '../geometry/rotation.ts';
import { acos, atan2, degrees } from '../geometry/trig.ts';
import { addScaled, cross, distance, dot, heightOver, length, type Plane, type Point, type Pose, pt } from '../geometry/vec.ts';
import { Fault } from '../model/fault.ts';
import type { Body } from '../model/fit.ts';
import type { Kit, Part, PortRule, Primitive, Rules } from '../model/parts.ts';

/** Of a yes or no, mm and radians (the model's own figure). */
const EXACT = 1e-6;
/** The body passes a 32-bit kernel: its cut faces lie in their planes within this, mm. */
const CUT_FACE = 1e-4;

const mm = (x: number): string => x.toFixed(6);

/** Every seat and port rule that the arrangement breaks, and every pose that is none. */
export function seatFaults(body: Body, rules: Rules, kit: Kit, poses: readonly Pose<'ear'>[]): string[] {
  const outer = body.cuts.find((c) => c.name === 'outer')?.plane;
  const faults = kit.parts.flatMap((part, i) => {
    const pose = poses[i] as Pose<'ear'>;
    return poseFault(part, pose) ?? seatFault(body, rules, outer, part, pose);
  });
  return [...faults, ...kit.pairRules.flatMap((rule) => portFaults(rule, kit, poses))];
}

function poseFault(part: Part, pose: Pose<'ear'>): string[] | undefined {
  const q = pose.quaternion;
  const norm = Math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
  if (!pose.position.every(Number.isFinite) || !Number.isFinite(norm)) return [`${part.id}: its pose is not a number`];
  return Math.abs(norm - 1) > EXACT ? [`${part.id}: its quaternion has length ${norm.toFixed(9)}, not 1`] : undefined;
}

function seatFault(body: Body, rules: Rules, outer: Plane<'ear'> | undefined, part: Part, pose: Pose<'ear'>): string[] {
  const up = pt<'ear'>(...rotate(pose.quaternion, [0, 0, 1]));
  if (part.seat.at === 'faceplate') {
    if (!outer) return [`${part.id}: is seated at the faceplate, but the body has no outer cut`];
    const behind = -heightOver(outer, pose.position);
    const tilt = Math.max(length(cross(up, outer.normal)), dot(up, outer.normal) > 0 ? 0 : 1);
    const faults: string[] = [];
    if (Math.abs(behind - rules.faceplate) > EXACT) {
      faults.push(`${part.id}: sits ${mm(behind)} mm behind the outer cut, its seat is at ${mm(rules.faceplate)} mm`);
    }
    if (tilt > EXACT) faults.push(`${part.id}: is not square to the faceplate`);
    return faults;
  }
  if (part.seat.at === 'free') return [];
  if (part.seat.at === 'shell') return grownFaults(body, part, pose);
  const faults: string[] = [];
  const off = distance(place(pose, part.seat.spout), body.tip.at);
  if (off > part.seat.reach + EXACT) {
    faults.push(`${part.id}: its spout is ${mm(off)} mm from the tip opening, ${mm(part.seat.reach)} mm is allowed`);
  }
  const angle = acos(dot(up, body.tip.tangent));
  if (angle > part.seat.cone + EXACT) {
    faults.push(
      `${part.id}: points ${degrees(angle).toFixed(4)} degrees off the canal's direction, ${degrees(part.seat.cone).toFixed(4)} are allowed`,
    );
  }
  return faults;
}

/** What is grown into the shell stands where it was grown: a bore of one width without a break, from beyond the outer cut to beyond the tip cut. */
function grownFaults(body: Body, part: Part, pose: Pose<'ear'>): string[] {
  const faults: string[] = [];
  if (length(pose.position) > EXACT || length(pt(...(pose.quaternion.slice(0, 3) as [number, number, number]))) > EXACT)
    faults.push(`${part.id}: is grown into the shell, but was moved`);
  const ends = part.primitives.map((p) => boreEnds(p));
  const width = part.primitives[0]?.size[0] ?? 0;
  if (part.primitives.some((p) => p.shape !== 'capsule' || Math.abs(p.size[0] - width) > EXACT))
    faults.push(`${part.id}: is not of one width`);
  for (let k = 1; k < ends.length; k++) {
    if (distance((ends[k - 1] as Ends)[1], (ends[k] as Ends)[0]) > EXACT) faults.push(`${part.id}: its bore breaks off at piece ${k}`);
  }
  for (const [name, at] of [
    ['outer', ends[0]?.[0]],
    ['tip', ends[ends.length - 1]?.[1]],
  ] as const) {
    const plane = body.cuts.find((c) => c.name === name)?.plane;
    if (!plane || !at || heightOver(plane, at) < -EXACT) faults.push(`${part.id}: its bore does not reach the ${name} cut`);
  }
  return faults;
}

type Ends = readonly [Point<'ear'>, Point<'ear'>];

/** Where the middle of a capsule's bore begins and ends. */
function boreEnds({ position, quaternion, size }: Primitive): Ends {
  const axis = rotate(quaternion, [0, 0, 1]);
  const half = Math.max(0, size[2] - size[0]) / 2;
  const end = (sign: number): Point<'ear'> => addScaled(pt<'ear'>(...position), pt<'ear'>(...axis), sign * half);
  return [end(-1), end(1)];
}

/**
 * The ports rule in the ear frame [anterior, superior, lateral]: spacing, tilt to the horizontal (as worn, superior is
 * up), and the front one in front.
 */
function portFaults(rule: PortRule, kit: Kit, poses: readonly Pose<'ear'>[]): string[] {
  const front = portOf(kit, poses, rule.front);
  const rear = portOf(kit, poses, rule.rear);
  const names = `${rule.front} and ${rule.rear}`;
  const [x, y, z] = [front[0] - rear[0], front[1] - rear[1], front[2] - rear[2]];
  const spacing = distance(front, rear);
  const tilt = atan2(Math.abs(y), Math.sqrt(x * x + z * z));
  const faults: string[] = [];
  if (spacing < rule.least - EXACT || spacing > rule.most + EXACT) {
    faults.push(`${names}: their ports are ${mm(spacing)} mm apart, allowed are ${mm(rule.least)} to ${mm(rule.most)} mm`);
  }
  if (tilt > rule.tilt + EXACT) {
    faults.push(
      `${names}: their line is ${degrees(tilt).toFixed(4)} degrees off the horizontal, ${degrees(rule.tilt).toFixed(4)} are allowed`,
    );
  }
  if (x < -EXACT) faults.push(`${names}: the front one lies ${mm(-x)} mm behind the rear one`);
  return faults;
}

function portOf(kit: Kit, poses: readonly Pose<'ear'>[], id: string): Point<'ear'> {
  const i = kit.parts.findIndex((p) => p.id === id);
  const pose = poses[i];
  if (i >= 0 && pose) return pose.position;
  throw new Fault(
    'verify/unknown-part',
    `a ports rule names "${id}", which is not in the kit`,
    `kit of ${kit.style}`,
    'Name a part of the kit',
  );
}

/** Closed, every vertex behind the cuts, and faces that are called cut faces in their cut planes. */
export function bodyFaults(body: Body): string[] {
  const { positions: p, indices: t } = body.mesh;
  if (body.face.length !== t.length / 3) return [`the body has ${t.length / 3} triangles but ${body.face.length} face labels`];
  if (!p.every(Number.isFinite)) return ['the body has a vertex that is not a number'];
  const open = openEdges(body);
  const faults = open > 0 ? [`the body is not closed: ${open} unpaired edges`] : [];
  let strays = 0;
  let beyond = 0;
  for (let i = 0; i < t.length; i++) {
    const v = 3 * (t[i] as number);
    const q = pt<'ear'>(p[v] as number, p[v + 1] as number, p[v + 2] as number);
    const face = body.face[Math.floor(i / 3)] as number;
    const own = body.cuts[face - 1];
    if (face > 0 && (!own || Math.abs(heightOver(own.plane, q)) > CUT_FACE)) strays++;
    if (body.cuts.some((c) => heightOver(c.plane, q) > CUT_FACE)) beyond++;
  }
  if (strays > 0) faults.push(`${strays} corners of faces that are marked as cut lie off their cut's plane by more than ${CUT_FACE} mm`);
  if (beyond > 0) faults.push(`${beyond} corners of the body lie beyond one of its cuts by more than ${CUT_FACE} mm`);
  return faults;
}

function openEdges(body: Body): number {
  const t = body.mesh.indices;
  const n = body.mesh.positions.length / 3;
  // Each directed edge must meet its opposite as often as itself; sums of exact integers tell that at each vertex pair.
  const keys = new Float64Array(t.length);
  for (let i = 0; i < t.length; i++) {
    const a = t[i] as number;
    const b = t[i % 3 === 2 ? i - 2 : i + 1] as number;
    keys[i] = a < b ? 2 * (a * n + b) : 2 * (b * n + a) + 1;
  }
  keys.sort();
  let open = 0;
  for (let i = 0; i < keys.length; ) {
    const edge = Math.floor((keys[i] as number) / 2);
    let balance = 0;
    for (; i < keys.length && Math.floor((keys[i] as number) / 2) === edge; i++) balance += (keys[i] as number) % 2 === 0 ? 1 : -1;
    if (balance !== 0) open++;
  }
  return open;
}
