/**
 * An impression that this project did not make: a real ear's concha (derived from an openly licensed dummy ear, MIT) with an invented canal of
 * two bends, 13.4 mm long. Its maker's description is the reference: aperture at the concha, two bends.
 */
import { expect, test } from 'vitest';
import { pointToScan } from '../../src/ear/frame.ts';
import { check } from '../../src/engine/index.ts';
import { describeShared, sharedFile } from '../support/shared.ts';

const name = 'impression_right_a_long_canal.stl';

describeShared(name, `scans/${name}`, () => {
  test('the aperture at the concha, two bends, a canal about as long as it was made; each style judged or its lack said', async () => {
    const bytes = sharedFile(`scans/${name}`);
    const result = await check({ bytes, name });
    const { ear, rungs } = result;
    // The tube runs along -x; its sections (by planes x = const) meet the concha at x = -14.5.
    expect(pointToScan(ear.frame, ear.aperture.at)[0]).toBeGreaterThan(-16);
    expect(pointToScan(ear.frame, ear.aperture.at)[0]).toBeLessThan(-13);
    expect(ear.firstBend && ear.secondBend).toBeDefined();
    expect(Math.abs(ear.end.depth - 13.4)).toBeLessThan(1.5);
    // Half axes 4.5 x 3.4 mm.
    const middle = ear.sections.find((s) => s.depth > 2) as (typeof ear.sections)[number];
    expect(Math.abs(middle.area - Math.PI * 4.5 * 3.4)).toBeLessThan(6);
    expect(rungs).toHaveLength(5);
    for (const rung of rungs) if (rung.verdict !== 'fits') expect(rung.reasons[0]?.text ?? '').not.toBe('');
    // A 6.1 x 3.9 mm drawer on edge does not go into 9.0 x 6.8 mm less 0.7 all round: (6.1 / 7.6)^2 + (3.9 / 5.4)^2 > 1.
    expect(rungs[0]?.verdict).toBe('does-not-fit');
  });
});
