/** Certificates as files: the strict reader of this version and of the first, and the document that is written. */
import * as v from 'valibot';
import { SomeCorrections } from '../casefile/corrections.ts';
import { SomeCuts } from '../casefile/index.ts';
import { type Flaw, faultOf, LARGEST_FILE, readJson, shown } from '../json/index.ts';
import { figure, identifier, keyed, line, list, oneOf, type Reads, tagged, wholeFigure } from '../json/schema.ts';
import { syntaxFlaws } from '../json/syntax.ts';
import { STYLES } from '../model/parts.ts';
import { SomeOrder } from '../order/index.ts';
import { EarlierKeys, ofEarlier } from './earlier.ts';
import {
  BASES,
  CERTIFICATE_FORMAT,
  type Certificate,
  type FreePoses,
  MOST_ENTRIES,
  type PartCells,
  type SeatedPoses,
  type Span,
} from './format.ts';
import { ceiling, length, margin, place, points, primitives, quaternion, rule, span, twoSpans, unit } from './keys.ts';
import { entryText, jointText, readEntry, readJoint, readVec, vecText } from './text.ts';

/** Bytes: no proof that is written comes near it. */
const LARGEST_CERTIFICATE = 100_000_000;
const NEXT = 'Write the certificate anew with fit --certificate.';

/** A text that `read` makes something of. */
const written = <T>(read: (text: unknown) => T | undefined, what: string): Reads<T> =>
  v.pipe(
    v.unknown(),
    v.rawTransform<unknown, T>(({ dataset: { value }, addIssue, NEVER }) => {
      const out = read(value);
      if (out !== undefined) return out;
      addIssue({ message: `found ${shown(value)}, ${what} is needed` });
      return NEVER;
    }),
  );

const seated: Reads<SeatedPoses> = keyed({
  origin: place,
  u: unit,
  v: unit,
  slide: twoSpans,
  spin: keyed({ range: oneOf(['none', 'half', 'whole']), parts: wholeFigure(1, 64) }),
});
const free: Reads<FreePoses> = keyed({
  box: v.pipe(
    list(span, 3, 3, 'intervals'),
    v.transform(([a, b, c]) => [a as Span, b as Span, c as Span] as const),
  ),
  start: quaternion,
  bases: list(oneOf(BASES), 1, 4, 'half turns'),
});

const isSeatedKeys = (input: unknown): boolean => typeof input === 'object' && input !== null && 'slide' in input;

const entry = written(readEntry, 'an entry such as "2", "2@-1.25", "4 0.25 17, 9 0.75 tip", "open", "reach" or "cone"');

const part: Reads<PartCells> = keyed({
  id: identifier,
  name: line(80),
  margin,
  seat: tagged<PartCells['seat']>('at', {
    faceplate: keyed({ at: oneOf(['faceplate']) }),
    tip: keyed({ at: oneOf(['tip']), spout: place, reach: figure(0, 100, 'mm'), cone: figure(0, 3.2, 'radians') }),
    free: keyed({ at: oneOf(['free']) }),
  }),
  primitives,
  poses: v.lazy((input): Reads<SeatedPoses | FreePoses> => (isSeatedKeys(input) ? seated : free)),
  points,
  balls: list(
    v.pipe(
      list(length, 4, 4, 'lengths'),
      v.transform(([x, y, z, r]) => [x as number, y as number, z as number, r as number] as const),
    ),
    0,
    MOST_ENTRIES,
    'balls',
  ),
  cells: list(entry, 1, MOST_ENTRIES, 'cells'),
  finer: list(entry, 0, MOST_ENTRIES, 'cells'),
});

