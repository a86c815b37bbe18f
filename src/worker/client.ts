/** The page's side of the protocol: starts the worker, numbers the jobs, cancels them, and replaces a worker that hangs or breaks. */
import type { CheckRequest } from '../engine/types.ts';
import type { FaultWords, FromWorker, Summary, ToWorker, Wire } from './protocol.ts';

/** A cancelled job that has not stopped by then is ended with its worker, ms. */
export const PATIENCE = 300;

export type Told = Extract<FromWorker, { type: 'working' | 'scan' | 'ear' | 'rung' }>;

export type Outcome =
  | { readonly type: 'done'; readonly summary: Summary }
  | { readonly type: 'cancelled' }
  | { readonly type: 'fault'; readonly fault: FaultWords }
  | { readonly type: 'bug'; readonly message: string; readonly stack?: string };

export type WorkerWire = Wire<ToWorker, FromWorker> & {
  terminate(): void;
  addEventListener(type: 'error', listener: (event: ErrorEvent) => void): void;
};

interface Running {
  readonly job: number;
  readonly onTold: (told: Told) => void;
  readonly settle: (outcome: Outcome) => void;
  patience?: ReturnType<typeof setTimeout>;
}

export class WorkerClient {
  readonly #start: () => WorkerWire;
  #worker: WorkerWire | undefined;
  #running: Running | undefined;
  #jobs = 0;

  /** `start` makes a fresh worker; it is called at once and again whenever one had to be thrown away. */
  constructor(start: () => WorkerWire) {
    this.#start = start;
    this.#worker = this.#fresh();
  }

  get busy(): boolean {
    return this.#running !== undefined;
  }

  /** Starts a job; one that is running is cancelled. Resolves in every case: faults and bugs are outcomes. */
  judge(request: CheckRequest, onTold: (told: Told) => void): Promise<Outcome> {
    if (this.#running) this.#replace({ type: 'cancelled' });
    const job = ++this.#jobs;
    return new Promise((resolve) => {
      this.#running = { job, onTold, settle: resolve };
      this.#worker?.postMessage({ type: 'judge', job, request });
    });
  }

  /** Asks the running job to stop; after PATIENCE its worker is replaced. */
  cancel(): void {
    const running = this.#running;
    if (!running || running.patience) return;
    this.#worker?.postMessage({ type: 'cancel', job: running.job });
    running.patience = setTimeout(() => this.#replace({ type: 'cancelled' }), PATIENCE);
  }

  close(): void {
    this.#settle({ type: 'cancelled' });
    this.#worker?.terminate();
    this.#worker = undefined;
  }

  #fresh(): WorkerWire {
    const worker = this.#start();
    worker.addEventListener('message', ({ data }) => {
      if (worker === this.#worker) this.#hear(data);
    });
    worker.addEventListener('error', (event) => {
      if (worker === this.#worker) this.#replace({ type: 'bug', message: event.message || 'The worker could not be started.' });
    });
    return worker;
  }

  #hear(message: FromWorker): void {
    const running = this.#running;
    if (!running || message.job !== running.job) return;
    switch (message.type) {
      case 'done':
        this.#settle({ type: 'done', summary: message.summary });
        return;
      case 'cancelled':
        this.#settle({ type: 'cancelled' });
        return;
      case 'fault':
        this.#settle({ type: 'fault', fault: message.fault });
        return;
      case 'bug': {
        const { message: text, stack } = message;
        this.#replace({ type: 'bug', message: text, ...(stack ? { stack } : {}) });
        return;
      }
      default:
        if (!running.patience) running.onTold(message);
    }
  }

  #replace(outcome: Outcome): void {
    this.#worker?.terminate();
    this.#worker = undefined;
    this.#settle(outcome);
    this.#worker = this.#fresh();
  }

  #settle(outcome: Outcome): void {
    const running = this.#running;
    if (!running) return;
    clearTimeout(running.patience);
    this.#running = undefined;
    running.settle(outcome);
  }
}
