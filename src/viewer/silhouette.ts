/**
 * The outline of a solid seen from one side, as flat loops in mm.
 *
 * The shadow is sampled on a grid of `STEP` mm (a triangle covers a sample whose centre it holds), its border is followed
 * along the cells' edges and straightened. For small pictures: the outline is right to about one step.
 */
import type { Mesh } from '../geometry/mesh.ts';
import type { Frame } from '../geometry/vec.ts';

export const STEP = 0.15;
/** Corners of the staircase that stray less than this from a straight line are dropped, mm. */
const STRAY = 0.09;

/** Closed loops of x y pairs, mm; even-odd filling gives the shadow. */
export type Loops = readonly Float64Array<ArrayBuffer>[];

/** `axisU` and `axisV` (0 anterior, 1 superior, 2 lateral in the ear frame) become x and y of the picture. */
export function silhouette(mesh: Mesh<Frame>, axisU: 0 | 1 | 2, axisV: 0 | 1 | 2): Loops {
  const { positions: p, indices: t } = mesh;
  if (t.length === 0) return [];
  let u0 = Infinity;
  let v0 = Infinity;
  let u1 = -Infinity;
  let v1 = -Infinity;
  for (let i = 0; i < p.length; i += 3) {
    const u = p[i + axisU] as number;
    const v = p[i + axisV] as number;
    u0 = Math.min(u0, u);
    u1 = Math.max(u1, u);
    v0 = Math.min(v0, v);
    v1 = Math.max(v1, v);
  }
  const wide = Math.ceil((u1 - u0) / STEP) + 3;
  const high = Math.ceil((v1 - v0) / STEP) + 3;
  const mask = new Uint8Array(wide * high);
  const su = new Float64Array(p.length / 3);
  const sv = new Float64Array(p.length / 3);
  for (let i = 0; i < su.length; i++) {
    su[i] = ((p[3 * i + axisU] as number) - u0) / STEP + 1;
    sv[i] = ((p[3 * i + axisV] as number) - v0) / STEP + 1;
  }
  for (let i = 0; i < t.length; i += 3) {
    const a = t[i] as number;
    const b = t[i + 1] as number;
    const c = t[i + 2] as number;
    cover(mask, wide, su[a] as number, sv[a] as number, su[b] as number, sv[b] as number, su[c] as number, sv[c] as number);
  }
  return borders(mask, wide, high).map((loop) => {
    const out = new Float64Array(loop.length);
    for (let i = 0; i < loop.length; i += 2) {
      out[i] = ((loop[i] as number) - 1) * STEP + u0;
      out[i + 1] = ((loop[i + 1] as number) - 1) * STEP + v0;
    }
    return out;
  });
}

/** Marks the samples (whole numbers) inside a triangle, row by row: what lies between the crossings of its sides. */
function cover(mask: Uint8Array, wide: number, ax: number, ay: number, bx: number, by: number, cx: number, cy: number): void {
  const last = Math.floor(Math.max(ay, by, cy));
  for (let y = Math.ceil(Math.min(ay, by, cy)); y <= last; y++) {
    let lo = Infinity;
    let hi = -Infinity;
    if (ay > y !== by > y) {
      const x = ax + ((y - ay) / (by - ay)) * (bx - ax);
      if (x < lo) lo = x;
      if (x > hi) hi = x;
    }
    if (by > y !== cy > y) {
      const x = bx + ((y - by) / (cy - by)) * (cx - bx);
      if (x < lo) lo = x;
      if (x > hi) hi = x;
    }
    if (cy > y !== ay > y) {
      const x = cx + ((y - cy) / (ay - cy)) * (ax - cx);
      if (x < lo) lo = x;
      if (x > hi) hi = x;
    }
    const row = y * wide;
    for (let x = Math.ceil(lo); x <= hi; x++) mask[row + x] = 1;
  }
}

/** Follows the border between marked and unmarked samples; loops run through the middles of the cells' sides. */
function borders(mask: Uint8Array, wide: number, high: number): number[][] {
  // A side is named by its cell and direction: 0 below, 1 right, 2 above, 3 left; walked with the marked cell on the left.
  const seen = new Uint8Array(4 * mask.length);
  const loops: number[][] = [];
  const dx = [0, 1, 0, -1];
  const dy = [-1, 0, 1, 0];
  const marked = (x: number, y: number): boolean => x >= 0 && y >= 0 && x < wide && y < high && mask[y * wide + x] === 1;
  for (let y = 0; y < high; y++) {
    for (let x = 0; x < wide; x++) {
      if (!marked(x, y) || marked(x, y - 1) || seen[4 * (y * wide + x)]) continue;
      const loop: number[] = [];
      let cx = x;
      let cy = y;
      let side = 0;
      while (!seen[4 * (cy * wide + cx) + side]) {
        seen[4 * (cy * wide + cx) + side] = 1;
        loop.push(cx + (dx[side] as number) / 2, cy + (dy[side] as number) / 2);
        const ahead = (side + 1) % 4; // the direction of walking along this side
        const ax = cx + (dx[ahead] as number);
        const ay = cy + (dy[ahead] as number);
        if (marked(ax + (dx[side] as number), ay + (dy[side] as number))) {
          cx = ax + (dx[side] as number);
          cy = ay + (dy[side] as number);
          side = (side + 3) % 4;
        } else if (marked(ax, ay)) {
          cx = ax;
          cy = ay;
        } else {
          side = ahead;
        }
      }
      if (loop.length >= 16) loops.push(straighten(loop));
    }
  }
  return loops;
}

/** Drops points that lie within STRAY of the chord of their neighbours (Ramer, Douglas, Peucker), on a closed loop. */
function straighten(loop: number[]): number[] {
  const n = loop.length / 2;
  const keep = new Uint8Array(n + 1);
  const mid = n >> 1;
  keep[0] = keep[mid] = keep[n] = 1;
  const x = (i: number): number => loop[2 * (i % n)] as number;
  const y = (i: number): number => loop[2 * (i % n) + 1] as number;
  const stack: [number, number][] = [
    [0, mid],
    [mid, n],
  ];
  const limit = STRAY / STEP;
  while (stack.length > 0) {
    const [a, b] = stack.pop() as [number, number];
    const ex = x(b) - x(a);
    const ey = y(b) - y(a);
    const l = Math.sqrt(ex * ex + ey * ey) || 1;
    let far = limit;
    let at = -1;
    for (let i = a + 1; i < b; i++) {
      const d = Math.abs(ex * (y(i) - y(a)) - ey * (x(i) - x(a))) / l;
      if (d > far) {
        far = d;
        at = i;
      }
    }
    if (at < 0) continue;
    keep[at] = 1;
    stack.push([a, at], [at, b]);
  }
  const out: number[] = [];
  for (let i = 0; i < n; i++) if (keep[i]) out.push(x(i), y(i));
  return out;
}

/** An SVG path of loops, with `scale` applied to x and y (use a negative one to mirror). */
export function pathOf(loops: Loops, sx: number, sy: number): string {
  return loops
    .map((loop) => {
      const points: string[] = [];
      for (let i = 0; i < loop.length; i += 2)
        points.push(`${((loop[i] as number) * sx).toFixed(2)} ${((loop[i + 1] as number) * sy).toFixed(2)}`);
      return `M${points.join('L')}Z`;
    })
    .join('');
}
