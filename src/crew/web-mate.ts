/** A mate in a browser's worker. */
import type { ToMate } from './protocol.ts';
import { serve } from './serve.ts';

serve({
  post: (message) => postMessage(message),
  listen: (heard) => addEventListener('message', (event: MessageEvent<ToMate>) => heard(event.data)),
});
