/**
 * On which side? Decided without error for any doubles (short of overflow), by expansions: a number as the exact sum of
 * doubles that do not overlap, smallest first (J. R. Shewchuk, "Adaptive Precision Floating-Point Arithmetic and Fast
 * Robust Geometric Predicates", 1997). Plain arithmetic goes first and is believed where its error cannot turn the sign.
 */

type Expansion = readonly number[];
type Sign = -1 | 0 | 1;

/** Splits a double into two halves of 26 bits. */
const SPLITTER = 134217729;
/** Error of the plain 3 x 3 determinant, of the sum of its terms' sizes (Shewchuk: (7 + 56 u) u with u = 2^-53), rounded up. */
const PLAIN_3D = 8e-16;
/** The same for 2 x 2: (3 + 16 u) u. */
const PLAIN_2D = 4e-16;

const signOf = (x: number): Sign => (x > 0 ? 1 : x < 0 ? -1 : 0);

/** The largest component decides: it is larger than all the others together. */
const lead = (e: Expansion): Sign => signOf(e.length > 0 ? (e[e.length - 1] as number) : 0);

/** a - b as at most two components. */
function difference(a: number, b: number): Expansion {
  const x = a - b;
  const back = a - x;
  const low = a - (x + back) + (back - b);
  return low === 0 ? (x === 0 ? [] : [x]) : [low, x];
}

/** Adds one double to an expansion. */
function grow(e: Expansion, b: number): number[] {
  const out: number[] = [];
  let q = b;
  for (const c of e) {
    const sum = q + c;
    const part = sum - q;
    const low = q - (sum - part) + (c - part);
    if (low !== 0) out.push(low);
    q = sum;
  }
  if (q !== 0) out.push(q);
  return out;
}

function sum(e: Expansion, f: Expansion): Expansion {
  let out = e;
  for (const c of f) out = grow(out, c);
  return out;
}

const negated = (e: Expansion): Expansion => e.map((c) => -c);

/** a * b as [low, high]. */
function product(a: number, b: number): readonly [number, number] {
  const x = a * b;
  const ca = SPLITTER * a;
  const ah = ca - (ca - a);
  const al = a - ah;
  const cb = SPLITTER * b;
  const bh = cb - (cb - b);
  const bl = b - bh;
  return [al * bl - (x - ah * bh - al * bh - ah * bl), x];
}

function times(e: Expansion, f: Expansion): Expansion {
  let out: Expansion = [];
  for (const a of e) {
    for (const b of f) {
      const [low, high] = product(a, b);
      if (low !== 0) out = grow(out, low);
      if (high !== 0) out = grow(out, high);
    }
  }
  return out;
}

/** The vertices of a mesh, three doubles each. */
export type Flat = ArrayLike<number>;

/**
 * Side of vertex d against the plane of vertices a, b, c of `p`: 1 where a, b, c run clockwise seen from d (d below an
 * outward triangle), -1 on the other side, 0 in the plane.
 */
export function side3(p: Flat, a: number, b: number, c: number, d: number): Sign {
  const [ax, ay, az] = [3 * a, 3 * a + 1, 3 * a + 2].map((i, k) => (p[i] as number) - (p[3 * d + k] as number)) as [number, number, number];
  const [bx, by, bz] = [3 * b, 3 * b + 1, 3 * b + 2].map((i, k) => (p[i] as number) - (p[3 * d + k] as number)) as [number, number, number];
  const [cx, cy, cz] = [3 * c, 3 * c + 1, 3 * c + 2].map((i, k) => (p[i] as number) - (p[3 * d + k] as number)) as [number, number, number];
  const det = az * (bx * cy - by * cx) + bz * (cx * ay - cy * ax) + cz * (ax * by - ay * bx);
  const size =
    Math.abs(az) * (Math.abs(bx * cy) + Math.abs(by * cx)) +
    Math.abs(bz) * (Math.abs(cx * ay) + Math.abs(cy * ax)) +
    Math.abs(cz) * (Math.abs(ax * by) + Math.abs(ay * bx));
  if (Math.abs(det) > PLAIN_3D * size) return signOf(det);
  return exactSide3(p, a, b, c, d);
}

function exactSide3(p: Flat, a: number, b: number, c: number, d: number): Sign {
  const off = (v: number, k: number): Expansion => difference(p[3 * v + k] as number, p[3 * d + k] as number);
  const [ax, ay, az] = [off(a, 0), off(a, 1), off(a, 2)] as const;
  const [bx, by, bz] = [off(b, 0), off(b, 1), off(b, 2)] as const;
  const [cx, cy, cz] = [off(c, 0), off(c, 1), off(c, 2)] as const;
  const minor = (x: Expansion, y: Expansion, z: Expansion, w: Expansion): Expansion => sum(times(x, y), negated(times(z, w)));
  const first = times(az, minor(bx, cy, by, cx));
  const second = times(bz, minor(cx, ay, cy, ax));
  const third = times(cz, minor(ax, by, ay, bx));
  return lead(sum(sum(first, second), third));
}

/** Coordinates that stay when the k-th is left out, in the order that keeps the hand. */
const KEPT = [
  [1, 2],
  [2, 0],
  [0, 1],
] as const;

/** Turn of a, b, c seen along axis `drop` (0 to 2): 1 to the left, -1 to the right, 0 on one line. */
export function side2(p: Flat, drop: number, a: number, b: number, c: number): Sign {
  const [x, y] = KEPT[drop] as readonly [number, number];
  const ax = (p[3 * a + x] as number) - (p[3 * c + x] as number);
  const ay = (p[3 * a + y] as number) - (p[3 * c + y] as number);
  const bx = (p[3 * b + x] as number) - (p[3 * c + x] as number);
  const by = (p[3 * b + y] as number) - (p[3 * c + y] as number);
  const det = ax * by - ay * bx;
  if (Math.abs(det) > PLAIN_2D * (Math.abs(ax * by) + Math.abs(ay * bx))) return signOf(det);
  const off = (v: number, k: number): Expansion => difference(p[3 * v + k] as number, p[3 * c + k] as number);
  return lead(sum(times(off(a, x), off(b, y)), negated(times(off(a, y), off(b, x)))));
}
