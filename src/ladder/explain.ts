/**
 * Why a style does not take its kit: the smallest set of parts that already cannot be arranged, and the width that is
 * short where it is tightest.
 */
import { arrangeKit } from '../arrange/index.ts';
import type { TriangleTree } from '../geometry/bvh.ts';
import type { Kernel } from '../geometry/kernel.ts';
import { compose, conjugate, rotate } from '../geometry/rotation.ts';
import { addScaled, distance, length, normalize, type Point, type Pose, pointAt, sub } from '../geometry/vec.ts';
import type { Ear } from '../model/ear.ts';
import { mm, spareDown } from '../model/figures.ts';
import type { Arrangement, Body, Evidence, Measured, Reason } from '../model/fit.ts';
import type { Kit, Part, Primitive, Rules } from '../model/parts.ts';
import type { Room } from '../room/index.ts';
import { verifyArrangement } from '../verify/index.ts';
import { capital, listed, nameOf } from './words.ts';

export interface Attempt {
  readonly kit: Kit;
  readonly arrangement: Arrangement;
  readonly evidence: Evidence;
}

interface Ground {
  readonly kernel: Kernel;
  readonly ear: Ear;
  readonly room: Room;
  readonly body: Body;
  readonly rules: Rules;
  readonly seed: number;
  readonly shouldStop: () => boolean;
}

/** The kit of some of a kit's parts, with the pair rules that still have both their parts. */
export function someOf(kit: Kit, ids: readonly string[]): Kit {
  return {
    style: kit.style,
    parts: kit.parts.filter((p) => ids.includes(p.id)),
    pairRules: kit.pairRules.filter((r) => ids.includes(r.front) && ids.includes(r.rear)),
    ...(kit.apart ? { apart: kit.apart.filter((r) => r.between.every((id) => ids.includes(id))) } : {}),
  };
}

/**
 * The smallest set of one or two parts whose best arrangement already lacks more than the tolerance; the worst of them.
 * Undefined when every part and every pair can be placed, so that only more of them together cannot.
 */
export function smallestMisfit(ground: Ground, kit: Kit): Attempt | undefined {
  const ids = kit.parts.flatMap((p) => (p.seat.at === 'shell' ? [] : [p.id]));
  const singles = ids.map((a) => [a]);
  const pairs = ids.flatMap((a, i) => ids.slice(i + 1).map((b) => [a, b]));
  for (const sets of [singles, pairs]) {
    let worst: { readonly kit: Kit; readonly arrangement: Arrangement } | undefined;
    for (const set of sets) {
      if (ground.shouldStop()) break;
      const some = someOf(kit, set);
      const arrangement = quickly(ground, some);
      if (!arrangement || arrangement.spare >= -ground.rules.tolerance) continue;
      if (!worst || arrangement.spare < worst.arrangement.spare) worst = { kit: some, arrangement };
    }
    if (worst) return measured(ground, worst.kit, worst.arrangement);
  }
  return undefined;
}

/** What a vent costs: what the same parts have, or lack, without it. Nothing where it costs nothing. */
export function ventReason(ground: Ground, { kit, evidence: { spare } }: Attempt, ventless: Arrangement): Reason[] {
  const moved = someOf(
    kit,
    kit.parts.flatMap((p) => (p.seat.at === 'shell' ? [] : [p.id])),
  );
  const without = measured(ground, moved, ventless).evidence.spare;
  if (without - spare < COSTS) return [];
  const has = without >= 0 ? `have ${mm(spareDown(without))} to spare` : `lack ${mm(-spareDown(without))}`;
  const instead = spare >= 0 ? `with it ${mm(spareDown(spare))}` : `with it they lack ${mm(-spareDown(spare))}`;
  return [
    { code: 'vent', text: `Without the vent of ${(kit.vent ?? 0).toFixed(1)} mm the same parts ${has}; ${instead}`, parts: ['vent'] },
  ];
}

/** A vent that takes less than this of the spare is not worth a word, mm. */
const COSTS = 0.02;

/** Some parts of an arrangement, where they stand in it, measured without the others. */
export function restricted(ground: Ground, whole: Attempt, ids: readonly string[]): Attempt {
  const kit = someOf(whole.kit, ids);
  const poses = whole.arrangement.poses.filter((_, k) => ids.includes((whole.kit.parts[k] as Part).id));
  return measured(ground, kit, { poses, spare: whole.arrangement.spare });
}

/** A short search that ends once the parts can be placed at all: more is not asked here. */
const quickly = ({ room, seed, shouldStop }: Ground, kit: Kit): Arrangement | undefined =>
  arrangeKit(room, kit, { seed, effort: 'quick', enough: 0, shouldStop }).best;

const measured = (ground: Ground, kit: Kit, arrangement: Arrangement): Attempt => ({
  kit,
  arrangement,
  evidence: verifyArrangement(ground.kernel, ground.body, ground.rules, kit, arrangement.poses),
});

/** The reason that an attempt shows: what lacks how much in the best arrangement found, where, with both numbers. */
export function reasonFrom(ground: Pick<Ground, 'room' | 'rules' | 'ear'>, attempt: Attempt): Reason {
  const { kit, evidence } = attempt;
  const parts = kit.parts.map((p) => p.id);
  const tight = evidence.tightest;
  const squeeze = squeezeAt(ground.room, ground.rules, attempt, tight);
  const numbers = squeeze ?? { needs: tight.asked, has: tight.has }; // with the place of the width, where there is one
  const lack = mm(-spareDown(evidence.spare));
  const alone = parts.length === 1 && tight.kind !== 'parts' && tight.kind !== 'service';
  const lacks = alone
    ? `${capital(nameOf(kit, tight.part))} alone lacks ${lack} to ${FACES[tight.kind]}`
    : `${setWords(kit)} lack ${lack} ${describeContact(kit, tight)}`;
  const across = squeeze ? `: ${mm(squeeze.needs)} across are needed there, the ear offers ${mm(squeeze.has)} inside the wall` : '';
  const text = `${lacks}${placeWords(ground.ear, tight.at)}${across}`;
  return { code: parts.length === 1 ? 'part-alone' : parts.length === 2 ? 'pair' : 'kit', text, parts, ...numbers, at: tight.at };
}

