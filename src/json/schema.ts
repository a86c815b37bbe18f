/**
 * The pieces that our schemas are made of. Each says in words what it needs, so that a refusal reads
 * "/rules/wall: found 1e+308, a number from 0.3 to 1.5 mm is needed".
 */
import * as v from 'valibot';
import { shown } from './flaw.ts';
import { nearest } from './spelling.ts';
import { FORBIDDEN_KEYS } from './syntax.ts';

/** A schema whose result is an Out, whatever comes in. */
export type Reads<Out> = v.GenericSchema<unknown, Out>;

type ObjectOf<E extends v.ObjectEntries> = v.InferOutput<v.ObjectSchema<E, undefined>>;

type Table = Record<string, unknown>;
const isTable = (value: unknown): value is Table => typeof value === 'object' && value !== null && !Array.isArray(value);

/** The message of a leaf: what was found, and what is needed instead. */
const need =
  (what: string, hint: (input: unknown) => string = () => '') =>
  ({ input }: { readonly input: unknown }): string =>
    `${input === undefined ? 'missing' : `found ${shown(input)}`}, ${what} is needed${hint(input)}`;

/** A number written as text, perhaps with a comma. */
const numberHint = (input: unknown): string =>
  typeof input === 'string' && /^\s*[+-]?\d+([.,]\d+)?\s*$/.test(input) ? ` (without quotes: ${input.trim().replace(',', '.')})` : '';

const numeric = (what: string, allowed: (x: number) => boolean): Reads<number> =>
  v.pipe(
    v.unknown(),
    v.check((x) => typeof x === 'number' && allowed(x), need(what, numberHint)),
    v.transform((x) => (x as number) + 0), // −0 becomes 0
  );

/** A number within bounds, in a unit ('' for none). Its bounds make it finite. */
export const figure = (least: number, most: number, unit: string): Reads<number> =>
  numeric(`a number from ${least} to ${most}${unit ? ` ${unit}` : ''}`, (x) => x >= least && x <= most);

/** The same, or 0 where there is none of it. */
export const figureOrNone = (least: number, most: number, unit: string): Reads<number> =>
  numeric(`0 for none or a number from ${least} to ${most} ${unit}`, (x) => x === 0 || (x >= least && x <= most));

export const wholeFigure = (least: number, most: number): Reads<number> =>
  numeric(`a whole number from ${least} to ${most}`, (x) => Number.isInteger(x) && x >= least && x <= most);

/** One of some words or numbers. */
export function oneOf<const T extends string | number>(allowed: readonly T[]): Reads<T> {
  const texts = allowed.map(String);
  const what = allowed.length === 1 ? JSON.stringify(allowed[0]) : `one of ${texts.join(', ')}`;
  const hint = (input: unknown): string => {
    const meant = typeof input === 'string' ? nearest(input, texts) : undefined;
    return meant === undefined ? '' : `; did you mean ${meant}?`;
  };
  return v.picklist(allowed, need(what, hint));
}

export const yesNo: Reads<boolean> = v.boolean(need('true or false'));

/** Text of one line with something in it. */
export const line = (most: number): Reads<string> =>
  v.pipe(
    v.string(need('a text')),
    v.check((s) => s.trim() !== '' && s.length <= most && !/\p{Cc}/u.test(s), need(`a text of one line and at most ${most} letters`)),
  );

/** A name that other places refer to: lower-case letters, digits, hyphens. */
export const identifier: Reads<string> = v.pipe(
  v.string(need('a text')),
  v.regex(/^[a-z0-9][a-z0-9-]{0,39}$/, need('a name of lower-case letters, digits and hyphens')),
);

const PLURAL = (least: number, most: number): string => (least === most ? `${least}` : `${least} to ${most}`);

