import { cos, PI, sin } from '../geometry/trig.ts';
import { BOX, CYLINDER, type Solids } from '../room/convex.ts';

/** Points of a part's surface, about its centre, with what the cast's surface is asked there (a capsule's points lie on its axis and ask its radius too). */
export interface Samples {
  readonly count: number;
  readonly at: Float64Array;
  readonly asked: Float64Array;
  /** The primitive that each belongs to. */
  readonly owner: Uint8Array;
  /** Greatest distance from the centre, mm. */
  readonly radius: number;
}

/** Points every `edge` mm along edges and rims, every `face` mm within faces. Corners are always among them. */
export function samplesOf(local: Solids, wallAsked: Float64Array, edge: number, face: number): Samples {
  const at: number[] = [];
  const asked: number[] = [];
  const owner: number[] = [];
  let radius = 0.1;
  for (let i = 0; i < local.count; i++) {
    const points =
      local.shape[i] === BOX
        ? boxPoints(local, i, edge, face)
        : local.shape[i] === CYLINDER
          ? cylinderPoints(local, i, edge, face)
          : axisPoints(local, i, edge);
    const f = local.frame;
    const round = local.round[i] as number;
    for (let k = 0; k < points.length; k += 3) {
      const p = [0, 1, 2].map((r) => {
        const o = 12 * i + 3 * r;
        return (
          (f[o] as number) * (points[k] as number) +
          (f[o + 1] as number) * (points[k + 1] as number) +
          (f[o + 2] as number) * (points[k + 2] as number) +
          (f[12 * i + 9 + r] as number)
        );
      }) as [number, number, number];
      at.push(...p);
      asked.push((wallAsked[i] as number) + round);
      owner.push(i);
      radius = Math.max(radius, Math.sqrt(p[0] * p[0] + p[1] * p[1] + p[2] * p[2]) + round);
    }
  }
  return { count: owner.length, at: new Float64Array(at), asked: new Float64Array(asked), owner: new Uint8Array(owner), radius };
}

/** -h to h in equal steps no longer than `step`. */
function ticks(h: number, step: number): number[] {
  const n = Math.max(1, Math.ceil((2 * h) / step - 1e-9));
  return Array.from({ length: n + 1 }, (_, k) => (k === n ? h : -h + (2 * h * k) / n));
}

function boxPoints(s: Solids, i: number, edge: number, face: number): number[] {
  const h = [0, 1, 2].map((k) => s.half[3 * i + k] as number) as [number, number, number];
  const out: number[] = [];
  for (let k = 0; k < 3; k++) {
    const a = (k + 1) % 3;
    const b = (k + 2) % 3;
    const put = (u: number, v: number, w: number): void => {
      const p = [0, 0, 0];
      p[k] = u;
      p[a] = v;
      p[b] = w;
      out.push(...p);
    };
    // Four edges along axis k; their ends are corners, put once, with the first axis.
    const along = ticks(h[k] as number, edge);
    for (const u of k === 0 ? along : along.slice(1, -1))
      for (let c = 0; c < 4; c++) put(u, (c & 1 ? 1 : -1) * (h[a] as number), (c & 2 ? 1 : -1) * (h[b] as number));
    // Two faces square to axis k.
    for (const v of ticks(h[a] as number, face).slice(1, -1)) {
      for (const w of ticks(h[b] as number, face).slice(1, -1)) {
        put(h[k] as number, v, w);
        put(-(h[k] as number), v, w);
      }
    }
  }
  return out;
}

function cylinderPoints(s: Solids, i: number, edge: number, face: number): number[] {
  const r = s.half[3 * i] as number;
  const h = s.half[3 * i + 2] as number;
  const out: number[] = [];
  const ring = (radius: number, z: number, step: number, least: number, turn: number): void => {
    const n = Math.max(least, Math.ceil((2 * PI * radius) / step));
    for (let k = 0; k < n; k++) {
      const angle = (2 * PI * (k + turn)) / n;
      out.push(radius * cos(angle), radius * sin(angle), z);
    }
  };
  for (const z of [-h, h]) {
    ring(r, z, edge, 12, 0);
    for (let q = r - face; q > face / 3; q -= face) ring(q, z, face, 4, 0.5);
    out.push(0, 0, z);
  }
  for (const z of ticks(h, face).slice(1, -1)) ring(r, z, face, 8, 0.25);
  return out;
}

function axisPoints(s: Solids, i: number, edge: number): number[] {
  return ticks(s.half[3 * i + 2] as number, edge).flatMap((z) => [0, 0, z]);
}
