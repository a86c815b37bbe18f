/** Loose triangles to shared vertices: corners with equal coordinates become one vertex. */

/** Triangles over shared vertices while they are put in order. Vertices are numbered by first appearance. */
export interface Surface {
  readonly positions: Float64Array; // mm, three a vertex
  readonly indices: Uint32Array; // three a triangle
}

/**
 * Welds by exact equality. `corners` (nine numbers a triangle, no negative zeros) is used as working space and must not
 * be read again. Open addressing over the vertices found so far: no object is made per corner.
 */
export function weldExact(corners: Float64Array): Surface {
  const many = corners.length / 3;
  const indices = new Uint32Array(many);
  const words = new Uint32Array(corners.buffer, corners.byteOffset, 2 * corners.length);
  let mask = tableSize(Math.min(many, 4096)) - 1;
  let table: Int32Array = new Int32Array(mask + 1).fill(-1);
  let found = 0;
  for (let c = 0; c < many; c++) {
    const x = corners[3 * c] as number;
    const y = corners[3 * c + 1] as number;
    const z = corners[3 * c + 2] as number;
    let slot = hashAt(words, 6 * c) & mask;
    let v = table[slot] as number;
    while (v >= 0 && (corners[3 * v] !== x || corners[3 * v + 1] !== y || corners[3 * v + 2] !== z)) {
      slot = (slot + 1) & mask;
      v = table[slot] as number;
    }
    if (v < 0) {
      v = found++;
      table[slot] = v;
      // Vertex numbers never exceed corner numbers, so the vertices can be gathered at the front of the same array.
      corners[3 * v] = x;
      corners[3 * v + 1] = y;
      corners[3 * v + 2] = z;
      if (2 * found > mask) {
        mask = 2 * mask + 1;
        table = rehash(words, found, mask);
      }
    }
    indices[c] = v;
  }
  return { positions: corners.slice(0, 3 * found), indices };
}

const tableSize = (n: number): number => {
  let s = 16;
  while (s < 2 * n) s *= 2;
  return s;
};

function rehash(words: Uint32Array, found: number, mask: number): Int32Array {
  const table = new Int32Array(mask + 1).fill(-1);
  for (let v = 0; v < found; v++) {
    let slot = hashAt(words, 6 * v) & mask;
    while ((table[slot] as number) >= 0) slot = (slot + 1) & mask;
    table[slot] = v;
  }
  return table;
}

/** Mixes the six 32-bit words of three doubles. Multiply-and-shift; the last step brings high bits down. */
function hashAt(words: Uint32Array, at: number): number {
  let h = 0;
  for (let k = 0; k < 6; k++) {
    h = Math.imul(h ^ (words[at + k] as number), 0x9e3779b1);
    h ^= h >>> 15;
  }
  h = Math.imul(h, 0x85ebca6b);
  return (h ^ (h >>> 13)) >>> 0;
}

/** Only the triangles for which `keep` holds, in order; vertices are untouched. */
export function keepTriangles(indices: Uint32Array, keep: (t: number) => boolean): Uint32Array {
  const out = new Uint32Array(indices.length);
  let n = 0;
  for (let t = 0; 3 * t < indices.length; t++) {
    if (!keep(t)) continue;
    out[n] = indices[3 * t] as number;
    out[n + 1] = indices[3 * t + 1] as number;
    out[n + 2] = indices[3 * t + 2] as number;
    n += 3;
  }
  return n === indices.length ? indices : out.slice(0, n);
}
