/** No accepted certificate may be false: inequalities, mutated files and forged ones against poses that the verifier measures. */
import { describe, expect, it } from 'vitest';
import { type Cell, posesOf } from '../../src/certify/cells.ts';
import { Checker } from '../../src/certify/check.ts';
import { CUTS, isSeated, type JointRow, type Row } from '../../src/certify/format.ts';
import { type Certificate, certificateDocument, certify, readCertificate } from '../../src/certify/index.ts';
import { isCutThere } from '../../src/certify/text.ts';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { place } from '../../src/geometry/rotation.ts';
import { distance, heightOver, type Point, type Pose, pt } from '../../src/geometry/vec.ts';
import { Fault } from '../../src/model/fault.ts';
import type { Body } from '../../src/model/fit.ts';
import type { Part, Rules } from '../../src/model/parts.ts';
import { Columns, Nearest } from '../../src/verify/inside.ts';
import { Surface } from '../../src/verify/surface.ts';
import { Wall } from '../../src/verify/wall.ts';
import { ellipticTube, kitOf, RULES } from '../support/bodies.ts';
import { goodPoses, type Kind, kindNamed, poseAt, spareOf, written } from './kinds.ts';

const pick = <T>(random: Random, list: readonly T[]): T => list[random.below(list.length)] as T;

describe('where a cell takes a point', () => {
  it.each([
    ['a cell in a bent one', 3],
    ['a free part', 6],
  ] as const)('%s: no farther than reach, nor than rest from the first order, SEED=6', (name, size) => {
    const random = seeded(6);
    const kind = kindNamed(name);
    const normal = (kind.body.cuts[0] as Body['cuts'][number]).plane.normal;
    const [part] = written(kind, 0.1).parts as [Certificate['parts'][number]];
    const poses = posesOf(part, kind.body.cuts[0]?.plane);
    let [nearest, nearestRest] = [0, 0];
    for (let k = 0; k < 4000; k++) {
      const spread = 10 ** random.between(-2, -0.3);
      const half = Array.from({ length: size }, (_, i) => (i < size / 2 && size === 6 ? 1e-3 : spread * random.next()));
      const middle = half.map((_, i) => (i < size / 2 ? random.between(-2, 2) : random.between(-1, 1)));
      const lo = Float64Array.from(middle, (m, i) => m - (half[i] as number));
      const hi = Float64Array.from(middle, (m, i) => m + (half[i] as number));
      const p = [random.normal(), random.normal(), random.normal()] as const;
      const m = poses.moves({ lo, hi, root: 0 }, p);
      const z = half.map(() => (random.below(3) > 0 ? Math.sign(random.normal()) : random.between(-1, 1)));
      const pose = poseAt(
        part,
        0,
        middle.map((x, i) => x + (z[i] as number) * (half[i] as number)),
        normal,
      );
      const q = place(pose, p);
      const straight = [0, 1, 2].map(
        (d) => (m.at[d] as number) + m.slopes.reduce((sum, v, i) => sum + (v[d] as number) * (z[i] as number), 0),
      );
      const off = distance(q, pt<'ear'>(straight[0] as number, straight[1] as number, straight[2] as number));
      const moved = distance(q, pt<'ear'>(...m.at));
      expect(moved).toBeLessThanOrEqual(m.reach + 1e-11);
      expect(off).toBeLessThanOrEqual(m.rest + 1e-11);
      nearest = Math.max(nearest, moved / m.reach);
      nearestRest = Math.max(nearestRest, off / m.rest);
    }
    // Neither is much larger than it must be.
    expect(nearest).toBeGreaterThan(0.8);
    expect(nearestRest).toBeGreaterThan(0.5);
  });
});

