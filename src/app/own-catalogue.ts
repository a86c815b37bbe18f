/** A lab's catalogue as the page holds it: the file that was opened, what was changed of it here, and what both make. */
import { type Examined, examineJson, type Flaw, flawText, isFileOf } from '../json/index.ts';
import { Fault } from '../model/fault.ts';
import type { Catalogue } from '../model/parts.ts';
import { examineCatalogue, GENERIC, GENERIC_FILE } from '../parts/index.ts';
import { CatalogueFile } from '../parts/schema.ts';
import { type Edits, edited } from './catalogue-edits.ts';

export interface OwnCatalogue {
  /** As opened; BLANK where it was begun here. */
  readonly base: CatalogueFile;
  /** Name of the file that was opened. */
  readonly from?: string;
  readonly edits: Edits;
  /** The base with the edits: what is saved. */
  readonly file: CatalogueFile;
  readonly catalogue: Catalogue;
}

/** Ours, to begin from: it extends ours and says nothing yet. */
export const BLANK: CatalogueFile = { format: 'cavum-catalogue', version: 1, name: 'own parts', extends: 'generic' };

/** The catalogue that rules, with ours where nothing else was said. */
export const rulingCatalogue = (own: OwnCatalogue | undefined): Catalogue => own?.catalogue ?? GENERIC;

/** A base with edits, examined like any file. */
export function ownCatalogue(base: CatalogueFile, edits: Edits, from?: string): Examined<OwnCatalogue> {
  return examined(textOf(edited(base, edits)), (file, catalogue) => ({ base, edits, file, catalogue, ...(from ? { from } : {}) }));
}

/** The edited file by its form alone, for a drawing: what several values say together is not asked. */
export function draftOf(base: CatalogueFile, edits: Edits): CatalogueFile | undefined {
  const read = examineJson(textOf(edited(base, edits)), CatalogueFile);
  return 'data' in read ? read.data : undefined;
}

/** By its first letters: a scan never begins so. */
export const isCatalogue = (bytes: Uint8Array): boolean => isFileOf(bytes, BLANK.format);

/** A file with flaws: each is shown by itself. */
export class FlawedFile extends Fault {
  readonly flaws: readonly string[];
  constructor(flaws: readonly [Flaw, ...Flaw[]], name: string) {
    const many = flaws.length === 1 ? '1 fault' : `${flaws.length} faults`;
    super(flaws[0].code, many, name, 'Correct the file and open it again; nothing has changed here.');
    this.flaws = flaws.map(flawText);
  }
}

/** @throws FlawedFile naming every flaw with its path. */
export function readOwnCatalogue(bytes: Uint8Array, name: string): OwnCatalogue {
  const read = examined(bytes, (base, catalogue) => ({ base, from: name, edits: {}, file: base, catalogue }));
  if ('flaws' in read) throw new FlawedFile(read.flaws, name);
  return read.data;
}

/** The one examination of a file that the command line has too, and the file's own data. */
function examined(text: string | Uint8Array, make: (file: CatalogueFile, catalogue: Catalogue) => OwnCatalogue): Examined<OwnCatalogue> {
  const whole = examineCatalogue(text);
  if ('flaws' in whole) return whole;
  const file = examineJson(text, CatalogueFile);
  return 'flaws' in file ? file : { data: make(file.data, whole.data) };
}

const textOf = (file: object): string => `${JSON.stringify(file, null, 1)}\n`;

/** What is saved: a file that the command line takes. Ours, whole, where no other rules. */
export const catalogueText = (own: OwnCatalogue | undefined): string => textOf(own?.file ?? GENERIC_FILE);

/** What the catalogue's file is called, saved or opened: a case names it so. */
export function catalogueFileName(own: OwnCatalogue | undefined): string {
  if (!own) return 'generic.json';
  if (!own.from) return 'own.json';
  return hasEdits(own) ? `${own.from.replace(/\.json$/i, '').slice(0, 200)}-changed.json` : own.from;
}

export const hasEdits = ({ edits }: OwnCatalogue): boolean => Object.keys(edits).length > 0;
