/**
 * The referee on the way in: every pose of every move, no point of a part going farther than 0.1 mm from one to the next, and 0.01 mm
 * where it is tight. A part may touch neither the shell (what lies behind the outer cut within `wall` of the surface) nor a part that
 * is in. Between two poses that are looked at a solid moves by half a step at most from one of them: what is freer than that is free
 * all the way, and what is not is looked at in steps of 0.01 mm, so that nothing deeper than 0.0055 mm goes unseen (0.05 mm of the faceplate's own rim,
 * which has no clearance of its own to go by).
 */
import { addScaled, distance, length, lerp, sub, type Vec3 } from '../../src/geometry/vec.ts';
import type { MoveDocument, PoseFile, StyleDocument, VerdictDocument } from './referee-document.ts';
import { distanceTo, goesRound, ringsOf, type Surface, type Triangle } from './referee-scan.ts';
import {
  axesOf,
  bottomOver,
  type Cut,
  carried,
  type FourNumbers,
  gapOf,
  over,
  reachOf,
  type Solid,
  type Stand,
  topBehind,
  topOver,
} from './referee-solids.ts';
import { gapBehind, VENT } from './referee-vent.ts';

export const standOf = ({ position, quaternion }: PoseFile): Stand => ({ at: position, axes: axesOf(quaternion) });

const STEP = 0.1;
const FINE_STEP = 0.01;
/** How finely a distance is worked out on the way, mm. */
const MOVING = 5e-4;
/** What two solids that overlap are said to have, however deep, mm. */
const OVERLAP = -1e-3;
const REFUTED = -5e-4;

export interface Scene {
  readonly closed: readonly Triangle[];
  readonly surface: Surface;
  readonly style: StyleDocument;
  readonly rules: VerdictDocument['rules'];
  readonly outer: Cut;
  /** The tip's and, where there is one, the upper cut. */
  readonly others: readonly Cut[];
  /** The parts' solids (not their service room) where they stand in the end. */
  readonly solids: ReadonlyMap<string, readonly Solid[]>;
}

export interface Motion {
  readonly flaws: readonly string[];
  /** The least clearance met, mm; +Infinity when none was below a millimetre. */
  readonly least: number;
  readonly poses: number;
}

/** Every move of a style, one after the other. */
export function followMoves(scene: Scene): Motion {
  const { assembly, parts } = scene.style;
  const flaws: string[] = [];
  const placed = new Set<string>();
  let least = Infinity;
  let poses = 0;
  for (const move of assembly?.moves ?? []) {
    const ids = move.parts.map((p) => p.id);
    if (ids.some((id) => placed.has(id) || id === VENT || !scene.solids.has(id)))
      flaws.push(`${ids.join(' + ')}: moves in twice, or is no part that moves`);
    else {
      const motion = followMove(scene, move, placed);
      flaws.push(...motion.flaws);
      least = Math.min(least, motion.least);
      poses += motion.poses;
    }
    for (const id of ids) placed.add(id);
  }
  for (const part of parts) if (!placed.has(part.id) && part.id !== VENT) flaws.push(`${part.id}: no move brings it in`);
  const last = new Set(assembly?.moves?.at(-1)?.parts.map((p) => p.id));
  for (const part of parts)
    if (part.seat === 'faceplate' && !last.has(part.id))
      flaws.push(`${part.id}: is seated at the faceplate, but does not go in with it, last`);
  const claimed = assembly?.least ?? 0;
  if (claimed > least + FINE_STEP / 2) flaws.push(`the way in claims ${claimed} mm all along, ${least.toFixed(4)} was met`);
  return { flaws, least, poses };
}

