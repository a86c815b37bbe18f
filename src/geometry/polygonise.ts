/**
 * Surface of an implicit solid as triangles: surface nets on a grid that is only evaluated near the surface, vertices
 * then evened out within the surface and brought onto it exactly.
 *
 * Why nets: one vertex a cell gives well-shaped triangles (marching tetrahedra give three times as many, a third of
 * them slivers). A cell that two sheets pass gets a vertex for each, so that sheets that come within a cell of each
 * other stay apart.
 */

type Distance = (x: number, y: number, z: number) => number;

export interface Triangles {
  readonly positions: Float64Array;
  readonly indices: Uint32Array;
}

const BLOCK = 6;
/** How fast `distance` may change per mm: our solids' approximate distances overshoot by less. */
const STEEPEST = 1.7;

interface Grid {
  readonly n: readonly [number, number, number];
  readonly lo: readonly [number, number, number];
  readonly h: number;
  readonly value: Float64Array;
  readonly active: number[]; // first cell of each active block, as i, j, k triples
}

/** Grids tried until the net comes out manifold, each shifted by this share of the step. */
const TRIES = 8;
const SHIFT = 0.37;

/**
 * `f`: distance to the surface, mm, negative inside; it need not be exact away from the surface. `lo`..`hi` must hold the
 * whole surface. `h`: grid step, mm. Every edge of the result has exactly two triangles; undefined where no grid gives
 * such a net (of `tries`), because sheets lie nearer to each other than it can tell.
 */
export function polygonise(f: Distance, lo: readonly number[], hi: readonly number[], h: number, tries = TRIES): Triangles | undefined {
  // Two sheets within a cell of each other can still share an edge of the net: the next grid meets them elsewhere.
  let net: Net | undefined;
  for (let turn = 0; turn < tries && !net; turn++) {
    const from = lo.map((c) => c - ((turn * SHIFT) % 1) * h);
    const woven = weave(sample(f, from, hi, h));
    if (simple(woven)) net = woven;
  }
  if (!net) return undefined;
  settle(f, net.positions, h, 2);
  for (let turn = 0; turn < 3; turn++) {
    even(net);
    settle(f, net.positions, h, 1);
  }
  settle(f, net.positions, h, 2);
  return { positions: net.positions, indices: split(net) };
}

function sample(f: Distance, lo: readonly number[], hi: readonly number[], h: number): Grid {
  const blocks = [0, 1, 2].map((k) => Math.ceil(((hi[k] as number) - (lo[k] as number)) / (h * BLOCK))) as [number, number, number];
  const n = blocks.map((b) => b * BLOCK + 1) as [number, number, number];
  const [x0, y0, z0] = lo as [number, number, number];
  const value = new Float64Array(n[0] * n[1] * n[2]).fill(Number.NaN);
  const reach = 0.5 * Math.sqrt(3) * BLOCK * h * STEEPEST;
  const active: number[] = [];
  for (let bk = 0; bk < blocks[2]; bk++) {
    for (let bj = 0; bj < blocks[1]; bj++) {
      for (let bi = 0; bi < blocks[0]; bi++) {
        const c = [bi, bj, bk].map((b, k) => ([x0, y0, z0][k] as number) + (b + 0.5) * BLOCK * h) as [number, number, number];
        if (Math.abs(f(c[0], c[1], c[2])) > reach) continue;
        active.push(bi * BLOCK, bj * BLOCK, bk * BLOCK);
        for (let k = bk * BLOCK; k <= (bk + 1) * BLOCK; k++) {
          for (let j = bj * BLOCK; j <= (bj + 1) * BLOCK; j++) {
            let o = (k * n[1] + j) * n[0] + bi * BLOCK;
            for (let i = bi * BLOCK; i <= (bi + 1) * BLOCK; i++, o++) {
              if (Number.isNaN(value[o] as number)) value[o] = f(x0 + i * h, y0 + j * h, z0 + k * h);
            }
          }
        }
      }
    }
  }
  return { n, lo: [x0, y0, z0], h, value, active };
}

interface Net {
  readonly positions: Float64Array;
  /** Four vertices a quad, counter-clockwise seen from outside. */
  readonly quads: Uint32Array;
}

/** The 12 edges of a cell as corner pairs (corner bits: x 1, y 2, z 4), and which edges share a face side. */
const EDGES: readonly (readonly [number, number])[] = [
  [0, 1],
  [2, 3],
  [4, 5],
  [6, 7],
  [0, 2],
  [1, 3],
  [4, 6],
  [5, 7],
  [0, 4],
  [1, 5],
  [2, 6],
  [3, 7],
];
const FACES: readonly (readonly [number, number, number, number])[] = [
  [0, 2, 6, 4],
  [1, 3, 7, 5],
  [0, 1, 5, 4],
  [2, 3, 7, 6],
  [0, 1, 3, 2],
  [4, 5, 7, 6],
];
const edgeBetween = (a: number, b: number): number => EDGES.findIndex(([c, d]) => (c === a && d === b) || (c === b && d === a));

