/** Closed solids of known size in loose numbers, and STL files made of them, for the tests of reading. */

export interface Solid {
  /** x y z of each vertex. */
  readonly points: number[][];
  /** Three vertex numbers each, counter-clockwise from outside. */
  readonly triangles: number[][];
}

type Move = (p: readonly number[]) => number[];

export const moved = (s: Solid, move: Move): Solid => ({ points: s.points.map(move), triangles: s.triangles });

export const both = (a: Solid, b: Solid): Solid => ({
  points: [...a.points, ...b.points],
  triangles: [...a.triangles, ...b.triangles.map((t) => t.map((v) => v + a.points.length))],
});

export const turnedOver = (s: Solid, which: (t: number) => boolean = () => true): Solid => ({
  points: s.points,
  triangles: s.triangles.map((t, i) => (which(i) ? [t[0], t[2], t[1]] : t) as number[]),
});

export const without = (s: Solid, drop: (t: number, middle: number[]) => boolean): Solid => ({
  points: s.points,
  triangles: s.triangles.filter((t, i) => !drop(i, middleOf(s, t))),
});

const middleOf = (s: Solid, t: number[]): number[] =>
  [0, 1, 2].map((k) => t.reduce((sum, v) => sum + ((s.points[v] as number[])[k] as number), 0) / 3);

export function box(lo: readonly number[], hi: readonly number[]): Solid {
  const points = Array.from({ length: 8 }, (_, i) => [0, 1, 2].map((k) => ((i >> k) & 1 ? hi[k] : lo[k]) as number));
  const quads = [
    [0, 2, 3, 1],
    [4, 5, 7, 6],
    [0, 1, 5, 4],
    [2, 6, 7, 3],
    [0, 4, 6, 2],
    [1, 3, 7, 5],
  ];
  return { points, triangles: quads.flatMap(([a, b, c, d]) => [[a, b, c] as number[], [a, c, d] as number[]]) };
}

/** The surface of a heap of cubes of a grid, faces between two of them left out: touches itself in many edges and corners. */
export function cubes(cells: readonly (readonly number[])[], size: number): Solid {
  const has = new Set(cells.map((c) => c.join()));
  let s: Solid = { points: [], triangles: [] };
  for (const c of cells) {
    const cube = box(
      c.map((x) => x * size),
      c.map((x) => (x + 1) * size),
    );
    const faces = without(cube, (_t, m) => {
      // The face's middle lies half a side off the cube's in one direction: is there a cube?
      const off = c.map((x, k) => (m[k] as number) / size - (x + 0.5));
      const axis = off.findIndex((o) => Math.abs(Math.abs(o) - 0.5) < 1e-6);
      const beyond = [...c];
      beyond[axis] = (c[axis] as number) + Math.sign(off[axis] as number);
      return has.has(beyond.join());
    });
    s = both(s, faces);
  }
  return s;
}

/** |x| + |y| + |z| <= r. Volume 4/3 r^3. */
export const octahedron = (r: number): Solid => ({
  points: [
    [r, 0, 0],
    [-r, 0, 0],
    [0, r, 0],
    [0, -r, 0],
    [0, 0, r],
    [0, 0, -r],
  ],
  triangles: [
    [0, 2, 4],
    [2, 1, 4],
    [1, 3, 4],
    [3, 0, 4],
    [2, 0, 5],
    [1, 2, 5],
    [3, 1, 5],
    [0, 3, 5],
  ],
});

/** A ball whose points all lie on the sphere: an octahedron halved `depth` times. 8 * 4^depth triangles. */
export function ball(r: number, depth: number): Solid {
  let s = octahedron(1);
  for (let d = 0; d < depth; d++) s = halved(s);
  return moved(s, (p) => {
    const l = Math.sqrt(p.reduce((sum, c) => sum + c * c, 0));
    return p.map((c) => (c / l) * r);
  });
}

/** Each triangle into four by its sides' middles. */
export function halved(s: Solid): Solid {
  const points = s.points.map((p) => [...p]);
  const between = new Map<string, number>();
  const middle = (a: number, b: number): number => {
    const key = a < b ? `${a},${b}` : `${b},${a}`;
    const known = between.get(key);
    if (known !== undefined) return known;
    points.push([0, 1, 2].map((k) => (((points[a] as number[])[k] as number) + ((points[b] as number[])[k] as number)) / 2));
    between.set(key, points.length - 1);
    return points.length - 1;
  };
  const triangles = s.triangles.flatMap((t) => {
    const [a, b, c] = t as [number, number, number];
    const [ab, bc, ca] = [middle(a, b), middle(b, c), middle(c, a)];
    return [
      [a, ab, ca],
      [ab, b, bc],
      [ca, bc, c],
      [ab, bc, ca],
    ];
  });
  return { points, triangles };
}

/** A ring of ring radius R and tube radius r, n x m quads. */
export function torus(R: number, r: number, n: number, m: number): Solid {
  const points: number[][] = [];
  const triangles: number[][] = [];
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < m; j++) {
      const a = (2 * Math.PI * i) / n;
      const b = (2 * Math.PI * j) / m;
      points.push([(R + r * Math.cos(b)) * Math.cos(a), (R + r * Math.cos(b)) * Math.sin(a), r * Math.sin(b)]);
      const q = [i * m + j, ((i + 1) % n) * m + j, ((i + 1) % n) * m + ((j + 1) % m), i * m + ((j + 1) % m)] as const;
      triangles.push([q[0], q[1], q[2]], [q[0], q[2], q[3]]);
    }
  }
  return { points, triangles };
}

