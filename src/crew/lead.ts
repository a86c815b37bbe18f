/**
 * The lead's side: mates that are started early, told what there is to know, and handed one task after the other. What comes back is the
 * same however many there are: each task is done by the same code from the same numbers, and none looks at another's time.
 *
 * The lead itself judges nothing while it has mates: it stays free to hand out, to tell what is done and to cancel at once. (With
 * two cores, a lead that also judges leaves its one mate waiting whenever it is in the midst of a search.) A mate that ends by itself,
 * or never begins, is done without: its task is done in the lead's own thread, and so is whatever no mate is left for.
 */
import type { CheckHooks, Crew, Stage, Thread } from '../model/case.ts';
import type { Ear } from '../model/ear.ts';
import type { Rung } from '../model/fit.ts';
import type { CastField } from '../room/index.ts';
import { type FromMate, type ToMate, unpacked } from './protocol.ts';
import { sharedEar, sharedField } from './share.ts';
import type { Task, Terms } from './work.ts';

/** What the lead's owner does of it. */
export interface Watch {
  /** A task has come to a stage. */
  readonly working: (task: Task, stage: Stage) => void;
  /** A task is done; in whatever order they are. */
  readonly done: (task: Task, rung: Rung) => void;
  /** Does a task in this thread. */
  readonly own: (task: Task) => Promise<Rung>;
}

export class Lead {
  readonly #mates: readonly Mate[];
  readonly #signal: AbortSignal | undefined;
  readonly #stop = (): void => {
    void this.dismiss();
  };

  /** Starts the mates: as many as the crew has, at most one a style, and none where there would be but one. */
  constructor({ crew, kernelUrl, signal }: CheckHooks, styles: number) {
    const size = crew ? Math.min(crew.size, styles) : 0;
    this.#mates = crew && size > 1 ? Array.from({ length: size }, () => new Mate(crew)) : [];
    this.#signal = signal;
    signal?.addEventListener('abort', this.#stop, { once: true });
    this.#tell({ type: 'begin', url: kernelUrl });
  }

  /** Is there no mate, so that everything will be done in this thread? */
  get alone(): boolean {
    return this.#mates.every((m) => m.gone);
  }

  /** Tells the mates which cast it is: they make their solids of it. */
  take(ear: Ear): void {
    if (!this.alone) this.#tell({ type: 'ear', ear: sharedEar(ear) });
  }

  /** Tells the mates the rest: tasks may follow. */
  measured(field: CastField, terms: Terms): void {
    if (!this.alone) this.#tell({ type: 'field', field: sharedField(field), terms });
  }

  /**
   * Has tasks done, handed out in their order; gives the rungs in that order.
   * @throws the signal's reason when aborted; else, of the tasks that failed, what the first of them threw: no other is begun then.
   */
  async all(tasks: readonly Task[], watch: Watch): Promise<Rung[]> {
    const rungs = new Map<number, Rung>();
    const failed = new Map<number, Error>();
    const waiting = [...tasks.keys()];
    const settled = (k: number, task: Task, rung: Rung): void => {
      this.#signal?.throwIfAborted();
      rungs.set(k, rung);
      watch.done(task, rung);
    };
    const keepBusy = async (mate: Mate): Promise<void> => {
      while (!mate.gone && failed.size === 0) {
        const k = waiting.shift();
        if (k === undefined) return;
        const task = tasks[k] as Task;
        const answer = await mate.do(task, (stage) => watch.working(task, stage));
        if (answer.type === 'done') settled(k, task, answer.rung);
        if (answer.type === 'threw') failed.set(k, answer.error);
      }
    };
    await Promise.all(this.#mates.map(keepBusy));
    this.#signal?.throwIfAborted();
    const first = failed.get(Math.min(...failed.keys()));
    if (first) throw first;
    for (const [k, task] of tasks.entries()) if (!rungs.has(k)) settled(k, task, await watch.own(task));
    return tasks.map((_, k) => rungs.get(k) as Rung);
  }

  /** Ends every mate, whatever it is doing. Resolves once no thread is left. */
  async dismiss(): Promise<void> {
    this.#signal?.removeEventListener('abort', this.#stop);
    await Promise.all(this.#mates.map((m) => m.dismiss()));
  }

  #tell(message: ToMate): void {
    for (const mate of this.#mates) mate.tell(message);
  }
}

type Answer =
  | { readonly type: 'done'; readonly rung: Rung }
  | { readonly type: 'threw'; readonly error: Error }
  | { readonly type: 'gone' };

/** One mate, as the lead sees it. */
class Mate {
  readonly #thread: Thread | undefined;
  #asked: { readonly working: (stage: Stage) => void; readonly settle: (answer: Answer) => void } | undefined;
  #ending: Promise<void> | undefined;
  /** It ended, or never began: it answers nothing any more. */
  gone = false;

  constructor(crew: Crew) {
    try {
      this.#thread = crew.start();
      this.#thread.listen(
        (message) => this.#hear(message as FromMate),
        () => this.#lose(),
      );
    } catch {
      this.#lose(); // the host has no thread to give: the lead does without
    }
  }

  /** What cannot be sent (a catalogue with a function in it, say) makes the mate useless. */
  tell(message: ToMate): void {
    if (this.gone) return;
    try {
      this.#thread?.post(message);
    } catch {
      void this.dismiss();
    }
  }

  /** Of a mate that is not gone, one task at a time. Resolves in every case. */
  do(task: Task, working: (stage: Stage) => void): Promise<Answer> {
    return new Promise((settle) => {
      this.#asked = { working, settle };
      this.tell({ type: 'task', task });
    });
  }

  dismiss(): Promise<void> {
    this.#lose();
    this.#ending ??= Promise.resolve(this.#thread?.end());
    return this.#ending;
  }

  #hear(message: FromMate): void {
    if (this.gone) return;
    if (message.type === 'done') this.#settle(message);
    else if (message.type === 'threw') this.#settle({ type: 'threw', error: unpacked(message.thrown) });
    else {
      try {
        this.#asked?.working(message.stage);
      } catch (e) {
        // The listener's own: it ends the check as it would in one thread, and not the process.
        this.#settle({ type: 'threw', error: e instanceof Error ? e : new Error(String(e)) });
      }
    }
  }

  #lose(): void {
    this.gone = true;
    this.#settle({ type: 'gone' });
  }

  #settle(answer: Answer): void {
    const asked = this.#asked;
    this.#asked = undefined;
    asked?.settle(answer);
  }
}
