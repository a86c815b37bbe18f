/** Small symmetric equations. */

/** Solves A x = b by Cholesky; A symmetric and positive definite, n by n, only its lower half is read. Neither is changed. */
export function solved(a: Float64Array, b: Float64Array, n: number): Float64Array {
  const l = a.slice();
  const x = b.slice();
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = l[i * n + j] as number;
      for (let k = 0; k < j; k++) sum -= (l[i * n + k] as number) * (l[j * n + k] as number);
      l[i * n + j] = i === j ? Math.sqrt(Math.max(1e-300, sum)) : sum / (l[j * n + j] as number);
    }
    let sum = x[i] as number;
    for (let k = 0; k < i; k++) sum -= (l[i * n + k] as number) * (x[k] as number);
    x[i] = sum / (l[i * n + i] as number);
  }
  for (let i = n - 1; i >= 0; i--) {
    let sum = x[i] as number;
    for (let k = i + 1; k < n; k++) sum -= (l[k * n + i] as number) * (x[k] as number);
    x[i] = sum / (l[i * n + i] as number);
  }
  return x;
}
