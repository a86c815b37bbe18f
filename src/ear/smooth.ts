/**
 * Smoothing of evenly spaced samples: least squares with a penalty on third differences (Whittaker 1923; Eilers 2003), so that a parabola
 * passes unchanged and the curvature of a line survives at its ends.
 */

const ORDER = 3;
const STENCIL = [-1, 3, -3, 1] as const;

/** The penalty at which waves of this length (in samples) are halved. */
export function stiffnessFor(wave: number): number {
  // Third differences of a wave scale it by (2 sin(pi / wave))^3; sin(x) by its series is ample here.
  const x = Math.PI / wave;
  const s = 2 * x * (1 - (x * x) / 6);
  return 1 / (s * s * s * s * s * s);
}

/** Smooths `samples` (one coordinate) in place of values with the given weights; samples of weight 0 are filled in. */
export function smoothed(samples: ArrayLike<number>, weights: ArrayLike<number>, stiffness: number): Float64Array {
  const n = samples.length;
  const out = Float64Array.from(samples);
  if (n <= ORDER) return out;
  const width = ORDER + 1;
  const band = new Float64Array(n * width); // band[i * width + j] = A[i][i - j]
  for (let i = 0; i < n; i++) band[i * width] = (weights[i] as number) + 1e-9;
  for (let r = 0; r + ORDER < n; r++) {
    for (let a = 0; a <= ORDER; a++) {
      for (let b = 0; b <= a; b++) {
        const at = (r + a) * width + (a - b);
        band[at] = (band[at] as number) + stiffness * STENCIL[a as 0] * STENCIL[b as 0];
      }
    }
  }
  for (let i = 0; i < n; i++) out[i] = (weights[i] as number) * (samples[i] as number);
  solve(band, width, out);
  return out;
}

/** Banded Cholesky, in place: A x = b with A symmetric and positive definite. */
function solve(band: Float64Array, width: number, b: Float64Array): void {
  const n = b.length;
  for (let i = 0; i < n; i++) {
    for (let j = Math.min(width - 1, i); j >= 0; j--) {
      let sum = band[i * width + j] as number;
      for (let k = j + 1; k < width && i - k >= 0; k++)
        sum -= (band[i * width + k] as number) * (band[(i - j) * width + (k - j)] as number);
      band[i * width + j] = j === 0 ? Math.sqrt(sum) : sum / (band[(i - j) * width] as number);
    }
  }
  for (let i = 0; i < n; i++) {
    let sum = b[i] as number;
    for (let k = 1; k < width && i - k >= 0; k++) sum -= (band[i * width + k] as number) * (b[i - k] as number);
    b[i] = sum / (band[i * width] as number);
  }
  for (let i = n - 1; i >= 0; i--) {
    let sum = b[i] as number;
    for (let k = 1; k < width && i + k < n; k++) sum -= (band[(i + k) * width + k] as number) * (b[i + k] as number);
    b[i] = sum / (band[i * width] as number);
  }
}
