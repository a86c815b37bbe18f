/**
 * What the remedies work on: straight round canals whose every width and length is known, and drawn ears. A canal of radius R
 * (a polygon of N corners: R cos(pi / N) from the axis to its flats) runs along z from 14 to -18; bends are put where the
 * test wants them.
 */
import { surveyWithSide } from '../../src/ear/index.ts';
import type { Arena, Kernel } from '../../src/geometry/kernel.ts';
import { cos, PI, sin } from '../../src/geometry/trig.ts';
import { type Point, pt, scale, type Vec3 } from '../../src/geometry/vec.ts';
import type { Bench } from '../../src/ladder/index.ts';
import type { Ear, Side } from '../../src/model/ear.ts';
import type { Effort } from '../../src/model/fit.ts';
import type { ListedPart, Primitive, Rules, Style } from '../../src/model/parts.ts';
import { needsOf } from '../../src/order/index.ts';
import { GENERIC } from '../../src/parts/index.ts';
import { measureCast } from '../../src/room/index.ts';
import { readScan, thinScan } from '../../src/scan/index.ts';
import { solidCast } from '../../src/trim/index.ts';
import { loft, USUAL } from '../support/rooms.ts';

const N = 48;
export const END = 18;

/** From the axis to the flats of the polygon that a canal of this radius is. */
export const flat = (radius: number): number => radius * cos(PI / N);

/** Everything `by` times as far from the aperture. */
export function roundEar(radius: number, by = 1): Ear {
  const heights = Array.from({ length: 9 }, (_, k) => by * (14 - 4 * k));
  const ring = (z: number): Vec3[] =>
    Array.from({ length: N }, (_, k) => [by * radius * cos((2 * PI * k) / N), by * radius * sin((2 * PI * k) / N), z] as const).reverse();
  const depths = Float64Array.from({ length: 61 }, (_, k) => by * (-12 + 0.5 * k));
  const along = (z: (depth: number) => number): Float64Array => Float64Array.from([...depths].flatMap((d) => [0, 0, z(d)]));
  const mark = (depth: number): { at: Point<'ear'>; depth: number; confidence: number } => ({
    at: pt<'ear'>(0, 0, -by * depth),
    depth: by * depth,
    confidence: 1,
  });
  return {
    frame: { side: 'right', origin: pt(0, 0, 0), anterior: pt(1, 0, 0), superior: pt(0, 1, 0), lateral: pt(0, 0, 1) },
    cast: loft(heights.map(ring)),
    centreline: { points: along((d) => -d), tangents: along(() => -1), depths },
    sections: [],
    aperture: mark(0),
    firstBend: { ...mark(9), angle: 0.4 },
    secondBend: { ...mark(13), angle: 0.4 },
    end: mark(END),
    rim: { plane: { point: scale(pt<'ear'>(0, 0, 12), by), normal: pt(0, 0, 1) }, confidence: 1 },
  };
}

export const listed = (id: string, primitive: Pick<Primitive, 'shape' | 'size'>): ListedPart => ({
  id,
  kind: 'chip',
  name: `Lump ${id}`,
  primitives: [{ ...primitive, position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' }],
  seat: { at: 'free' },
  margin: 0,
  source: 'test',
});

/** A style of such parts alone, from 2 mm inside the aperture to `beyond` past the first bend. */
export const styleOf = (parts: readonly ListedPart[], beyond = 0, by = 1): Style => ({
  name: 'CIC',
  title: 'Test',
  outer: { from: 'aperture', lateral: -2 * by, range: [-4 * by, 2 * by], facing: 'axis' },
  tip: { bend: 'first', beyond: by * beyond, leave: by },
  slots: parts.map((part) => ({ takes: 'part', part, alternatives: [] })),
  ports: { least: 4, most: 12, tilt: 0.3 },
  apart: [],
  source: 'test',
});

export interface BenchOptions {
  readonly rules?: Partial<Rules>;
  readonly effort?: Effort;
}

export function benchOf(kernel: Kernel, arena: Arena, ear: Ear, { rules = {}, effort = 'quick' }: BenchOptions = {}): Bench {
  return {
    kernel,
    ear,
    solid: solidCast(kernel, ear, arena),
    field: measureCast(ear.cast),
    deviation: 0,
    order: needsOf({}, GENERIC).order,
    rules: { ...USUAL, ...rules },
    seed: 1,
    effort,
    shouldStop: () => false,
    before: async () => {},
  };
}

/** As the engine sets it up. */
export function benchOfScan(kernel: Kernel, arena: Arena, bytes: Uint8Array, side: Side, options: BenchOptions = {}): Bench {
  const scan = readScan(bytes, 'drawn.stl');
  const { mesh, deviation } = thinScan(scan);
  const { ear } = surveyWithSide({ ...scan, mesh }, side, {});
  return { ...benchOf(kernel, arena, ear, options), deviation };
}
