/**
 * Is an arrangement what it claims to be? Every clearance measured again, every seat checked, every overlap ruled out by
 * volume, by code that shares nothing with the search: no distance field, no tree, only the body's triangles.
 */
import type { Kernel } from '../geometry/kernel.ts';
import { heightOver, type Plane, type Pose, pt } from '../geometry/vec.ts';
import { Fault } from '../model/fault.ts';
import type { Body, Clearance, Cut, Evidence, Measured } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import { boreOf } from '../parts/vent.ts';
import { bodyFaults, seatFaults } from './seats.ts';
import { separation } from './separation.ts';
import { Solid } from './solid.ts';
import { facetExcess, type Matter, overlaps } from './volume.ts';
import { type Reading, Wall } from './wall.ts';

/** A part where it stands. */
interface Placed {
  readonly part: Part;
  readonly solids: readonly Solid[];
  readonly service: readonly Solid[];
  /** What must keep away from the outside: the solids, or the bore of what is grown into the shell. */
  readonly held: readonly Solid[];
}

/**
 * Verifies one arrangement of `kit` in `body` (ear frame, mm). Pure: same input, same evidence.
 * Every figure is a lower bound of the true one: at most 1e-4 mm below it where nothing overlaps, and at most some
 * hundredths below it where something does. Throws Fault verify/poses when the poses are not one a part.
 */
export function verifyArrangement(kernel: Kernel, body: Body, rules: Rules, kit: Kit, poses: readonly Pose<'ear'>[]): Evidence {
  if (poses.length !== kit.parts.length) {
    throw new Fault('verify/poses', `${poses.length} poses for ${kit.parts.length} parts`, `kit of ${kit.style}`, 'Give one pose a part');
  }
  const faults = [...bodyFaults(body), ...seatFaults(body, rules, kit, poses)];
  if (faults.some((f) => f.includes('not a number'))) return refused(kit, faults);
  const placed = kit.parts.map((part, i) => placePart(rules, part, poses[i] as Pose<'ear'>));
  const wall = new Wall(body);
  const single = placed.map((p) => measureSingle(wall, body, rules, p));
  const pairs = placed.flatMap((a, i) => placed.slice(i + 1).map((b) => measurePair(rules, kit, a, b))).filter((m) => m !== undefined);
  const measured = [...single.flat(), ...pairs];
  const volumes = overlaps(
    kernel,
    body,
    placed.map((p) => matterOf(body, p)),
    hasRoomForFacets(placed, measured),
  );
  faults.push(...volumes.faults);
  const tightest = measured.reduce((a, b) => (b.spare < a.spare ? b : a), NOTHING);
  return {
    sound: faults.length === 0,
    spare: tightest.spare,
    tightest,
    measured,
    clearance: placed.map((p) => clearanceOf(body, p, measured)),
    overlapVolume: volumes.volume,
    faults,
  };
}

/** What an empty kit measures. */
const NOTHING: Measured = { kind: 'wall', part: '', has: Infinity, asked: 0, spare: Infinity, at: pt(0, 0, 0) };

/** Nothing can be measured with numbers that are none. */
function refused(kit: Kit, faults: readonly string[]): Evidence {
  const none: Clearance = { wall: -Infinity, parts: -Infinity, faceplate: -Infinity };
  const tightest: Measured = { ...NOTHING, part: kit.parts[0]?.id ?? '', has: -Infinity, spare: -Infinity };
  return { sound: false, spare: -Infinity, tightest, measured: [], clearance: kit.parts.map(() => none), overlapVolume: Infinity, faults };
}

function placePart(rules: Rules, part: Part, pose: Pose<'ear'>): Placed {
  const of = (kind: 'solid' | 'service'): Solid[] => part.primitives.filter((p) => p.kind === kind).map((p) => new Solid(p, pose));
  const solids = of('solid');
  const held = part.seat.at === 'shell' ? part.primitives.map((p) => new Solid(boreOf(p, rules), pose)) : solids;
  return { part, solids, service: of('service'), held };
}

const measure = (kind: Measured['kind'], part: string, asked: number, r: Reading, other?: string): Measured => ({
  kind,
  part,
  ...(other === undefined ? {} : { other }),
  has: r.has,
  asked,
  spare: r.has - asked,
  at: r.at,
});

const least = (readings: readonly Reading[]): Reading => readings.reduce((a, b) => (b.has < a.has ? b : a));

