import { readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { basename } from 'node:path';
import { InvalidArgumentError } from 'commander';
import type { Crew } from '../model/case.ts';
import type { Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Unit } from '../model/scan.ts';
import { nodeCrew } from './crew.ts';

export const EXIT = { ok: 0, doesNotFit: 1, cannotJudge: 2 } as const;

/** The border to the world, so that the commands can be tried without one. */
export interface Io {
  out(text: string): void;
  talk(text: string): void;
  read(path: string): Uint8Array;
  write(path: string, data: string | Uint8Array): void;
  /** Whether progress may be drawn over itself. */
  readonly live: boolean;
  /** Threads to judge with, as many as the machine has cores unless said; without it there are none. */
  crew?(size?: number): Crew;
}

export const nodeIo = (): Io => ({
  out: (text) => {
    process.stdout.write(text);
  },
  talk: (text) => {
    process.stderr.write(text);
  },
  read: (path) => {
    try {
      return readFileSync(path);
    } catch (e) {
      throw new Fault('file/unreadable', `cannot read the file: ${e instanceof Error ? e.message : String(e)}`, path, 'Check the path.');
    }
  },
  write: (path, data) => {
    try {
      writeFileSync(path, data);
    } catch (e) {
      throw new Fault('file/unwritable', `cannot write the file: ${e instanceof Error ? e.message : String(e)}`, path, 'Check the folder.');
    }
  },
  live: process.stderr.isTTY === true,
  crew: (size = availableParallelism()) => nodeCrew(size),
});

/** "-" is stdout. */
export const writeJson = (io: Io, where: string, document: unknown): void => {
  const text = `${JSON.stringify(document, null, 1)}\n`;
  if (where === '-') io.out(text);
  else io.write(where, text);
};

export const fileName = (path: string): string => basename(path);

/** An option that takes one of some words. */
export const oneOf =
  <T extends string>(words: readonly T[]) =>
  (said: string): T => {
    const word = words.find((w) => w.toLowerCase() === said.toLowerCase());
    if (!word) throw new InvalidArgumentError(`Allowed: ${words.join(', ')}.`);
    return word;
  };
export const wholeNumber =
  (least: number, most: number) =>
  (said: string): number => {
    const n = Number(said);
    if (!/^\d+$/.test(said) || n < least || n > most) throw new InvalidArgumentError(`A whole number from ${least} to ${most}.`);
    return n;
  };
export const SIDES: readonly Side[] = ['left', 'right'];
export const UNITS: readonly Unit[] = ['mm', 'cm', 'm', 'um', 'inch'];
