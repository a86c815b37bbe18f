/** Triangles that are no surface: collapsed ones and copies. Dropping them never opens an edge that was closed. */
import { pointAt } from '../../geometry/vec.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped, place } from '../wording.ts';
import { keepTriangles, type Surface } from './weld.ts';

/** Leaves out triangles with two corners at one vertex: their other two sides lie on each other and join what was beside them. */
export function dropCollapsed(s: Surface, findings: Finding[]): Surface {
  const { indices: ix } = s;
  const collapsed = (t: number): boolean => ix[3 * t] === ix[3 * t + 1] || ix[3 * t + 1] === ix[3 * t + 2] || ix[3 * t + 2] === ix[3 * t];
  let n = 0;
  let first = -1;
  for (let t = 0; 3 * t < ix.length; t++) {
    if (!collapsed(t)) continue;
    n++;
    if (first < 0) first = ix[3 * t] as number;
  }
  if (n === 0) return s;
  findings.push({
    code: 'scan/collapsed',
    level: 'changed',
    text: `${counted(n, 'triangle')} with two corners in one place left out.`,
    count: n,
    at: pointAt(s.positions, first),
  });
  return { positions: s.positions, indices: keepTriangles(ix, (t) => !collapsed(t)) };
}

/** Leaves out every triangle whose three vertices an earlier one has already, whichever way round. */
export function dropDuplicates(s: Surface, findings: Finding[]): Surface {
  const { indices: ix } = s;
  const many = ix.length / 3;
  let size = 16;
  while (size < 2 * many) size *= 2;
  const mask = size - 1;
  const table = new Int32Array(size).fill(-1);
  const copy = new Uint8Array(many);
  const key = new Uint32Array(3);
  const other = new Uint32Array(3);
  let n = 0;
  let reversed = 0;
  let first = -1;
  for (let t = 0; t < many; t++) {
    const turned = sortCorners(ix, t, key);
    let slot = mix(key) & mask;
    for (; (table[slot] as number) >= 0; slot = (slot + 1) & mask) {
      const u = table[slot] as number;
      const otherTurned = sortCorners(ix, u, other);
      if (key[0] !== other[0] || key[1] !== other[1] || key[2] !== other[2]) continue;
      copy[t] = 1;
      n++;
      if (turned !== otherTurned) reversed++;
      if (first < 0) first = key[0] as number;
      break;
    }
    if (copy[t] === 0) table[slot] = t;
  }
  if (n === 0) return s;
  const back = reversed === 0 ? '' : reversed === n ? ', back to front' : `, ${grouped(reversed)} of them back to front`;
  findings.push({
    code: 'scan/duplicates',
    level: 'changed',
    text: `${counted(n, 'duplicate triangle')} removed${back} (the first at ${place(pointAt(s.positions, first))}).`,
    count: n,
    at: pointAt(s.positions, first),
  });
  return { positions: s.positions, indices: keepTriangles(ix, (t) => copy[t] === 0) };
}

/** Ascending vertex numbers into `out`; true when that order runs against the triangle's own. */
function sortCorners(ix: Uint32Array, t: number, out: Uint32Array): boolean {
  const a = ix[3 * t] as number;
  const b = ix[3 * t + 1] as number;
  const c = ix[3 * t + 2] as number;
  const lo = Math.min(a, b, c);
  const hi = Math.max(a, b, c);
  out[0] = lo;
  out[1] = a + b + c - lo - hi;
  out[2] = hi;
  return (a < b ? 1 : 0) + (b < c ? 1 : 0) + (c < a ? 1 : 0) === 1;
}

function mix(key: Uint32Array): number {
  let h = 0;
  for (let k = 0; k < 3; k++) {
    h = Math.imul(h ^ (key[k] as number), 0x9e3779b1);
    h ^= h >>> 15;
  }
  h = Math.imul(h, 0x85ebca6b);
  return (h ^ (h >>> 13)) >>> 0;
}