function followMove(scene: Scene, move: MoveDocument, placed: ReadonlySet<string>): Motion {
  const name = move.parts.map((p) => p.id).join(' + ');
  const count = move.parts[0]?.poses.length ?? 0;
  if (count < 2 || move.parts.some((p) => p.poses.length !== count)) return { flaws: [`${name}: has no way`], least: Infinity, poses: 0 };
  const group = move.parts.map((p) => {
    const home = standOf(p.poses.at(-1) as PoseFile);
    const solids = scene.solids.get(p.id) as readonly Solid[];
    return { ...p, home, solids, reach: Math.max(...solids.map((s) => distance(s.at, home.at) + reachOf(s))) };
  });
  const flaws = rigidFlaws(scene, group);
  const at = (leg: number, t: number): Carried[] =>
    group.map((g) => {
      const to = between(g.poses[leg] as PoseFile, g.poses[leg + 1] as PoseFile, t);
      return { home: g.home, to, solids: g.solids.map((s) => carried(s, g.home, to)) };
    });
  const begin = Math.min(...at(0, 0).flatMap((c) => c.solids.map((s) => bottomOver(scene.outer, s))));
  if (begin < -1e-4) flaws.push(`${name}: begins ${(-begin).toFixed(3)} mm inside the outer cut, not outside`);
  const still = [...placed].flatMap((id) => scene.solids.get(id) as readonly Solid[]);
  const plate = group.some((g) => scene.style.parts.find((p) => p.id === g.id)?.seat === 'faceplate') ? plateOf(scene, group) : [];
  let least = Infinity;
  let worst = '';
  let poses = 0;
  const look = (leg: number, t: number): number => {
    poses++;
    const free = freedom(scene, at(leg, t), still, plate);
    if (free.clear < least) {
      least = free.clear;
      worst = `${free.of} on leg ${leg + 1} of ${count - 1} at ${t.toFixed(3)}`;
    }
    return free.clear;
  };
  // Once it is refuted beyond doubt, nothing more is to be learnt.
  for (let leg = 0; leg + 1 < count && least > REFUTED; leg++) {
    const path = Math.max(...group.map((g) => travel(g.poses[leg] as PoseFile, g.poses[leg + 1] as PoseFile, g.reach)));
    const steps = Math.max(1, Math.ceil(path / STEP));
    for (let k = 0; k <= steps && least > REFUTED; k++) {
      if (look(leg, k / steps) > STEP / 2) continue;
      const fine = Math.ceil(path / steps / FINE_STEP);
      for (let j = -fine; j <= fine && least > REFUTED; j++) {
        const t = (k + j / (2 * fine)) / steps;
        if (j !== 0 && t >= 0 && t <= 1) look(leg, t);
      }
    }
  }
  // Nothing is asked but not to touch, or what the arrangement leaves where that is less: a tight one under narrow gaps.
  const found = scene.style.found as number;
  const asked = Math.min(0, scene.rules.gap + found, scene.rules.partGap + found);
  if (least < asked - 1e-4) flaws.push(`${name}: ${worst} there is ${least.toFixed(4)} mm`);
  return { flaws, least, poses };
}

interface Carried {
  readonly home: Stand;
  readonly to: Stand;
  readonly solids: readonly Solid[];
}

/** The least that a moving thing has to the shell and to what is in, mm, looked at up to half a millimetre. */
function freedom(
  scene: Scene,
  moving: readonly Carried[],
  still: readonly Solid[],
  plate: readonly (readonly Vec3[])[],
): { clear: number; of: string } {
  const { surface, outer, others, rules } = scene;
  const UP_TO = 0.5;
  let clear = UP_TO;
  let of = '';
  const take = (has: number, what: string): void => {
    if (has >= clear) return;
    clear = has;
    of = what;
  };
  for (const solid of moving.flatMap((m) => m.solids)) {
    if (bottomOver(outer, solid) < 0) {
      take(distanceTo(surface, solid, rules.wall + clear, outer, MOVING).most - rules.wall, `${solid.part} to the shell`);
      for (const cut of others) {
        if (-topOver(cut, solid) - rules.wall < clear) take(-topBehind(cut, outer, solid) - rules.wall, `${solid.part} to the shell's end`);
      }
    }
    for (const other of still) take(gapMet(solid, other, clear), `${solid.part} to ${other.part}`);
    // A vent's tube is there from the first; like the shell, it ends at the outer cut.
    if (bottomOver(outer, solid) < clear)
      for (const tube of scene.solids.get(VENT) ?? []) take(met(gapBehind(solid, tube, outer, clear)), `${solid.part} to the ${VENT}`);
  }
  const first = moving[0] as Carried;
  const here = (p: Vec3): Solid => carried({ ...POINT, at: p, axes: first.home.axes }, first.home, first.to);
  // A plane is lowest at its outline: most poses need no more than that.
  const dips = plate[0]?.some((p) => over(outer, here(p).at) + rules.faceplate < -1e-4) ? plate.flat() : [];
  for (const at of dips.map(here)) {
    const dip = over(outer, at.at) + rules.faceplate;
    // Behind the level of the shell's edge it may be in the open or beside the shell, but not in it.
    if (dip < -1e-4) take(Math.max(dip, distanceTo(surface, at, rules.wall + 1, undefined, MOVING).most - rules.wall), TO_EDGE);
  }
  return { clear, of };
}