describe('what rows allow in a cell', () => {
  /** Rows of all kinds, of points, balls, witnesses and cuts at random: sound whatever they are, tight only by luck. */
  function rowsOf(random: Random, c: Certificate): JointRow[] {
    const own = (of: number): JointRow => {
      const { seat, points } = c.parts[of] as Certificate['parts'][number];
      const cuts = CUTS.filter((name) => name === 'tip' || (name === 'outer' && seat.at !== 'faceplate'));
      const against = random.below(4) === 0 ? pick(random, cuts) : random.below(c.witnesses.length);
      return { of, row: [random.below(points.length), random.next(), against] as Row };
    };
    const pair = (): JointRow => {
      const [a, b] = c.parts.map((p) => random.below(p.balls.length));
      const swapped = random.below(2) === 0;
      const weight = random.next();
      return swapped
        ? { first: 1, second: 0, weight, a: b as number, b: a as number }
        : { first: 0, second: 1, weight, a: a as number, b: b as number };
    };
    const n = 1 + random.below(5);
    const met = c.parts.length === 2 && c.parts.every((p) => p.balls.length > 0);
    return Array.from({ length: n }, () => (met && random.below(2) === 0 ? pair() : own(random.below(c.parts.length))));
  }

  /** A cell round a pose, of any size; and the pose's coordinates in it, often at a corner. */
  function drawn(random: Random, c: Certificate, i: number, size: number): { readonly cell: Cell; readonly at: number[] } {
    const { poses } = c.parts[i] as Certificate['parts'][number];
    const seated = isSeated(poses);
    const middle = seated
      ? [random.between(-2, 2), random.between(-2, 2), random.between(0, 6)]
      : [random.between(-1.5, 1.5), random.between(-1.5, 1.5), random.between(-7, 0), ...[0, 0, 0].map(() => random.between(-1, 1))];
    const half = middle.map((_, k) => size * random.next() * (k < middle.length / 2 ? 1 : 0.4));
    const lo = Float64Array.from(middle, (m, k) => m - (half[k] as number));
    const hi = Float64Array.from(middle, (m, k) => m + (half[k] as number));
    const corner = random.below(2) === 0;
    const at = middle.map((m, k) => m + (half[k] as number) * (corner ? Math.sign(random.normal()) : random.between(-1, 1)));
    return { cell: { lo, hi, root: seated ? 0 : random.below(poses.bases.length) }, at };
  }

  /** What a row says of one pose by itself: distances between places that are worked out here, by way of the pose. */
  function saidOf(
    row: JointRow,
    kind: Kind,
    c: Certificate,
    room: (w: readonly number[]) => number,
    poses: readonly Pose<'ear'>[],
  ): number {
    const at = (i: number, p: readonly number[]): Point<'ear'> =>
      place(poses[i] as Pose<'ear'>, [p[0] as number, p[1] as number, p[2] as number]);
    const part = (i: number): Certificate['parts'][number] => c.parts[i] as Certificate['parts'][number];
    const { rules } = c;
    if ('first' in row) {
      const [a, b] = [part(row.first).balls[row.a] as readonly number[], part(row.second).balls[row.b] as readonly number[]];
      const asked = rules.partGap + part(row.first).margin + part(row.second).margin;
      return distance(at(row.first, a), at(row.second, b)) - (a[3] as number) - (b[3] as number) - asked;
    }
    const { of, row: own } = row;
    const [point, , against] = own;
    const q = at(of, part(of).points[point] as readonly number[]);
    const asked = (against === 'outer' ? rules.faceplate : rules.wall) + rules.gap + part(of).margin;
    if (typeof against !== 'number')
      return -heightOver((kind.body.cuts.find((cut) => cut.name === against) as Body['cuts'][number]).plane, q) - asked;
    const w = c.witnesses[against] as readonly number[];
    return room(w) + distance(q, pt<'ear'>(w[0] as number, w[1] as number, w[2] as number)) - asked;
  }

  it.each(
    [
      'a cell in a bent one',
      'a free part',
      'one whose spout is off its axis',
      'two at the faceplate',
      'one at the faceplate and one at the tip',
    ].map((name) => [name, kindNamed(name)] as const),
  )('%s: never less than the same rows say of any pose in it, and hardly more in a small one, SEED=1', (_, kind) => {
    const random = seeded(1);
    // Claims nothing yet: only its points, balls and witnesses are wanted.
    const c = written(kind, kind.ceiling + 0.2);
    const checker = new Checker(c, kind.body);
    const surface = new Nearest(new Surface(kind.body).corners);
    const inside = new Columns(kind.body.mesh);
    /** By the verifier's own search: a distance to the cast's surface, less than nothing outside and behind all cuts. */
    const room = (w: readonly number[]): number => {
      const [x, y, z] = w as [number, number, number];
      const far = surface.distance(x, y, z, new Float64Array(3));
      const behind = kind.body.cuts.every((cut) => heightOver(cut.plane, pt<'ear'>(x, y, z)) < 0);
      return behind && !inside.contains(x, y, z) ? -far : far;
    };
    const normal = (kind.body.cuts[0] as Body['cuts'][number]).plane.normal;
    for (let k = 0; k < 500; k++) {
      const size = 10 ** random.between(-3, 0.3);
      const placed = c.parts.map((_p, i) => drawn(random, c, i, size));
      const rows = rowsOf(random, c);
      const bound = checker.together(
        placed.map((p) => p.cell),
        rows,
      );
      const poses = c.parts.map((p, i) => poseAt(p, placed[i]?.cell.root ?? 0, placed[i]?.at as number[], normal));
      const weight = (r: JointRow): number => ('of' in r ? r.row[1] : r.weight);
      const total = rows.reduce((sum, r) => sum + weight(r), 0);
      const said = rows.reduce((sum, r) => sum + (weight(r) / total) * saidOf(r, kind, c, room, poses), 0);
      expect(said).toBeLessThanOrEqual(bound);
      // No point moves farther than some sizes of its cell; what a cut's face may lie off its plane comes on top.
      expect(bound).toBeLessThan(said + 30 * size + 3e-4);
    }
  });
});

