/** The mate's side, over any wire: runs in a thread of its own and judges what the lead hands it. */
import { Arena, type Kernel, loadKernel } from '../geometry/kernel.ts';
import type { Ear } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import { type FieldArrays, revivedField } from '../room/field.ts';
import { type CastSolid, solidCast } from '../trim/index.ts';
import { type FromMate, packed, type ToMate } from './protocol.ts';
import { doTask, type Task, type Terms } from './work.ts';

/** The mate's end of the wire. */
export interface MateWire {
  post(message: FromMate): void;
  listen(heard: (message: ToMate) => void): void;
}

/**
 * Answers the lead until the thread is ended. It is ended to cancel it, in the midst of its work: so it never asks whether it should
 * stop, and gives nothing back. Whatever is thrown, also while the kernel was loaded, is the answer to the task that needed it.
 */
export function serve(wire: MateWire): void {
  const mate = new Mate(wire);
  wire.listen((message) => {
    switch (message.type) {
      case 'begin':
        return mate.begin(message.url);
      case 'ear':
        return mate.take(message.ear);
      case 'field':
        return mate.measure(message.field, message.terms);
      case 'task':
        return void mate.answer(message.task);
    }
  });
}

class Mate {
  readonly #wire: MateWire;
  #kernel: Promise<Kernel> | undefined;
  #cut: Promise<{ readonly kernel: Kernel; readonly ear: Ear; readonly solid: CastSolid }> | undefined;
  #measured: { readonly field: FieldArrays; readonly terms: Terms } | undefined;

  constructor(wire: MateWire) {
    this.#wire = wire;
  }

  begin(url: string | undefined): void {
    this.#kernel = loadKernel(url);
    this.#kernel.catch(() => {}); // the task that needs it tells
  }

  take(ear: Ear): void {
    this.#cut = (this.#kernel ?? loadKernel()).then((kernel) => ({ kernel, ear, solid: solidCast(kernel, ear, new Arena()) }));
    this.#cut.catch(() => {});
  }

  measure(field: FieldArrays, terms: Terms): void {
    this.#measured = { field, terms };
  }

  async answer(task: Task): Promise<void> {
    try {
      this.#wire.post({ type: 'done', rung: await this.#do(task) });
    } catch (thrown) {
      this.#wire.post({ type: 'threw', thrown: packed(thrown) });
    }
  }

  async #do(task: Task): Promise<Awaited<ReturnType<typeof doTask>>> {
    const cut = await this.#cut;
    if (!cut || !this.#measured)
      throw new Fault('crew/no-case', 'a style was handed out before its case', 'the crew', 'Report this, please.');
    const { field, terms } = this.#measured;
    const { styles: _styles, classes: _classes, ...rest } = terms;
    const bench = { ...rest, ...cut, field: revivedField(cut.ear.cast, field), shouldStop: () => false };
    return doTask(bench, terms, task, async (stage) => this.#wire.post({ type: 'working', stage }));
  }
}
