/** Effects: what the page asks of the worker, and what it does with the answers. */
import { writeCase } from '../casefile/index.ts';
import type { EarOverrides, Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Remedy } from '../model/fit.ts';
import type { OrderRequest } from '../model/order.ts';
import type { StyleName } from '../model/parts.ts';
import type { Told, WorkerClient } from '../worker/client.ts';
import type { FaultWords, ScanFacts } from '../worker/protocol.ts';
import { caseFileOf, caseName, droppedSource } from './dropped.ts';
import type { Sample, Source, Store } from './store.ts';

export interface Session {
  /** Judges a scan; the case shown stays until the new one has been read and surveyed. */
  open(source: Source): Promise<void>;
  openFiles(files: readonly File[]): Promise<void>;
  openSample(sample: Sample): Promise<void>;
  /** Judges the shown case as the other ear. */
  setSide(side: Side): void;
  /** Judges the shown case with its survey corrected so; what is left out is as found. */
  correct(corrections: EarOverrides): void;
  /** Judges the shown case with another order. */
  order(order: OrderRequest): void;
  /** The shown case as a file: its scan by name, and everything that was said about it. */
  saveCase(): void;
  cancel(): void;
  resume(): void;
  /** Tries what would make a style of the shown case fit. */
  help(style: StyleName): void;
}

export function makeSession(
  store: Store,
  client: WorkerClient,
  fetchBytes: (file: string) => Promise<Uint8Array>,
  save: (name: string, text: string) => void,
): Session {
  let titles = new Map<string, string>();

  async function open(source: Source, again = false): Promise<void> {
    const interrupted = store.get().work.state === 'running' && store.get().shown;
    store.send({ type: 'opening', name: source.name, again });
    let taken = false;
    let scan: ScanFacts | undefined;
    const onTold = (told: Told): void => {
      if (told.type === 'working')
        store.send({ type: 'working', stage: told.stage, done: told.done, ...(told.style ? { style: told.style } : {}) });
      else if (told.type === 'scan') scan = told.scan;
      else if (told.type === 'rung')
        store.send({ type: 'judged', judged: { rung: told.rung, ...(told.picture ? { picture: told.picture } : {}) } });
      else if (scan) {
        taken = true;
        const title = titles.get(source.name) ?? source.name;
        store.send({ type: 'shown', opened: { source, title, side: told.side, scan, ear: told.ear, picture: told.picture } });
      }
    };
    const { side } = source;
    const outcome = await client.judge({ ...caseOf(source), ...(side ? { side } : {}) }, onTold);
    if (client.busy) return; // a later job took over; the page is its now
    switch (outcome.type) {
      case 'done':
        store.send({ type: 'finished', summary: outcome.summary });
        return;
      case 'cancelled':
        store.send({ type: 'stopped' });
        return;
      case 'fault':
        if (outcome.fault.code === 'side/unknown' && !source.side) store.send({ type: 'ask', source: hinted(source, outcome.fault) });
        else store.send({ type: 'fault', name: source.name, fault: outcome.fault, source });
        break;
      case 'bug':
        store.send({ type: 'fault', name: source.name, fault: bugWords(outcome.message) });
        if (outcome.stack) console.error(outcome.stack);
    }
    store.send({ type: 'stopped' });
    const shown = store.get().shown;
    if (!taken && interrupted && shown && !shown.summary) await open(withSide(shown.source, shown.side), true);
  }

  /** The case is judged for this one style again, and then changed; only the remedies are taken from it. */
  async function help(style: StyleName): Promise<void> {
    const shown = store.get().shown;
    if (!shown || client.busy) return;
    const { name } = shown.source;
    store.send({ type: 'helping', style });
    let remedies: readonly Remedy[] = [];
    const request = { ...caseOf(shown.source), side: shown.side, styles: [style], remedies: true };
    const outcome = await client.judge(request, (told) => {
      if (told.type === 'working') store.send({ type: 'working', stage: told.stage, style, done: told.done });
      if (told.type === 'rung' && told.rung.remedies) remedies = told.rung.remedies;
    });
    if (client.busy) return;
    if (outcome.type === 'done') store.send({ type: 'helped', style, remedies });
    if (outcome.type === 'bug') store.send({ type: 'fault', name, fault: bugWords(outcome.message) });
    if (outcome.type === 'fault') store.send({ type: 'fault', name, fault: outcome.fault });
    store.send({ type: 'stopped' });
  }

  const refuse = (name: string, code: string, found: string, where: string, next: string): void =>
    store.send({ type: 'fault', name, fault: { code, found, where, next } });

  return {
    open,
    async openFiles(files) {
      try {
        await open(await droppedSource(files, store.get().shown?.source));
      } catch (error) {
        if (!(error instanceof Fault)) throw error;
        const title = files.length === 1 ? (files[0]?.name ?? '') : files.length === 0 ? 'Nothing opened' : `${files.length} files`;
        refuse(title, error.code, error.found, error.where, error.next);
      }
    },
    async openSample(sample) {
      titles = new Map(titles).set(sample.file, sample.title);
      let bytes: Uint8Array;
      try {
        bytes = await fetchBytes(sample.file);
      } catch (error) {
        refuse(
          sample.file,
          'open/sample',
          `the sample did not load: ${String(error)}`,
          sample.file,
          'Reload the page, or open a scan of your own.',
        );
        return;
      }
      await open({ name: sample.file, bytes, side: sample.side });
    },
    setSide(side) {
      const shown = store.get().shown;
      if (shown && shown.side !== side) void open(withSide(shown.source, side));
    },
    correct(corrections) {
      const shown = store.get().shown;
      if (shown) void open({ ...withSide(shown.source, shown.side), corrections });
    },
    saveCase() {
      const shown = store.get().shown;
      if (shown) save(caseName(shown.source.name), writeCase(caseFileOf(withSide(shown.source, shown.side))));
    },
    order(order) {
      const shown = store.get().shown;
      if (shown) void open({ ...withSide(shown.source, shown.side), order });
    },
    cancel() {
      store.send({ type: 'cancelling' });
      client.cancel();
    },
    help(style) {
      void help(style);
    },
    resume() {
      const shown = store.get().shown;
      if (shown) void open(withSide(shown.source, shown.side), true);
    },
  };
}

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

const withSide = (source: Source, side: Side): Source => ({ ...source, side });

const bugWords = (message: string): FaultWords => ({
  code: 'bug',
  found: `something broke that should not: ${message}`,
  where: 'in Cavum, not in your scan',
  next: 'Try again; if it stays, report it with the scan.',
});