/** One number of a file's text changed a little or a lot, one word for another, one entry for another. */
function mutated(random: Random, document: ReturnType<typeof certificateDocument>): string {
  const copy = JSON.parse(JSON.stringify(document)) as Record<string, unknown>;
  let [holder, key]: [Record<string, unknown>, string] = [copy, pick(random, Object.keys(copy))];
  for (;;) {
    const value = holder[key];
    if (typeof value !== 'object' || value === null) break;
    const keys = Object.keys(value);
    if (keys.length === 0) break;
    [holder, key] = [value as Record<string, unknown>, pick(random, keys)];
  }
  holder[key] = changed(random, holder[key], holder);
  return JSON.stringify(copy);
}

function changed(random: Random, value: unknown, among: Readonly<Record<string, unknown>>): unknown {
  if (typeof value === 'number') return numberFrom(random, value);
  if (typeof value !== 'string') return value;
  const numbers = [...value.matchAll(/-?\d+(\.\d+)?/g)];
  if (numbers.length === 0 || random.below(3) === 0) return pick(random, Object.values(among));
  const one = pick(random, numbers);
  const whole = !one[0].includes('.') && random.below(2) === 0;
  const next = whole ? Math.abs(Number(one[0]) + random.below(5) - 2) : numberFrom(random, Number(one[0]));
  return value.slice(0, one.index) + String(next) + value.slice(one.index + one[0].length);
}

const numberFrom = (random: Random, x: number): number =>
  pick(random, [-x, x + 0.05 * random.normal(), x * (1 + random.normal()), x + random.normal(), 0, 1, x + 1e-3]);

/** Undefined for what is not even read. */
function readOrNone(text: string): Certificate | undefined {
  try {
    return readCertificate(text, 'c.json');
  } catch (e) {
    if (e instanceof Fault) return undefined;
    throw e;
  }
}

/** The parts and rules that a certificate speaks of, with the verifier's eyes. */
function claimed(c: Certificate) {
  const parts = c.parts.map(
    (p): Part => ({
      id: p.id,
      kind: 'chip',
      name: p.name,
      primitives: p.primitives.map((s) => ({ ...s, kind: 'solid' })),
      seat: p.seat,
      margin: p.margin,
      source: 'test',
    }),
  );
  const rules: Rules = { ...c.rules, tolerance: RULES.tolerance };
  return { kit: kitOf(parts, c.ports ? [c.ports] : []), rules };
}

