/** What is being typed about the catalogue: kept until it is sound as a whole, then the case is judged with it. Draws nothing. */
import type { Flaw } from '../json/index.ts';
import { type Draft, type Edits, edited, partIn, valueIn, withEdit } from './catalogue-edits.ts';
import { typed } from './dom.ts';
import { BLANK, type OwnCatalogue, ownCatalogue } from './own-catalogue.ts';
import type { Session } from './session.ts';
import type { Store } from './store.ts';

export class Desk {
  readonly #store: Store;
  readonly #session: Pick<Session, 'catalogue'>;
  /** By place: as it was typed, and not judged yet. */
  readonly #typed = new Map<string, string>();
  readonly #listeners: (() => void)[] = [];
  #flaws: readonly Flaw[] = [];
  /** The changes with which the case is being judged and not shown yet. */
  #sent: string | undefined;

  constructor(store: Store, session: Pick<Session, 'catalogue'>) {
    this.#store = store;
    this.#session = session;
    store.watch((now, before) => {
      if (now.work.state !== 'running') this.#sent = undefined;
      if (!before || now.shown?.source.catalogue !== before.shown?.source.catalogue) this.#taken(before?.shown?.source.catalogue);
    });
  }

  /** Called after every change of what the fields show. */
  watch(listener: () => void): void {
    this.#listeners.push(listener);
    listener();
  }

  get own(): OwnCatalogue | undefined {
    return this.#store.get().shown?.source.catalogue;
  }

  /** What changes are changes of. */
  get base() {
    return this.own?.base ?? BLANK;
  }

  get file() {
    return this.own?.file ?? BLANK;
  }

  get edits(): Edits {
    return this.own?.edits ?? {};
  }

  /** With everything that was typed. */
  get draft(): Edits {
    return [...this.#typed].reduce((edits, [place, text]) => withEdit(this.base, edits, place, this.#meant(place, text)), this.edits);
  }

  /** What stands in a field. */
  textOf(place: string): string {
    return this.#typed.get(place) ?? this.judged(place);
  }

  /** What the case shown was judged with. */
  judged(place: string): string {
    return written(valueIn(this.file, place));
  }

  /** What stands there when it is put back. */
  before(place: string): string {
    return written(valueIn(this.base, place));
  }

  isEdited(place: string): boolean {
    return this.#typed.has(place) || this.edits[place] !== undefined;
  }

  /** Why what was typed in a field is not judged: what is wrong with its part, rule or style. */
  refusalsOf(place: string): string[] {
    if (!this.#typed.has(place) || this.#flaws.length === 0) return [];
    const path = pathOf(edited(this.base, this.draft), place);
    return this.#flaws.flatMap(({ at, text }) => (at === path || at.startsWith(`${path}/`) ? [text] : []));
  }

  /** Why everything that was typed is not judged, each with the thing that it is about. */
  get refusals(): string[] {
    const draft = edited(this.base, this.draft);
    return this.#flaws.map(({ at, text }) => `${named(draft, at)}: ${text}`);
  }

  /** A margin that says nothing of its own is the suspension's. */
  followsRule(place: string): boolean {
    const [of, id = '', key] = place.split('/');
    return of === 'parts' && key === 'margin' && (partIn(this.base, id)?.kind === 'receiver' || valueIn(this.base, place) === 'suspension');
  }

  type(place: string, text: string): void {
    if (text === this.judged(place)) this.#typed.delete(place);
    else this.#typed.set(place, text);
    this.#tell();
  }

  /** Leaves fields as they were before they were typed in. */
  leave(places: readonly string[]): void {
    for (const place of places) this.#typed.delete(place);
    this.#flaws = [];
    this.#tell();
  }

  /** Puts values back to what the catalogue had, and judges with that. */
  putBack(places: readonly string[]): void {
    for (const place of places) {
      this.#typed.delete(place);
      if (this.edits[place] !== undefined) this.#typed.set(place, this.before(place));
    }
    this.commit();
  }

  /** Judges with everything that was typed, or says why not. */
  commit(): void {
    const { base, draft } = this;
    const same = JSON.stringify(sorted(draft));
    if (same === this.#sent) return;
    if (same === JSON.stringify(sorted(this.edits)) && this.#sent === undefined) {
      this.leave([...this.#typed.keys()]);
      return;
    }
    const made = ownCatalogue(base, draft, this.own?.from);
    this.#flaws = 'flaws' in made ? made.flaws : [];
    this.#tell();
    if ('flaws' in made) return;
    this.#sent = same;
    this.#session.catalogue(base === BLANK && Object.keys(draft).length === 0 ? undefined : made.data);
  }

  /** Another catalogue is shown: what was typed of the same one stays where it says something else. */
  #taken(before: OwnCatalogue | undefined): void {
    this.#sent = undefined;
    if ((before?.base ?? BLANK) !== this.base) this.#typed.clear();
    for (const [place, text] of this.#typed) if (this.#meant(place, text) === valueIn(this.file, place)) this.#typed.delete(place);
    if (this.#typed.size === 0) this.#flaws = [];
    this.#tell();
  }

  /** A number, where one was typed; else the text, for the examination to refuse. */
  #meant(place: string, text: string): number | string {
    const plain = text.trim();
    if (place === 'name' || place.startsWith('styles/') || /^parts\/[^/]*\/name$/.test(place)) return plain;
    if (plain === '' && this.followsRule(place)) return 'suspension';
    const x = typed(plain);
    return Number.isFinite(x) ? x : plain;
  }

  #tell(): void {
    for (const listener of this.#listeners) listener();
  }
}

/** A length as it is shown: two decimals, or all that it has. A margin that follows the rule shows none of its own. */
export function written(value: number | string | undefined): string {
  if (value === undefined || value === 'suspension') return '';
  if (typeof value === 'string') return value;
  const short = value.toFixed(2);
  return Number(short) === value ? short : String(value);
}

const sorted = (edits: Edits): [string, number | string][] => Object.entries(edits).sort(([a], [b]) => (a < b ? -1 : 1));

/** Where a place's part, rule or style stands in the file. */
function pathOf({ parts = [], styles = [] }: Draft, place: string): string {
  const [of, id] = place.split('/');
  if (of === 'parts') return `/parts/${parts.findIndex((p) => p.id === id)}`;
  return of === 'styles' ? `/styles/${styles.findIndex((s) => s.name === id)}` : `/${of}${id === undefined ? '' : `/${id}`}`;
}

/** A flaw's path with a name in place of a number: "Battery 10, primitives/0/size/0". */
function named({ parts = [], styles = [] }: Draft, at: string): string {
  const [, of, k, ...rest] = at.split('/');
  const name = of === 'parts' ? parts[Number(k)]?.name : of === 'styles' ? styles[Number(k)]?.name : undefined;
  return name === undefined ? at.replace(/^\//, '').replace(/\/value$/, '') : [name, rest.join('/')].filter((x) => x !== '').join(', ');
}
