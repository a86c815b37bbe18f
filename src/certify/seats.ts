/** That the cells of a part leave out no pose that counts, and that a seat rules out the poses of a cell. */
import { acos, atan2, PI, sin } from '../geometry/trig.ts';
import { cross, distance, dot, heightOver, length, type Point, pt, sub } from '../geometry/vec.ts';
import type { Body } from '../model/fit.ts';
import type { PortRule } from '../model/parts.ts';
import { axisOf, type Cell, Free } from './cells.ts';
import {
  BASES,
  type Base,
  type Certificate,
  type FreePoses,
  isSeated,
  type PartCells,
  type SeatedPoses,
  type Unseated,
  type Vec,
} from './format.ts';
import { demand, refuse } from './refusal.ts';
import { type Claimed, isInPlane, ROUNDING } from './rows.ts';
import { isHalfTurned, isOfPart, isRound, isTurn } from './solids.ts';

/** The seats' own tolerance is 1e-6; a proof must allow a little more than any check of an arrangement does. */
const SEAT = 1e-5;

/** Whatever is named of the part must be matter of it, and its cells must begin with all its poses. */
export function checkPart(part: PartCells, rules: Certificate['rules'], body: Body): void {
  const { name, seat, poses } = part;
  for (const { quaternion } of part.primitives) demand(isTurn(quaternion), `a primitive of ${name} is turned by no rotation`);
  for (const [i, p] of part.points.entries()) {
    demand(isOfPart(part, p), `point ${i} is not of ${name}`);
    demand(seat.at !== 'faceplate' || p[2] < rules.faceplate, `point ${i} of ${name} passes the outer cut`);
  }
  for (const [i, b] of part.balls.entries())
    demand(b[3] >= 0 && isOfPart(part, [b[0], b[1], b[2]], b[3]), `ball ${i} is not within ${name}`);
  demand(isSeated(poses) === (seat.at === 'faceplate'), `the poses of ${name} are not those of its seat`);
  if (isSeated(poses)) checkSeated(part, poses, rules, body);
  else checkFree(part, poses, body);
}

/** Beyond these slides a point of the part lies outside the box round the body, so that it has no room; beyond these spins all is as before. */
function checkSeated(part: PartCells, { origin, u, v, slide, spin }: SeatedPoses, rules: Certificate['rules'], body: Body): void {
  const outer = body.cuts.find((c) => c.name === 'outer')?.plane;
  if (!outer) refuse('the body has no outer cut');
  const [o, a, b] = [pt<'ear'>(...origin), pt<'ear'>(...u), pt<'ear'>(...v)];
  demand(isInPlane(a, outer.normal) && isInPlane(b, outer.normal) && Math.abs(dot(a, b)) < ROUNDING, 'its directions are not square');
  demand(dot(cross(a, b), outer.normal) > 0, 'its directions turn the wrong way');
  demand(Math.abs(heightOver(outer, o) + rules.faceplate) < ROUNDING, "its seat is not on the faceplate's inner face");
  const off = Math.min(...part.points.map(([x, y]) => Math.sqrt(x * x + y * y)));
  demand(covers(body, o, a, off, slide[0]) && covers(body, o, b, off, slide[1]), `it leaves out slides of ${part.name} that are possible`);
  if (spin.range === 'half') demand(isHalfTurned(part, 'k'), `half of the spins do not stand for all of ${part.name}`);
  if (spin.range === 'none') demand(isRound(part), `one spin does not stand for all of ${part.name}`);
}

const AXES = [pt<'ear'>(1, 0, 0), pt<'ear'>(0, 1, 0), pt<'ear'>(0, 0, 1)] as const;

