/** The engine in its own thread, with a crew of its own where the machine has cores to spare. */
import kernelUrl from 'manifold-3d/manifold.wasm?url';
import { webCrew } from '../crew/web.ts';
import { check } from '../engine/index.ts';
import type { FromWorker, ToWorker, Wire } from './protocol.ts';
import { serve } from './serve.ts';

// One core is left to the page, which draws meanwhile.
const crew = webCrew(
  navigator.hardwareConcurrency - 1,
  () => new Worker(new URL('../crew/web-mate.ts', import.meta.url), { type: 'module' }),
);

serve(globalThis as unknown as Wire<FromWorker, ToWorker>, (request, hooks) => check(request, { ...hooks, kernelUrl, crew }));
