/**
 * Where a tube begins to open.
 *
 * Along the canal the section's equivalent radius runs evenly (a parabola over some millimetres). At the aperture the wall turns away into
 * the concha through a rounded edge, so that from some place s0 on the radius gains a growing extra: fitted as c (s - s0)^2 for s > s0.
 * The opening is where that extra has added SHARE to the section's area.
 */

export interface Opening {
  /** mm from the first sample. */
  readonly at: number;
  /** 0..1: how clearly the tube opens there. */
  readonly confidence: number;
  /** Did it open at all? Otherwise `at` is where the tube was last seen. */
  readonly seen: boolean;
}

/** Share of the tube's own area that the rounded edge has added at the aperture. */
export const SHARE = 0.05;
/** Stretches medial and lateral of the fitted place, mm. */
const MEDIAL = 6;
const LATERAL = 1.5;

/** `areas`: mm2, `step` mm apart, from the tip laterally; 0 where there is no outline. `first`: where the tube's own sections begin. */
export function findOpening(areas: ArrayLike<number>, step: number, first: number): Opening {
  const radius = Float64Array.from(areas, (a) => Math.sqrt(Math.max(0, a) / Math.PI));
  const wide = coarse(radius, step, first);
  if (wide < 0) return { at: lastSeen(radius, first) * step, confidence: 0, seen: false };
  return refine(radius, step, first, wide);
}

const lastSeen = (radius: Float64Array, first: number): number => {
  let k = first;
  while (k + 1 < radius.length && (radius[k + 1] as number) > 0) k++;
  return k;
};

/** The first sample that clearly is not the tube's any more: well above what the last millimetres promise, or no outline at all. */
function coarse(radius: Float64Array, step: number, first: number): number {
  const back = Math.round(4 / step);
  const gap = Math.round(1 / step);
  for (let k = first + Math.round(4 / step); k < radius.length; k++) {
    const r = radius[k] as number;
    if (r === 0) return k;
    const from = Math.max(first, k - gap - back);
    const [level, slope] = lineThrough(radius, from, k - gap);
    const promised = level + Math.max(-0.2, Math.min(0.4, slope)) * (k - gap);
    if (r > 1.12 * promised) return k;
  }
  return -1;
}

/** Least squares r = level + slope (k - to) over [from, to]; slope per sample, level at `to`... given as value at index `to`. */
function lineThrough(radius: Float64Array, from: number, to: number): [number, number] {
  const n = to - from + 1;
  const mid = (from + to) / 2;
  let mean = 0;
  let top = 0;
  let below = 0;
  for (let k = from; k <= to; k++) mean += (radius[k] as number) / n;
  for (let k = from; k <= to; k++) {
    top += (k - mid) * ((radius[k] as number) - mean);
    below += (k - mid) * (k - mid);
  }
  const slope = below > 0 ? top / below : 0;
  return [mean - slope * mid, slope];
}

function refine(radius: Float64Array, step: number, first: number, wide: number): Opening {
  let best = { at: wide * step, cost: Infinity, gain: 0, base: radius[wide] as number };
  for (let quarter = -Math.round(4 / (step / 4)); quarter <= 0; quarter++) {
    const s0 = wide * step + (quarter * step) / 4;
    const from = Math.max(first, Math.ceil((s0 - MEDIAL) / step));
    const to = Math.min(wide, Math.floor((s0 + LATERAL) / step));
    if (s0 / step - from < 5 || to * step - s0 < step) continue;
    const fit = fitEdge(radius, step, from, to, s0);
    if (!fit || fit.gain <= 0) continue;
    if (fit.cost < best.cost) best = { at: s0, ...fit };
  }
  if (!Number.isFinite(best.cost)) return { at: wide * step, confidence: 0.2, seen: true };
  // Area grows by 2 r dr: the extra c (s - s0)^2 has added SHARE where it equals SHARE r / 2.
  const further = Math.sqrt((SHARE * best.base) / (2 * best.gain));
  const at = Math.min(best.at + further, wide * step);
  const sharp = Math.min(1, best.gain / 0.06);
  const even = 1 / (1 + Math.sqrt(best.cost) / 0.08);
  return { at, confidence: Math.max(0.1, sharp * even), seen: true };
}

/** r = a + b x + c x^2 + g max(0, x)^2 with x = s - s0, by normal equations. Cost: mean squared residual. */
function fitEdge(
  radius: Float64Array,
  step: number,
  from: number,
  to: number,
  s0: number,
): { cost: number; gain: number; base: number } | undefined {
  const n = 4;
  const m = new Float64Array(n * (n + 1));
  const row = new Float64Array(n + 1);
  const fill = (k: number): void => {
    const x = k * step - s0;
    row[0] = 1;
    row[1] = x;
    row[2] = x * x;
    row[3] = x > 0 ? x * x : 0;
    row[4] = radius[k] as number;
  };
  for (let k = from; k <= to; k++) {
    if (!((radius[k] as number) > 0)) return undefined;
    fill(k);
    for (let i = 0; i < n; i++)
      for (let j = 0; j <= n; j++) m[i * (n + 1) + j] = (m[i * (n + 1) + j] as number) + (row[i] as number) * (row[j] as number);
  }
  // A canal bends its taper only gently: a parabola of more than 0.02 a mm is held back.
  m[2 * (n + 1) + 2] = (m[2 * (n + 1) + 2] as number) + 50;
  const x = eliminate(m, n);
  if (!x) return undefined;
  let cost = 0;
  for (let k = from; k <= to; k++) {
    fill(k);
    let r = -(row[4] as number);
    for (let i = 0; i < n; i++) r += (x[i] as number) * (row[i] as number);
    cost += r * r;
  }
  return { cost: cost / (to - from + 1), gain: x[3] as number, base: x[0] as number };
}

/** Gauss elimination with row choice; the matrix has its right side as last column. */
function eliminate(m: Float64Array, n: number): Float64Array | undefined {
  const w = n + 1;
  for (let c = 0; c < n; c++) {
    let pivot = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(m[r * w + c] as number) > Math.abs(m[pivot * w + c] as number)) pivot = r;
    if (Math.abs(m[pivot * w + c] as number) < 1e-12) return undefined;
    for (let j = 0; j < w; j++) {
      const s = m[c * w + j] as number;
      m[c * w + j] = m[pivot * w + j] as number;
      m[pivot * w + j] = s;
    }
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const f = (m[r * w + c] as number) / (m[c * w + c] as number);
      for (let j = c; j < w; j++) m[r * w + j] = (m[r * w + j] as number) - f * (m[c * w + j] as number);
    }
  }
  return Float64Array.from({ length: n }, (_, i) => (m[i * w + n] as number) / (m[i * w + i] as number));
}