const CertificateKeys = keyed({
  format: oneOf([CERTIFICATE_FORMAT]),
  version: v.literal(2, ({ input }) => `${input === undefined ? 'missing' : `found ${shown(input)}`}, 1 or 2 is needed`),
  style: oneOf(STYLES),
  side: oneOf(['left', 'right']),
  cuts: v.optional(SomeCuts),
  corrections: v.optional(SomeCorrections),
  order: v.optional(SomeOrder),
  rules: keyed({
    wall: rule,
    faceplate: rule,
    gap: rule,
    partGap: rule,
    suspension: rule,
  }),
  ceiling,
  parts: list(part, 1, 3, 'parts'),
  ports: v.optional(
    keyed({
      rule: oneOf(['ports']),
      front: identifier,
      rear: identifier,
      least: figure(0, 100, 'mm'),
      most: figure(0, 100, 'mm'),
      tilt: figure(0, 3.2, 'radians'),
    }),
  ),
  witnesses: list(written(readVec, 'a text of three numbers'), 0, MOST_ENTRIES, 'witnesses'),
  joint: list(written(readJoint, 'an entry such as "0", "0:4 0.5 17, 0-1:0.5 3 8" or "ports"'), 0, MOST_ENTRIES, 'entries'),
});

const isEarlier = (input: unknown): boolean => typeof input === 'object' && input !== null && 'version' in input && input.version === 1;

const AnyVersion: Reads<Certificate> = v.lazy(
  (input): Reads<Certificate> =>
    isEarlier(input) ? v.pipe(EarlierKeys, v.transform(ofEarlier)) : v.pipe(CertificateKeys, v.transform(withoutHead)),
);

function withoutHead(keys: v.InferOutput<typeof CertificateKeys>): Certificate {
  const { format: _format, version: _version, cuts, corrections, order, ports, ...rest } = keys;
  return {
    ...rest,
    ...(cuts ? { cuts: cuts as NonNullable<Certificate['cuts']> } : {}),
    ...(corrections ? { corrections } : {}),
    ...(order ? { order } : {}),
    ...(ports ? { ports } : {}),
  };
}

/**
 * Reads a certificate of either version. That it is well formed says nothing of what it claims: `certify` does.
 * @throws Fault json/... naming the path of every key that is wrong, what was found there and what is needed.
 */
export function readCertificate(input: string | Uint8Array, name: string): Certificate {
  const read = input.length <= LARGEST_FILE ? readJson(input, AnyVersion, name, NEXT) : readLarge(input, name);
  return read;
}

/** As `readJson`, for files that are larger than all others. */
function readLarge(input: string | Uint8Array, name: string): Certificate {
  const refuse = (flaws: readonly Flaw[]): never => {
    throw faultOf(flaws, name, NEXT);
  };
  if (input.length > LARGEST_CERTIFICATE)
    refuse([{ code: 'json/too-large', at: '', text: `the file has ${input.length} bytes; ${LARGEST_CERTIFICATE} are read` }]);
  const text = typeof input === 'string' ? input : utf8(input);
  if (text === undefined) return refuse([{ code: 'json/encoding', at: '', text: 'the file holds bytes that are not UTF-8' }]);
  const flaws = syntaxFlaws(text);
  if (flaws.length > 0) refuse(flaws);
  const read = v.safeParse(AnyVersion, JSON.parse(text), { abortEarly: true });
  if (read.success) return read.output;
  return refuse(
    read.issues.map(({ message, path }) => ({
      code: 'json/values',
      at: `/${(path ?? []).map((p) => String(p.key)).join('/')}`,
      text: message,
    })),
  );
}

function utf8(bytes: Uint8Array): string | undefined {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return undefined; // the decoder's own words differ between engines
  }
}

/** As a file holds it. */
export function certificateDocument({ parts, witnesses, joint, ...claim }: Certificate) {
  return {
    format: CERTIFICATE_FORMAT,
    version: 2,
    ...claim,
    parts: parts.map(({ cells, finer, ...p }) => ({ ...p, cells: cells.map(entryText), finer: finer.map(entryText) })),
    witnesses: witnesses.map(vecText),
    joint: joint.map(jointText),
  };
}
