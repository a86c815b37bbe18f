import { beforeAll, describe, expect, test } from 'vitest';
import { type ArrangeResult, arrangeKit } from '../../src/arrange/index.ts';
import { type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { conjugate, multiply, place, rotate } from '../../src/geometry/rotation.ts';
import { distance, dot, heightOver, pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { Kit, Rules } from '../../src/model/parts.ts';
import { kitFor, styleNamed } from '../../src/parts/index.ts';
import { carveRoom, measureCast, type Room } from '../../src/room/index.ts';
import { plant } from '../support/planted.ts';
import { bodyOf, canal, kitOf, part, solid, USUAL } from '../support/rooms.ts';

const ORDER = { receiver: 'small', microphones: 1, pushButton: false, volumeWheel: false, telecoil: false, radio: false } as const;
const kitOfStyle = (name: 'IIC' | 'HS', wishes: Partial<Record<keyof typeof ORDER, unknown>> = {}): Kit => {
  const result = kitFor(styleNamed(name), { ...ORDER, ...wishes } as Parameters<typeof kitFor>[1], USUAL);
  if (result.kind !== 'kit') throw new Error(result.text);
  return result.kit;
};

const cast = canal(1.3, 16_000);
const field = measureCast(cast);
const roomBetween = (top: number, bottom: number, rules: Rules = USUAL): Room =>
  carveRoom(
    field,
    bodyOf(
      cast,
      { point: pt(0, 0, top), normal: pt(0, 0, 1) },
      { point: pt(0.4, 0.3, bottom), normal: pt(0, 0, -1) },
      pt(0, 0, (top + bottom) / 2),
    ),
    rules,
  );

describe('a search', () => {
  test('same seed, same bytes; another seed agrees within 0.03 mm', () => {
    const kit = kitOfStyle('IIC');
    const run = (seed: number): ArrangeResult => arrangeKit(roomBetween(-1, -12), kit, { seed, effort: 'normal', enough: 2 });
    const first = run(1);
    expect(JSON.stringify(run(1))).toBe(JSON.stringify(first));
    const spares = [2, 3, 4].map((s) => run(s).best?.spare ?? -9);
    for (const s of spares) expect(Math.abs(s - (first.best?.spare ?? 9))).toBeLessThan(0.03);
  });

  test('stops when asked, with what it has', () => {
    let asked = 0;
    let told = 0;
    const result = arrangeKit(roomBetween(-1, -12), kitOfStyle('IIC'), {
      seed: 1,
      effort: 'thorough',
      enough: 9,
      onBest: () => {
        told++;
      },
      shouldStop: () => ++asked > 12,
    });
    expect(result.stopped).toBe(true);
    expect(asked).toBeLessThan(40);
    if (told === 0) expect(result.best).toBeUndefined();
  });

  test('stops once there is enough, and reports the spare that it has', () => {
    const easy = kitOf([part('a', [solid('box', [1, 1, 1])]), part('b', [solid('box', [1, 1, 1])])]);
    const seen: number[] = [];
    const enough = arrangeKit(roomBetween(6, -12), easy, { seed: 1, effort: 'normal', onBest: (b) => seen.push(b.spare) });
    expect(enough.best?.spare).toBeGreaterThanOrEqual(0.5);
    expect(seen.at(-1)).toBeLessThanOrEqual((enough.best?.spare ?? 0) + 1e-9);
    const more = arrangeKit(roomBetween(6, -12), easy, { seed: 1, effort: 'normal', enough: 5 });
    expect(more.best?.spare).toBeGreaterThan((enough.best?.spare ?? 9) + 0.5);
  });

  test('a kit without hope still gets its best arrangement, below zero', () => {
    const big = kitOf([
      part('cell', [solid('cylinder', [14, 14, 6], [0, 0, -3])], { at: 'faceplate' }),
      part('chip', [solid('box', [3, 3, 1])]),
    ]);
    const { best, alone } = arrangeKit(roomBetween(-1, -12), big, { seed: 1, effort: 'quick' });
    expect(best?.poses).toHaveLength(2);
    expect(best?.spare).toBeLessThan(-2);
    expect(best?.spare).toBeLessThanOrEqual(Math.min(...alone) + 1e-6);
  });

  test('an empty kit has no arrangement', () => {
    expect(arrangeKit(roomBetween(-1, -12), kitOf([]), { seed: 1, effort: 'quick' }).best).toBeUndefined();
  });
});

describe('seats and ports', () => {
  test('every part is at its seat, and two microphones keep the ports rule', () => {
    const kit = kitOfStyle('HS', { microphones: 2, pushButton: true });
    const room = roomBetween(7, -10);
    for (const seed of [1, 2, 3]) {
      const { best } = arrangeKit(room, kit, { seed, effort: 'quick', enough: 0.3 });
      if (!best) throw new Error('nothing found');
      kit.parts.forEach((p, k) => {
        const pose = best.poses[k] as (typeof best.poses)[number];
        if (p.seat.at === 'faceplate') {
          const outer = room.body.cuts[0] as (typeof room.body.cuts)[number];
          expect(Math.abs(heightOver(outer.plane, pose.position) + USUAL.faceplate)).toBeLessThan(1e-6);
          expect(dot(rotate(pose.quaternion, [0, 0, 1]) as Vec3, outer.plane.normal)).toBeGreaterThan(1 - 1e-12);
        } else if (p.seat.at === 'tip') {
          expect(distance(place(pose, p.seat.spout), room.body.tip.at)).toBeLessThanOrEqual(p.seat.reach + 1e-9);
          expect(dot(rotate(pose.quaternion, [0, 0, 1]) as Vec3, room.body.tip.tangent)).toBeGreaterThanOrEqual(
            Math.cos(p.seat.cone) - 1e-9,
          );
        }
        expect(Math.hypot(...pose.quaternion)).toBeCloseTo(1, 12);
      });
      for (const r of kit.pairRules) {
        const at = (id: string) => (best.poses[kit.parts.findIndex((p) => p.id === id)] as (typeof best.poses)[number]).position;
        const d = distance(at(r.front), at(r.rear));
        expect(d).toBeGreaterThanOrEqual(r.least);
        expect(d).toBeLessThanOrEqual(r.most);
        // Horizontal as worn: square to superior. Front: anterior of rear.
        expect(Math.asin(Math.abs(at(r.front)[1] - at(r.rear)[1]) / d)).toBeLessThanOrEqual(r.tilt);
        expect(at(r.front)[0]).toBeGreaterThan(at(r.rear)[0]);
      }
    }
  });

  test('a ports rule that the room cannot keep is not given up: the spare pays', () => {
    // Two microphones 4 to 12 mm apart under a faceplate only 9 mm wide: with the rule they crowd the wall.
    const two = kitOfStyle('HS', { microphones: 2 }).parts.filter((p) => p.kind === 'microphone');
    const rule = { rule: 'ports', front: 'front-microphone', rear: 'rear-microphone', least: 6.5, most: 12, tilt: 0.35 } as const;
    const room = roomBetween(-1, -12);
    const free = arrangeKit(room, kitOf(two), { seed: 1, effort: 'normal', enough: 3 }).best;
    const bound = arrangeKit(room, kitOf(two, [rule]), { seed: 1, effort: 'normal', enough: 3 }).best;
    expect(free && bound && bound.spare < free.spare - 0.1).toBe(true);
    const [f, r] = bound?.poses ?? [];
    expect(f && r && distance(f.position, r.position) >= 6.5).toBe(true);
  });
});

describe('the spare reported', () => {
  test('service room asks nothing of cuts and partners in service, and holds solids off', () => {
    const tubeOf = (kind: 'solid' | 'service') => ({ ...solid('cylinder', [1.4, 1.4, 4], [0, 0, 4]), kind });
    const seat = { at: 'tip', spout: [0, 0, 2] as Vec3, reach: 2, cone: 0.3 } as const;
    const withTube = (kind: 'solid' | 'service') => kitOf([part('receiver', [solid('box', [2.7, 1.9, 4]), tubeOf(kind)], seat)]);
    const room = roomBetween(2, -12);
    const spare = (kit: Kit): number => arrangeKit(room, kit, { seed: 1, effort: 'normal', enough: 3 }).best?.spare ?? -9;
    // As solid the tube must stay 0.7 mm short of the tip face; as service it may pass it.
    expect(spare(withTube('service'))).toBeGreaterThan(spare(withTube('solid')) + 0.2);
  });

  test('a pose turned by a part symmetry has the same spare', () => {
    const room = roomBetween(-1, -12);
    const kit = kitOf([part('chip', [solid('box', [3.6, 2.8, 1.4])])]);
    const { best } = arrangeKit(room, kit, { seed: 1, effort: 'quick' });
    if (!best) throw new Error('nothing found');
    const pose = best.poses[0] as (typeof best.poses)[number];
    const half = { position: pose.position, quaternion: multiply(pose.quaternion, conjugate([1, 0, 0, 0])) };
    const a = room.clearanceOf(solid('box', [3.6, 2.8, 1.4]), pose);
    const b = room.clearanceOf(solid('box', [3.6, 2.8, 1.4]), half);
    expect(a.wall).toBeCloseTo(b.wall, 8);
    expect(best.spare).toBeCloseTo(Math.min(a.wall - 0.7, (a.cuts[0] as number) - 0.9, (a.cuts[1] as number) - 0.7), 8);
  });
});

describe('planted arrangements are found again', () => {
  let kernel: Kernel;
  beforeAll(async () => {
    kernel = await loadKernel();
  });
  // The room is a canal too narrow for the kit, united with each part grown by what the rules ask and the slack: where
  // the parts were planted there is that slack to spare (less what meshing takes), and hardly anywhere else.
  for (const slack of [0.3, 0.15, 0.05]) {
    test(`slack ${slack}: IIC kits, seeds 1 to 6`, () => {
      const kit = kitOfStyle('IIC');
      let rooms = 0;
      for (let seed = 1; seed <= 6; seed++) {
        const planted = plant(kernel, kit, seed, slack, 0.8, [-1, -13]);
        if (!planted) continue;
        rooms++;
        const room = carveRoom(measureCast(planted.cast), planted.body, USUAL);
        expect(arrangeKit(room, kit, { seed: 1, effort: 'normal' }).best?.spare, `planted seed ${seed}`).toBeGreaterThanOrEqual(0);
      }
      expect(rooms).toBeGreaterThan(2);
    });
  }
});