/** Does it claim what the other does, or less? */
function saysNoMore(c: Certificate, than: Certificate): boolean {
  const what = ({ style, rules, ports, parts }: Certificate): string =>
    JSON.stringify([style, rules, ports, parts.map(({ id, margin, seat, primitives }) => [id, margin, seat, primitives])]);
  return what(c) === what(than) && c.ceiling >= than.ceiling;
}

describe('files with one thing changed', () => {
  it.each(
    ['a cell in a straight tube', 'a round one', 'two at the faceplate', 'three at the faceplate', 'two ports too near to each other'].map(
      (name) => [name, kindNamed(name)] as const,
    ),
  )('%s: refused, or still true of the best poses that are known, SEED=2', (_, kind) => {
    const random = seeded(2);
    const original = written(kind);
    const document = certificateDocument(original);
    const poses = goodPoses(kind, original, 3, 100);
    const wall = new Wall(kind.body);
    // What the original claims is true of them, so they are no poor choice to hold the others against.
    for (const p of poses) expect(spareOf(wall, kind.body, RULES, kind.kit, p)).toBeLessThanOrEqual(original.ceiling);
    let refused = 0;
    for (let k = 0; k < 50; k++) {
      const c = readOrNone(mutated(random, document));
      if (!c || !certify(c, kind.body).holds) {
        refused++;
        continue;
      }
      if (saysNoMore(c, original)) continue;
      const { kit, rules } = claimed(c);
      const all = c.parts.map((p) => poses.map((set) => set[original.parts.findIndex((q) => q.id === p.id)]));
      for (let i = 0; i < poses.length; i++) {
        const set = all.map((list) => list[i]).filter((p) => p !== undefined);
        if (set.length === kit.parts.length) expect(spareOf(wall, kind.body, rules, kit, set)).toBeLessThanOrEqual(c.ceiling + 1e-9);
      }
    }
    expect(refused).toBeGreaterThan(12);
  });
});

describe('certificates against what stands', () => {
  // The part has its place in these bodies, with more to spare than is claimed: whatever such a file says is false.
  it.each([
    ['a cell in a straight tube', ellipticTube(9.4, 7.4, 14, 72, 30)],
    ['a free part', ellipticTube(8.4, 7.6, 8, 40, 16)],
    ['two at the faceplate', ellipticTube(11.5, 8.5, 9, 48, 20)],
  ] as const)('%s: none is accepted, not of the right body, not mutated, not with its own witnesses, SEED=4', (name, body) => {
    const random = seeded(4);
    const kind = kindNamed(name);
    const original = written(kind);
    const wall = new Wall(body);
    const [best] = goodPoses({ ...kind, body }, original, 5, 500);
    expect(spareOf(wall, body, RULES, kind.kit, best as Pose<'ear'>[])).toBeGreaterThan(original.ceiling);
    expect(certify(original, body).holds).toBe(false);
    const document = certificateDocument(original);
    for (let k = 0; k < 40; k++) {
      const c = readOrNone(mutated(random, document));
      if (!c || c.ceiling > original.ceiling || !certify(c, body).holds) continue;
      const { kit, rules } = claimed(c);
      expect(spareOf(wall, body, rules, kit, best as Pose<'ear'>[])).toBeLessThanOrEqual(c.ceiling);
    }
    // Poses that take the slides as far as this body asks, every cell closed by any row of any other.
    const closings = original.parts[0]?.cells.filter((e) => typeof e === 'object' && !isCutThere(e)) ?? [];
    for (let k = 0; k < 10; k++) {
      const part = original.parts[0] as Certificate['parts'][number];
      const wide = isSeated(part.poses)
        ? {
            ...part.poses,
            slide: [
              [-12, 12],
              [-12, 12],
            ] as const,
          }
        : {
            ...part.poses,
            box: [
              [-12, 12],
              [-12, 12],
              [-16, 12],
            ] as const,
          };
      const cells = part.cells.map((e) => (typeof e === 'object' && !isCutThere(e) ? pick(random, closings) : e));
      expect(certify({ ...original, parts: [{ ...part, poses: wide, cells }, ...original.parts.slice(1)] }, body).holds).toBe(false);
    }
  });
});
