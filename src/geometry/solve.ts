/** Small symmetric equations. */

/**
 * Solves A x = b by Cholesky, in place: `a` (n by n, positive definite, only its lower half is read) becomes its factor and
 * `x`, which holds b, the answer. False where A is not positive definite; `x` is then of no use.
 */
export function solveInPlace(a: Float64Array, x: Float64Array, n: number): boolean {
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let v = a[i * n + j] as number;
      for (let k = 0; k < j; k++) v -= (a[i * n + k] as number) * (a[j * n + k] as number);
      if (i === j) {
        if (!(v > 0)) return false;
        a[i * n + i] = Math.sqrt(v);
      } else a[i * n + j] = v / (a[j * n + j] as number);
    }
  }
  for (let i = 0; i < n; i++) {
    let v = x[i] as number;
    for (let k = 0; k < i; k++) v -= (a[i * n + k] as number) * (x[k] as number);
    x[i] = v / (a[i * n + i] as number);
  }
  for (let i = n - 1; i >= 0; i--) {
    let v = x[i] as number;
    for (let k = i + 1; k < n; k++) v -= (a[k * n + i] as number) * (x[k] as number);
    x[i] = v / (a[i * n + i] as number);
  }
  return true;
}
