/** What a person sets in place of what the survey finds: everything downstream follows, what cannot be is refused by name. */
import { beforeAll, describe, expect, test } from 'vitest';
import { directionToScan, planeToScan, pointToScan } from '../../src/ear/frame.ts';
import { surveyEar, surveyWithSide } from '../../src/ear/index.ts';
import { seeded } from '../../src/geometry/random.ts';
import { acos, degrees } from '../../src/geometry/trig.ts';
import { addScaled, cross, distance, dot, normalize, type Point, pointAt, pt, scale } from '../../src/geometry/vec.ts';
import type { Ear, EarOverrides } from '../../src/model/ear.ts';
import { Fault } from '../../src/model/fault.ts';
import { readScan } from '../../src/scan/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';

describe.each([
  ['right', 903],
  ['left', 904],
] as const)('a %s ear, SEED=%i', (side, seed) => {
  const { mesh } = makeEar(drawEar(seed, { side, resolution: 0.7 }), seed);
  const scan = readScan(encodeStl(mesh), 'made.stl');
  const survey = (set?: EarOverrides): Ear => surveyEar(scan, side, set);
  let auto: Ear;
  beforeAll(() => {
    auto = survey();
  });
  const onLine = (ear: Ear, depth: number): Point<'scan'> => {
    const k = ear.centreline.depths.findIndex((d) => d >= depth - 1e-9);
    return pointToScan(ear.frame, pointAt<'ear'>(ear.centreline.points, k));
  };

  test('nothing set: as found, and every mark says so', () => {
    expect(survey({})).toEqual(auto);
    const marks = [auto.aperture, auto.firstBend, auto.secondBend, auto.end, auto.rim, auto.crus];
    expect(marks.map((m) => m?.set)).toEqual(Array(6).fill('auto'));
    expect(auto.directions).toEqual({ lateral: 'auto', superior: 'auto' });
  });

  test('surveyed with the side: the very same ear, whatever is set, though the groove was felt before anything was', () => {
    const up = normalize(addScaled(directionToScan(auto.frame, pt(0, 1, 0)), directionToScan(auto.frame, pt(1, 0, 0)), 0.2));
    const rim = planeToScan(auto.frame, { ...auto.rim.plane, point: addScaled(auto.rim.plane.point, auto.rim.plane.normal, -0.7) });
    const sets: EarOverrides[] = [{}, { aperture: 1 }, { superior: up }, { rim }, { firstBend: 'none' }, { crus: 'none' }];
    for (const set of sets) expect(surveyWithSide(scan, side, set).ear, Object.keys(set).join()).toEqual(survey(set));
  });

  test.each([1.5, -1.25])('the aperture %f mm deeper: the frame moves along, every depth counts from there', (by) => {
    const ear = survey({ aperture: by });
    expect(ear.aperture).toMatchObject({ depth: 0, confidence: 1, set: 'by hand' });
    expect(distance(ear.frame.origin, onLine(auto, by))).toBeLessThan(1e-9);
    expect(ear.end.depth).toBeCloseTo(auto.end.depth - by, 9);
    expect(ear.firstBend?.depth).toBeCloseTo((auto.firstBend?.depth ?? 0) - by, 9);
    expect(ear.firstBend?.set).toBe('auto');
    // The same section is found at its new depth.
    const old = auto.sections.find((s) => s.depth === 5);
    expect(ear.sections.find((s) => Math.abs(s.depth - (5 - by)) < 1e-9)?.area).toBeCloseTo(old?.area ?? 0, 6);
    // As a point of the scan, 2 mm beside the line: moved to the line's nearest place.
    const beside = addScaled(onLine(auto, by), auto.frame.anterior, 2);
    expect(Math.abs(survey({ aperture: beside }).end.depth - ear.end.depth)).toBeLessThan(0.5);
  });

  test('bends at a depth, at a point, or not there; depths count from the aperture that is found', () => {
    const ear = survey({ firstBend: 8.25 });
    expect(ear.firstBend).toMatchObject({ set: 'by hand', confidence: 1 });
    expect(ear.firstBend?.depth).toBeCloseTo(8.25, 9);
    expect(ear.firstBend?.angle).toBeGreaterThan(0);
    // The frame may turn a little: the first bend is one of the things that tell which way is up.
    expect([ear.secondBend?.depth, ear.secondBend?.set]).toEqual([auto.secondBend?.depth, 'auto']);
    expect(survey({ secondBend: onLine(auto, 13) }).secondBend?.depth).toBeCloseTo(13, 0);
    expect(survey({ aperture: 1, firstBend: 8.25 }).firstBend?.depth).toBeCloseTo(7.25, 9);
    const one = survey({ secondBend: 'none' });
    expect([one.firstBend?.depth, one.secondBend]).toEqual([auto.firstBend?.depth, undefined]);
    const other = survey({ firstBend: 'none' });
    expect([other.firstBend, other.secondBend?.depth]).toEqual([undefined, auto.secondBend?.depth]);
    // Set past the second that was found: that one gives way.
    expect(survey({ firstBend: (auto.secondBend?.depth ?? 0) + 0.5 }).secondBend).toBeUndefined();
  });

  test('the end: the centreline, the sections and the bends stop there', () => {
    const ear = survey({ end: 12.5 });
    expect(ear.end.depth).toBeCloseTo(12.5, 9);
    expect(ear.end.set).toBe('by hand');
    expect(Math.max(...ear.centreline.depths)).toBeCloseTo(12.5, 9);
    expect(Math.max(...ear.sections.map((s) => s.depth))).toBeLessThan(12.5);
    expect(ear.secondBend).toBeUndefined();
    expect(ear.firstBend).toEqual(auto.firstBend);
  });

  test('directions: the frame is square and stands as set; handedness stays', () => {
    const { frame } = auto;
    const lateral = normalize(addScaled(frame.lateral, frame.anterior, 0.2));
    const superior = addScaled(addScaled(frame.superior, frame.anterior, 0.5), frame.lateral, 0.3);
    const ear = survey({ lateral: scale(lateral, 7), superior });
    expect(distance(ear.frame.lateral, lateral)).toBeLessThan(1e-12);
    expect(ear.directions).toEqual({ lateral: 'by hand', superior: 'by hand' });
    const axes = [ear.frame.anterior, ear.frame.superior, ear.frame.lateral] as const;
    axes.forEach((a, i) => {
      axes.forEach((b, j) => {
        expect(dot(a, b)).toBeCloseTo(i === j ? 1 : 0, 12);
      });
    });
    expect(dot(cross(axes[0], axes[1]), axes[2])).toBeCloseTo(side === 'right' ? 1 : -1, 12);
    // Superior is the wish, square to lateral.
    const square = normalize(addScaled(superior, lateral, -dot(superior, lateral)));
    expect(degrees(acos(dot(square, ear.frame.superior)))).toBeLessThan(1e-5);
    expect(distance(ear.frame.origin, frame.origin)).toBe(0);
  });

  test('crus and rim: as set, whichever way the normal points', () => {
    const at = pointToScan(auto.frame, addScaled(auto.crus?.at ?? pt<'ear'>(0, 0, 0), pt<'ear'>(0, 1, 0), -1));
    const plane = planeToScan(auto.frame, auto.rim.plane);
    const lower = { point: addScaled(plane.point, plane.normal, -1), normal: scale(plane.normal, -2) };
    const ear = survey({ crus: at, rim: lower });
    expect(distance(pointToScan(ear.frame, ear.crus?.at ?? pt(0, 0, 0)), at)).toBeLessThan(1e-12 * 100);
    expect([ear.crus?.set, ear.rim.set, ear.rim.confidence]).toEqual(['by hand', 'by hand', 1]);
    expect(distance(directionToScan(ear.frame, ear.rim.plane.normal), plane.normal)).toBeLessThan(1e-12);
    expect((auto.floor?.depth ?? 0) - (ear.floor?.depth ?? 0)).toBeCloseTo(1, 0);
    expect(survey({ crus: 'none' }).crus).toBeUndefined();
  });

  test.each<[string, (ear: Ear) => EarOverrides, RegExp]>([
    ['aperture', () => ({ aperture: 17.5 }), /the aperture was set 17\.5 mm inside .*Set it from -8\.0 to \d+\.\d mm/],
    ['aperture', () => ({ aperture: Number.NaN }), /at NaN mm/],
    ['aperture', (e) => ({ aperture: addScaled(e.frame.origin, e.frame.superior, 15) }), /mm off the canal's centreline/],
    ['firstBend', () => ({ firstBend: 30 }), /the first bend was set 30\.0 mm inside/],
    ['firstBend', () => ({ firstBend: 12, secondBend: 9 }), /the first bend was set 12\.0 mm/],
    ['secondBend', () => ({ secondBend: -1 }), /the second bend was set -1\.0 mm/],
    ['secondBend', () => ({ secondBend: 14, end: 10 }), /the second bend was set 14\.0 mm.*to 9\.5 mm/],
    ['end', () => ({ end: 40 }), /the end was set 40\.0 mm/],
    ['end', () => ({ end: 1 }), /the end was set 1\.0 mm/],
    ['lateral', (e) => ({ lateral: e.frame.superior }), /90° away/],
    ['lateral', () => ({ lateral: pt(0, 0, 0) }), /to \[0, 0, 0\]/],
    ['superior', (e) => ({ superior: e.frame.lateral }), /nearly along the lateral direction/],
    ['crus', (e) => ({ crus: addScaled(e.frame.origin, e.frame.lateral, 90) }), /off the cast's surface/],
    ['rim', (e) => ({ rim: { point: e.frame.origin, normal: e.frame.superior } }), /nearly along the canal/],
    ['rim', (e) => ({ rim: { point: e.frame.origin, normal: e.frame.lateral } }), /lateral of the aperture/],
    ['rim', (e) => ({ rim: { point: pt(0, Number.POSITIVE_INFINITY, 0), normal: e.frame.lateral } }), /three numbers/],
  ])('what cannot be is refused, with the room there is: %s', (name, set, says) => {
    let fault: unknown;
    try {
      survey(set(auto));
    } catch (e) {
      fault = e;
    }
    expect(fault).toBeInstanceOf(Fault);
    expect(fault).toMatchObject({ code: 'ear/override', where: name, message: expect.stringMatching(says) });
  });

  test('whatever is set: a Fault that names it, or an ear without a number that is none (fuzz, SEED=5)', () => {
    const r = seeded(5);
    let ears = 0;
    for (let k = 0; k < 25; k++) {
      const some = <T>(make: () => T): T | undefined => (r.next() < 0.35 ? make() : undefined);
      const set = Object.fromEntries(
        Object.entries({
          aperture: some(() => r.between(-9, 9)),
          firstBend: some(() => r.between(-2, 14)),
          secondBend: some(() => r.between(6, 22)),
          end: some(() => r.between(4, 21)),
          lateral: some(() => addScaled(auto.frame.lateral, pt<'scan'>(r.normal(), r.normal(), r.normal()), 0.4)),
          superior: some(() => pt<'scan'>(r.normal(), r.normal(), r.normal())),
        }).filter(([, v]) => v !== undefined),
      ) as EarOverrides;
      try {
        const ear = survey(set);
        ears++;
        const numbers = [...ear.centreline.points, ...ear.centreline.tangents, ...ear.sections.flatMap((s) => [s.area, s.depth, ...s.at])];
        expect(numbers.every(Number.isFinite)).toBe(true);
        expect(ear.end.depth).toBeGreaterThan(0);
        if (ear.firstBend && ear.secondBend) expect(ear.secondBend.depth).toBeGreaterThan(ear.firstBend.depth);
        if (ear.secondBend) expect(ear.secondBend.depth).toBeLessThan(ear.end.depth);
      } catch (e) {
        if (!(e instanceof Fault)) throw e;
        expect(e.code).toMatch(/^ear\//);
      }
    }
    expect(ears).toBeGreaterThan(4);
  });
});
