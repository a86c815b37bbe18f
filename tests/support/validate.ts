/** Is a mesh closed, two-sided and outward? Slow and obvious on purpose; shares no code with what it checks. */

interface AnyMesh {
  readonly positions: ArrayLike<number>;
  readonly indices: ArrayLike<number>;
}

/** Everything that is wrong, in words; empty for a sound mesh. */
export function faultsOf({ positions, indices }: AnyMesh): string[] {
  const faults: string[] = [];
  const vertices = positions.length / 3;
  for (let i = 0; i < positions.length; i++) if (!Number.isFinite(positions[i])) faults.push(`coordinate ${i} is ${positions[i]}`);
  const edges = new Map<string, number>();
  const triangles = new Set<string>();
  const used = new Set<number>();
  for (let t = 0; t < indices.length / 3; t++) {
    const corners = [0, 1, 2].map((k) => indices[3 * t + k] as number);
    const [a, b, c] = corners as [number, number, number];
    for (const v of corners) {
      if (!(v >= 0 && v < vertices)) faults.push(`triangle ${t} uses vertex ${v} of ${vertices}`);
      used.add(v);
    }
    if (a === b || b === c || c === a) faults.push(`triangle ${t} uses a vertex twice`);
    const key = [...corners].sort((x, y) => x - y).join();
    if (triangles.has(key)) faults.push(`triangle ${t} is there twice`);
    triangles.add(key);
    for (const [p, q] of [
      [a, b],
      [b, c],
      [c, a],
    ] as const) {
      edges.set(`${p},${q}`, (edges.get(`${p},${q}`) ?? 0) + 1);
    }
  }
  for (const [key, count] of edges) {
    const [p, q] = key.split(',');
    if (count !== 1) faults.push(`edge ${key} is run ${count} times`);
    if (edges.get(`${q},${p}`) !== 1) faults.push(`edge ${key} has no partner the other way`);
  }
  if (used.size !== vertices) faults.push(`${vertices - used.size} vertices are not used`);
  if (!(volumeAbout(positions, indices) > 0)) faults.push(`volume is ${volumeAbout(positions, indices)}`);
  return faults;
}

/** Signed volume about the box's middle, one tetrahedron a triangle. */
export function volumeAbout(positions: ArrayLike<number>, indices: ArrayLike<number>): number {
  const middle = [0, 1, 2].map((k) => {
    let lo = Infinity;
    let hi = -Infinity;
    for (let i = k; i < positions.length; i += 3) {
      lo = Math.min(lo, positions[i] as number);
      hi = Math.max(hi, positions[i] as number);
    }
    return (lo + hi) / 2;
  });
  let six = 0;
  for (let t = 0; t < indices.length; t += 3) {
    const [a, b, c] = [0, 1, 2].map((k) =>
      [0, 1, 2].map((d) => (positions[3 * (indices[t + k] as number) + d] as number) - (middle[d] as number)),
    ) as [number[], number[], number[]];
    const [ax, ay, az] = a as [number, number, number];
    const [bx, by, bz] = b as [number, number, number];
    const [cx, cy, cz] = c as [number, number, number];
    six += ax * (by * cz - bz * cy) - ay * (bx * cz - bz * cx) + az * (bx * cy - by * cx);
  }
  return six / 6;
}

/** For large meshes: is every directed edge there once, and once the other way? By sorting both lists. */
export function isClosed({ positions, indices }: AnyMesh): boolean {
  const many = positions.length / 3;
  const there = new Float64Array(indices.length);
  const back = new Float64Array(indices.length);
  for (let h = 0; h < indices.length; h++) {
    const a = indices[h] as number;
    const b = indices[h % 3 === 2 ? h - 2 : h + 1] as number;
    there[h] = a * many + b;
    back[h] = b * many + a;
  }
  there.sort();
  back.sort();
  return there.every((e, i) => e === back[i] && e !== there[i + 1]);
}