/** How far a solid stays behind a plane, exact by its farthest point. */
function behind(solid: Solid, plane: Plane<'ear'>): Reading {
  const at = solid.support(plane.normal);
  return { has: -heightOver(plane, at), at };
}

/** Everything about one part that does not depend on the others. */
function measureSingle(wall: Wall, body: Body, rules: Rules, p: Placed): Measured[] {
  const { id, margin, seat } = p.part;
  if (seat.at === 'shell') return measureGrown(wall, body, rules, p);
  const out: Measured[] = [];
  if (p.solids.length > 0) {
    const asked = rules.wall + rules.gap + margin;
    out.push(measure('wall', id, asked, least(p.solids.map((s) => wall.clearance(s)))));
    for (const cut of body.cuts) {
      const reading = least(p.solids.map((s) => behind(s, cut.plane)));
      if (cut.name !== 'outer') out.push(measure(cut.name, id, asked, reading));
      else if (seat.at !== 'faceplate') out.push(measure('faceplate', id, rules.faceplate + rules.gap + margin, reading));
    }
  }
  if (p.service.length > 0) out.push(measure('service', id, 0, least(p.service.map((s) => wall.clearance(s)))));
  return out;
}

/** What is grown into the shell: its bore keeps a wall from the outside. */
function measureGrown(wall: Wall, body: Body, rules: Rules, { part: { id }, held }: Placed): Measured[] {
  return [
    measure('wall', id, rules.wall, least(held.map((s) => wall.clearance(s)))),
    ...body.cuts
      .filter((cut) => cut.name === 'upper')
      .map((cut) => measure('upper', id, rules.wall, least(held.map((s) => behind(s, cut.plane))))),
  ];
}

/** Two parts: matter to matter, and matter to the other's service room. Undefined when nothing is asked. */
function measurePair(rules: Rules, kit: Kit, a: Placed, b: Placed): Measured | undefined {
  const found: Measured[] = [];
  const grown = [a, b].some((p) => p.part.seat.at === 'shell');
  const gap = grown ? rules.gap : rules.partGap;
  const meet = (of: readonly Solid[], to: readonly Solid[], asked: number): void => {
    for (const s of of) {
      for (const t of to) {
        const { least: has, at } = separation(s, t);
        found.push(measure('parts', a.part.id, asked, { has, at }, b.part.id));
      }
    }
  };
  const apart = (kit.apart ?? []).filter((r) => r.between.includes(a.part.id) && r.between.includes(b.part.id)).map((r) => r.least);
  meet(a.solids, b.solids, Math.max(gap + a.part.margin + b.part.margin, ...apart));
  meet(a.solids, b.service, gap + a.part.margin);
  meet(a.service, b.solids, gap + b.part.margin);
  return found.length === 0 ? undefined : found.reduce((m, n) => (n.spare < m.spare ? n : m));
}

function matterOf(body: Body, p: Placed): Matter {
  const open: Partial<Record<Part['seat']['at'], readonly Cut['name'][]>> = { faceplate: ['outer'], shell: ['outer', 'tip'] };
  const names = open[p.part.seat.at] ?? [];
  const passes = body.cuts.filter((c) => names.includes(c.name)).map((c) => c.plane);
  return { id: p.part.id, held: p.held, solids: p.solids, service: p.service, passes };
}

/** Facets may be drawn round the primitives when every distance there is exceeds what they add, on both sides. */
function hasRoomForFacets(placed: readonly Placed[], measured: readonly Measured[]): boolean {
  const excess = Math.max(0, ...placed.flatMap((p) => [...p.solids, ...p.service].map(facetExcess)));
  return measured.every((m) => m.kind === 'service' || m.has > 2 * excess + 1e-4);
}

function clearanceOf(body: Body, p: Placed, measured: readonly Measured[]): Clearance {
  const id = p.part.id;
  const of = (kinds: readonly Measured['kind'][]): number =>
    Math.min(Infinity, ...measured.filter((m) => kinds.includes(m.kind) && (m.part === id || m.other === id)).map((m) => m.has));
  const outer = body.cuts.find((c) => c.name === 'outer');
  const faceplate = outer && p.part.seat.at !== 'shell' ? Math.min(Infinity, ...p.solids.map((s) => behind(s, outer.plane).has)) : Infinity;
  return { wall: of(['wall', 'tip', 'upper']), parts: of(['parts']), faceplate };
}
