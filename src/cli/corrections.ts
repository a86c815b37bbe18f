/** Corrections of the survey on the command line: --correct first-bend=4.2, as often as needed. */
import { readCorrections } from '../casefile/index.ts';
import type { EarOverrides } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';

const OPTION = '--correct';
export const CORRECT_OPTION = `${OPTION} <what=where>`;
export const CORRECT_HELP =
  'set aperture, first-bend, second-bend or end (depth in mm, or x,y,z in the scan), lateral or superior (direction x,y,z), ' +
  'crus (x,y,z) or rim (point and normal: six numbers) by hand; bends and crus also none; may be repeated';

/** Gathers a repeated option. */
export const gathered = (said: string, before: readonly string[] = []): readonly string[] => [...before, said];

const camel = (word: string): string => word.trim().replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());

function read(text: string): unknown {
  const numbers = text.split(',').map((t) => (t.trim() === '' ? Number.NaN : Number(t)));
  if (numbers.some((x) => !Number.isFinite(x))) return text;
  if (numbers.length === 6) return { point: numbers.slice(0, 3), normal: numbers.slice(3) };
  return numbers.length === 1 ? numbers[0] : numbers;
}

/** @throws Fault for a word that names nothing, a value that is none, and a mark that is set twice. */
export function correctionsOf(said: readonly string[] | undefined): EarOverrides {
  const entries = new Map<string, unknown>();
  for (const one of said ?? []) {
    const at = one.indexOf('=');
    if (at < 1)
      throw new Fault('cli/correct', `${JSON.stringify(one)} sets nothing`, OPTION, `Say what and where: ${OPTION} first-bend=4.2`);
    const key = camel(one.slice(0, at));
    if (entries.has(key)) throw new Fault('cli/correct', `${one.slice(0, at)} is set twice`, OPTION, 'Set it once.');
    entries.set(key, read(one.slice(at + 1)));
  }
  return readCorrections(JSON.stringify(Object.fromEntries(entries)), OPTION);
}
