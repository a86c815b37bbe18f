/**
 * The point nearest the origin of a simplex of up to four points, and the smaller simplex that it lies in. The inner
 * step of the distance between convex bodies (gjk.ts).
 */

/** Points of the difference body, three numbers each, and beside each its point of the first body. */
export const simplex = new Float64Array(12);
export const onFirst = new Float64Array(12);
/** Weights of the nearest point. */
export const weight = new Float64Array(4);
/** The nearest point. */
export const nearest = new Float64Array(3);
const kept = new Int32Array(4);
const trial = new Float64Array(3);

/** Keeps the listed points (ascending), in place. */
function keep(count: number): number {
  for (let k = 0; k < count; k++) {
    const from = 3 * (kept[k] as number);
    for (let c = 0; c < 3; c++) {
      simplex[3 * k + c] = simplex[from + c] as number;
      onFirst[3 * k + c] = onFirst[from + c] as number;
    }
  }
  return count;
}

/** Reduces the simplex of `n` points to the face nearest the origin; returns its number of points, or 4 when the origin is inside. */
export function reduce(n: number): number {
  let count: number;
  if (n === 1) {
    kept[0] = 0;
    weight[0] = 1;
    count = 1;
  } else if (n === 2) count = segment(0, 1);
  else if (n === 3) count = triangle(0, 1, 2);
  else count = tetrahedron();
  if (count === 4) {
    nearest.fill(0);
    return 4;
  }
  keep(count);
  for (let c = 0; c < 3; c++) {
    let s = 0;
    for (let k = 0; k < count; k++) s += (weight[k] as number) * (simplex[3 * k + c] as number);
    nearest[c] = s;
  }
  return count;
}

const dotOf = (a: number, b: number): number =>
  (simplex[3 * a] as number) * (simplex[3 * b] as number) +
  (simplex[3 * a + 1] as number) * (simplex[3 * b + 1] as number) +
  (simplex[3 * a + 2] as number) * (simplex[3 * b + 2] as number);

function only(a: number): number {
  kept[0] = a;
  weight[0] = 1;
  return 1;
}

function two(a: number, b: number, t: number): number {
  kept[0] = a;
  kept[1] = b;
  weight[0] = 1 - t;
  weight[1] = t;
  return 2;
}

function segment(a: number, b: number): number {
  const aa = dotOf(a, a);
  const ab = dotOf(a, b);
  const bb = dotOf(b, b);
  const len = aa - 2 * ab + bb;
  const along = aa - ab;
  if (along <= 0 || len <= 0) return only(a);
  if (along >= len) return only(b);
  return two(a, b, along / len);
}

/** By regions, as closestOnTriangle of a point does (Ericson, 5.1.5), with the origin for the point. */
function triangle(a: number, b: number, c: number): number {
  const aa = dotOf(a, a);
  const ab = dotOf(a, b);
  const ac = dotOf(a, c);
  const bb = dotOf(b, b);
  const bc = dotOf(b, c);
  const cc = dotOf(c, c);
  const d1 = aa - ab;
  const d2 = aa - ac;
  if (d1 <= 0 && d2 <= 0) return only(a);
  const d3 = ab - bb;
  const d4 = ab - bc;
  if (d3 >= 0 && d4 <= d3) return only(b);
  const d5 = ac - bc;
  const d6 = ac - cc;
  if (d6 >= 0 && d5 <= d6) return only(c);
  const vc = d1 * d4 - d3 * d2;
  if (vc <= 0 && d1 >= 0 && d3 <= 0) return two(a, b, d1 / (d1 - d3));
  const vb = d5 * d2 - d1 * d6;
  if (vb <= 0 && d2 >= 0 && d6 <= 0) return two(a, c, d2 / (d2 - d6));
  const va = d3 * d6 - d5 * d4;
  if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) return two(b, c, (d4 - d3) / (d4 - d3 + (d5 - d6)));
  const sum = va + vb + vc;
  if (!(sum > 0)) return flat(a, b, c);
  kept[0] = a;
  kept[1] = b;
  kept[2] = c;
  weight[0] = va / sum;
  weight[1] = vb / sum;
  weight[2] = vc / sum;
  return 3;
}

/** A triangle without area: the best of its edges. */
function flat(a: number, b: number, c: number): number {
  let best = Infinity;
  let count = 0;
  const k = [0, 0];
  const w = [0, 0];
  for (const [p, q] of [
    [a, b],
    [a, c],
    [b, c],
  ] as const) {
    const n = segment(p, q);
    const d = length2(n);
    if (d >= best) continue;
    best = d;
    count = n;
    for (let i = 0; i < n; i++) {
      k[i] = kept[i] as number;
      w[i] = weight[i] as number;
    }
  }
  for (let i = 0; i < count; i++) {
    kept[i] = k[i] as number;
    weight[i] = w[i] as number;
  }
  return count;
}

/** Squared length of the weighted sum of the kept points. */
function length2(n: number): number {
  trial.fill(0);
  for (let i = 0; i < n; i++) {
    const o = 3 * (kept[i] as number);
    const w = weight[i] as number;
    trial[0] = (trial[0] as number) + w * (simplex[o] as number);
    trial[1] = (trial[1] as number) + w * (simplex[o + 1] as number);
    trial[2] = (trial[2] as number) + w * (simplex[o + 2] as number);
  }
  const [x, y, z] = trial as unknown as [number, number, number];
  return x * x + y * y + z * z;
}

const bestKept = new Int32Array(3);
const bestWeight = new Float64Array(3);

function tetrahedron(): number {
  let best = Infinity;
  let count = 4;
  for (let skip = 3; skip >= 0; skip--) {
    const a = skip === 0 ? 1 : 0;
    const b = skip <= 1 ? 2 : 1;
    const c = skip <= 2 ? 3 : 2;
    if (!beyond(a, b, c, skip)) continue;
    const n = triangle(a, b, c);
    const d = length2(n);
    if (d >= best) continue;
    best = d;
    count = n;
    for (let i = 0; i < n; i++) {
      bestKept[i] = kept[i] as number;
      bestWeight[i] = weight[i] as number;
    }
  }
  for (let i = 0; i < count && count < 4; i++) {
    kept[i] = bestKept[i] as number;
    weight[i] = bestWeight[i] as number;
  }
  return count;
}

/** Is the origin on the far side of face a b c from the fourth point (or is the tetrahedron flat there)? */
function beyond(a: number, b: number, c: number, d: number): boolean {
  const ax = simplex[3 * a] as number;
  const ay = simplex[3 * a + 1] as number;
  const az = simplex[3 * a + 2] as number;
  const ux = (simplex[3 * b] as number) - ax;
  const uy = (simplex[3 * b + 1] as number) - ay;
  const uz = (simplex[3 * b + 2] as number) - az;
  const vx = (simplex[3 * c] as number) - ax;
  const vy = (simplex[3 * c + 1] as number) - ay;
  const vz = (simplex[3 * c + 2] as number) - az;
  const nx = uy * vz - uz * vy;
  const ny = uz * vx - ux * vz;
  const nz = ux * vy - uy * vx;
  const origin = -(nx * ax + ny * ay + nz * az);
  const fourth =
    nx * ((simplex[3 * d] as number) - ax) + ny * ((simplex[3 * d + 1] as number) - ay) + nz * ((simplex[3 * d + 2] as number) - az);
  return origin * fourth <= 0;
}
