import { describe, expect, it } from 'vitest';
import { boundSpare, Prover } from '../../src/prove/index.ts';
import { BARE, ellipticTube, kitOf, part, primitive, RULES } from '../support/bodies.ts';

/** A cell on edge: its axis in the faceplate's plane (along the part's x). */
const cell = (d: number, h: number) =>
  part('cell', [primitive('cylinder', [d, d, h], { position: [0, 0, -d / 2], quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2] })], { at: 'faceplate' });

describe('cell on edge in an elliptic tube', () => {
  // Reference: w x h rectangle in an ellipse A x B fits iff (w/A)^2 + (h/B)^2 <= 1 (derived; 9 x 6: PR70 0.7753, PR41 1.1305).
  it('PR41 in 9 x 6 cannot be placed, PR70 can', () => {
    const tube = ellipticTube(9, 6, 20, 360, 40);
    const t0 = performance.now();
    const p = new Prover(tube, BARE);
    const t1 = performance.now();
    const s = p.single(cell(7.9, 3.6));
    const t2 = performance.now();
    console.log(t1 - t0, t2 - t1, s?.ceiling, s?.best, s?.cells, p.measured);
    const s2 = p.single(cell(5.8, 3.6));
    console.log(performance.now() - t2, s2?.ceiling, s2?.best, s2?.cells, p.measured);
    expect(boundSpare(tube, BARE, kitOf([cell(7.9, 3.6)])).ceiling).toBeLessThan(0);
    expect(boundSpare(tube, BARE, kitOf([cell(5.8, 3.6)])).ceiling).toBe(Infinity);
  });
});
