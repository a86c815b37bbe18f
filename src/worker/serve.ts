/** The worker's side of the protocol, over any wire and any `check`: used by the worker itself and by tests. */
import type { CaseResult, CheckEvent, CheckHooks, CheckRequest } from '../engine/types.ts';
import type { Mesh } from '../geometry/mesh.ts';
import { Fault } from '../model/fault.ts';
import { shade } from '../viewer/shade.ts';
import { silhouette } from '../viewer/silhouette.ts';
import { thin } from '../viewer/thin.ts';
import type { FromWorker, Picture, ToWorker, Wire } from './protocol.ts';

export type Check = (request: CheckRequest, hooks: CheckHooks) => Promise<CaseResult>;

/** Progress is told at most every so many milliseconds; everything else at once. */
const PROGRESS_EVERY = 50;

/** Answers judge and cancel messages until the wire is closed. One job at a time: a new one cancels the old. */
export function serve(wire: Wire<FromWorker, ToWorker>, check: Check): void {
  let running: { readonly job: number; readonly abort: AbortController } | undefined;
  wire.addEventListener('message', ({ data }) => {
    if (data.type === 'cancel') {
      if (running?.job === data.job) running.abort.abort();
      return;
    }
    running?.abort.abort();
    const mine = { job: data.job, abort: new AbortController() };
    running = mine;
    void judge(wire, check, data.job, data.request, mine.abort.signal).finally(() => {
      if (running === mine) running = undefined;
    });
  });
}

async function judge(
  wire: Wire<FromWorker, ToWorker>,
  check: Check,
  job: number,
  request: CheckRequest,
  signal: AbortSignal,
): Promise<void> {
  const tell = teller(wire, job);
  try {
    const {
      order,
      needs = [],
      rules,
      seed,
      effort,
      recommended,
      findings,
      rungs,
    } = await check(request, {
      signal,
      onEvent: (event) => {
        if (!signal.aborted) tell(event);
      },
    });
    if (signal.aborted) wire.postMessage({ type: 'cancelled', job });
    else
      wire.postMessage({
        type: 'done',
        job,
        summary: { order, needs, rules, seed, effort, recommended, findings, rungs: rungs.map(withoutMeshes) },
      });
  } catch (thrown) {
    if (signal.aborted) wire.postMessage({ type: 'cancelled', job });
    else if (thrown instanceof Fault) {
      const { code, found, where, next, choices } = thrown;
      wire.postMessage({ type: 'fault', job, fault: { code, found, where, next, ...(choices.length > 0 ? { choices } : {}) } });
    } else {
      const error = thrown instanceof Error ? thrown : new Error(String(thrown));
      wire.postMessage({ type: 'bug', job, message: error.message, ...(error.stack ? { stack: error.stack } : {}) });
    }
  }
}

function withoutMeshes<R extends { readonly body?: unknown }>({ body: _, ...rest }: R): Omit<R, 'body'> {
  return rest;
}

function teller(wire: Wire<FromWorker, ToWorker>, job: number): (event: CheckEvent) => void {
  let last = -Infinity;
  return (event) => {
    switch (event.type) {
      case 'working': {
        const now = performance.now();
        if (now - last < PROGRESS_EVERY) return;
        last = now;
        wire.postMessage({ ...event, job });
        return;
      }
      case 'scan': {
        const { mesh: _mesh, base: _base, ...facts } = event.scan;
        wire.postMessage({ type: 'scan', job, scan: facts });
        return;
      }
      case 'ear': {
        const picture = pictureOf(event.ear.cast);
        wire.postMessage({ type: 'ear', job, side: event.ear.frame.side, ear: event.ear, picture }, buffersOf(picture));
        return;
      }
      case 'rung': {
        const { rung } = event;
        if (!rung.body) {
          wire.postMessage({ type: 'rung', job, rung });
          return;
        }
        const picture = pictureOf(rung.body.mesh);
        wire.postMessage({ type: 'rung', job, rung, picture }, buffersOf(picture));
      }
    }
  };
}

export function pictureOf(mesh: Mesh<'ear'>): Picture {
  const seen = thin(mesh);
  return { shaded: shade(seen), front: silhouette(seen, 2, 1) };
}

const buffersOf = ({ shaded, front }: Picture): ArrayBuffer[] => [
  shaded.positions.buffer,
  shaded.normals.buffer,
  shaded.indices.buffer,
  ...front.map((loop) => loop.buffer),
];
