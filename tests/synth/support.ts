import type { Mesh } from '../../src/geometry/mesh.ts';
import { cross, dot, type Frame, type Point, pointAt, sub } from '../../src/geometry/vec.ts';

/** Open loops of a mesh by plain edge counting; `faulty`: directed edges that occur twice, and vertices where two loops touch. */
export function openLoops(mesh: Mesh<Frame>): { readonly sizes: number[]; readonly faulty: number } {
  const { indices: t } = mesh;
  const edges = new Set<string>();
  let faulty = 0;
  const pairs: [number, number][] = [];
  for (let i = 0; i < t.length; i++) {
    const a = t[i] as number;
    const b = t[i % 3 === 2 ? i - 2 : i + 1] as number;
    if (edges.has(`${a} ${b}`)) faulty++;
    edges.add(`${a} ${b}`);
    pairs.push([a, b]);
  }
  const next = new Map<number, number>();
  for (const [a, b] of pairs) {
    if (edges.has(`${b} ${a}`)) continue;
    if (next.has(b)) faulty++;
    next.set(b, a);
  }
  const sizes: number[] = [];
  while (next.size > 0) {
    let at = [...next.keys()][0] as number;
    let n = 0;
    for (let to = next.get(at); to !== undefined; to = next.get(at)) {
      next.delete(at);
      at = to;
      n++;
    }
    sizes.push(n);
  }
  return { sizes: sizes.sort((a, b) => b - a), faulty };
}

export const mean = (v: readonly number[]): number => v.reduce((a, b) => a + b, 0) / v.length;
export const sd = (v: readonly number[]): number => {
  const m = mean(v);
  return Math.sqrt(v.reduce((a, b) => a + (b - m) * (b - m), 0) / (v.length - 1));
};
export const correlation = (a: readonly number[], b: readonly number[]): number => {
  const [ma, mb] = [mean(a), mean(b)];
  return a.reduce((s, x, i) => s + (x - ma) * ((b[i] as number) - mb), 0) / ((a.length - 1) * sd(a) * sd(b));
};

/** Signed volume of an open mesh closed by a cone to `apex`: sum of tetrahedra, mm3. */
export function volumeFrom<F extends Frame>(mesh: Mesh<F>, apex: Point<F>): number {
  let six = 0;
  for (let i = 0; i < mesh.indices.length; i += 3) {
    const [a, b, c] = [0, 1, 2].map((k) => sub(pointAt<F>(mesh.positions, mesh.indices[i + k] as number), apex)) as [
      Point<F>,
      Point<F>,
      Point<F>,
    ];
    six += dot(a, cross(b, c));
  }
  return six / 6;
}
