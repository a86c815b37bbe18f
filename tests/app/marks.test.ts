/** What a person drags or types, as the survey takes it: each comes back as the mark that was meant. */
import { describe, expect, test } from 'vitest';
import { LINE_MARKS, moved, rimMoved, taken, tilted, turnedUp } from '../../src/app/marks.ts';
import { planeToScan } from '../../src/ear/frame.ts';
import { surveyEar } from '../../src/ear/index.ts';
import { degrees } from '../../src/geometry/trig.ts';
import { dot, heightOver } from '../../src/geometry/vec.ts';
import type { EarOverrides } from '../../src/model/ear.ts';
import { readScan } from '../../src/scan/index.ts';
import { sampleBytes } from '../support/samples.ts';

const name = 'qb-102-left-average.stl';
const scan = readScan(sampleBytes(name), name);
const survey = (set: EarOverrides) => surveyEar(scan, 'left', set);
const found = survey({});

describe('a mark that is moved', () => {
  test.each(LINE_MARKS.filter((m) => m !== 'aperture'))('%s lies at the depth that was asked', (mark) => {
    const depth = (found[mark]?.depth ?? 0) - 0.6;
    expect(survey(moved(found, {}, mark, depth))[mark]?.depth).toBeCloseTo(depth, 2);
  });

  test('depths count from the aperture that is shown, also after that was moved', () => {
    const first = moved(found, {}, 'aperture', 0.7);
    const ear = survey(first);
    const depth = (ear.firstBend?.depth ?? 0) + 0.4;
    expect(survey(moved(ear, first, 'firstBend', depth)).firstBend?.depth).toBeCloseTo(depth, 2);
    const again = moved(ear, first, 'aperture', 0.3);
    expect(again.aperture).toBeCloseTo(1, 9);
    const point = { aperture: [ear.frame.origin[0], ear.frame.origin[1], ear.frame.origin[2]] as unknown as typeof ear.frame.origin };
    expect(survey(moved(ear, point, 'firstBend', depth)).firstBend?.depth).toBeCloseTo(depth, 1);
  });
});

describe('directions and the rim', () => {
  test('upwards turns about the lateral axis, towards the face', () => {
    const ear = survey(turnedUp(found, {}, 12));
    expect(degrees(Math.acos(dot(ear.frame.superior, found.frame.superior)))).toBeCloseTo(12, 6);
    expect(dot(ear.frame.superior, found.frame.anterior)).toBeGreaterThan(0);
  });

  test('outwards tilts forwards', () => {
    const ear = survey(tilted(found, {}, 10, 0));
    expect(degrees(Math.acos(dot(ear.frame.lateral, found.frame.lateral)))).toBeCloseTo(10, 6);
    expect(dot(ear.frame.lateral, found.frame.anterior)).toBeGreaterThan(0);
  });

  test('the rim moves outwards along its normal', () => {
    const ear = survey(rimMoved(found, {}, 1.5));
    const [before, after] = [found, ear].map((e) => planeToScan(e.frame, e.rim.plane));
    expect(before && after && heightOver(before, after.point)).toBeCloseTo(1.5, 6);
  });
});

test('what is taken back is as found', () => {
  const set = turnedUp(found, moved(found, {}, 'end', 12), 5);
  const ear = survey(taken(taken(set, 'superior'), 'end'));
  expect(ear.end).toEqual(found.end);
  expect(ear.frame).toEqual(found.frame);
});
