import { beforeAll, describe, expect, test } from 'vitest';
import { type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { bringIn, stuckReason } from '../../src/ladder/way-in.ts';
import { verifyArrangement } from '../../src/verify/index.ts';
import { kitOf, part, primitive } from '../support/bodies.ts';
import { at, rulesOf, vessel } from './shells.ts';

describe('an arrangement in a bottle, judged by its way in', () => {
  const shell = vessel((z) => (z > -4 ? 3 : z < -6 ? 5 : 3 + (-4 - z)), 14, 0.5);
  const rules = rulesOf(0.5);
  let kernel: Kernel;
  beforeAll(async () => {
    kernel = await loadKernel();
  });
  const judge = (radius: number) => {
    const kit = kitOf([part('ball', [primitive('capsule', [2 * radius, 2 * radius, 2 * radius])])]);
    const poses = [at(0, 0, -9.4)];
    const evidence = verifyArrangement(kernel, shell.body, rules, kit, poses);
    expect(evidence.sound).toBe(true);
    const ear = { centreline: shell.line };
    const ground = { ...shell, kernel, ear, rules, deviation: 0, seed: 1, effort: 'quick' as const, shouldStop: () => false };
    return { kit, brought: bringIn(ground, { kit, arrangement: { poses, spare: evidence.spare }, evidence }, evidence.spare) };
  };

  test('what passes the neck keeps its arrangement', () => {
    const { brought } = judge(2);
    expect(brought.assembly?.kind).toBe('way-in');
    expect(brought.arrangement.poses).toEqual([at(0, 0, -9.4)]);
  });

  test('what does not is stuck whatever other arrangements are tried, and the reason says which, where and by how much', () => {
    const { kit, brought } = judge(3);
    if (brought.assembly?.kind !== 'stuck') throw new Error('a ball of 3 passed a neck of 2.5');
    const reason = stuckReason(kit, rules, brought.assembly);
    expect(reason.code).toBe('assembly');
    expect(reason.parts).toEqual(['ball']);
    expect(reason.text).toMatch(
      /^No way in found for ball: it sticks \d\.\d mm inside the aperture, where it lacks 0\.\d\d mm to the wall$/,
    );
    expect(reason.needs).toBe(0.5);
    expect(reason.has).toBeLessThan(0.5);
    expect(reason.at).toEqual(brought.assembly.at);
  });

  test('a scan that may lie farther in than the cast narrows the neck by as much', () => {
    const kit = kitOf([part('ball', [primitive('capsule', [4.8, 4.8, 4.8])])]);
    const poses = [at(0, 0, -9.4)];
    const evidence = verifyArrangement(kernel, shell.body, rules, kit, poses);
    const whole = { kit, arrangement: { poses, spare: evidence.spare }, evidence };
    const kind = (deviation: number): string | undefined => {
      const options = { seed: 1, effort: 'quick' as const, shouldStop: () => false };
      const ground = { ...shell, ...options, kernel, ear: { centreline: shell.line }, rules, deviation };
      return bringIn(ground, whole, evidence.spare).assembly?.kind;
    };
    expect([kind(0), kind(0.15)]).toEqual(['way-in', 'stuck']);
  });
});
