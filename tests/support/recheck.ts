/**
 * An independent re-check of a verdict document: only the scan's bytes and the JSON, nothing of the program.
 *
 * Slow and simple on purpose. The cast is a heap of triangles; primitives are sampled on a lattice over their surfaces;
 * distances are brute force; inside is a winding number by solid angles; cuts are half-spaces. Samples can only measure
 * a clearance too large, so what is found wrong here is wrong, and a reported spare above the measured one is refuted.
 */

type V = [number, number, number];

interface PrimitiveJson {
  readonly shape: 'box' | 'cylinder' | 'capsule';
  readonly size: V;
  readonly position: V;
  readonly quaternion: [number, number, number, number];
  readonly kind: 'solid' | 'service';
}
interface PartJson {
  readonly id: string;
  readonly primitives: readonly PrimitiveJson[];
  readonly seat?: 'faceplate' | 'tip' | 'free';
  readonly margin?: number;
}
interface CutJson {
  readonly name: string;
  readonly point: V;
  readonly normal: V;
}
interface StyleJson {
  readonly style: string;
  readonly verdict: string;
  readonly found: number | null;
  readonly cuts: readonly CutJson[];
  readonly parts: readonly PartJson[];
}
export interface VerdictJson {
  readonly rules: { readonly wall: number; readonly faceplate: number; readonly gap: number; readonly partGap?: number };
  readonly styles: readonly StyleJson[];
}

export interface Rechecked {
  readonly style: string;
  readonly verdict: string;
  /** Least spare by sampling: the true one is no more than this. */
  readonly spare: number;
  /** What decided it. */
  readonly tightest: string;
  /** Everything that contradicts the document. Empty: not refuted. */
  readonly refuted: readonly string[];
}

export interface RecheckOptions {
  /** Distance between samples on a primitive, mm. */
  readonly step?: number;
  /** A reported spare may exceed the measured one by this much at most, mm: the document's own rounding. */
  readonly slack?: number;
}

/** Re-checks every style whose verdict is fits or tight. `stl`: a closed binary STL in the document's coordinates, mm. */
export function recheck(stl: Uint8Array, document: VerdictJson, options: RecheckOptions = {}): Rechecked[] {
  const triangles = readTriangles(stl);
  return document.styles
    .filter((s) => s.verdict === 'fits' || s.verdict === 'tight')
    .map((s) => new StyleCheck(triangles, document.rules, s, options.step ?? 0.2, options.slack ?? 1e-4).run());
}

/** Nine numbers a triangle. */
export function readTriangles(stl: Uint8Array): Float64Array {
  const view = new DataView(stl.buffer, stl.byteOffset, stl.byteLength);
  const n = view.getUint32(80, true);
  if (stl.byteLength !== 84 + 50 * n) throw new Error(`not a binary STL: ${stl.byteLength} bytes for ${n} triangles`);
  const out = new Float64Array(9 * n);
  for (let t = 0; t < n; t++) for (let k = 0; k < 9; k++) out[9 * t + k] = view.getFloat32(84 + 50 * t + 12 + 4 * k, true);
  return out;
}

class StyleCheck {
  readonly refuted: string[] = [];
  spare = Infinity;
  tightest = 'nothing';

  readonly cast: Float64Array;
  readonly rules: VerdictJson['rules'];
  readonly style: StyleJson;
  readonly step: number;
  readonly slack: number;

  constructor(cast: Float64Array, rules: VerdictJson['rules'], style: StyleJson, step: number, slack: number) {
    this.cast = cast;
    this.rules = rules;
    this.style = style;
    this.step = step;
    this.slack = slack;
  }

  run(): Rechecked {
    for (const part of this.style.parts) {
      if (part.primitives.length === 0) this.refuted.push(`${part.id} has no pose`);
      for (const p of part.primitives) this.single(part, p);
    }
    for (const [i, a] of this.style.parts.entries()) for (const b of this.style.parts.slice(i + 1)) this.pair(a, b);
    const { found } = this.style;
    if (found === null) this.refuted.push('no spare is reported');
    else if (found > this.spare + this.slack) {
      this.refuted.push(`reports ${found} mm to spare, but ${this.tightest} leaves ${this.spare.toFixed(5)} mm`);
    }
    const { style, verdict } = this.style;
    return { style, verdict, spare: this.spare, tightest: this.tightest, refuted: this.refuted };
  }