export function list<T>(item: Reads<T>, least: number, most: number, of: string): Reads<T[]> {
  const what = need(`a list of ${PLURAL(least, most)} ${of}`);
  // The length first: ten thousand wrong items are not worth ten thousand messages.
  const sized = v.pipe(
    v.unknown(),
    v.check((x) => Array.isArray(x) && x.length >= least && x.length <= most, what),
  );
  return v.lazy((input): Reads<T[]> => (v.is(sized, input) ? v.array(item) : refuse(what({ input }))));
}

/** Three numbers. */
export const triple = (item: Reads<number>, of: string): Reads<readonly [number, number, number]> =>
  v.pipe(
    list(item, 3, 3, of),
    v.transform(([x, y, z]) => [x as number, y as number, z as number] as const),
  );

/** Nothing passes; the message stands at `key` where one is given. */
const refuse = (message: string, key?: string): Reads<never> =>
  v.pipe(
    v.unknown(),
    v.rawTransform<unknown, never>(({ addIssue, dataset, NEVER }) => {
      addIssue({ message, ...(key === undefined ? {} : { path: [stepTo(dataset.value, key)] }) });
      return NEVER;
    }),
  );

const stepTo = (input: unknown, key: string): v.IssuePathItem => ({ type: 'unknown', origin: 'value', input, key, value: undefined });

/**
 * An object with these keys and no others. Every unknown, missing and wrong key is named, not only the first; keys that
 * merely exist on every object ("toString") are unknown here.
 */
export function keyed<const E extends v.ObjectEntries>(entries: E): Reads<ObjectOf<E>> {
  const known = Object.keys(entries);
  const inner = v.object(entries);
  return v.pipe(
    v.unknown(),
    v.rawTransform<unknown, ObjectOf<E>>(({ dataset: { value }, addIssue, NEVER }) => {
      if (!isTable(value)) {
        addIssue({ message: need('an object')({ input: value }) });
        return NEVER;
      }
      for (const key of Object.keys(value)) {
        // The scan of the text has named the forbidden ones.
        if (!known.includes(key) && !FORBIDDEN_KEYS.includes(key))
          addIssue({ message: unknownKey(key, known), path: [stepTo(value, key)] });
      }
      const read = v.safeParse(inner, value);
      if (read.success) return read.output;
      for (const { message, path } of read.issues) {
        const [first, ...rest] = path ?? [];
        if (first?.origin === 'key') addIssue({ message: missing(entries[String(first.key)]), path: [stepTo(value, String(first.key))] });
        else addIssue({ message, ...(first ? { path: [first as v.IssuePathItem, ...(rest as v.IssuePathItem[])] } : {}) });
      }
      return NEVER;
    }),
  );
}

const missing = (entry: v.ObjectEntries[string] | undefined): string => {
  const tried = entry && !entry.async ? v.safeParse(entry, undefined) : undefined;
  return tried?.issues?.[0].message ?? 'missing';
};

const unknownKey = (key: string, known: readonly string[]): string => {
  const meant = nearest(key, known);
  return `unknown key${meant === undefined ? `; known here: ${known.join(', ')}` : `, did you mean ${meant}?`}`;
};

/** An object whose key `tag` says which of several kinds it is. */
export function tagged<Out>(tag: string, kinds: Readonly<Record<string, Reads<Out>>>): Reads<Out> {
  const words = oneOf(Object.keys(kinds));
  return v.lazy((input): Reads<Out> => {
    if (!isTable(input)) return refuse(need('an object')({ input }));
    const said = Object.hasOwn(input, tag) ? input[tag] : undefined;
    const kind = typeof said === 'string' && Object.hasOwn(kinds, said) ? kinds[said] : undefined;
    return kind ?? refuse(v.safeParse(words, said).issues?.[0].message ?? '', tag);
  });
}

/** A text where the value is a text, else the other. */
export const textOr = <A, B>(text: Reads<A>, other: Reads<B>): Reads<A | B> =>
  v.lazy((input): Reads<A | B> => (typeof input === 'string' ? text : other));

/** The two keys that every file of ours begins with. */
export const head = <const F extends string>(format: F) => ({
  format: oneOf([format]),
  version: v.literal(1, need('1')),
});
