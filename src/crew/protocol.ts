/**
 * What the lead and a mate say to each other. The lead tells what it has as soon as it has it, so that a mate loads its kernel while
 * the scan is read and makes its solid while the field is measured. A mate answers tasks, and nothing else; it has one at a time.
 */
import type { Stage } from '../model/case.ts';
import type { Ear } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Rung } from '../model/fit.ts';
import type { FieldArrays } from '../room/field.ts';
import type { Task, Terms } from './work.ts';

export type ToMate =
  /** First of all. `url`: where the kernel lies, as in CheckHooks. */
  | { readonly type: 'begin'; readonly url: string | undefined }
  | { readonly type: 'ear'; readonly ear: Ear }
  | { readonly type: 'field'; readonly field: FieldArrays; readonly terms: Terms }
  | { readonly type: 'task'; readonly task: Task };

export type FromMate =
  | { readonly type: 'working'; readonly stage: Stage }
  | { readonly type: 'done'; readonly rung: Rung }
  | { readonly type: 'threw'; readonly thrown: Thrown };

/** What was thrown, as it travels: a class does not survive the copy from thread to thread. */
export type Thrown =
  | {
      readonly type: 'fault';
      readonly words: readonly [code: string, found: string, where: string, next: string, choices: readonly string[]];
    }
  | { readonly type: 'bug'; readonly message: string; readonly stack: string | undefined };

export function packed(thrown: unknown): Thrown {
  if (thrown instanceof Fault) return { type: 'fault', words: [thrown.code, thrown.found, thrown.where, thrown.next, thrown.choices] };
  const error = thrown instanceof Error ? thrown : new Error(String(thrown));
  return { type: 'bug', message: error.message, stack: error.stack };
}

/** The Fault that it was; a bug with the stack of where it happened. */
export function unpacked(thrown: Thrown): Error {
  if (thrown.type === 'fault') return new Fault(...thrown.words);
  const error = new Error(thrown.message);
  if (thrown.stack !== undefined) error.stack = thrown.stack;
  return error;
}
