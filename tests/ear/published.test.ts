/** Sizes beside published ones: the normal distribution against tables, rows against the ear, findings against bands. */
import { describe, expect, test } from 'vitest';
import { bandsFor, judgeEar, surveyEar } from '../../src/ear/index.ts';
import { normalShare } from '../../src/ear/published.ts';
import { readScan } from '../../src/scan/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';

const survey = (seed: number, own: Parameters<typeof drawEar>[1]) => {
  const { mesh, truth } = makeEar(drawEar(seed, { resolution: 0.7, bubbles: 0, seams: 0, ...own }), seed);
  return surveyEar(readScan(encodeStl(mesh), 'made.stl'), truth.side);
};

test.each([
  // Standard normal table, any statistics textbook; the outer two: 1 - 9.865876450377e-10 is the table's six-sigma tail.
  [0, 0.5],
  [1, 0.841344746068543],
  [-1, 0.158655253931457],
  [1.959963984540054, 0.975],
  [-2.326347874040841, 0.01],
  [3, 0.99865010196837],
  [6, 1 - 9.865876450377e-10],
])('below %f lies %f of a standard normal distribution', (z, share) => {
  expect(Math.abs(normalShare(z) - share)).toBeLessThan(1e-12);
});

test('the share grows, is symmetric and ends at 0 and 1', () => {
  for (let z = -9; z < 9; z += 0.25) {
    expect(normalShare(z + 0.25)).toBeGreaterThanOrEqual(normalShare(z));
    expect(normalShare(z) + normalShare(-z)).toBeCloseTo(1, 12);
  }
  expect([normalShare(-40), normalShare(40)]).toEqual([0, 1]);
});

describe('an average ear', () => {
  const ear = survey(911, {
    areaAperture: 97,
    areaFirstBend: 63.4,
    cavumDepth: 12.5,
    firstBendDepth: 10,
    secondBendDepth: 16,
    pastSecondBend: 4,
  });
  const rows = bandsFor(ear);

  test('every row names its definition, method and source; areas lie in the middle of the published spread', () => {
    expect(rows.map((r) => r.code)).toEqual([
      'area-aperture',
      'area-first-bend',
      'area-12',
      'major-aperture',
      'minor-aperture',
      'canal-shown',
      'cavum-depth',
    ]);
    for (const r of rows) {
      expect(r.definition.length).toBeGreaterThan(20);
      expect(`${r.method} ${r.source}`).toMatch(/\d{4}/);
      if (r.percentile !== undefined) expect(r.percentile).toBeGreaterThan(25);
      if (r.percentile !== undefined) expect(r.percentile).toBeLessThan(75);
      expect(r.percentile === undefined).toBe(r.sd === undefined);
    }
  });

  test("the figures are the ear's own", () => {
    const of = (code: string) => rows.find((r) => r.code === code)?.value ?? Number.NaN;
    expect(Math.abs(of('area-aperture') - 97)).toBeLessThan(8);
    expect(Math.abs(of('area-first-bend') - 63.4)).toBeLessThan(3);
    expect(Math.abs(of('cavum-depth') - 12.5)).toBeLessThan(0.6);
    expect(of('canal-shown')).toBe(ear.end.depth);
    expect(judgeEar(ear).filter((f) => /narrow|wide/.test(f.code))).toEqual([]);
  });
});

test('a narrow canal: a low percentile, and a warning that names the band and the place', () => {
  const ear = survey(912, { areaAperture: 52, areaFirstBend: 33, taper: 0.01 });
  const bend = bandsFor(ear).find((r) => r.code === 'area-first-bend');
  expect(bend?.percentile).toBeLessThan(3);
  const warning = judgeEar(ear).find((f) => f.text.includes('first bend is'));
  expect(warning).toMatchObject({ code: 'ear/narrow', level: 'warning' });
  expect(warning?.text).toMatch(/36 to 90 are usual/);
  expect(warning?.at).toBeDefined();
});

test('what a short cast does not show has no row', () => {
  const codes = bandsFor(survey(913, { pastSecondBend: -8 })).map((r) => r.code);
  expect(codes).not.toContain('area-12');
  expect(codes).toContain('area-aperture');
});
