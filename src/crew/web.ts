/** A crew of a browser's workers. A worker may start them too. */
import type { Crew, Thread } from '../model/case.ts';

/** `start` makes one worker of web-mate.ts; bundlers want to see its address where it is made. */
export const webCrew = (size: number, start: () => Worker): Crew => ({ size, start: () => threadOf(start()) });

const threadOf = (worker: Worker): Thread => ({
  post: (message) => worker.postMessage(message),
  listen: (heard, ended) => {
    worker.addEventListener('message', (event) => heard(event.data));
    worker.addEventListener('messageerror', ended);
    worker.addEventListener('error', (event) => {
      event.preventDefault(); // told by `ended`; else it is an error of the page too
      ended();
    });
  },
  end: () => {
    worker.terminate();
    return undefined;
  },
});
