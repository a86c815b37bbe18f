/**
 * The large arrays of a cast in memory that threads share, where the host has it: they are then sent to any number of mates at
 * no cost. Where it has none (a page that is not isolated), they stay as they are and are copied to each mate.
 *
 * Nobody writes to them once they are sent.
 */
import type { Ear } from '../model/ear.ts';
import type { CastField, FieldArrays } from '../room/field.ts';

type Large = Float32Array | Float64Array | Int32Array | Uint32Array;

function shared<A extends Large>(a: A): A {
  if (typeof SharedArrayBuffer === 'undefined') return a;
  const Same = a.constructor as new (buffer: SharedArrayBuffer) => A;
  const copy = new Same(new SharedArrayBuffer(a.byteLength));
  copy.set(a);
  return copy;
}

export const sharedEar = (ear: Ear): Ear => ({
  ...ear,
  cast: { ...ear.cast, positions: shared(ear.cast.positions), indices: shared(ear.cast.indices) },
});

export function sharedField({ near, grid, values, places, error, band, deepError }: CastField): FieldArrays {
  const { boxes, second, start, count, order } = near.tree;
  const tree = { boxes: shared(boxes), second: shared(second), start: shared(start), count: shared(count), order: shared(order) };
  return { near: { tree, packed: shared(near.packed) }, grid, values: shared(values), places: shared(places), error, band, deepError };
}
