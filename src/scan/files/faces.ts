/** The faces of a format with numbered points: kept while the file is read, cut into triangles once all points are known. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { Corners } from './corners.ts';
import { type Emit, PolygonCutter } from './polygon.ts';
import { MOST_TRIANGLES, type NotFinite, refuseEmpty, refuseTooMany, type Soup, settleNotFinite } from './soup.ts';

const AXES = ['x', 'y', 'z'] as const;

/** A coordinate that a text file writes as "nan" or its like. */
export interface OddNumber {
  readonly line: number;
  readonly what: string;
}

/** Points of a file while it is read, x y z each. Numbers that are none are kept: only points that a face uses matter. */
export class Points {
  /** Coordinates so far. */
  length = 0;
  /** By the coordinate's number; the first ones only, for the words of a finding. */
  readonly odd = new Map<number, OddNumber>();
  #data: Float64Array;

  /** `guess`: how many points to make room for. A claim from the file must be checked against its length before it comes here. */
  constructor(guess = 64) {
    this.#data = new Float64Array(3 * Math.max(16, guess));
  }

  /** Adds a coordinate. For one that is not finite, `odd` tells how a text file writes it. */
  push(x: number, odd?: OddNumber): void {
    if (this.length === this.#data.length) {
      refuseTooManyPoints(this.length / 3);
      this.#data = wider(this.#data);
    }
    if (odd && this.odd.size < 1000) this.odd.set(this.length, odd);
    this.#data[this.length++] = x;
  }

  /** All coordinates. The list must not grow afterwards. */
  take(): Float64Array {
    return this.#data.subarray(0, this.length);
  }
}

/** No closed mesh has more points than corners of triangles. */
export function refuseTooManyPoints(points: number): void {
  if (points <= 3 * MOST_TRIANGLES) return;
  throw new Fault(
    'scan/too-large',
    `the file holds ${grouped(points)} points, the limit is ${grouped(3 * MOST_TRIANGLES)}`,
    '',
    'Reduce the scan in the scanning software and export it again.',
  );
}

/** Points without faces. */
export function refusePoints(points: number): never {
  if (points === 0) refuseEmpty();
  throw new Fault(
    'scan/no-triangles',
    `${counted(points, 'point')} but no faces: this is a point cloud, a surface is needed`,
    '',
    'Let the scanning software make a surface (a mesh) of the points and export that.',
  );
}

export class Faces {
  /** Triangles that the faces so far will give. */
  triangles = 0;
  /** What counts as a face's place: its line in a text file, its number in a binary one. */
  readonly #by: 'line' | 'face';
  /** Of each face: 3 and its corners, or the number of corners, its place, and the corners. */
  #data: Uint32Array;
  #used = 0;
  #start = 0;
  #short = 0;
  #firstShort = 0;
  #polygons = 0;
  #fromPolygons = 0;

  /** `guess`: how many triangles to make room for; checked against the file's length like that of Points. */
  constructor(by: 'line' | 'face', guess = 64) {
    this.#by = by;
    this.#data = new Uint32Array(4 * Math.max(16, guess));
  }

  /** No face was begun, however few its corners. */
  get empty(): boolean {
    return this.triangles === 0 && this.#short === 0;
  }

  /** Begins a face. Its line or number is used in messages only. */
  begin(place: number): void {
    this.#start = this.#used;
    this.#push(0);
    this.#push(place);
  }

  /** Adds a corner of the face that was begun: the number of a point, from 0. */
  corner(point: number): void {
    this.#push(point);
  }

