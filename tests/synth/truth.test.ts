import { expect, test } from 'vitest';
import { drawEar } from '../../src/synth/index.ts';
import { castShape } from '../../src/synth/shape.ts';
import { truthOf } from '../../src/synth/truth.ts';

/** The scan frame is the ear frame: a right ear, neither turned nor moved. */
const lyingStill = { side: 'right', quaternion: [0, 0, 0, 1], move: [0, 0, 0] } as const;

test('landmarks that are said to lie on the surface do, on 60 noise-free shapes (they are zeros of the shape itself)', () => {
  for (let seed = 1; seed <= 60; seed++) {
    const parameters = drawEar(seed, { side: 'right', tumbled: false });
    const shape = castShape(parameters, seed);
    const truth = truthOf(shape, parameters, seed, lyingStill);
    for (const name of ['crus', 'tragus', 'intertragalNotch'] as const) {
      expect(Math.abs(shape.distance(truth[name][0], truth[name][1], truth[name][2])), `seed ${seed}: ${name}`).toBeLessThan(1e-6);
    }
    // The groove lies between the rim and the cavum's floor.
    const below = -truth.rim.normal.reduce((sum, n, k) => sum + n * ((truth.crus[k] as number) - (truth.rim.point[k] as number)), 0);
    expect(below, `seed ${seed}: crus below the rim`).toBeGreaterThan(0);
    expect(below, `seed ${seed}: crus above the floor`).toBeLessThan(parameters.cavumDepth);
  }
});
