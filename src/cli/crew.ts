/** A crew of Node's worker threads. */
import { Worker } from 'node:worker_threads';
import type { Crew, Thread } from '../model/case.ts';

/** Beside this module's chunk in dist/cli; where it is missing no thread begins, and the lead does without. */
const SCRIPT = new URL('./mate.js', import.meta.url);

/** Up to `size` threads, each of which runs `script` (mate.ts, built). */
export const nodeCrew = (size: number, script: URL = SCRIPT): Crew => ({ size, start: () => threadOf(new Worker(script)) });

const threadOf = (worker: Worker): Thread => ({
  post: (message) => worker.postMessage(message),
  listen: (heard, ended) => {
    worker.on('message', heard);
    worker.on('messageerror', ended);
    worker.on('error', ended);
    worker.on('exit', ended);
  },
  end: async () => {
    await worker.terminate();
  },
});
