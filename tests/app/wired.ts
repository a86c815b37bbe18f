/** The page without its screens: its store and session, wired to an engine as the worker is. */
import { Session } from '../../src/app/session.ts';
import { makeStore } from '../../src/app/store.ts';
import { WorkerClient, type WorkerWire } from '../../src/worker/client.ts';
import type { FromWorker, ToWorker, Wire } from '../../src/worker/protocol.ts';
import { type Check, serve } from '../../src/worker/serve.ts';

/** Any bytes that the stand-in takes for a scan. */
export const good = new Uint8Array(200);

export function wired(engine: Check, save: (name: string, text: string) => void = () => {}) {
  const store = makeStore();
  const client = new WorkerClient(() => {
    const { port1, port2 } = new MessageChannel();
    serve(port2 as unknown as Wire<FromWorker, ToWorker>, engine);
    port1.start();
    port2.start();
    const terminate = () => {
      port1.close();
      port2.close();
    };
    return Object.assign(port1, { terminate }) as unknown as WorkerWire;
  });
  return { store, client, session: new Session(store, client, async () => good, save) };
}
