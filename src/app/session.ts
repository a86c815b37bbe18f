/** Effects: what the page asks of the worker, and what it does with the answers. */
import { writeCase } from '../casefile/index.ts';
import type { EarOverrides, Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { OrderRequest } from '../model/order.ts';
import type { StyleName } from '../model/parts.ts';
import type { Outcome, Told, WorkerClient } from '../worker/client.ts';
import type { FaultWords, ScanFacts } from '../worker/protocol.ts';
import { caseFileOf, caseName, cataloguedSource, droppedSource } from './dropped.ts';
import { asShown, stepFrom } from './history.ts';
import { catalogueFileName, catalogueText, FlawedFile, type OwnCatalogue } from './own-catalogue.ts';
import type { Help, Sample, Source, Store } from './store.ts';

export class Session {
  readonly #store: Store;
  readonly #client: WorkerClient;
  readonly #fetchBytes: (file: string) => Promise<Uint8Array>;
  readonly #save: (name: string, text: string) => void;
  /** Of the samples, by file. */
  readonly #titles = new Map<string, string>();
  /** What is being judged and not shown yet: a change made meanwhile is made to it. */
  #opening: Source | undefined;

  /** `save` hands a text to the user as a file. */
  constructor(
    store: Store,
    client: WorkerClient,
    fetchBytes: (file: string) => Promise<Uint8Array>,
    save: (name: string, text: string) => void,
  ) {
    this.#store = store;
    this.#client = client;
    this.#fetchBytes = fetchBytes;
    this.#save = save;
  }

  /**
   * Judges a scan; the case shown stays until the new one has been read and surveyed.
   * @param again the case that is shown goes on
   * @param to the source is this step of the case's history
   */
  async open(source: Source, again = false, to?: number): Promise<void> {
    const store = this.#store;
    const interrupted = store.get().work.state === 'running' && store.get().shown;
    this.#opening = source;
    store.send({ type: 'opening', name: source.name, again, ...(to === undefined ? {} : { to }) });
    const heard = this.#listener(source);
    const { side } = source;
    const outcome = await this.#client.judge({ ...caseOf(source), ...(side ? { side } : {}) }, heard.tell);
    if (this.#client.busy) return; // a later job took over; the page is its now
    this.#opening = undefined;
    if (outcome.type === 'done') return store.send({ type: 'finished', summary: outcome.summary });
    if (outcome.type === 'fault' && outcome.fault.code === 'side/unknown' && !source.side)
      store.send({ type: 'ask', source: hinted(source, outcome.fault) });
    else this.#tellFailure(source, outcome);
    store.send({ type: 'stopped' });
    const { shown } = store.get();
    if (outcome.type !== 'cancelled' && !heard.taken() && interrupted && shown && !shown.summary) await this.open(asShown(shown), true);
  }

  /** Passes on what a job tells; `taken`: the page shows its case. */
  #listener(source: Source): { readonly tell: (told: Told) => void; readonly taken: () => boolean } {
    let scan: ScanFacts | undefined;
    let taken = false;
    const tell = (told: Told): void => {
      const store = this.#store;
      if (told.type === 'working')
        store.send({ type: 'working', stage: told.stage, done: told.done, ...(told.style ? { style: told.style } : {}) });
      else if (told.type === 'scan') scan = told.scan;
      else if (told.type === 'rung')
        store.send({ type: 'judged', judged: { rung: told.rung, ...(told.picture ? { picture: told.picture } : {}) } });
      else if (scan) {
        taken = true;
        this.#opening = undefined;
        const title = this.#titles.get(source.name) ?? source.name;
        store.send({ type: 'shown', opened: { source, title, side: told.side, scan, ear: told.ear, picture: told.picture } });
      }
    };
    return { tell, taken: () => taken };
  }

  #tellFailure(source: Source, outcome: Outcome): void {
    const { name } = source;
    if (outcome.type === 'fault') this.#store.send({ type: 'fault', name, fault: outcome.fault, source });
    if (outcome.type !== 'bug') return;
    this.#store.send({ type: 'fault', name, fault: bugWords(outcome.message) });
    if (outcome.stack) console.error(outcome.stack);
  }

  openFiles(files: readonly File[]): Promise<void> {
    return this.#opened(files, () => droppedSource(files, this.#source()));
  }

  /** Files that are said to be a catalogue: whatever it holds, that is what it is examined as. */
  openCatalogue(files: readonly File[]): Promise<void> {
    return this.#opened(files, () => cataloguedSource(files, this.#source()));
  }

  async #opened(files: readonly File[], read: () => Promise<Source>): Promise<void> {
    try {
      await this.open(await read());
    } catch (error) {
      if (!(error instanceof Fault)) throw error;
      const { code, found, where, next } = error;
      const title = files.length === 1 ? (files[0]?.name ?? '') : files.length === 0 ? 'Nothing opened' : `${files.length} files`;
      const flaws = error instanceof FlawedFile ? { flaws: error.flaws } : {};
      this.#store.send({ type: 'fault', name: title, fault: { code, found, where, next, ...flaws } });
    }
  }

  async openSample({ file, side, title }: Sample): Promise<void> {
    this.#titles.set(file, title);
    let bytes: Uint8Array;
    try {
      bytes = await this.#fetchBytes(file);
    } catch (error) {
      const found = `the sample did not load: ${String(error)}`;
      const fault = { code: 'open/sample', found, where: file, next: 'Reload the page, or open a scan of your own.' };
      this.#store.send({ type: 'fault', name: file, fault });
      return;
    }
    const catalogue = this.#source()?.catalogue;
    await this.open({ name: file, bytes, side, ...(catalogue ? { catalogue } : {}) });
  }

  /** Judges the shown case as the other ear. */
  setSide(side: Side): void {
    if (this.#store.get().shown?.side !== side) this.#openShown({ side });
  }

  /** Judges the shown case with its survey corrected so; what is left out is as found. */
  correct(corrections: EarOverrides): void {
    this.#openShown({ corrections });
  }

  /** Judges the shown case with another order. */
  order(order: OrderRequest): void {
    this.#openShown({ order });
  }

  /** Judges the shown case with another catalogue; without one, with ours. */
  catalogue(own: OwnCatalogue | undefined): void {
    const source = this.#source();
    if (!source) return;
    const { catalogue: _, ...rest } = source;
    void this.open(own ? { ...rest, catalogue: own } : rest);
  }

  /** The catalogue that rules, as a file that the command line takes. */
  saveCatalogue(): void {
    const own = this.#source()?.catalogue;
    this.#save(catalogueFileName(own), catalogueText(own));
  }

  /** One change of the case taken back (-1), or made again (+1). */
  step(by: 1 | -1): void {
    const next = stepFrom(this.#store.get().history, by);
    if (next) void this.open(next.source, false, next.to);
  }

  #openShown(change: Partial<Source>): void {
    const source = this.#source();
    if (source) void this.open({ ...source, ...change });
  }

  /** The shown case, or what is being made of it. */
  #source(): Source | undefined {
    const { shown } = this.#store.get();
    if (!shown) return undefined;
    return this.#opening?.bytes === shown.source.bytes ? { ...this.#opening, side: this.#opening.side ?? shown.side } : asShown(shown);
  }

  /** The shown case as a file: its scan by name, and everything that was said about it. */
  saveCase(): void {
    const source = this.#source();
    if (source) this.#save(caseName(source.name), writeCase(caseFileOf(source)));
  }

  cancel(): void {
    this.#store.send({ type: 'cancelling' });
    this.#client.cancel();
  }

  resume(): void {
    const { shown } = this.#store.get();
    if (shown) void this.open(asShown(shown), true);
  }

  /** Tries what would make a style of the shown case fit: it is judged for this one style again, and then changed. */
  async help(style: StyleName): Promise<void> {
    const store = this.#store;
    const { shown } = store.get();
    if (!shown || this.#client.busy) return;
    store.send({ type: 'helping', style });
    let help: Help = { remedies: [] };
    const request = { ...caseOf(shown.source), side: shown.side, styles: [style], remedies: true, missing: true };
    const outcome = await this.#client.judge(request, (told) => {
      if (told.type === 'working') store.send({ type: 'working', stage: told.stage, style, done: told.done });
      if (told.type !== 'rung') return;
      const { remedies = [], missing } = told.rung;
      help = { remedies, ...(missing ? { missing } : {}) };
    });
    if (this.#client.busy) return;
    if (outcome.type === 'done') store.send({ type: 'helped', style, ...help });
    else this.#tellFailure(shown.source, outcome);
    store.send({ type: 'stopped' });
  }
}

/** The first of the choices is the one that the shape speaks for. */
function hinted(source: Source, { choices }: FaultWords): Source {
  const [likely] = choices ?? [];
  return likely === 'left' || likely === 'right' ? { ...source, looksLike: likely } : source;
}

/** What the engine is told of a case, but for its side. */
const caseOf = ({ bytes, name, unit, corrections, order, catalogue, also }: Source) => ({
  ...also,
  bytes,
  name,
  ...(unit ? { unit } : {}),
  ...(corrections ? { corrections } : {}),
  ...(order ? { order } : {}),
  ...(catalogue ? { catalogue: catalogue.catalogue } : {}),
});

const bugWords = (message: string): FaultWords => ({
  code: 'bug',
  found: `something broke that should not: ${message}`,
  where: 'in Cavum, not in your scan',
  next: 'Try again; if it stays, report it with the scan.',
});
