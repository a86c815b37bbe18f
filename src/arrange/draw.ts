/**
 * Random poses to begin with: a part at its seat, or anywhere that its centre can be.
 */
import type { Random } from '../geometry/random.ts';
import { multiply, quatBetween, rotate, unitQuat } from '../geometry/rotation.ts';
import { dot, type Point, perpendicular, type Quat, type Vec3 } from '../geometry/vec.ts';
import { FACE, type Model, type PartModel, TIP } from './model.ts';
import { keepSeat, poseAtFace, type State, setPart } from './state.ts';

/** Where one part may be begun: nodes of the field that its centre (at the tip: its spout) may be near. */
export interface Sites {
  readonly nodes: Int32Array;
}

export function sitesOf(m: Model, p: number): Sites {
  const part = m.parts[p] as PartModel;
  const { reachable } = m.room;
  if (part.seat === FACE) {
    const height = m.face.height + part.centre[2];
    // A layer of nodes at the height of the part's centre; wider where the room is too shallow to have one.
    for (const thick of [0.6, 2, 8]) {
      const nodes = reachable.filter((n) => Math.abs(heightOf(m, n) - height) < thick * m.room.field.grid.h);
      if (nodes.length >= 8) return { nodes };
    }
    return { nodes: reachable };
  }
  if (part.seat === TIP) {
    const near = reachable.filter((n) => distance2(nodeAt(m, n), m.tipAt) < part.reach * part.reach);
    return { nodes: near.length > 0 ? near : reachable };
  }
  return { nodes: reachable };
}

function nodeAt(m: Model, n: number): Vec3 {
  const { grid: g } = m.room.field;
  const i = n % g.nx;
  const j = Math.floor(n / g.nx) % g.ny;
  const k = Math.floor(n / (g.nx * g.ny));
  return [g.x0 + g.h * i, g.y0 + g.h * j, g.z0 + g.h * k];
}

const heightOf = (m: Model, n: number): number => dot(m.face.normal, nodeAt(m, n));
const distance2 = (a: Vec3, b: Vec3): number => (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2;

/** Puts part p somewhere at random. */
export function drawPose(m: Model, p: number, sites: Sites, random: Random, s: State): void {
  const part = m.parts[p] as PartModel;
  const { h } = m.room.field.grid;
  const node = nodeAt(m, sites.nodes[random.below(sites.nodes.length)] as number);
  const at: Vec3 = [node[0] + random.between(-h, h) / 2, node[1] + random.between(-h, h) / 2, node[2] + random.between(-h, h) / 2];
  if (part.seat === FACE) {
    const [c, sn] = onCircle(random);
    poseAtFace(m, s, p, dot(m.face.e1, at), dot(m.face.e2, at), c, sn);
    return;
  }
  if (part.seat === TIP) {
    const q = inCone(m, part, random);
    const spout = rotate(q, part.spout);
    setPart(s, p, q, [at[0] - spout[0], at[1] - spout[1], at[2] - spout[2]]);
    keepSeat(m, s, p);
    return;
  }
  setPart(s, p, anyTurn(random), at);
}

/** A point of the unit circle, uniform, by rejection. */
function onCircle(random: Random): [number, number] {
  for (;;) {
    const x = random.between(-1, 1);
    const y = random.between(-1, 1);
    const d = x * x + y * y;
    if (d > 1 || d < 0.01) continue;
    const l = Math.sqrt(d);
    return [x / l, y / l];
  }
}

/** Any turn, uniform (Marsaglia's two discs). */
function anyTurn(random: Random): Quat {
  for (;;) {
    const a = random.between(-1, 1);
    const b = random.between(-1, 1);
    const c = random.between(-1, 1);
    const d = random.between(-1, 1);
    const p = a * a + b * b;
    const q = c * c + d * d;
    if (p >= 1 || q >= 1 || q < 1e-6) continue;
    const k = Math.sqrt((1 - p) / q);
    return unitQuat([a, b, c * k, d * k]);
  }
}

/** +z within the cone round the tip's tangent, any roll. */
function inCone(m: Model, part: PartModel, random: Random): Quat {
  const tangent = m.tipTangent as Point<'ear'>;
  const u = perpendicular(tangent);
  const v: Vec3 = [tangent[1] * u[2] - tangent[2] * u[1], tangent[2] * u[0] - tangent[0] * u[2], tangent[0] * u[1] - tangent[1] * u[0]];
  const [c, sn] = onCircle(random);
  const [cc, ss] = onCircle(random);
  const low = Math.max(-1, part.coneCos);
  const z = 1 - random.next() * (1 - low) * 0.98;
  const r = Math.sqrt(Math.max(0, 1 - z * z));
  const axis: Vec3 = [
    z * tangent[0] + r * (c * u[0] + sn * v[0]),
    z * tangent[1] + r * (c * u[1] + sn * v[1]),
    z * tangent[2] + r * (c * u[2] + sn * v[2]),
  ];
  // Roll about the part's own z by the half-angle of (cc, ss), then bring z onto the axis.
  const half = Math.sqrt(Math.max(0, (1 + cc) / 2));
  const other = Math.sqrt(Math.max(0, (1 - cc) / 2)) * (ss < 0 ? -1 : 1);
  return unitQuat(multiply(quatBetween([0, 0, 1], axis), [0, 0, other, half]));
}