/** A tight fit in words: by how much it passes or misses what the rules ask, and where. */
export function tightReason(ground: Pick<Ground, 'ear'>, attempt: Attempt): Reason {
  const { kit, evidence } = attempt;
  const { tightest: tight, spare } = evidence;
  const how = spare >= 0 ? `only ${mm(spareDown(spare))} more than the rules ask` : `${mm(-spareDown(spare))} less than the rules ask`;
  const text = `${how} ${describeContact(kit, tight)}${placeWords(ground.ear, tight.at)}`;
  const parts = [tight.part, ...(tight.other ? [tight.other] : [])];
  return { code: 'tight', text: capital(text), parts, needs: tight.asked, has: tight.has, at: tight.at };
}

const setWords = (kit: Kit): string =>
  kit.parts.length <= 3 ? capital(listed(kit.parts.map((p) => nameOf(kit, p.id)))) : 'All parts together';

const FACES = { wall: 'the wall', faceplate: 'the faceplate', tip: 'the tip', upper: 'the upper cut' } as const;

const describeContact = (kit: Kit, m: Measured): string => {
  const part = nameOf(kit, m.part);
  if (m.kind === 'parts' || m.kind === 'service') return `between ${part} and ${m.other ? nameOf(kit, m.other) : 'its neighbour'}`;
  return `between ${part} and ${FACES[m.kind]}`;
};

/** Where a point is, as a modeller would say it. */
function placeWords(ear: Ear, at: Point<'ear'>): string {
  const { depths, points } = ear.centreline;
  let best = 0;
  let least = Infinity;
  for (let k = 0; k < depths.length; k++) {
    const d = distance(pointAt<'ear'>(points, k), at);
    if (d < least) {
      least = d;
      best = k;
    }
  }
  const depth = depths[best] as number;
  return depth >= 0 ? `, ${depth.toFixed(1)} mm inside the aperture` : ', in the concha';
}

type Squeeze = Required<Pick<Reason, 'needs' | 'has' | 'across'>>;

/**
 * The free width through the tightest contact, and how much of the same line the part takes up: from the wall nearest to
 * the contact straight across to the wall on the other side. Undefined when that line is not short (a contact in a
 * corner, say), so that the pair of numbers would explain nothing.
 */
function squeezeAt(room: Room, rules: Rules, attempt: Attempt, tight: Measured): Squeeze | undefined {
  if (tight.kind !== 'wall') return undefined;
  const index = attempt.kit.parts.findIndex((p) => p.id === tight.part);
  const part = attempt.kit.parts[index];
  const pose = attempt.arrangement.poses[index];
  if (!part || !pose) return undefined;
  const { tree } = room.field.near; // the whole cast's, which the search has built already
  const near = tree.nearest(tight.at);
  if (!near || near.distance < 1e-6) return undefined;
  const across = normalize(tree.contains(tight.at) ? sub(tight.at, near.point) : sub(near.point, tight.at));
  const chord = chordFrom(tree, addScaled(near.point, across, 1e-3), across);
  if (chord === undefined) return undefined;
  const asked = rules.wall + rules.gap + part.margin;
  const has = chord - 2 * asked;
  const needs = thicknessAlong(part, pose, tight.at, across);
  return has < needs ? { needs, has, across: { from: addScaled(near.point, across, asked), along: across } } : undefined;
}

function chordFrom(tree: TriangleTree<'ear'>, from: Point<'ear'>, along: Point<'ear'>): number | undefined {
  let least: number | undefined;
  tree.alongRay(from, along, (_t, d, facing) => {
    if (facing > 0 && d > 1e-3 && (least === undefined || d < least)) least = d;
  });
  return least;
}

/** How far the part's solid reaches along a ray that enters it at `from`, mm: to where the last of its primitives is left. */
export function thicknessAlong(part: Part, pose: Pose<'ear'>, from: Point<'ear'>, along: Point<'ear'>): number {
  let most = 0;
  for (const primitive of part.primitives) {
    if (primitive.kind !== 'solid') continue;
    const placed = compose(pose, primitive);
    const back = conjugate(placed.quaternion);
    const start = rotate(back, sub(from, placed.position));
    const d = rotate(back, along);
    const within = (t: number): boolean => holds(primitive, [start[0] + t * d[0], start[1] + t * d[1], start[2] + t * d[2]]);
    let lo = 1e-3;
    if (!within(lo)) continue;
    let hi = length(primitive.size);
    while (hi - lo > 1e-6) {
      const mid = (lo + hi) / 2;
      if (within(mid)) lo = mid;
      else hi = mid;
    }
    most = Math.max(most, lo);
  }
  return most;
}

/** Does the primitive hold a point of its own frame? */
function holds({ shape, size }: Primitive, [x, y, z]: readonly [number, number, number]): boolean {
  if (shape === 'box') return Math.abs(x) <= size[0] / 2 && Math.abs(y) <= size[1] / 2 && Math.abs(z) <= size[2] / 2;
  const r = size[0] / 2;
  if (shape === 'cylinder') return x * x + y * y <= r * r && Math.abs(z) <= size[2] / 2;
  const over = Math.max(0, Math.abs(z) - (size[2] / 2 - r));
  return x * x + y * y + over * over <= r * r;
}
