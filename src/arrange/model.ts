/**
 * A kit made ready for the search: flat numbers, each part about its own centre.
 */
import { rotate } from '../geometry/rotation.ts';
import { cos, sin } from '../geometry/trig.ts';
import { cross, dot, normalize, type Point, perpendicular, type Vec3 } from '../geometry/vec.ts';
import type { Kit, Part, PortRule, Primitive } from '../model/parts.ts';
import { type Solids, solidsOf } from '../room/convex.ts';
import type { Room } from '../room/room.ts';
import { type Samples, samplesOf } from './samples.ts';

export const FACE = 0;
export const TIP = 1;
export const FREE = 2;
/** Grown into the shell: it stays where it is. */
export const SHELL = 3;

export interface PartModel {
  /** Its number in the kit. */
  readonly index: number;
  readonly part: Part;
  readonly seat: 0 | 1 | 2 | 3;
  /** Degrees of freedom: 3 at the faceplate, none of what is grown into the shell, else 6. */
  readonly dof: number;
  /** The part's centre in its own frame: poses in the search are of this point. */
  readonly centre: Vec3;
  /** Radius of the ball round the centre that holds the part: turns are measured in mm at it. */
  readonly radius: number;
  /** Primitives about the centre. */
  readonly local: Solids;
  /** Asked by the cast's surface: of a solid wall, gap and margin; of service room nothing. One a primitive. */
  readonly wallAsked: Float64Array;
  /** Asked by each border, NaN where nothing is; borders x primitives. */
  readonly borderAsked: Float64Array;
  /** Half of what a pair asks, less the part gap's share: margin of a solid, 0 of service room. */
  readonly margin: Float64Array;
  readonly service: Uint8Array;
  readonly coarse: Samples;
  readonly fine: Samples;
  /** Of a part seated at the tip: spout about the centre, and least cosine to the tangent. */
  readonly spout: Vec3;
  readonly reach: number;
  readonly coneCos: number;
  readonly coneTan: readonly [cos: number, sin: number];
}

/** The faceplate's inner face: two axes in it and its normal, and how far along the normal it lies. */
export interface Face {
  readonly e1: Vec3;
  readonly e2: Vec3;
  readonly normal: Vec3;
  readonly height: number;
}

export interface Ports {
  readonly front: number;
  readonly rear: number;
  readonly rule: PortRule;
  readonly tiltSin: number;
}

export interface Model {
  readonly room: Room;
  readonly parts: readonly PartModel[];
  /** What each two parts' solids keep between them at least, whatever the gap, mm: parts x parts. */
  readonly apart: Float64Array;
  readonly face: Face;
  readonly tipAt: Vec3;
  readonly tipTangent: Vec3;
  readonly ports: readonly Ports[];
  /** All degrees of freedom, and where each part's begin. */
  readonly dof: number;
  readonly offset: readonly number[];
  /** Parts that move, and those that are grown into the shell. */
  readonly movable: readonly number[];
  readonly grown: readonly number[];
}

export function modelOf(room: Room, kit: Kit): Model {
  const parts = kit.parts.map((p, k) => partModel(room, p, k));
  let dof = 0;
  const offset = parts.map((p) => {
    const at = dof;
    dof += p.dof;
    return at;
  });
  const ports: Ports[] = [];
  for (const rule of kit.pairRules) {
    const front = kit.parts.findIndex((p) => p.id === rule.front);
    const rear = kit.parts.findIndex((p) => p.id === rule.rear);
    if (front >= 0 && rear >= 0) ports.push({ front, rear, rule, tiltSin: sin(rule.tilt) });
  }
  const { at, tangent } = room.body.tip;
  const all = parts.map((_, p) => p);
  const movable = all.filter((p) => (parts[p] as PartModel).seat !== SHELL);
  const grown = all.filter((p) => !movable.includes(p));
  return { room, parts, apart: apartOf(kit), face: faceOf(room), tipAt: at, tipTangent: tangent, ports, dof, offset, movable, grown };
}

function apartOf({ parts, apart = [] }: Kit): Float64Array {
  const out = new Float64Array(parts.length * parts.length);
  for (const { between, least } of apart) {
    const [a, b] = between.map((id) => parts.findIndex((p) => p.id === id)) as [number, number];
    if (a < 0 || b < 0) continue;
    out[a * parts.length + b] = least;
    out[b * parts.length + a] = least;
  }
  return out;
}

