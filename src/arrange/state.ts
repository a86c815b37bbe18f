/**
 * Where every part stands during the search, and how it may move: seats are kept at every step.
 *
 * Seven numbers a part: its turn (quaternion) and its centre. Moves are small: a shift and a turn vector measured in mm
 * at the part's radius, so that one trust region fits all.
 */
import { multiply, quatBetween, quatFromAxes, rotate, unitQuat } from '../geometry/rotation.ts';
import { cross, dot, normalize, type Pose, pt, type Quat, type Vec3 } from '../geometry/vec.ts';
import { GROWN } from '../parts/vent.ts';
import { composeFrames, type Solids, setFrame } from '../room/convex.ts';
import { FACE, type Face, type Model, type PartModel, SHELL, TIP } from './model.ts';

export const STRIDE = 7;
export type State = Float64Array;

/** Nothing placed but what is grown into the shell. */
export function newState(m: Model): State {
  const s = new Float64Array(STRIDE * m.parts.length);
  for (const p of m.grown) setPose(m, s, p, GROWN);
  return s;
}

export const turnOf = (s: State, p: number): Quat => [
  s[STRIDE * p] as number,
  s[STRIDE * p + 1] as number,
  s[STRIDE * p + 2] as number,
  s[STRIDE * p + 3] as number,
];

export function setPart(s: State, p: number, q: Quat, centre: Vec3): void {
  s.set(q, STRIDE * p);
  s.set(centre, STRIDE * p + 4);
}

/** Primitives of every part as they stand. */
export interface World {
  readonly solids: readonly Solids[];
  readonly frame: Float64Array;
}

/** A world in which only what is grown into the shell has its place. */
export function newWorld(m: Model): World {
  const w: World = { solids: m.parts.map((p) => solidsLike(p)), frame: new Float64Array(12 * m.parts.length) };
  const s = newState(m);
  for (const p of m.grown) placePart(m, s, w, p);
  return w;
}

export const solidsLike = (p: PartModel): Solids => ({ ...p.local, frame: new Float64Array(p.local.frame.length) });

/** Brings part p of the world to where the state has it. */
export function placePart(m: Model, s: State, w: World, p: number): void {
  const o = STRIDE * p;
  setFrame(w.frame, 12 * p, turnOf(s, p), s.subarray(o + 4, o + 7));
  const local = (m.parts[p] as PartModel).local;
  const out = (w.solids[p] as Solids).frame;
  for (let i = 0; i < local.count; i++) composeFrames(w.frame, 12 * p, local.frame, 12 * i, out, 12 * i);
}

export function placeAll(m: Model, s: State, w: World): void {
  for (let p = 0; p < m.parts.length; p++) placePart(m, s, w, p);
}

/** Moves part p by its `dof` numbers from delta[from], then keeps its seat. */
export function movePart(m: Model, s: State, p: number, delta: Float64Array, from: number): void {
  const part = m.parts[p] as PartModel;
  if (part.seat === SHELL) return;
  const o = STRIDE * p;
  let tx: number;
  let ty: number;
  let tz: number;
  let w: Vec3;
  if (part.seat === FACE) {
    const { e1, e2, normal } = m.face;
    const a = delta[from] as number;
    const b = delta[from + 1] as number;
    const c = (delta[from + 2] as number) / part.radius;
    tx = a * e1[0] + b * e2[0];
    ty = a * e1[1] + b * e2[1];
    tz = a * e1[2] + b * e2[2];
    w = [c * normal[0], c * normal[1], c * normal[2]];
  } else {
    tx = delta[from] as number;
    ty = delta[from + 1] as number;
    tz = delta[from + 2] as number;
    const r = 1 / part.radius;
    w = [r * (delta[from + 3] as number), r * (delta[from + 4] as number), r * (delta[from + 5] as number)];
  }
  s[o + 4] = (s[o + 4] as number) + tx;
  s[o + 5] = (s[o + 5] as number) + ty;
  s[o + 6] = (s[o + 6] as number) + tz;
  // Cayley's turn: the same to second order, and without trigonometry.
  s.set(unitQuat(multiply([w[0] / 2, w[1] / 2, w[2] / 2, 1], turnOf(s, p))), o);
  keepSeat(m, s, p);
}