function checkFree(part: PartCells, { box, start, bases }: FreePoses, body: Body): void {
  const { seat, name } = part;
  demand(isTurn(start), `the poses of ${name} begin with no rotation`);
  demand(new Set(bases).size === bases.length, `a half turn of ${name} is named twice`);
  if (seat.at === 'tip') {
    const far = seat.reach + length(seat.spout);
    const all = box.every(([lo, hi], k) => lo <= (body.tip.at[k] as number) - far && hi >= (body.tip.at[k] as number) + far);
    demand(all, `it leaves out places of ${name} that are possible`);
  } else {
    const off = Math.min(...part.points.map(length));
    const all = AXES.every((axis, k) => covers(body, pt<'ear'>(0, 0, 0), axis, off, box[k] as readonly [number, number]));
    demand(all, `it leaves out places of ${name} that are possible`);
  }
  for (const base of BASES) {
    const stands = bases.some((b) => b === base || standsFor(part, between(b, base)));
    demand(stands, `it leaves out turns of ${name} that are possible`);
  }
}

/** A half turn is undone by itself, and two of them make the third: which one leads from a to another one, b. */
function between(a: Base, b: Base): 'i' | 'j' | 'k' {
  const one = a === '1' ? b : b === '1' ? a : BASES.find((c) => c !== '1' && c !== a && c !== b);
  return one as 'i' | 'j' | 'k';
}

/** May a pose stand for the half-turned one? At the tip the spout and the part's own z axis must stay as they are. */
function standsFor(part: PartCells, turn: 'i' | 'j' | 'k'): boolean {
  const { seat } = part;
  const keeps = seat.at !== 'tip' || (turn === 'k' && Math.abs(seat.spout[0]) < ROUNDING && Math.abs(seat.spout[1]) < ROUNDING);
  return keeps && isHalfTurned(part, turn);
}

/** Does the span reach past the body by so much on both sides? */
function covers({ mesh }: Body, origin: Point<'ear'>, axis: Point<'ear'>, off: number, [lo, hi]: readonly [number, number]): boolean {
  const { positions: p } = mesh;
  for (let i = 0; i < p.length; i += 3) {
    const s = dot(axis, sub(pt<'ear'>(p[i] as number, p[i + 1] as number, p[i + 2] as number), origin));
    if (!(lo <= s - off && s + off <= hi)) return false;
  }
  return true;
}

/** That no pose of the cell keeps to the tip seat: its spout stays out of reach, or it points out of the cone. */
export function checkUnseated({ part, poses }: Claimed, cell: Cell, why: Unseated, body: Body): void {
  const { seat } = part;
  if (seat.at !== 'tip' || !(poses instanceof Free)) refuse(`${part.name} is not seated at the tip`);
  if (why === 'reach') {
    const { at, reach } = poses.moves(cell, seat.spout);
    demand(distance(pt<'ear'>(...at), body.tip.at) - reach > seat.reach + SEAT, 'its spout may be within reach');
    return;
  }
  const { at, t } = axisOf(poses, cell);
  // In a turn by an angle no direction turns by more.
  demand(t < 1e6 && acos(dot(at, body.tip.tangent)) - 2 * atan2(t, 1) > seat.cone + SEAT, 'it may point as it should');
}

/**
 * That no two poses of these cells keep to the ports rule: their ports (the parts' own origins) stay too near or too far, the front one
 * behind the rear one, or their line too steep. Each port is within its reach of where it is at the middle.
 */
export function checkPorts(rule: PortRule, front: readonly [Claimed, Cell], rear: readonly [Claimed, Cell]): void {
  const [f, r] = [front, rear].map(([claim, cell]) => claim.moves(cell, [0, 0, 0]));
  if (!f || !r) refuse('there are no two ports');
  const d: Vec = [f.at[0] - r.at[0], f.at[1] - r.at[1], f.at[2] - r.at[2]];
  const by = f.reach + r.reach + SEAT;
  const far = length(d);
  // In the ear frame [anterior, superior, lateral]: the sine of the line's angle to the horizontal is its superior share.
  const steep = rule.tilt < PI / 2 && (Math.abs(d[1]) - by) / (far + by) > sin(rule.tilt) + SEAT;
  demand(far + by < rule.least || far - by > rule.most || d[0] + by < 0 || steep, 'its ports may keep to their rule');
}