  note(has: number, asked: number, what: string): void {
    if (has - asked < this.spare) {
      this.spare = has - asked;
      this.tightest = `${what} (${has.toFixed(5)} mm, ${asked.toFixed(3)} asked)`;
    }
  }

  single(part: PartJson, p: PrimitiveJson): void {
    const samples = surfaceSamples(p, this.step);
    const behind = (q: V): boolean => this.style.cuts.every((c) => over(c, q) <= 0);
    const solid = p.kind === 'solid';
    const asked = solid ? this.rules.wall + this.rules.gap + (part.margin ?? 0) : 0;
    const outside = thinned(samples.filter(behind), 30).filter((q) => !insideCast(this.cast, q));
    if (outside.length > 0) this.refuted.push(`${part.id}: ${outside.length} sampled points of a ${p.shape} lie outside the cast`);
    this.note(castDistance(this.cast, p, samples, behind), asked, `${part.id} to the cast`);
    if (!solid) return;
    for (const cut of this.style.cuts) {
      if (cut.name === 'outer' && part.seat === 'faceplate') continue;
      const has = -Math.max(...samples.map((q) => over(cut, q)));
      const need = cut.name === 'outer' ? this.rules.faceplate + this.rules.gap + (part.margin ?? 0) : asked;
      this.note(has, need, `${part.id} to the ${cut.name} cut`);
    }
  }

  pair(a: PartJson, b: PartJson): void {
    for (const p of a.primitives) {
      for (const q of b.primitives) {
        if (p.kind === 'service' && q.kind === 'service') continue;
        const margins = (p.kind === 'solid' ? (a.margin ?? 0) : 0) + (q.kind === 'solid' ? (b.margin ?? 0) : 0);
        const asked = (this.rules.partGap ?? this.rules.gap) + margins;
        const apart = Math.max(0, length(minus(p.position, q.position)) - ballRadius(p) - ballRadius(q));
        if (apart > asked + 3) continue;
        const has = Math.min(
          ...[...surfaceSamples(p, this.step), ...innerSamples(p)].map(measureOf(q)),
          ...[...surfaceSamples(q, this.step), ...innerSamples(q)].map(measureOf(p)),
        );
        this.note(has, asked, `${a.id} to ${b.id}`);
      }
    }
  }
}

const minus = (a: V, b: V): V => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const dot = (a: V, b: V): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const length = (a: V): number => Math.sqrt(dot(a, a));
const over = (c: CutJson, q: V): number => dot(c.normal, minus(q, c.point));
const ballRadius = (p: PrimitiveJson): number => length(p.size) / 2;

/** Rows of the rotation matrix of a unit quaternion [x, y, z, w]: local x, y, z axes as columns. */
function axesOf([x, y, z, w]: readonly [number, number, number, number]): [V, V, V] {
  return [
    [1 - 2 * (y * y + z * z), 2 * (x * y + w * z), 2 * (x * z - w * y)],
    [2 * (x * y - w * z), 1 - 2 * (x * x + z * z), 2 * (y * z + w * x)],
    [2 * (x * z + w * y), 2 * (y * z - w * x), 1 - 2 * (x * x + y * y)],
  ];
}

/** Signed distance of a point to a primitive, negative inside. */
export const distanceTo = (p: PrimitiveJson, q: V): number => measureOf(p)(q);

