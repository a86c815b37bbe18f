/** A mate in a thread of its own. */
import { parentPort } from 'node:worker_threads';
import { serve } from '../crew/serve.ts';

const port = parentPort;
if (port) serve({ post: (message) => port.postMessage(message), listen: (heard) => port.on('message', heard) });
