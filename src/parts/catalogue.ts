/** Catalogues: ours, and those that a lab brings as a file. */
import { type Examined, examineJson, faultOf } from '../json/index.ts';
import type { Catalogue, Part } from '../model/parts.ts';
import { GENERIC_FILE } from './generic.ts';
import { CatalogueFile } from './schema.ts';
import { listedOf, settle } from './settle.ts';

/** The catalogue of a file, or everything that is wrong with it. Never throws for a bad file. */
export function examineCatalogue(input: string | Uint8Array): Examined<Catalogue> {
  const examined = examineJson(input, CatalogueFile);
  return 'flaws' in examined ? examined : settle(examined.data, GENERIC_FILE);
}

/**
 * Reads a catalogue file.
 * @throws Fault json/... naming every flaw of the file.
 */
export function readCatalogue(input: string | Uint8Array, name: string): Catalogue {
  const examined = examineCatalogue(input);
  if ('flaws' in examined)
    throw faultOf(examined.flaws, name, 'Correct the catalogue; "cavum catalogue show" prints a whole one to begin from.');
  return examined.data;
}

/** Ours. That it is sound is proved by tests/parts, not at run time. */
export const GENERIC: Catalogue = (() => {
  const settled = settle(GENERIC_FILE, undefined);
  if ('flaws' in settled) throw new Error(settled.flaws.map((f) => `${f.at}: ${f.text}`).join('; '));
  return settled.data;
})();

/** One part of ours, as a kit would hold it, for kits that follow no style. */
const partNamed = (id: string): Part => {
  const listed = GENERIC_FILE.parts?.find((p) => p.id === id);
  if (!listed) throw new Error(`no part ${id}`);
  const part = listedOf(listed);
  return { ...part, margin: part.margin === 'suspension' ? GENERIC.rules.suspension : part.margin };
};
export const CHIP = partNamed('chip');
export const cellPart = (size: '10' | '312' | '13'): Part => ({ ...partNamed(`cell-${size}`), id: 'cell' });
export const microphonePart = (id: string, name: string, make: 'flat' | 'cylinder'): Part => ({
  ...partNamed(`microphone-${make}`),
  id,
  name,
});
export const PORTS = (GENERIC.styles[0] as Catalogue['styles'][number]).ports;
