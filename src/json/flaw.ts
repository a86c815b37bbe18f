/** What is wrong with a JSON file, one thing at a time, and how values and keys of it are shown. */
import { Fault } from '../model/fault.ts';

/** Stable, for programs. keys: repeated or forbidden ones. values: anything that the schema does not allow. */
export type FlawCode = 'json/too-large' | 'json/empty' | 'json/encoding' | 'json/syntax' | 'json/too-deep' | 'json/keys' | 'json/values';

export interface Flaw {
  readonly code: FlawCode;
  /** "line 23, column 1", a JSON pointer such as "/rules/wall", or nothing where it is the whole file. */
  readonly at: string;
  /** What was found there and what is needed. */
  readonly text: string;
}

/** More than these are counted, not told. */
const TOLD = 20;

export const flawText = ({ at, text }: Flaw): string => (at ? `${at}: ${text}` : text);

/** Every flaw of one file in one refusal. */
export function faultOf(flaws: readonly Flaw[], name: string, next: string): Fault {
  const rest = flaws.length > TOLD ? [`and ${flaws.length - TOLD} more`] : [];
  return new Fault(flaws[0]?.code ?? 'json/values', [...flaws.slice(0, TOLD).map(flawText), ...rest].join('; '), name, next);
}

const SHOWN = 40;
const cut = (text: string): string => (text.length > SHOWN ? `${text.slice(0, SHOWN)}…` : text);

/** A value of the file in a few words: enough to find it, never its whole content. */
export function shown(value: unknown): string {
  if (typeof value === 'string') return `${JSON.stringify(cut(value))} (text)`;
  if (Array.isArray(value)) return `a list of ${value.length}`;
  if (typeof value === 'object' && value !== null) return 'an object';
  return String(value);
}

/** A step of a JSON pointer (RFC 6901), cut short where it is long. */
export const step = (key: string | number): string => `/${cut(String(key)).replaceAll('~', '~0').replaceAll('/', '~1')}`;