/** The same for many points of one primitive. */
function measureOf(p: PrimitiveJson): (q: V) => number {
  const [ax, ay, az] = axesOf(p.quaternion);
  const [sx, sy, sz] = p.size;
  return (q) => {
    const d = minus(q, p.position);
    const [x, y, z] = [Math.abs(dot(ax, d)), Math.abs(dot(ay, d)), Math.abs(dot(az, d))];
    if (p.shape === 'capsule') {
      const r = sx / 2;
      return Math.sqrt(x * x + y * y + Math.max(0, z - (sz / 2 - r)) ** 2) - r;
    }
    const a = p.shape === 'box' ? x - sx / 2 : Math.sqrt(x * x + y * y) - sx / 2;
    const b = p.shape === 'box' ? y - sy / 2 : -Infinity;
    const c = z - sz / 2;
    const outside = Math.sqrt(Math.max(0, a) ** 2 + Math.max(0, b) ** 2 + Math.max(0, c) ** 2);
    return outside > 0 ? outside : Math.max(a, b, c);
  };
}

/** Points of the surface no farther apart than about `step`, corners and rims among them. */
function surfaceSamples(p: PrimitiveJson, step: number): V[] {
  const axes = axesOf(p.quaternion);
  const out: V[] = [];
  const put = (a: number, b: number, c: number): void => {
    out.push(
      [0, 1, 2].map(
        (k) => (p.position[k] as number) + a * (axes[0][k] as number) + b * (axes[1][k] as number) + c * (axes[2][k] as number),
      ) as V,
    );
  };
  const line = (l: number): number[] => {
    const n = Math.max(1, Math.ceil(l / step));
    return Array.from({ length: n + 1 }, (_, i) => -l / 2 + (l * i) / n);
  };
  const ring = (r: number, c: number): void => {
    const n = Math.max(8, Math.ceil((2 * Math.PI * r) / step));
    for (let i = 0; i < n; i++) put(r * Math.cos((2 * Math.PI * i) / n), r * Math.sin((2 * Math.PI * i) / n), c);
  };
  const [sx, sy, sz] = p.size;
  if (p.shape === 'box') {
    for (const a of line(sx)) for (const b of line(sy)) for (const c of [-sz / 2, sz / 2]) put(a, b, c);
    for (const a of line(sx)) for (const c of line(sz)) for (const b of [-sy / 2, sy / 2]) put(a, b, c);
    for (const b of line(sy)) for (const c of line(sz)) for (const a of [-sx / 2, sx / 2]) put(a, b, c);
  } else if (p.shape === 'cylinder') {
    for (const c of line(sz)) ring(sx / 2, c);
    for (const r of line(sx).filter((x) => x > 0)) for (const c of [-sz / 2, sz / 2]) ring(r, c);
    for (const c of [-sz / 2, sz / 2]) put(0, 0, c);
  } else {
    const core = sz / 2 - sx / 2;
    for (const c of line(2 * core)) ring(sx / 2, c);
    const n = Math.max(4, Math.ceil((Math.PI * sx) / 4 / step));
    for (let i = 1; i < n; i++) {
      const t = (Math.PI * i) / (2 * n);
      for (const s of [-1, 1]) ring((sx / 2) * Math.cos(t), s * (core + (sx / 2) * Math.sin(t)));
    }
    for (const s of [-1, 1]) put(0, 0, (s * sz) / 2);
  }
  return out;
}

/** The middle and points half-way out: for what lies wholly inside something else. */
function innerSamples(p: PrimitiveJson): V[] {
  return [p.position, ...surfaceSamples({ ...p, size: p.size.map((s) => s / 2) as V }, 1)];
}

function thinned<T>(all: T[], most: number): T[] {
  const every = Math.max(1, Math.floor(all.length / most));
  return all.filter((_, i) => i % every === 0);
}

/** By the sum of the solid angles of all triangles (van Oosterom & Strackee 1983): 4 pi inside, 0 outside. */
export function insideCast(cast: Float64Array, q: V): boolean {
  let sum = 0;
  const [x, y, z] = q;
  for (let t = 0; t < cast.length; t += 9) {
    const ax = (cast[t] as number) - x;
    const ay = (cast[t + 1] as number) - y;
    const az = (cast[t + 2] as number) - z;
    const bx = (cast[t + 3] as number) - x;
    const by = (cast[t + 4] as number) - y;
    const bz = (cast[t + 5] as number) - z;
    const cx = (cast[t + 6] as number) - x;
    const cy = (cast[t + 7] as number) - y;
    const cz = (cast[t + 8] as number) - z;
    const la = Math.sqrt(ax * ax + ay * ay + az * az);
    const lb = Math.sqrt(bx * bx + by * by + bz * bz);
    const lc = Math.sqrt(cx * cx + cy * cy + cz * cz);
    const triple = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
    const ab = ax * bx + ay * by + az * bz;
    const bc = bx * cx + by * cy + bz * cz;
    const ca = cx * ax + cy * ay + cz * az;
    sum += 2 * Math.atan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb);
  }
  return Math.abs(sum) > 2 * Math.PI;
}

