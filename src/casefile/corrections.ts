/** What a person sets in place of what the survey finds, as a file says it: lengths mm, places and directions in the scan. */
import * as v from 'valibot';
import { type Plane, type Point, pt } from '../geometry/vec.ts';
import { readJson } from '../json/index.ts';
import { figure, keyed, oneOf, type Reads, textOr, triple } from '../json/schema.ts';
import type { EarOverrides, OnLine } from '../model/ear.ts';

/** Wide, since scans lie anywhere: how far a mark may go is asked when the ear is surveyed. */
const place = pointOf(figure(-1e5, 1e5, 'mm'), 'coordinates');
const direction = pointOf(figure(-1000, 1000, ''), 'numbers');
const none = oneOf(['none']);

function pointOf(item: Reads<number>, of: string): Reads<Point<'scan'>> {
  return v.pipe(
    triple(item, of),
    v.transform(([x, y, z]) => pt<'scan'>(x, y, z)),
  );
}

/** A depth, or a point. */
const onLine: Reads<OnLine> = v.lazy((input): Reads<OnLine> => (Array.isArray(input) ? place : figure(-30, 60, 'mm')));
const bend: Reads<OnLine | 'none'> = textOr(none, onLine);
const rim: Reads<Plane<'scan'>> = keyed({ point: place, normal: direction });

/** Corrections within a case. */
export const SomeCorrections: Reads<EarOverrides> = v.pipe(
  keyed({
    aperture: v.optional(onLine),
    firstBend: v.optional(bend),
    secondBend: v.optional(bend),
    end: v.optional(onLine),
    lateral: v.optional(direction),
    superior: v.optional(direction),
    crus: v.optional(textOr(none, place)),
    rim: v.optional(rim),
  }),
  v.transform((said) => said as EarOverrides), // what is left out is left out, not undefined
);

/**
 * Corrections by themselves, as JSON text.
 * @throws Fault json/... naming every flaw with its path, what was found and what is allowed.
 */
export const readCorrections = (text: string, name: string): EarOverrides =>
  readJson(text, SomeCorrections, name, 'Correct it; README "Corrections" lists what can be set.');
