/** Smooth set operations on signed distances (negative inside), by a quadratic fillet of reach `k` mm. */

/** Union. Equal to min(a, b) where they differ by k or more. */
export const join = (a: number, b: number, k: number): number => {
  const h = k - Math.abs(a - b);
  const least = Math.min(a, b);
  return h > 0 ? least - (h * h) / (4 * k) : least;
};
/** Intersection. */
export const meet = (a: number, b: number, k: number): number => -join(-a, -b, k);
/** a without b. */
export const without = (a: number, b: number, k: number): number => -join(-a, b, k);

export const smoothstep = (lo: number, hi: number, x: number): number => {
  const t = Math.max(0, Math.min(1, (x - lo) / (hi - lo)));
  return t * t * (3 - 2 * t);
};

/** Approximate distance to an ellipsoid with these half axes, exact on its surface. */
export const ellipsoid = (x: number, y: number, z: number, a: number, b: number, c: number): number => {
  const px = x / a;
  const py = y / b;
  const pz = z / c;
  const k0 = Math.sqrt(px * px + py * py + pz * pz);
  const k1 = Math.sqrt((px * px) / (a * a) + (py * py) / (b * b) + (pz * pz) / (c * c));
  return k1 > 1e-9 ? (k0 * (k0 - 1)) / k1 : -Math.min(a, b, c);
};

/** A smooth random field on 3-space: value in about [-1, 1], mean 0. Lattice values from the seed, quintic in between. */
export function fieldOf(seed: number): (x: number, y: number, z: number) => number {
  const at = (i: number, j: number, k: number): number => {
    let h = (Math.imul(i, 0x8da6b343) ^ Math.imul(j, 0xd8163841) ^ Math.imul(k, 0xcb1ab31f) ^ seed) >>> 0;
    h = Math.imul(h ^ (h >>> 15), 0x2c1b3c6d) >>> 0;
    h = Math.imul(h ^ (h >>> 12), 0x297a2d39) >>> 0;
    h = (h ^ (h >>> 15)) >>> 0;
    return h / 2147483648 - 1;
  };
  const ease = (t: number): number => t * t * t * (t * (t * 6 - 15) + 10);
  const mix = (a: number, b: number, t: number): number => a + (b - a) * t;
  return (x, y, z) => {
    const i = Math.floor(x);
    const j = Math.floor(y);
    const k = Math.floor(z);
    const u = ease(x - i);
    const v = ease(y - j);
    const w = ease(z - k);
    return mix(
      mix(mix(at(i, j, k), at(i + 1, j, k), u), mix(at(i, j + 1, k), at(i + 1, j + 1, k), u), v),
      mix(mix(at(i, j, k + 1), at(i + 1, j, k + 1), u), mix(at(i, j + 1, k + 1), at(i + 1, j + 1, k + 1), u), v),
      w,
    );
  };
}