interface Sheets {
  readonly of: Int8Array;
  readonly count: number;
}
/**
 * For each of the 256 sign patterns: the sheet number of each cut edge (or -1) and the number of sheets. On a face
 * with two opposite inside corners, the inside corners are kept apart; the neighbour across that face decides alike.
 */
const SHEETS: readonly Sheets[] = Array.from({ length: 256 }, (_, mask) => {
  const parent = Array.from({ length: 12 }, (_e, i) => i);
  const root = (i: number): number => (parent[i] === i ? i : root(parent[i] as number));
  const inside = (c: number): boolean => ((mask >> c) & 1) === 1;
  for (const face of FACES) {
    const cut = face.map((c, i) => [c, face[(i + 1) % 4] as number] as const).filter(([a, b]) => inside(a) !== inside(b));
    if (cut.length === 2) {
      const [p, q] = cut as [readonly [number, number], readonly [number, number]];
      parent[root(edgeBetween(p[0], p[1]))] = root(edgeBetween(q[0], q[1]));
    } else if (cut.length === 4) {
      for (const c of face.filter(inside)) {
        const two = cut.filter(([a, b]) => a === c || b === c).map(([a, b]) => edgeBetween(a, b));
        parent[root(two[0] as number)] = root(two[1] as number);
      }
    }
  }
  const of = new Int8Array(12).fill(-1);
  const names: number[] = [];
  EDGES.forEach(([a, b], e) => {
    if (inside(a) === inside(b)) return;
    const r = root(e);
    if (!names.includes(r)) names.push(r);
    of[e] = names.indexOf(r);
  });
  return { of, count: names.length };
});

/** Corner c of a cell, as an offset from the cell's own grid point. */
const cornerOffsets = ([nx, ny]: Grid['n']): number[] =>
  Array.from({ length: 8 }, (_, c) => (c & 1) + ((c >> 1) & 1) * nx + ((c >> 2) & 1) * nx * ny);

interface Cells {
  /** Grid point -> number of the cell among the cut ones, or -1. */
  readonly number: Int32Array;
  /** Of each cut cell: grid point, sign pattern, first vertex. */
  readonly at: number[];
  readonly pattern: number[];
  readonly vertex: number[];
  readonly positions: number[];
}

function weave(grid: Grid): Net {
  const cells = cutCells(grid);
  return { positions: Float64Array.from(cells.positions), quads: Uint32Array.from(quadsOf(grid, cells)) };
}

/** Every cell that the surface passes, with a vertex for each of its sheets. */
function cutCells(g: Grid): Cells {
  const [nx, ny] = g.n;
  const offsets = cornerOffsets(g.n);
  const cells: Cells = { number: new Int32Array(g.value.length).fill(-1), at: [], pattern: [], vertex: [], positions: [] };
  for (let b = 0; b < g.active.length; b += 3) {
    const [bi, bj, bk] = [g.active[b] as number, g.active[b + 1] as number, g.active[b + 2] as number];
    for (let c = 0; c < BLOCK * BLOCK * BLOCK; c++) {
      const i = bi + (c % BLOCK);
      const j = bj + (Math.floor(c / BLOCK) % BLOCK);
      const k = bk + Math.floor(c / (BLOCK * BLOCK));
      const o = (k * ny + j) * nx + i;
      let mask = 0;
      for (let e = 0; e < 8; e++) if ((g.value[o + (offsets[e] as number)] as number) < 0) mask |= 1 << e;
      if (mask === 0 || mask === 255) continue;
      cells.number[o] = cells.at.length;
      cells.at.push(o);
      cells.pattern.push(mask);
      cells.vertex.push(cells.positions.length / 3);
      placeVertices(g, offsets, cells.positions, mask, o, i, j, k);
    }
  }
  return cells;
}

/** One vertex a sheet: the mean of where the sheet cuts the cell's edges. */
function placeVertices(g: Grid, offsets: number[], out: number[], mask: number, o: number, i: number, j: number, k: number): void {
  const sheets = SHEETS[mask] as Sheets;
  for (let s = 0; s < sheets.count; s++) {
    let x = 0;
    let y = 0;
    let z = 0;
    let many = 0;
    for (let e = 0; e < 12; e++) {
      if (sheets.of[e] !== s) continue;
      const [a, b] = EDGES[e] as readonly [number, number];
      const va = g.value[o + (offsets[a] as number)] as number;
      const vb = g.value[o + (offsets[b] as number)] as number;
      const t = va / (va - vb);
      x += (a & 1) + t * ((b & 1) - (a & 1));
      y += ((a >> 1) & 1) + t * (((b >> 1) & 1) - ((a >> 1) & 1));
      z += ((a >> 2) & 1) + t * (((b >> 2) & 1) - ((a >> 2) & 1));
      many++;
    }
    out.push(g.lo[0] + (i + x / many) * g.h, g.lo[1] + (j + y / many) * g.h, g.lo[2] + (k + z / many) * g.h);
  }
}

