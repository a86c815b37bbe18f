/** Effects: what the page asks of the worker, and what it does with the answers. */
import type { EarOverrides, Side } from '../model/ear.ts';
import type { Remedy } from '../model/fit.ts';
import type { StyleName } from '../model/parts.ts';
import type { Told, WorkerClient } from '../worker/client.ts';
import type { FaultWords, ScanFacts } from '../worker/protocol.ts';
import type { Sample, Source, Store } from './store.ts';

/** Files above this are refused before they are read, bytes. */
export const LARGEST = 256 * 1024 * 1024;

export interface Session {
  /** Judges a scan; the case shown stays until the new one has been read and surveyed. */
  open(source: Source): Promise<void>;
  openFiles(files: readonly File[]): Promise<void>;
  openSample(sample: Sample): Promise<void>;
  /** Judges the shown case as the other ear. */
  setSide(side: Side): void;
  /** Judges the shown case with its survey corrected so; what is left out is as found. */
  correct(corrections: EarOverrides): void;
  cancel(): void;
  resume(): void;
  /** Tries what would make a style of the shown case fit. */
  help(style: StyleName): void;
}

export function makeSession(store: Store, client: WorkerClient, fetchBytes: (file: string) => Promise<Uint8Array>): Session {
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
    const outcome = await client.judge({ ...scanOf(source), ...(side ? { side } : {}) }, onTold);
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
    const request = { ...scanOf(shown.source), side: shown.side, styles: [style], remedies: true };
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
      const [file] = files;
      if (!file) {
        refuse('Nothing opened', 'open/no-file', 'what was dropped holds no file', 'the drop', 'Drop one scan.');
        return;
      }
      if (files.length > 1) {
        refuse(`${files.length} files`, 'open/several', `${files.length} files at once`, 'the drop', 'Drop one scan at a time.');
        return;
      }
      if (file.size > LARGEST) {
        const mb = (file.size / 1048576).toFixed(0);
        refuse(
          file.name,
          'open/too-large',
          `the file has ${mb} MB; the page reads up to ${LARGEST / 1048576} MB`,
          'whole file',
          'Thin the scan out to below 5 million triangles, or use the command line.',
        );
        return;
      }
      let bytes: Uint8Array;
      try {
        bytes = new Uint8Array(await file.arrayBuffer());
      } catch (error) {
        const found = `the browser could not read it: ${String(error)}`;
        refuse(file.name, 'open/unreadable', found, 'the file or folder', 'Drop a file, not a folder; check that it may be read.');
        return;
      }
      await open({ name: file.name, bytes });
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

/** What the engine is told of a scan, but for its side. */
const scanOf = ({ bytes, name, unit, corrections }: Source) => ({
  bytes,
  name,
  ...(unit ? { unit } : {}),
  ...(corrections ? { corrections } : {}),
});

const withSide = (source: Source, side: Side): Source => ({ ...source, side });

const bugWords = (message: string): FaultWords => ({
  code: 'bug',
  found: `something broke that should not: ${message}`,
  where: 'in Cavum, not in your scan',
  next: 'Try again; if it stays, report it with the scan.',
});