/** Brings a part back onto its seat: exact height and uprightness at the faceplate; reach and cone at the tip. */
export function keepSeat(m: Model, s: State, p: number): void {
  const part = m.parts[p] as PartModel;
  if (part.seat === FACE) seatAtFace(m.face, part, s, p);
  else if (part.seat === TIP) seatAtTip(m, part, s, p);
}

function seatAtFace(face: Face, part: PartModel, s: State, p: number): void {
  const o = STRIDE * p;
  const q = turnOf(s, p);
  const z = rotate(q, [0, 0, 1]);
  const upright = unitQuat(multiply(quatBetween(z, face.normal), q));
  const centre: Vec3 = [s[o + 4] as number, s[o + 5] as number, s[o + 6] as number];
  const lift = face.height + part.centre[2] - dot(face.normal, centre);
  setPart(s, p, upright, [centre[0] + lift * face.normal[0], centre[1] + lift * face.normal[1], centre[2] + lift * face.normal[2]]);
}

/** A hair inside both limits, so that rounding on the way out cannot pass them. */
const HAIR = 1e-9;

function seatAtTip(m: Model, part: PartModel, s: State, p: number): void {
  const o = STRIDE * p;
  const q = turnOf(s, p);
  const z = rotate(q, [0, 0, 1]) as Vec3;
  const tangent = m.tipTangent;
  if (dot(z, tangent) < part.coneCos + HAIR) {
    // Tilt straight towards the tangent until on the cone.
    const axis = normalize(cross(tangent, z));
    const side = cross(axis, tangent);
    const [c, sn] = part.coneTan;
    const k = Math.min(1, c + 2 * HAIR);
    const l = Math.sqrt(Math.max(0, 1 - k * k)) || sn;
    const wanted: Vec3 = [k * tangent[0] + l * side[0], k * tangent[1] + l * side[1], k * tangent[2] + l * side[2]];
    s.set(unitQuat(multiply(quatBetween(z, normalize(wanted)), q)), o);
  }
  const spout = rotate(turnOf(s, p), part.spout);
  const dx = (s[o + 4] as number) + spout[0] - m.tipAt[0];
  const dy = (s[o + 5] as number) + spout[1] - m.tipAt[1];
  const dz = (s[o + 6] as number) + spout[2] - m.tipAt[2];
  const d = Math.sqrt(dx * dx + dy * dy + dz * dz);
  const most = part.reach * (1 - HAIR);
  if (d <= most) return;
  const k = 1 - most / d;
  s[o + 4] = (s[o + 4] as number) - k * dx;
  s[o + 5] = (s[o + 5] as number) - k * dy;
  s[o + 6] = (s[o + 6] as number) - k * dz;
}

/** A pose at the faceplate: centre at (u, v) in the face's axes, turned about the normal so that the part's x lies along (c, s). */
export function poseAtFace(m: Model, s: State, p: number, u: number, v: number, c: number, sn: number): void {
  const { e1, e2, normal, height } = m.face;
  const part = m.parts[p] as PartModel;
  const l = Math.sqrt(c * c + sn * sn);
  const a = c / l;
  const b = sn / l;
  const x: Vec3 = [a * e1[0] + b * e2[0], a * e1[1] + b * e2[1], a * e1[2] + b * e2[2]];
  const h = height + part.centre[2];
  setPart(s, p, quatFromAxes(x, cross(normal, x), normal), [
    u * e1[0] + v * e2[0] + h * normal[0],
    u * e1[1] + v * e2[1] + h * normal[1],
    u * e1[2] + v * e2[2] + h * normal[2],
  ]);
}

/** The part's own pose (its origin, not its centre). */
export function poseOf(m: Model, s: State, p: number): Pose<'ear'> {
  const part = m.parts[p] as PartModel;
  if (part.seat === SHELL) return GROWN;
  const q = turnOf(s, p);
  const c = rotate(q, part.centre);
  const o = STRIDE * p + 4;
  return {
    position: pt<'ear'>((s[o] as number) - c[0], (s[o + 1] as number) - c[1], (s[o + 2] as number) - c[2]),
    quaternion: q,
  };
}

/** The state of given poses (the inverse of poseOf). */
export function setPose(m: Model, s: State, p: number, pose: Pose<'ear'>): void {
  const c = rotate(pose.quaternion, (m.parts[p] as PartModel).centre);
  setPart(s, p, pose.quaternion, [pose.position[0] + c[0], pose.position[1] + c[1], pose.position[2] + c[2]]);
}