  /** Ends the face. One of fewer than three corners is left out, and told in the end. */
  end(): void {
    const at = this.#start;
    const n = this.#used - at - 2;
    if (n < 3) {
      if (this.#short++ === 0) this.#firstShort = this.#data[at + 1] as number;
      this.#used = at;
      return;
    }
    const d = this.#data;
    d[at] = n;
    if (n === 3) {
      for (let k = at + 1; k < at + 4; k++) d[k] = d[k + 1] as number; // a triangle needs no place
      this.#used--;
    } else {
      this.#polygons++;
      this.#fromPolygons += n - 2;
    }
    this.triangles += n - 2;
    refuseTooMany(this.triangles);
  }

  /** Adds a triangle. */
  triangle(a: number, b: number, c: number): void {
    this.#push(3);
    this.#push(a);
    this.#push(b);
    this.#push(c);
    refuseTooMany(++this.triangles);
  }

  /**
   * The triangles, in the file's order, of faces whose corners all lie in `points`. Adds findings.
   * @throws Fault where there are none, where too many coordinates are not finite, where polygons are too large.
   */
  soup(points: Points, file: Pick<Soup, 'format' | 'single'>, findings: Finding[]): Soup {
    if (this.triangles === 0) this.#refuseNone();
    const out = new Corners(this.triangles);
    const p = points.take();
    const bad = new BadPoints(p, points.odd);
    const emit: Emit = (a, b, c) => {
      if (bad.any) bad.note(out.triangles, a, b, c);
      out.triangle(p, a, b, c);
    };
    const cutter = new PolygonCutter(p, emit);
    for (let at = 0; at < this.#used; ) at = this.#face(at, emit, cutter, bad);
    this.#tell(cutter, findings);
    const corners = settleNotFinite(out.take(), bad.list(), findings);
    return { ...file, corners, triangles: this.triangles, findings };
  }

  /** Gives the triangles of the face at `at`; returns where the next begins. */
  #face(at: number, emit: Emit, cutter: PolygonCutter, bad: BadPoints): number {
    const d = this.#data;
    const n = d[at] as number;
    if (n === 3) {
      emit(d[at + 1] as number, d[at + 2] as number, d[at + 3] as number);
      return at + 4;
    }
    const from = at + 2;
    const start = bad.any ? bad.among(d, from, n) : -1;
    if (start >= 0) {
      // No plane to cut it in. The fan from the bad corner leaves the whole face out.
      for (let k = 1; k < n - 1; k++)
        emit(d[from + start] as number, d[from + ((start + k) % n)] as number, d[from + ((start + k + 1) % n)] as number);
    } else cutter.cut(d, from, n, d[at + 1] as number, (place) => this.#where(place));
    return from + n;
  }

  #refuseNone(): never {
    if (this.#short === 0) refuseEmpty();
    throw new Fault(
      'scan/no-triangles',
      `no triangles in file: ${counted(this.#short, 'face')} of fewer than 3 corners, no others`,
      this.#where(this.#firstShort),
      'The export wrote an empty model: export the scan again.',
    );
  }

  #where(place: number): string {
    return `${this.#by} ${grouped(place)}`;
  }

  #tell(cutter: PolygonCutter, findings: Finding[]): void {
    const first = (place: number): string => (this.#by === 'line' ? `the first on line ${place}` : `the first is face ${grouped(place)}`);
    if (this.#short > 0)
      findings.push({
        code: 'scan/short-faces',
        level: 'changed',
        text: `${counted(this.#short, 'face')} of fewer than 3 corners left out (${first(this.#firstShort)}).`,
        count: this.#short,
      });
    if (this.#polygons > 0)
      findings.push({
        code: 'scan/polygons',
        level: 'note',
        text: `${counted(this.#polygons, 'face')} of more than 3 corners cut into ${grouped(this.#fromPolygons)} triangles.`,
        count: this.#polygons,
      });
    if (cutter.crossed > 0)
      findings.push({
        code: 'scan/crossed-polygons',
        level: 'warning',
        text: `${counted(cutter.crossed, 'face')} of more than 3 corners ${cutter.crossed === 1 ? 'crosses itself or has' : 'cross themselves or have'} no area (${first(cutter.firstCrossed)}): the triangles there may lie over one another.`,
        count: cutter.crossed,
      });
  }

  #push(x: number): void {
    if (this.#used === this.#data.length) this.#data = wider(this.#data);
    this.#data[this.#used++] = x;
  }
}

/** Points with coordinates that are not finite numbers, and the triangles that use them. */
class BadPoints {
  readonly any: boolean;
  readonly #points: Float64Array;
  readonly #odd: ReadonlyMap<number, OddNumber>;
  readonly #named = new Set<number>();
  /** One entry a triangle; those that are the first of their point come first, for the words of the finding. */
  readonly #first: NotFinite[] = [];
  readonly #more: NotFinite[] = [];

  constructor(points: Float64Array, odd: ReadonlyMap<number, OddNumber>) {
    this.#points = points;
    this.#odd = odd;
    let probe = 0;
    for (let i = 0; i < points.length; i++) probe += (points[i] as number) * 0; // NaN as soon as one is NaN or infinite
    this.any = probe !== 0;
  }

  /** Which of the n points from `list[from]` on is the first bad one; -1 for none. */
  among(list: ArrayLike<number>, from: number, n: number): number {
    for (let k = 0; k < n; k++) if (this.#axis(list[from + k] as number) >= 0) return k;
    return -1;
  }

  /** Keeps triangle number `triangle` in mind if it uses a bad point. */
  note(triangle: number, ...corners: [number, number, number]): void {
    const vertex = this.among(corners, 0, 3);
    if (vertex < 0) return;
    const point = corners[vertex] as number;
    const axis = this.#axis(point);
    const odd = this.#odd.get(3 * point + axis);
    const what = Number.isNaN(this.#points[3 * point + axis]) ? 'NaN' : 'infinite';
    const entry: NotFinite = { triangle, vertex, axis: AXES[axis] as 'x', what, ...odd };
    (this.#named.has(point) ? this.#more : this.#first).push(entry);
    this.#named.add(point);
  }

  list(): NotFinite[] {
    return this.#more.length === 0 ? this.#first : this.#first.concat(this.#more);
  }

  /** The first axis along which the point is not finite; -1 for none. */
  #axis(point: number): number {
    for (let k = 0; k < 3; k++) if (!Number.isFinite(this.#points[3 * point + k])) return k;
    return -1;
  }
}

/** A list of twice the length with the same beginning. */
function wider<T extends Float64Array | Uint32Array>(list: T): T;
function wider(list: Float64Array | Uint32Array): Float64Array | Uint32Array {
  const more = list instanceof Float64Array ? new Float64Array(2 * list.length) : new Uint32Array(2 * list.length);
  more.set(list);
  return more;
}
