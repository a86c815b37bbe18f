/** The player's arithmetic: where each part is at each moment of the whole, against the verified motions themselves. */
import { describe, expect, test } from 'vitest';
import { keyedTo, playedOn, type Step, standsAt, stepAt, stepsOf, wayLeft, wordsAt } from '../../src/app/way-in.ts';
import { assembleKit, moveAt } from '../../src/assemble/index.ts';
import { seeded } from '../../src/geometry/random.ts';
import { place } from '../../src/geometry/rotation.ts';
import { distance, type Pose, type Vec3 } from '../../src/geometry/vec.ts';
import type { Rung } from '../../src/model/fit.ts';
import type { Kit } from '../../src/model/parts.ts';
import { at, bentCorridor, type ShellCase, vessel } from '../assemble/shells.ts';
import { kitOf, part, primitive } from '../support/bodies.ts';

function rungOf(shell: ShellCase, kit: Kit, poses: readonly Pose<'ear'>[]): Rung {
  const assembly = assembleKit(shell.room, kit, poses, shell.line, { seed: 1, effort: 'normal' });
  if (!assembly) throw new Error('nobody stopped it');
  return { style: 'IIC', verdict: 'fits', ceiling: Infinity, kit, arrangement: { poses, spare: 1 }, assembly, reasons: [], cautions: [] };
}

const faceplate = { at: 'faceplate' } as const;
/** A ball deep in a vessel, and a faceplate that carries a block and a pin. */
const carried = kitOf([
  part('block', [primitive('box', [3, 3, 2], { position: [0, 0, -1] })], faceplate),
  part('ball', [primitive('capsule', [2, 2, 2])]),
  part('pin', [primitive('cylinder', [1, 1, 2], { position: [0, 0, -1] })], faceplate),
]);
const vesselRung = rungOf(
  vessel(() => 5, 14, 0.5),
  carried,
  [at(-1, 0, 0), at(0, 0, -9), at(2.5, 0, 0)],
);
/** A rod that must turn on its way. */
const rod = kitOf([part('rod', [primitive('capsule', [1, 1, 4])])]);
const cornerRung = rungOf(bentCorridor(4, 3, 14, 16, 0.3), rod, [at(10, 0, -12, [0, Math.SQRT1_2, 0, Math.SQRT1_2])]);

const LOCAL: Vec3[] = [
  [0, 0, 2],
  [1, -2, 0.5],
  [-3, 1, 1],
];
/** Where a part's points are at a moment, taken from its place by what the scene is given. */
function seenAt(rung: Rung, steps: readonly Step[], moment: number, id: string): Vec3[] | 'away' {
  const home = rung.arrangement?.poses[rung.kit?.parts.findIndex((p) => p.id === id) ?? -1];
  if (!home) throw new Error(`no ${id}`);
  const where = standsAt(steps, moment).parts.get(id);
  if (where === 'away') return 'away';
  return LOCAL.map((p) => (where ? place(where, place(home, p)) : place(home, p)));
}

describe('the steps', () => {
  test('are the moves in their order, the faceplate last with all that it carries', () => {
    const steps = stepsOf(vesselRung);
    expect(steps.map((s) => [s.short, s.full, s.plate])).toEqual([
      ['ball', 'ball', false],
      ['Faceplate', 'Faceplate with block, pin', true],
    ]);
  });

  test('there are none where parts are stuck, where nobody looked, or where there is no rung', () => {
    const { assembly: _, ...unasked } = vesselRung;
    const stuck = { kind: 'stuck', parts: ['ball'], at: at(0, 0, -3).position, depth: 1, lacks: 0.1 } as const;
    expect([stepsOf({ ...unasked, assembly: stuck }), stepsOf(unasked), stepsOf(undefined)]).toEqual([[], [], []]);
  });
});

