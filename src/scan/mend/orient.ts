/** Which way round: makes neighbours agree, and tells the connected pieces apart. */
import { faceNormals } from '../../geometry/mesh.ts';
import { OPEN } from './joins.ts';
import type { Surface } from './weld.ts';

export interface Oriented {
  /** Of each triangle: the piece it belongs to, from 0, in order of first triangles. */
  readonly piece: Int32Array;
  readonly pieces: number;
  /** Of each triangle: 1 where it must be turned over to agree with the majority of its piece. */
  readonly flip: Uint8Array;
  /** Edges cut open because the surface came back to them the other way round (a one-sided surface). */
  readonly cuts: number;
}

/** Floods each piece across its joined edges. Where no orientation agrees, the edge is cut: `twin` is changed there. */
export function orient(ix: Uint32Array, twin: Int32Array): Oriented {
  const many = ix.length / 3;
  const piece = new Int32Array(many).fill(-1);
  const flip = new Uint8Array(many);
  const queue = new Int32Array(many);
  let pieces = 0;
  let cuts = 0;
  for (let seed = 0; seed < many; seed++) {
    if (piece[seed] !== -1) continue;
    piece[seed] = pieces;
    queue[0] = seed;
    let filled = 1;
    let turned = 0;
    for (let q = 0; q < filled; q++) {
      const t = queue[q] as number;
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const g = twin[h] as number;
        if (g < 0) continue;
        const u = Math.floor(g / 3);
        // Both half-edges start at one vertex: they run the same way, and one of the two triangles must turn.
        const wanted = (flip[t] as number) ^ (ix[h] === ix[g] ? 1 : 0);
        if (piece[u] === -1) {
          piece[u] = pieces;
          flip[u] = wanted;
          turned += wanted;
          queue[filled++] = u;
        } else if (flip[u] !== wanted) {
          twin[h] = OPEN;
          twin[g] = OPEN;
          cuts++;
        }
      }
    }
    // The majority is left as the file has it; on a tie the first triangle is.
    if (2 * turned > filled) for (let q = 0; q < filled; q++) flip[queue[q] as number] = 1 - (flip[queue[q] as number] as number);
    pieces++;
  }
  return { piece, pieces, flip, cuts };
}

/** Sums over one piece, with its triangles turned as the orientation says. */
export interface PieceSums {
  readonly triangles: Uint32Array;
  readonly area: Float64Array; // mm2
  /** Signed, about the piece's own centroid, mm3: the volume where the piece is closed, a fair guess where it is open. */
  readonly volume: Float64Array;
  /** Half-edges without a partner. */
  readonly open: Uint32Array;
  /** Area-weighted centroid, three a piece. */
  readonly centre: Float64Array;
  /** Smallest and largest x y z, six a piece. */
  readonly box: Float64Array;
}

export function sumPieces(s: Surface, twin: Int32Array, o: Oriented): PieceSums {
  const n = o.pieces;
  const sums = {
    triangles: new Uint32Array(n),
    area: new Float64Array(n),
    volume: new Float64Array(n),
    open: new Uint32Array(n),
    centre: new Float64Array(3 * n),
    box: new Float64Array(6 * n),
  };
  for (let i = 0; i < n; i++) {
    sums.box.fill(Infinity, 6 * i, 6 * i + 3);
    sums.box.fill(-Infinity, 6 * i + 3, 6 * i + 6);
  }
  addAreas(s, o.piece, sums);
  addVolumes(s, o, sums.centre, sums.volume);
  for (let h = 0; h < s.indices.length; h++) {
    if ((twin[h] as number) >= 0) continue;
    const i = o.piece[Math.floor(h / 3)] as number;
    sums.open[i] = (sums.open[i] as number) + 1;
  }
  return sums;
}

function addAreas(s: Surface, piece: Int32Array, sums: PieceSums): void {
  const { positions: p, indices: ix } = s;
  const { triangles, area, centre, box } = sums;
  const faces = faceNormals(s);
  // Centroids relative to the first vertex, so that a far origin costs no digits.
  const origin = [p[0] as number, p[1] as number, p[2] as number];
  for (let t = 0; 3 * t < ix.length; t++) {
    const a = 3 * (ix[3 * t] as number);
    const b = 3 * (ix[3 * t + 1] as number);
    const c = 3 * (ix[3 * t + 2] as number);
    const size = faces[4 * t + 3] as number;
    const i = piece[t] as number;
    triangles[i] = (triangles[i] as number) + 1;
    area[i] = (area[i] as number) + size;
    for (let k = 0; k < 3; k++) {
      const o = origin[k] as number;
      const middle = ((p[a + k] as number) - o + ((p[b + k] as number) - o) + ((p[c + k] as number) - o)) / 3;
      centre[3 * i + k] = (centre[3 * i + k] as number) + size * middle;
    }
    for (const corner of [a, b, c]) {
      for (let k = 0; k < 3; k++) {
        const q = p[corner + k] as number;
        if (q < (box[6 * i + k] as number)) box[6 * i + k] = q;
        if (q > (box[6 * i + 3 + k] as number)) box[6 * i + 3 + k] = q;
      }
    }
  }
  for (let i = 0; i < area.length; i++) {
    const size = area[i] as number;
    for (let k = 0; k < 3; k++) {
      const o = origin[k] as number;
      centre[3 * i + k] =
        size > 0 ? o + (centre[3 * i + k] as number) / size : ((box[6 * i + k] as number) + (box[6 * i + 3 + k] as number)) / 2;
    }
  }
}

