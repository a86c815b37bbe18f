import { describe, expect, test } from 'vitest';
import { reportable, verdictOf } from '../../src/ladder/verdict.ts';
import { foundSpare } from '../../src/model/figures.ts';
import { ENOUGH, type Evidence } from '../../src/model/fit.ts';

const INF = Number.POSITIVE_INFINITY;

describe('verdictOf: the table of the design, at and beside its borders', () => {
  test.each([
    [0.1, INF, 'fits'],
    [0.0999, INF, 'tight'],
    [-0.1, INF, 'tight'],
    [-0.1001, INF, 'unsettled'],
    [-0.1001, -0.05, 'unsettled'],
    [-0.1001, -0.1, 'unsettled'],
    [-0.2, -0.1001, 'does-not-fit'],
    [-Infinity, -0.3, 'does-not-fit'],
  ] as const)('found %f, ceiling %f: %s', (found, ceiling, verdict) => {
    expect(verdictOf(found, ceiling, 0.1)).toBe(verdict);
  });
});

describe('reportable', () => {
  const evidence = (sound: boolean, spare: number): Evidence => ({
    sound,
    spare,
    tightest: { kind: 'wall', part: 'cell', has: 0, asked: 0, spare, at: [0, 0, 0] as unknown as Evidence['tightest']['at'] },
    measured: [],
    clearance: [],
    overlapVolume: 0,
    faults: sound ? [] : ['a seat is not kept'],
  });

  test('unsound evidence never becomes a fit or a tight one', () => {
    expect(verdictOf(reportable(evidence(true, 0.3), 0.1), INF, 0.1)).toBe('fits');
    expect(verdictOf(reportable(evidence(false, 0.3), 0.1), INF, 0.1)).toBe('unsettled');
    expect(reportable(evidence(false, -0.7), 0.1)).toBe(-0.7);
  });

  test('nothing beyond ENOUGH is claimed, and below it just what was measured', () => {
    expect(reportable(evidence(true, 0.63), 0.1)).toBe(ENOUGH);
    expect(reportable(evidence(true, 0.49), 0.1)).toBe(0.49);
    expect([foundSpare(0.5), foundSpare(0.499), foundSpare(-0.005), foundSpare(0.3099)]).toEqual(['≥ 0.50', '+0.49', '−0.01', '+0.30']);
  });
});
