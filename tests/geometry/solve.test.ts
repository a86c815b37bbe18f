import { expect, test } from 'vitest';
import { seeded } from '../../src/geometry/random.ts';
import { solveInPlace } from '../../src/geometry/solve.ts';

test('A x = b for random definite A: the answer put back gives b; what is not definite is told', () => {
  const rng = seeded(3);
  for (let n = 1; n <= 9; n++) {
    const m = Float64Array.from({ length: n * n }, () => rng.normal());
    const a = new Float64Array(n * n);
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++)
        for (let k = 0; k < n; k++)
          a[i * n + j] = (a[i * n + j] as number) + (m[i * n + k] as number) * (m[j * n + k] as number) + (i === j && k === 0 ? 0.1 : 0);
    const b = Float64Array.from({ length: n }, () => rng.normal());
    const x = b.slice();
    expect(solveInPlace(a.slice(), x, n)).toBe(true);
    for (let i = 0; i < n; i++) expect(x.reduce((s, v, j) => s + (a[i * n + j] as number) * v, 0)).toBeCloseTo(b[i] as number, 8);
    expect(
      solveInPlace(
        a.map((v) => -v),
        b.slice(),
        n,
      ),
    ).toBe(false);
  }
});
