/** Pieces that the schemas of both versions are made of. */
import * as v from 'valibot';
import { figure, keyed, list, oneOf, type Reads, triple } from '../json/schema.ts';
import type { Primitive } from '../model/parts.ts';
import type { Span, Vec } from './format.ts';

export const length = figure(-1000, 1000, 'mm');
export const place: Reads<Vec> = triple(length, 'lengths');
export const unit: Reads<Vec> = triple(figure(-1.001, 1.001, ''), 'numbers');
export const quaternion = v.pipe(
  list(figure(-1.001, 1.001, ''), 4, 4, 'numbers'),
  v.transform(([x, y, z, w]) => [x as number, y as number, z as number, w as number] as const),
);
export const span: Reads<Span> = v.pipe(
  list(length, 2, 2, 'lengths'),
  v.transform(([lo, hi]) => [lo as number, hi as number] as const),
);
export const twoSpans: Reads<readonly [Span, Span]> = v.pipe(
  list(span, 2, 2, 'intervals'),
  v.transform(([a, b]) => [a as Span, b as Span] as const),
);
export const rule = figure(0, 5, 'mm');
export const margin = figure(0, 2, 'mm');
export const ceiling = figure(-100, 100, 'mm');

const MOST_POINTS = 2000;
export const points: Reads<Vec[]> = list(place, 1, MOST_POINTS, 'points');

export const primitives: Reads<Omit<Primitive, 'kind'>[]> = list(
  keyed({
    shape: oneOf(['box', 'cylinder', 'capsule']),
    size: triple(figure(0.01, 100, 'mm'), 'lengths'),
    position: place,
    quaternion,
  }),
  1,
  50,
  'primitives',
);