/** Half axes and middle of a plug's cross-section at its k-th level. */
export interface Level {
  readonly z: number;
  readonly scale: number;
  readonly x: number;
  readonly y: number;
}

export const PLUG: readonly Level[] = [
  { z: 0, scale: 1, x: 0, y: 0 },
  { z: 4, scale: 0.9, x: 0.4, y: 0.2 },
  { z: 8, scale: 0.75, x: 1.2, y: 0.9 },
  { z: 12, scale: 0.6, x: 1.4, y: 2.1 },
  { z: 16, scale: 0.55, x: 1.1, y: 3.4 },
  { z: 20, scale: 0.4, x: 1.0, y: 4.6 },
];

/**
 * A bent, tapering plug standing for an impression: n-gons of half axes 7.5 and 5 mm, scaled and shifted level by level,
 * joined by plane trapezoids; base in z = 0 with outward normal -z. The last 2 (n - 2) triangles are base and tip.
 */
export function plug(n = 24, levels: readonly Level[] = PLUG): Solid {
  const points: number[][] = [];
  for (const l of levels) {
    for (let i = 0; i < n; i++) {
      const a = (2 * Math.PI * i) / n;
      points.push([l.x + l.scale * 7.5 * Math.cos(a), l.y + l.scale * 5 * Math.sin(a), l.z]);
    }
  }
  const triangles: number[][] = [];
  for (let k = 0; k + 1 < levels.length; k++) {
    for (let i = 0; i < n; i++) {
      const [a, b, c, d] = [k * n + i, k * n + ((i + 1) % n), (k + 1) * n + ((i + 1) % n), (k + 1) * n + i];
      triangles.push([a, b, c], [a, c, d]);
    }
  }
  const top = (levels.length - 1) * n;
  for (let i = 1; i + 1 < n; i++) triangles.push([top, top + i, top + i + 1]);
  for (let i = 1; i + 1 < n; i++) triangles.push([0, i + 1, i]);
  return { points, triangles };
}

/** Exact: a frustum between similar polygons of areas A and B at distance h holds h (A + B + sqrt(AB)) / 3, sheared or not (Cavalieri). */
export function plugVolume(n = 24, levels: readonly Level[] = PLUG): number {
  const area = (s: number): number => (n / 2) * Math.sin((2 * Math.PI) / n) * 7.5 * 5 * s * s;
  let v = 0;
  for (let k = 0; k + 1 < levels.length; k++) {
    const [lo, hi] = [levels[k] as Level, levels[k + 1] as Level];
    v += ((hi.z - lo.z) * (area(lo.scale) + area(hi.scale) + Math.sqrt(area(lo.scale) * area(hi.scale)))) / 3;
  }
  return v;
}

/** Without its base: the usual open end of a scanned impression. */
export const openPlug = (n = 24, levels: readonly Level[] = PLUG): Solid => {
  const whole = plug(n, levels);
  return { points: whole.points, triangles: whole.triangles.slice(0, whole.triangles.length - (n - 2)) };
};

/** Corners in file order, nine numbers a triangle. */
export const cornersOf = (s: Solid): number[] => s.triangles.flatMap((t) => t.flatMap((v) => s.points[v] as number[]));

export interface StlOptions {
  readonly header?: string;
  /** What the header claims; the true number unless given. */
  readonly count?: number;
  readonly trailing?: number;
}

export function binaryStl(corners: readonly number[], o: StlOptions = {}): Uint8Array {
  const many = corners.length / 9;
  const bytes = new Uint8Array(84 + 50 * many + (o.trailing ?? 0));
  const view = new DataView(bytes.buffer);
  bytes.set(new TextEncoder().encode(o.header ?? 'test').subarray(0, 80));
  view.setUint32(80, o.count ?? many, true);
  for (let t = 0; t < many; t++) for (let k = 0; k < 9; k++) view.setFloat32(84 + 50 * t + 12 + 4 * k, corners[9 * t + k] as number, true);
  return bytes;
}

export function asciiStl(corners: readonly number[], write: (x: number) => string = String, end = '\n'): Uint8Array {
  const lines = ['solid test'];
  for (let t = 0; t < corners.length / 9; t++) {
    lines.push('  facet normal 0 0 0', '    outer loop');
    for (let v = 0; v < 3; v++) lines.push(`      vertex ${[0, 1, 2].map((k) => write(corners[9 * t + 3 * v + k] as number)).join(' ')}`);
    lines.push('    endloop', '  endfacet');
  }
  return new TextEncoder().encode(`${[...lines, 'endsolid test'].join(end)}${end}`);
}

/** A solid as a text STL file: coordinates keep all their digits. */
export const textFile = (s: Solid): Uint8Array => asciiStl(cornersOf(s));
export const binaryFile = (s: Solid, o: StlOptions = {}): Uint8Array => binaryStl(cornersOf(s), o);