/** A quad round every cut grid edge, through the four cells about it. */
function quadsOf(g: Grid, cells: Cells): number[] {
  const [nx, ny] = g.n;
  const layer = nx * ny;
  // The four cells round an edge, in order, and that edge's number within each.
  const round = [
    { axis: 0, step: [0, -nx, -nx - layer, -layer], edge: [0, 1, 3, 2] },
    { axis: 1, step: [0, -layer, -layer - 1, -1], edge: [4, 6, 7, 5] },
    { axis: 2, step: [0, -1, -1 - nx, -nx], edge: [8, 9, 11, 10] },
  ] as const;
  const quads: number[] = [];
  for (let c = 0; c < cells.at.length; c++) {
    const mask = cells.pattern[c] as number;
    const inside = (mask & 1) === 1;
    for (const { axis, step, edge } of round) {
      if (inside === (((mask >> (1 << axis)) & 1) === 1)) continue;
      const about = step.map((s) => cells.number[(cells.at[c] as number) + s] ?? -1);
      if (about.some((cell) => cell < 0)) continue; // outside the blocks looked at: leaves a gap, which `simple` sees
      const four = about.map((cell, q) => {
        const sheet = (SHEETS[cells.pattern[cell] as number] as Sheets).of[edge[q] as number] as number;
        return (cells.vertex[cell] as number) + sheet;
      });
      quads.push(...(inside ? four : four.reverse()));
    }
  }
  return quads;
}

/** Has every edge of the net exactly one quad on either side? */
function simple({ quads, positions }: Net): boolean {
  const many = positions.length / 3;
  const single = new Set<number>();
  const seen = new Set<number>();
  for (let q = 0; q < quads.length; q++) {
    const a = quads[q] as number;
    const b = quads[q % 4 === 3 ? q - 3 : q + 1] as number;
    if (seen.has(a * many + b)) return false;
    seen.add(a * many + b);
    if (!single.delete(b * many + a)) single.add(a * many + b);
  }
  return single.size === 0;
}

/** Newton steps along the gradient onto the surface. */
function settle(f: Distance, p: Float64Array, h: number, turns: number): void {
  const e = 1e-4;
  for (let i = 0; i < p.length; i += 3) {
    for (let turn = 0; turn < turns; turn++) {
      const x = p[i] as number;
      const y = p[i + 1] as number;
      const z = p[i + 2] as number;
      const v = f(x, y, z);
      const gx = (f(x + e, y, z) - v) / e;
      const gy = (f(x, y + e, z) - v) / e;
      const gz = (f(x, y, z + e) - v) / e;
      const g2 = Math.max(0.1, gx * gx + gy * gy + gz * gz);
      const step = Math.max(-0.5 * h, Math.min(0.5 * h, v / Math.sqrt(g2))) / Math.sqrt(g2);
      p[i] = x - step * gx;
      p[i + 1] = y - step * gy;
      p[i + 2] = z - step * gz;
    }
  }
}

/** Moves every vertex half-way to the middle of its neighbours along the quads' edges. */
function even(net: Net): void {
  const { positions: p, quads } = net;
  const sum = new Float64Array(p.length);
  const many = new Uint8Array(p.length / 3);
  for (let q = 0; q < quads.length; q++) {
    const a = quads[q] as number;
    const b = quads[q % 4 === 3 ? q - 3 : q + 1] as number;
    for (let k = 0; k < 3; k++) {
      sum[3 * a + k] = (sum[3 * a + k] as number) + (p[3 * b + k] as number);
      sum[3 * b + k] = (sum[3 * b + k] as number) + (p[3 * a + k] as number);
    }
    many[a] = (many[a] as number) + 1;
    many[b] = (many[b] as number) + 1;
  }
  for (let i = 0; i < p.length; i++) {
    const c = many[(i - (i % 3)) / 3] as number;
    if (c > 0) p[i] = 0.5 * (p[i] as number) + (0.5 * (sum[i] as number)) / c;
  }
}

/** Each quad along its shorter diagonal. */
function split(net: Net): Uint32Array {
  const { positions: p, quads } = net;
  const out = new Uint32Array((quads.length / 4) * 6);
  const between = (a: number, b: number): number => {
    let d = 0;
    for (let k = 0; k < 3; k++) {
      const e = (p[3 * a + k] as number) - (p[3 * b + k] as number);
      d += e * e;
    }
    return d;
  };
  for (let q = 0, o = 0; q < quads.length; q += 4, o += 6) {
    const [a, b, c, d] = [quads[q] as number, quads[q + 1] as number, quads[q + 2] as number, quads[q + 3] as number];
    out.set(between(a, c) <= between(b, d) ? [a, b, c, a, c, d] : [a, b, d, b, c, d], o);
  }
  return out;
}
