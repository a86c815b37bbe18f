/**
 * Where a tube begins to open.
 *
 * Along the canal the section's equivalent radius runs evenly (a parabola over some millimetres). At the aperture the wall turns away into
 * the concha through a rounded edge, so that from some place s0 on the radius gains a growing extra: fitted as c (s - s0)^2 for s > s0.
 * The opening is where the sections have become 5 % larger than the tube's own.
 */

export interface Opening {
  /** mm from the first sample. */
  readonly at: number;
  /** 0..1: how clearly the tube opens there. */
  readonly confidence: number;
  /** Did it open at all? Otherwise `at` is where the tube was last seen. */
  readonly seen: boolean;
}

/**
 * Share of the tube's own area that the fitted parabola has added at the opening. A rounded edge sets in more steeply than a parabola: where
 * the parabola says 2 % the sections are 5 % larger (measured on 120 synthetic casts, whose aperture is defined by those 5 %).
 */
const SHARE = 0.02;
/** Sections this far medial of a place, from BASE[0] to BASE[1] mm, tell how wide the tube would be there. */
const BASE = [2.5, 8.5] as const;
/** Share by which a section's radius must pass that, to be surely no tube any more. */
const SURE = 0.035;
/** So much tube must be known for that, mm; and the widening within a millimetre that is no tube's whatever went before. */
const KNOWN = 4;
const SUDDEN = 1.15;
/** And at least so much must its radius gain within a millimetre, mm: a canal that merely tapers gains 0.3 at most. */
const STEEP_EDGE = 0.38;
/** The edge begins within this of the first place that is surely open, mm. */
const EDGE = 4;
/** Length of tube before that, mm, that the fit looks at. */
const BEFORE = 4.5;

/** `areas`: mm2, `step` mm apart, from the tip laterally; 0 where there is no outline. `first`: where the tube's own sections begin. */
export function findOpening(areas: ArrayLike<number>, step: number, first: number): Opening {
  const radius = Float64Array.from(areas, (a) => Math.sqrt(Math.max(0, a) / Math.PI));
  const wide = surelyOpen(radius, step, first);
  if (wide < 0) return { at: lastSeen(radius, first) * step, confidence: 0, seen: false };
  return refine(radius, step, first, wide);
}

const lastSeen = (radius: Float64Array, first: number): number => {
  let k = first;
  while (k + 1 < radius.length && (radius[k + 1] as number) > 0) k++;
  return k;
};

/**
 * The first sample that is clearly wider than the tube promises, and stays so; or where there is no outline any more. Near the start too
 * little of the tube is known to promise anything: there, only a sudden widening counts.
 */
function surelyOpen(radius: Float64Array, step: number, first: number): number {
  const stay = Math.round(1 / step);
  const known = first + Math.round((BASE[0] + KNOWN) / step);
  let run = 0;
  for (let k = first + 2 * stay; k < radius.length; k++) {
    const r = radius[k] as number;
    if (r === 0) return k - run;
    if (r > SUDDEN * (radius[k - stay] as number)) return k;
    if (k < known) continue;
    const from = Math.max(first, k - Math.round(BASE[1] / step));
    const fit = fitEdge(radius, step, from, k - Math.round(BASE[0] / step), Infinity, k * step);
    const steep = r - (radius[k - stay] as number) > STEEP_EDGE;
    run = fit && steep && r > (1 + SURE) * fit.base ? run + 1 : 0;
    if (run > stay) return k - stay;
  }
  return -1;
}

function refine(radius: Float64Array, step: number, first: number, wide: number): Opening {
  let to = wide;
  while (to > first && radius[to] === 0) to--;
  const from = Math.max(first, Math.floor(wide - (EDGE + BEFORE) / step));
  let best: { s0: number; fit: Edge } | undefined;
  for (let s0 = Math.max(from + 4, wide - EDGE / step) * step; s0 <= (to - 1) * step; s0 += step / 4) {
    const fit = fitEdge(radius, step, from, to, s0, s0);
    if (fit && fit.gain > 0 && fit.cost < (best?.fit.cost ?? Infinity)) best = { s0, fit };
  }
  if (!best) return { at: to * step, confidence: 0.2, seen: true };
  // Area grows by 2 r dr: the extra c (s - s0)^2 has added SHARE where it equals SHARE r / 2.
  const at = Math.min(best.s0 + Math.sqrt((SHARE * best.fit.base) / (2 * best.fit.gain)), to * step);
  const sharp = best.fit.gain / (best.fit.gain + 0.04);
  const even = 1 / (1 + Math.sqrt(best.fit.cost) / 0.05);
  return { at, confidence: sharp * even, seen: true };
}

interface Edge {
  /** Mean squared residual, mm2. */
  readonly cost: number;
  /** c of the extra, per mm. */
  readonly gain: number;
  /** Radius of the tube alone at the asked place, mm. */
  readonly base: number;
}

/** Least squares r = a + b x + c x^2 + g max(0, s - s0)^2 with x = s - at, over samples from..to. */
function fitEdge(radius: Float64Array, step: number, from: number, to: number, s0: number, at: number): Edge | undefined {
  const n = s0 < Infinity ? 4 : 3;
  if (to - from < n + 2) return undefined;
  const m = new Float64Array(n * (n + 1));
  const row = new Float64Array(5);
  const fill = (k: number): void => {
    const x = k * step - at;
    const over = k * step - s0;
    row[0] = 1;
    row[1] = x;
    row[2] = x * x;
    row[3] = over > 0 ? over * over : 0;
    row[n] = radius[k] as number;
  };
  for (let k = from; k <= to; k++) {
    if (!((radius[k] as number) > 0)) return undefined;
    fill(k);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j <= n; j++) m[i * (n + 1) + j] = (m[i * (n + 1) + j] as number) + (row[i] as number) * (row[j] as number);
    }
  }
  m[2 * (n + 1) + 2] = (m[2 * (n + 1) + 2] as number) + GENTLE;
  const x = eliminate(m, n);
  if (!x) return undefined;
  let cost = 0;
  for (let k = from; k <= to; k++) {
    fill(k);
    let r = -(row[n] as number);
    for (let i = 0; i < n; i++) r += (x[i] as number) * (row[i] as number);
    cost += r * r;
  }
  return { cost: cost / (to - from + 1), gain: x[3] ?? 0, base: x[0] as number };
}

/** A canal changes its taper only gently: as strong as one more sample that says so to 0.02 a mm within 0.05 mm. */
const GENTLE = 50;

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
