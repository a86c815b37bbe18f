/**
 * JSON at the border: the one way in which a file of ours becomes data. Bytes -> text -> grammar and keys -> schema.
 * Every flaw of a file is told at once, with its place, what was found and what is needed.
 */
import * as v from 'valibot';
import { decodeText } from './decode.ts';
import { type Flaw, faultOf, step } from './flaw.ts';
import type { Reads } from './schema.ts';
import { syntaxFlaws } from './syntax.ts';

export { LARGEST_FILE } from './decode.ts';
export { type Flaw, type FlawCode, faultOf, flawText, shown } from './flaw.ts';
export { nearest } from './spelling.ts';

export type Examined<T> = { readonly data: T } | { readonly flaws: readonly [Flaw, ...Flaw[]] };

/** Does a file look like one of ours of this format? By its first letters: a scan never begins so. */
export function isFileOf(bytes: Uint8Array, format: string): boolean {
  const start = String.fromCharCode(...bytes.subarray(0, 400));
  return /^(\xef\xbb\xbf)?\s*\{/.test(start) && new RegExp(`"format"\\s*:\\s*"${format}"`).test(start);
}

/** The data, or everything that is wrong with it. Never throws for a bad file. */
export function examineJson<T>(input: string | Uint8Array, schema: Reads<T>): Examined<T> {
  const decoded = decodeText(input);
  if ('flaw' in decoded) return { flaws: [decoded.flaw] };
  const flaws = syntaxFlaws(decoded.text);
  if (flaws.some((f) => f.code !== 'json/keys')) return { flaws: flaws as [Flaw, ...Flaw[]] };
  const parsed = v.safeParse(schema, JSON.parse(decoded.text));
  const all = [...flaws, ...(parsed.issues ?? []).map(valueFlaw)];
  const [first, ...rest] = all;
  if (first) return { flaws: [first, ...rest] };
  return { data: parsed.output as T };
}

const valueFlaw = (issue: { readonly message: string; readonly path?: readonly { readonly key: unknown }[] | undefined }): Flaw => ({
  code: 'json/values',
  at: (issue.path ?? []).map((p) => step(p.key as string | number)).join(''),
  text: issue.message,
});

/**
 * The data of a JSON file. `next` is what the user is told to do about a refusal.
 * @throws Fault json/... naming every flaw of the file.
 */
export function readJson<T>(input: string | Uint8Array, schema: Reads<T>, name: string, next: string): T {
  const examined = examineJson(input, schema);
  if ('flaws' in examined) throw faultOf(examined.flaws, name, next);
  return examined.data;
}