const met = (gap: number): number => (gap < 1e-5 ? OVERLAP : gap);
const gapMet = (a: Solid, b: Solid, upTo: number): number => met(gapOf(a, b, upTo).most);

const POINT = { part: '', shape: 'box', size: [0, 0, 0], kind: 'solid' } as const;
const TO_EDGE = "the faceplate to the shell's edge";

/** Points of the plate's inner face where it ends up: the outline round what is seated, and the same drawn in by twentieths. */
function plateOf({ closed, outer, rules }: Scene, group: readonly { home: Stand }[]): Vec3[][] {
  const seat = (group[0] as { home: Stand }).home.at;
  const on = addScaled(seat, outer.normal, -over(outer, seat));
  const ring = ringsOf(closed, outer).find((r) => goesRound(r, on, outer.normal)) ?? [];
  const back = (p: Vec3): Vec3 => addScaled(p, outer.normal, -rules.faceplate);
  return Array.from({ length: 20 }, (_, k) => ring.map((p) => back(lerp(p, on, k / 20))));
}

/** What moves as one keeps its shape at every pose, and nearly so on the way from one to the next. */
function rigidFlaws(scene: Scene, group: readonly { id: string; poses: PoseFile[]; home: Stand }[]): string[] {
  const first = group[0] as (typeof group)[number];
  const flaws: string[] = [];
  for (const other of group.slice(1)) {
    for (let leg = 0; leg + 1 < first.poses.length; leg++) {
      for (const t of [0, 0.5]) {
        const a = between(first.poses[leg] as PoseFile, first.poses[leg + 1] as PoseFile, t);
        const b = between(other.poses[leg] as PoseFile, other.poses[leg + 1] as PoseFile, t);
        const own: Solid = { ...POINT, at: other.home.at, axes: other.home.axes };
        const off = carried(own, first.home, a);
        const turn = Math.max(...off.axes.map((axis, k) => length(sub(axis, b.axes[k] as Vec3))));
        const slack = t === 0 ? 1e-5 : FINE_STEP;
        if (distance(off.at, b.at) > slack || turn > slack)
          flaws.push(`${other.id}: leaves its place beside ${first.id} on leg ${leg + 1}`);
      }
    }
  }
  if (group.length > 1 && group.some((g) => scene.style.parts.find((p) => p.id === g.id)?.seat !== 'faceplate'))
    flaws.push(`${group.map((g) => g.id).join(' + ')}: only what is seated at the faceplate goes in together`);
  return flaws;
}

/** How far a point within `reach` of a part's origin can go from one pose to the next, mm. */
const travel = (a: PoseFile, b: PoseFile, reach: number): number => distance(a.position, b.position) + turnBetween(a, b) * reach;

const inner = (p: FourNumbers, q: FourNumbers): number => p[0] * q[0] + p[1] * q[1] + p[2] * q[2] + p[3] * q[3];
const turnBetween = (a: PoseFile, b: PoseFile): number => 2 * Math.acos(Math.min(1, Math.abs(inner(a.quaternion, b.quaternion))));

/** Straight from place to place, and the shorter way round at one speed (Shoemake 1985). */
function between(a: PoseFile, b: PoseFile, t: number): Stand {
  const d = inner(a.quaternion, b.quaternion);
  const half = Math.acos(Math.min(1, Math.abs(d)));
  const [s, u] = half < 1e-7 ? [1 - t, t] : [Math.sin((1 - t) * half) / Math.sin(half), Math.sin(t * half) / Math.sin(half)];
  const sign = d < 0 ? -1 : 1;
  const q = a.quaternion.map((x, k) => s * x + sign * u * (b.quaternion[k] as number)) as unknown as FourNumbers;
  const l = Math.sqrt(inner(q, q));
  return { at: lerp(a.position, b.position, t), axes: axesOf([q[0] / l, q[1] / l, q[2] / l, q[3] / l]) };
}