/**
 * Least distance between a primitive and the cast surface that lies behind the cuts: of every corner, side middle and
 * centre of every triangle to the primitive by formula, and of every sample of the primitive to every triangle near it.
 */
function castDistance(cast: Float64Array, p: PrimitiveJson, samples: readonly V[], behind: (q: V) => boolean): number {
  let least = Infinity;
  const measure = measureOf(p);
  const near: { readonly t: number; readonly low: number }[] = [];
  for (let t = 0; t < cast.length; t += 9) {
    const v = [0, 3, 6].map((k) => [cast[t + k], cast[t + k + 1], cast[t + k + 2]] as V) as [V, V, V];
    const middle = (...of: V[]): V => [0, 1, 2].map((k) => of.reduce((s, x) => s + (x[k] as number), 0) / of.length) as V;
    const centre = middle(...v);
    const d = measure(centre);
    near.push({ t, low: d - Math.max(...v.map((x) => length(minus(x, centre)))) });
    if (d > least + 2) continue;
    for (const x of [...v, centre, middle(v[0], v[1]), middle(v[1], v[2]), middle(v[2], v[0])]) {
      if (behind(x)) least = Math.min(least, measure(x));
    }
  }
  for (const { t, low } of near) {
    if (low > least) continue;
    const [x, y, z, r] = ballOf(cast, t);
    for (const q of samples) {
      // No point of the triangle is nearer than its ball.
      const away = Math.sqrt((q[0] - x) ** 2 + (q[1] - y) ** 2 + (q[2] - z) ** 2) - r;
      if (away >= least) continue;
      const foot = closestPoint(cast, t, q);
      const d = length(minus(foot, q));
      if (d < least && behind(foot)) least = d;
    }
  }
  return least;
}

/** Centre and radius of a ball round triangle t. */
function ballOf(cast: Float64Array, t: number): [number, number, number, number] {
  const c = [0, 1, 2].map((k) => ((cast[t + k] as number) + (cast[t + 3 + k] as number) + (cast[t + 6 + k] as number)) / 3) as V;
  const r = Math.max(...[0, 3, 6].map((k) => length(minus([cast[t + k], cast[t + k + 1], cast[t + k + 2]] as V, c))));
  return [c[0], c[1], c[2], r];
}

/** The point of triangle t nearest to q: projection clipped to the sides, by trying the inside and each side. */
function closestPoint(cast: Float64Array, t: number, q: V): V {
  const [a, b, c] = [0, 3, 6].map((k) => [cast[t + k], cast[t + k + 1], cast[t + k + 2]] as V) as [V, V, V];
  const [u, v, w] = [minus(b, a), minus(c, a), minus(q, a)];
  const [uu, uv, vv, uw, vw] = [dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w)];
  const det = uu * vv - uv * uv;
  if (det > 0) {
    const r = (vv * uw - uv * vw) / det;
    const s = (uu * vw - uv * uw) / det;
    if (r >= 0 && s >= 0 && r + s <= 1) return [0, 1, 2].map((k) => (a[k] as number) + r * (u[k] as number) + s * (v[k] as number)) as V;
  }
  let best = a;
  for (const [from, to] of [
    [a, b],
    [b, c],
    [c, a],
  ] as const) {
    const e = minus(to, from);
    const ee = dot(e, e);
    const r = ee > 0 ? Math.max(0, Math.min(1, dot(e, minus(q, from)) / ee)) : 0;
    const x = [0, 1, 2].map((k) => (from[k] as number) + r * (e[k] as number)) as V;
    if (length(minus(x, q)) < length(minus(best, q))) best = x;
  }
  return best;
}