/** Two axes in the faceplate: the first horizontal as worn and forwards, so that the ports rule is plain in them. */
function faceOf(room: Room): Face {
  const outer = room.borders.find((b) => b.name === 'outer');
  const normal = outer ? outer.normal : ([0, 0, 1] as unknown as Point<'ear'>);
  const level = cross([0, 1, 0] as Vec3, normal as Vec3);
  let e1 = dot(level, level) > 1e-12 ? normalize(level) : perpendicular(normal as Point<'ear'>);
  if (e1[0] < 0) e1 = [-e1[0], -e1[1], -e1[2]];
  const height = outer ? outer.offset - room.rules.faceplate : 0;
  return { e1, e2: cross(normal as Vec3, e1), normal, height };
}

const SEATS = { faceplate: FACE, tip: TIP, free: FREE, shell: SHELL } as const;

/** What a cut asks of a part's solid, mm; NaN: nothing. */
function askedOf({ name, asked }: Room['borders'][number], seat: PartModel['seat'], margin: number): number {
  if (seat === SHELL) return name === 'upper' ? 0 : Number.NaN;
  return name === 'outer' && seat === FACE ? Number.NaN : asked + margin;
}

function partModel(room: Room, part: Part, index: number): PartModel {
  const prims = part.primitives;
  const centre = middle(prims);
  const local = solidsOf(prims);
  for (let i = 0; i < local.count; i++)
    for (let k = 0; k < 3; k++) local.frame[12 * i + 9 + k] = (local.frame[12 * i + 9 + k] as number) - (centre[k] as number);
  const seat = SEATS[part.seat.at];
  const solid = prims.map((p) => p.kind === 'solid');
  // Of what is grown into the shell the wall is a part: all of it must only stay inside.
  const wallAsked = new Float64Array(solid.map((s) => (s && seat !== SHELL ? room.wallAsked + part.margin : 0)));
  const borderAsked = new Float64Array(room.borders.flatMap((b) => solid.map((s) => (s ? askedOf(b, seat, part.margin) : Number.NaN))));
  const coarse = samplesOf(local, wallAsked, 0.8, 1.2);
  const tip = part.seat.at === 'tip' ? part.seat : undefined;
  return {
    index,
    part,
    seat,
    dof: seat === FACE ? 3 : seat === SHELL ? 0 : 6,
    centre,
    radius: coarse.radius,
    local,
    wallAsked,
    borderAsked,
    margin: new Float64Array(solid.map((s) => (s ? part.margin : 0))),
    service: new Uint8Array(solid.map((s) => (s ? 0 : 1))),
    coarse,
    fine: samplesOf(local, wallAsked, 0.4, 0.6),
    spout: tip ? [tip.spout[0] - centre[0], tip.spout[1] - centre[1], tip.spout[2] - centre[2]] : [0, 0, 0],
    reach: tip ? tip.reach : Infinity,
    coneCos: tip ? cos(tip.cone) : -1,
    coneTan: tip ? [cos(tip.cone), sin(tip.cone)] : [-1, 0],
  };
}

/** Middle of the box of a part's solids (of all, if none is solid), in the part's frame. */
function middle(prims: readonly Primitive[]): Vec3 {
  const some = prims.filter((p) => p.kind === 'solid');
  const lo = [Infinity, Infinity, Infinity];
  const hi = [-Infinity, -Infinity, -Infinity];
  for (const p of some.length > 0 ? some : prims) {
    for (let c = 0; c < 8; c++) {
      const v = rotate(p.quaternion, [((c & 1) - 0.5) * p.size[0], (((c >> 1) & 1) - 0.5) * p.size[1], ((c >> 2) - 0.5) * p.size[2]]);
      for (let k = 0; k < 3; k++) {
        const x = (v[k] as number) + (p.position[k] as number);
        lo[k] = Math.min(lo[k] as number, x);
        hi[k] = Math.max(hi[k] as number, x);
      }
    }
  }
  return [
    ((lo[0] as number) + (hi[0] as number)) / 2,
    ((lo[1] as number) + (hi[1] as number)) / 2,
    ((lo[2] as number) + (hi[2] as number)) / 2,
  ];
}
