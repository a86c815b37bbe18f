/** Effects: what the page asks of the worker, and what it does with the answers. */
import { writeCase } from '../casefile/index.ts';
import type { EarOverrides, Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Remedy } from '../model/fit.ts';
import type { OrderRequest } from '../model/order.ts';
import type { StyleName } from '../model/parts.ts';
import type { Outcome, Told, WorkerClient } from '../worker/client.ts';
import type { FaultWords, ScanFacts } from '../worker/protocol.ts';
import { caseFileOf, caseName, droppedSource } from './dropped.ts';
import type { OpenCase, Sample, Source, Store } from './store.ts';

export class Session {
  readonly #store: Store;
  readonly #client: WorkerClient;
  readonly #fetchBytes: (file: string) => Promise<Uint8Array>;
  readonly #save: (name: string, text: string) => void;
  /** Of the samples, by file. */
  readonly #titles = new Map<string, string>();

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

  /** Judges a scan; the case shown stays until the new one has been read and surveyed. `again`: the case that is shown goes on. */
  async open(source: Source, again = false): Promise<void> {
    const store = this.#store;
    const interrupted = store.get().work.state === 'running' && store.get().shown;
    store.send({ type: 'opening', name: source.name, again });
    const heard = this.#listener(source);
    const { side } = source;
    const outcome = await this.#client.judge({ ...caseOf(source), ...(side ? { side } : {}) }, heard.tell);
    if (this.#client.busy) return; // a later job took over; the page is its now
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

  async openFiles(files: readonly File[]): Promise<void> {
    try {
      await this.open(await droppedSource(files, this.#store.get().shown?.source));
    } catch (error) {
      if (!(error instanceof Fault)) throw error;
      const { code, found, where, next } = error;
      const title = files.length === 1 ? (files[0]?.name ?? '') : files.length === 0 ? 'Nothing opened' : `${files.length} files`;
      this.#store.send({ type: 'fault', name: title, fault: { code, found, where, next } });
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
    await this.open({ name: file, bytes, side });
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

  #openShown(change: Partial<Source>): void {
    const { shown } = this.#store.get();
    if (shown) void this.open({ ...asShown(shown), ...change });
  }

  /** The shown case as a file: its scan by name, and everything that was said about it. */
  saveCase(): void {
    const { shown } = this.#store.get();
    if (shown) this.#save(caseName(shown.source.name), writeCase(caseFileOf(asShown(shown))));
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
    let remedies: readonly Remedy[] = [];
    const request = { ...caseOf(shown.source), side: shown.side, styles: [style], remedies: true };
    const outcome = await this.#client.judge(request, (told) => {
      if (told.type === 'working') store.send({ type: 'working', stage: told.stage, style, done: told.done });
      if (told.type === 'rung' && told.rung.remedies) remedies = told.rung.remedies;
    });
    if (this.#client.busy) return;
    if (outcome.type === 'done') store.send({ type: 'helped', style, remedies });
    else this.#tellFailure(shown.source, outcome);
    store.send({ type: 'stopped' });
  }
}

/** The source with the side that it was judged as. */
const asShown = ({ source, side }: OpenCase): Source => ({ ...source, side });

/** The first of the choices is the one that the shape speaks for. */
function hinted(source: Source, { choices }: FaultWords): Source {
  const [likely] = choices ?? [];
  return likely === 'left' || likely === 'right' ? { ...source, looksLike: likely } : source;
}

/** What the engine is told of a case, but for its side. */
const caseOf = ({ bytes, name, unit, corrections, order, also }: Source) => ({
  ...also,
  bytes,
  name,
  ...(unit ? { unit } : {}),
  ...(corrections ? { corrections } : {}),
  ...(order ? { order } : {}),
});

const bugWords = (message: string): FaultWords => ({
  code: 'bug',
  found: `something broke that should not: ${message}`,
  where: 'in Cavum, not in your scan',
  next: 'Try again; if it stays, report it with the scan.',
});