describe.each([
  ['a vessel', vesselRung],
  ['a corner', cornerRung],
] as const)('in %s', (_, rung) => {
  const steps = stepsOf(rung);
  const n = steps.length;

  test('every part is where its verified motion has it, waits unseen before, and stays in its place after', () => {
    const random = seeded(5);
    const moments = [...Array.from({ length: n }, (_, k) => k), ...Array.from({ length: 120 }, () => n * random.next())];
    for (const moment of moments) {
      const { index, share } = stepAt(steps, moment);
      for (const [k, { move }] of steps.entries()) {
        for (const [i, id] of move.parts.entries()) {
          const seen = seenAt(rung, steps, moment, id);
          if (k > index) expect(seen).toBe('away');
          else {
            const pose = moveAt(move, k < index ? 1 : share)[i] as Pose<'ear'>;
            for (const [c, p] of LOCAL.entries())
              expect(distance((seen as Vec3[])[c] as Vec3, place(pose, p)), `${id} at ${moment}`).toBeLessThan(1e-9);
          }
        }
      }
    }
  });

  test('at the end nothing is left to move: all stand where they are reported', () => {
    const { parts, plate } = standsAt(steps, n);
    expect([parts.size, plate, wayLeft(steps, n)]).toEqual([0, undefined, 0]);
    for (const { move, places } of steps) expect(move.poses.at(-1)).toEqual(places);
  });

  test('the way that is left ends at nothing, and never jumps', () => {
    let before = wayLeft(steps, 0);
    for (let k = 1; k <= 400 * n; k++) {
      const now = wayLeft(steps, k / 400);
      expect(Number.isFinite(now)).toBe(true);
      if (k % 400 !== 0) expect(Math.abs(now - before)).toBeLessThan(0.5);
      else if (k < 400 * n) expect(now).toBeGreaterThan(1); // the next one, outside
      before = now;
    }
    expect(before).toBe(0);
  });
});

test('the plate moves as one with every part that it carries', () => {
  const steps = stepsOf(vesselRung);
  for (let k = 0; k < 50; k++) {
    const { parts, plate } = standsAt(steps, 1 + k / 50);
    if (!plate || plate === 'away') throw new Error('no plate');
    for (const id of ['block', 'pin']) {
      const own = parts.get(id);
      if (!own || own === 'away') throw new Error(`${id} does not move`);
      for (const p of LOCAL) expect(distance(place(own, p), place(plate, p))).toBeLessThan(1e-9);
    }
  }
  expect(standsAt(steps, 0.5).plate).toBe('away');
});

test('in words: which, how far, how much is left, which of how many', () => {
  const steps = stepsOf(vesselRung);
  expect(wordsAt(steps, 1.4)).toMatchObject({ name: 'Faceplate, 40 %', count: '2 of 2' });
  expect(wordsAt(steps, 1.4).spoken).toMatch(/^Faceplate with block, pin, 40 % of the way in, \d+\.\d\d mm to go, 2 of 2$/);
  expect(wordsAt(steps, 2)).toEqual({ name: 'All in place', count: '2 of 2', spoken: 'All parts in their place' });
});

describe('playing', () => {
  test('takes 1.2 s a move, however often it is drawn, always forwards', () => {
    const random = seeded(9);
    for (const frame of [4, 16.7, 33, 100]) {
      let moment = 0;
      let time = 0;
      while (moment < 3) {
        const ms = frame * random.between(0.6, 1.4);
        const next = playedOn(moment, ms);
        expect(next).toBeGreaterThan(moment);
        moment = next;
        time += ms;
      }
      expect(time).toBeGreaterThan(3600 - 1);
      expect(time).toBeLessThan(3600 + 1.4 * frame + 1);
    }
  });

  test('goes on from wherever it was left', () => {
    for (let k = 0; k < 100; k++) {
      expect(playedOn(k / 50, 0)).toBeCloseTo(k / 50, 9);
      expect(playedOn(playedOn(k / 50, 130), 170)).toBeCloseTo(playedOn(k / 50, 300), 9);
    }
  });
});

describe('keys', () => {
  const pressed = (key: string, times: number, from: number, n: number): number => {
    let moment = from;
    for (let i = 0; i < times; i++) moment = keyedTo(key, moment, n) ?? Number.NaN;
    return moment;
  };

  test('a hundred arrows make the whole, neither more nor less, for any number of parts', () => {
    for (let n = 1; n <= 9; n++) {
      expect(pressed('ArrowRight', 100, 0, n)).toBe(n);
      expect(pressed('ArrowRight', 99, 0, n)).toBeLessThan(n);
      expect(pressed('ArrowLeft', 100, n, n)).toBe(0);
      expect(pressed('ArrowLeft', 120, n, n)).toBe(0);
    }
  });

  test('pages go to where parts begin', () => {
    expect([keyedTo('PageUp', 0, 3), keyedTo('PageUp', 1.3, 3), keyedTo('PageUp', 3, 3)]).toEqual([1, 2, 3]);
    expect([keyedTo('PageDown', 0, 3), keyedTo('PageDown', 1.3, 3), keyedTo('PageDown', 2, 3)]).toEqual([0, 1, 1]);
    expect(keyedTo('a', 1, 3)).toBeUndefined();
  });
});
