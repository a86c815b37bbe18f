import { beforeAll, describe, expect, test } from 'vitest';
import { arrangeKit } from '../../src/arrange/index.ts';
import { surveyEar } from '../../src/ear/index.ts';
import { Arena, type Kernel, loadKernel } from '../../src/geometry/kernel.ts';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { kitFor, RULES, STYLE_TABLE } from '../../src/parts/index.ts';
import { carveRoom, measureCast } from '../../src/room/index.ts';
import { readScan } from '../../src/scan/index.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { solidCast, trimCast } from '../../src/trim/index.ts';
import { verifyArrangement } from '../../src/verify/index.ts';

// The verifier shares nothing with the search but the types: certified distances over every triangle of the trimmed body.
describe('what the search reports, the verifier finds', () => {
  let kernel: Kernel;
  beforeAll(async () => {
    kernel = await loadKernel();
  });

  for (const seed of [2, 3]) {
    test(`synthetic ear ${seed}, every style`, () => {
      const made = makeEar(drawEar(seed), seed);
      const ear = surveyEar(readScan(encodeStl(made.mesh, 'made'), `ear_${made.truth.side}.stl`), made.truth.side);
      const field = measureCast(ear.cast);
      using arena = new Arena();
      const cast = solidCast(kernel, ear, arena);
      let compared = 0;
      for (const style of STYLE_TABLE) {
        const two = style.name === 'HS' || style.name === 'ITE';
        const kit = kitFor(style, { ...DEFAULT_ORDER, microphones: two ? 2 : 1, pushButton: two }, RULES);
        const trimmed = trimCast(cast, ear, style);
        if (kit.kind !== 'kit' || trimmed.kind !== 'body') continue;
        const { best } = arrangeKit(carveRoom(field, trimmed.body, RULES), kit.kit, { seed: 1, effort: 'quick' });
        if (!best) throw new Error(`${style.name}: nothing found`);
        const evidence = verifyArrangement(kernel, trimmed.body, RULES, kit.kit, best.poses);
        if (evidence.spare < -0.6) continue;
        compared++;
        // Never overstated by more than rounding; understated by less than the thousandth asked for.
        expect(best.spare, style.name).toBeLessThanOrEqual(evidence.spare + 1e-4);
        expect(best.spare, style.name).toBeGreaterThan(evidence.spare - 1e-3);
        if (best.spare > 0.01) expect(evidence.faults, style.name).toEqual([]);
      }
      expect(compared).toBeGreaterThan(2);
    });
  }
});
