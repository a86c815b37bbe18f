/** The page: one store, one worker, and the panels that watch the store. */

import { styleNamed } from '../parts/index.ts';
import { verdictSentence } from '../report/table.ts';
import { WorkerClient, type WorkerWire } from '../worker/client.ts';
import type { FromWorker, ToWorker } from '../worker/protocol.ts';
import { mountCatalogue } from './catalogue-panel.ts';
import { byId } from './dom.ts';
import { mountHelp } from './help-panel.ts';
import { mountHistory } from './history.ts';
import { mountLadder } from './ladder.ts';
import { mountAsk, mountDrop, mountHeader, mountOpen } from './open.ts';
import { mountOrder } from './order-panel.ts';
import { readSamples } from './samples.ts';
import { mountScene } from './scene-panel.ts';
import { Session } from './session.ts';
import { mountSlice } from './slice-panel.ts';
import { makeStore, type State, type Store } from './store.ts';
import { mountSurvey } from './survey-panel.ts';
import { mountDetails } from './text-twin.ts';

const startWorker = (): WorkerWire =>
  new Worker(new URL('../worker/worker.ts', import.meta.url), { type: 'module' }) as Worker & { postMessage(message: ToWorker): void } & {
    addEventListener(type: 'message', listener: (event: MessageEvent<FromWorker>) => void): void;
  };

async function fetchBytes(file: string): Promise<Uint8Array> {
  const answer = await fetch(new URL(`sample-scans/${encodeURIComponent(file)}`, document.baseURI));
  if (!answer.ok) throw new Error(`${answer.status} ${answer.statusText}`);
  return new Uint8Array(await answer.arrayBuffer());
}

function saveFile(name: string, text: string): void {
  const url = URL.createObjectURL(new Blob([text], { type: 'application/json' }));
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  URL.revokeObjectURL(url);
}

/** Verdicts are said once each, and the recommendation at the end; progress is not. */
function mountVoice(store: Store): void {
  const say = byId('say', HTMLParagraphElement);
  store.watch((now, before) => {
    const fresh = Object.values(now.shown?.rungs ?? {}).find((j) => j && j !== before?.shown?.rungs[j.rung.style] && !now.shown?.summary);
    if (fresh) say.textContent = `${styleNamed(fresh.rung.style).title}: ${verdictSentence(fresh.rung)}`;
    if (now.shown?.summary && now.shown.summary !== before?.shown?.summary) say.textContent = ended(now);
  });
}

function ended({ shown }: State): string {
  const best = shown?.summary?.recommended;
  return best?.style ? `All styles judged. Recommended: ${styleNamed(best.style).title}.` : 'All styles judged. No style fits as ordered.';
}

const store = makeStore();
const session = new Session(store, new WorkerClient(startWorker), fetchBytes, saveFile);
mountHeader(store, session);
mountOpen(byId('open', HTMLDivElement), store, session);
mountHistory(byId('open', HTMLDivElement), store, session);
mountAsk(store, session);
mountDrop(session);
mountLadder(byId('ladder', HTMLElement), store, session);
const slice = mountSlice(byId('slice', HTMLElement), store, session);
const scene = mountScene(byId('scene', HTMLElement), store, slice);
mountDetails(byId('details', HTMLElement), store, (mark) => scene.showPlace(mark), {
  help: mountHelp(store, session),
  survey: mountSurvey(store, session, scene.pick),
  order: mountOrder(store, session),
  catalogue: mountCatalogue(store, session),
});
mountVoice(store);

const samples = await readSamples();
store.send({ type: 'samples', samples });
const [first] = samples;
if (first) await session.openSample(first);
else store.send({ type: 'idle' });
