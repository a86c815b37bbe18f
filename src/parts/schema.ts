/**
 * What a catalogue file looks like. Lengths mm, angles degrees: as people write them. What can be told of one value is
 * asked here, what concerns several in flaws.ts.
 */
import * as v from 'valibot';
import { figure, head, identifier, keyed, line, list, oneOf, type Reads, tagged, textOr, triple } from '../json/schema.ts';
import { RECEIVER_SIZES, WISHES } from '../model/order.ts';
import { PART_KINDS, type Rules, STYLES } from '../model/parts.ts';
import { ruleFigure } from './rules.ts';

/** No part of a custom instrument is longer; a slip of the unit is. */
const LONGEST = 30;
const length = figure(0.1, LONGEST, 'mm');
const place = figure(-LONGEST, LONGEST, 'mm');
const source = line(300);
const oneOrTwo = oneOf([1, 2]);

const PrimitiveFile = keyed({
  shape: oneOf(['box', 'cylinder', 'capsule']),
  /** Along its own x, y, z; a cylinder's or capsule's is [diameter, diameter, length]. */
  size: triple(length, 'lengths'),
  /** Of its centre in the part; [0, 0, 0] unless said. */
  position: v.optional(triple(place, 'coordinates')),
  /** Which of the part's axes its own z lies along; z unless said. */
  along: v.optional(oneOf(['x', 'y', 'z'])),
  /** Then turned so far about the part's x axis, degrees: a turn that keeps the part symmetric. */
  tilt: v.optional(figure(-180, 180, 'degrees')),
  kind: v.optional(oneOf(['solid', 'service'])),
});
export type PrimitiveFile = v.InferOutput<typeof PrimitiveFile>;

type SeatFile = { at: 'faceplate' } | { at: 'free' } | { at: 'tip'; spout: readonly [number, number, number]; reach: number; cone: number };
const SeatFile: Reads<SeatFile> = tagged<SeatFile>('at', {
  faceplate: keyed({ at: oneOf(['faceplate']) }),
  free: keyed({ at: oneOf(['free']) }),
  tip: keyed({
    at: oneOf(['tip']),
    spout: triple(place, 'coordinates'),
    reach: figure(0, 10, 'mm'),
    cone: figure(0, 90, 'degrees'),
  }),
});

const PartFile = keyed({
  id: identifier,
  kind: oneOf(PART_KINDS),
  name: line(40),
  primitives: list(PrimitiveFile, 1, 12, 'primitives'),
  seat: SeatFile,
  margin: v.optional(textOr(oneOf(['suspension']), figure(0, 2, 'mm'))),
  /** Of a cell: what the drawer holds. */
  holds: v.optional(keyed({ cell: line(20), diameter: length, height: length })),
  source,
});
export type PartFile = v.InferOutput<typeof PartFile>;

type OuterFile =
  | { from: 'aperture'; lateral: number; range: readonly number[]; facing: 'axis' | 'half-way' | 'rim' }
  | { from: 'rim'; medial: number };
const lateral = figure(-10, 20, 'mm');
const OuterFile: Reads<OuterFile> = tagged<OuterFile>('from', {
  aperture: keyed({
    from: oneOf(['aperture']),
    lateral,
    range: list(lateral, 2, 2, 'lengths'),
    facing: oneOf(['axis', 'half-way', 'rim']),
  }),
  rim: keyed({ from: oneOf(['rim']), medial: figure(0, 5, 'mm') }),
});

export type SlotFile =
  | { takes: 'cell'; part: string; rechargeable?: string | undefined; alternatives?: string[] | undefined }
  | { takes: 'receiver'; sizes: Partial<Record<(typeof RECEIVER_SIZES)[number], string | undefined>> }
  | { takes: 'microphones'; part: string; least: 1 | 2; most: 1 | 2 }
  | { takes: 'wish'; wish: (typeof WISHES)[number]; part: string; alternatives?: string[] | undefined }
  | { takes: 'part'; part: string; alternatives?: string[] | undefined };
const alternatives = v.optional(list(identifier, 1, 10, 'part ids'));
const size = v.optional(identifier);
const SlotFile: Reads<SlotFile> = tagged<SlotFile>('takes', {
  cell: keyed({ takes: oneOf(['cell']), part: identifier, rechargeable: v.optional(identifier), alternatives }),
  receiver: keyed({ takes: oneOf(['receiver']), sizes: keyed({ small: size, medium: size, large: size, 'extra-large': size }) }),
  microphones: keyed({ takes: oneOf(['microphones']), part: identifier, least: oneOrTwo, most: oneOrTwo }),
  wish: keyed({ takes: oneOf(['wish']), wish: oneOf(WISHES), part: identifier, alternatives }),
  part: keyed({ takes: oneOf(['part']), part: identifier, alternatives }),
});

const StyleFile = keyed({
  name: oneOf(STYLES),
  outer: v.optional(OuterFile),
  tip: v.optional(keyed({ bend: oneOf(['first', 'second']), beyond: figure(-5, 10, 'mm'), leave: figure(0, 5, 'mm') })),
  upper: v.optional(keyed({ belowCrus: figure(-5, 5, 'mm') })),
  kit: v.optional(list(SlotFile, 3, 20, 'slots')),
  source: v.optional(source),
});
export type StyleFile = v.InferOutput<typeof StyleFile>;

const rule = (name: keyof Rules) => v.optional(keyed({ value: ruleFigure(name), source }));
const upTo = figure(0, 130, 'dB HL');

/**
 * A whole catalogue, or with `extends` what differs from ours: parts replace those of the same id or are added, a
 * style's keys replace ours one by one, so do the rules; `ports`, `receiverClasses`, `vents` and `apart` are replaced whole.
 */
export const CatalogueFile = keyed({
  ...head('cavum-catalogue'),
  name: line(60),
  extends: v.optional(oneOf(['generic'])),
  rules: v.optional(
    keyed({
      wall: rule('wall'),
      faceplate: rule('faceplate'),
      gap: rule('gap'),
      partGap: rule('partGap'),
      suspension: rule('suspension'),
      tolerance: rule('tolerance'),
    }),
  ),
  ports: v.optional(keyed({ least: figure(0, 20, 'mm'), most: figure(0, 20, 'mm'), tilt: figure(0, 90, 'degrees'), source })),
  receiverClasses: v.optional(keyed({ classes: list(keyed({ size: oneOf(RECEIVER_SIZES), upTo }), 1, 4, 'classes'), source })),
  vents: v.optional(keyed({ classes: list(keyed({ diameter: figure(0.5, 5, 'mm'), upTo }), 1, 10, 'classes'), source })),
  apart: v.optional(list(keyed({ between: list(oneOf(PART_KINDS), 2, 2, 'kinds'), least: figure(0, 20, 'mm'), source }), 0, 40, 'rules')),
  parts: v.optional(list(PartFile, 0, 200, 'parts')),
  styles: v.optional(list(StyleFile, 0, STYLES.length, 'styles')),
});
export type CatalogueFile = v.InferOutput<typeof CatalogueFile>;