function addVolumes(s: Surface, o: Oriented, centre: Float64Array, volume: Float64Array): void {
  const { positions: p, indices: ix } = s;
  for (let t = 0; 3 * t < ix.length; t++) {
    const i = o.piece[t] as number;
    const x0 = centre[3 * i] as number;
    const y0 = centre[3 * i + 1] as number;
    const z0 = centre[3 * i + 2] as number;
    const a = 3 * (ix[3 * t] as number);
    const b = 3 * (ix[3 * t + 1] as number);
    const c = 3 * (ix[3 * t + 2] as number);
    const ax = (p[a] as number) - x0;
    const ay = (p[a + 1] as number) - y0;
    const az = (p[a + 2] as number) - z0;
    const bx = (p[b] as number) - x0;
    const by = (p[b + 1] as number) - y0;
    const bz = (p[b + 2] as number) - z0;
    const cx = (p[c] as number) - x0;
    const cy = (p[c + 1] as number) - y0;
    const cz = (p[c + 2] as number) - z0;
    const six = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
    volume[i] = (volume[i] as number) + (o.flip[t] === 1 ? -six : six) / 6;
  }
}

/** The given triangles alone, turned as the orientation says, vertices renumbered in their old order. */
export interface Extract {
  readonly surface: Surface;
  readonly twin: Int32Array;
  /** Triangles that were turned over. */
  readonly turned: number;
}

/** Cuts out piece `which`. */
export function extractPiece(s: Surface, twin: Int32Array, o: Oriented, which: number): Extract {
  const { positions: p, indices: ix } = s;
  const many = ix.length / 3;
  let n = 0;
  const number = new Int32Array(many).fill(-1);
  const used = new Int32Array(p.length / 3).fill(-1);
  for (let t = 0; t < many; t++) {
    if (o.piece[t] !== which) continue;
    number[t] = n++;
    for (let k = 0; k < 3; k++) used[ix[3 * t + k] as number] = 0;
  }
  let vertices = 0;
  const positions = new Float64Array(p.length);
  for (let v = 0; v < used.length; v++) {
    if (used[v] === -1) continue;
    positions.set(p.subarray(3 * v, 3 * v + 3), 3 * vertices);
    used[v] = vertices++;
  }
  const indices = new Uint32Array(3 * n);
  const partner = new Int32Array(3 * n);
  // A turned triangle keeps its first corner and swaps the others: its first and last sides change places.
  const moved = (h: number): number => {
    const t = Math.floor(h / 3);
    const side = h - 3 * t;
    return 3 * (number[t] as number) + (o.flip[t] === 1 ? 2 - side : side);
  };
  let turned = 0;
  for (let t = 0; t < many; t++) {
    const u = number[t] as number;
    if (u < 0) continue;
    const over = o.flip[t] === 1;
    turned += over ? 1 : 0;
    for (let k = 0; k < 3; k++) {
      const corner = over ? (3 - k) % 3 : k;
      indices[3 * u + k] = used[ix[3 * t + corner] as number] as number;
      const g = twin[3 * t + k] as number;
      partner[moved(3 * t + k)] = g < 0 ? OPEN : moved(g);
    }
  }
  return { surface: { positions: positions.slice(0, 3 * vertices), indices }, twin: partner, turned };
}

/** Turns every triangle of a surface over, in place, its joins with it. */
export function turnOver(indices: Uint32Array, twin: Int32Array): void {
  for (let h = 0; h < indices.length; h += 3) {
    const b = indices[h + 1] as number;
    indices[h + 1] = indices[h + 2] as number;
    indices[h + 2] = b;
  }
  const old = twin.slice();
  const moved = (h: number): number => (h < 0 ? h : h - (h % 3) + 2 - (h % 3));
  for (let h = 0; h < old.length; h++) twin[moved(h)] = moved(old[h] as number);
}
