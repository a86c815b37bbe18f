/** The engine in its own thread. */
import kernelUrl from 'manifold-3d/manifold.wasm?url';
import { check } from '../engine/index.ts';
import type { FromWorker, ToWorker, Wire } from './protocol.ts';
import { serve } from './serve.ts';

serve(globalThis as unknown as Wire<FromWorker, ToWorker>, (request, hooks) => check(request, { ...hooks, kernelUrl }));
