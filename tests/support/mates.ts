/** Mates for tests: threads of Node's that run the mate as it is now, and stand-ins in the test's own thread that go wrong in a stated way. */
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'vite';
import type { FromMate, ToMate } from '../../src/crew/protocol.ts';
import { serve } from '../../src/crew/serve.ts';
import type { Crew, Thread } from '../../src/model/case.ts';

const root = join(dirname(fileURLToPath(import.meta.url)), '../..');

/** The mate's script, built for Node into a folder of its own; `remove` deletes that. */
export async function builtMate(): Promise<{ readonly script: URL; readonly remove: () => void }> {
  const outDir = mkdtempSync(join(tmpdir(), 'cavum-mate-'));
  const output = { entryFileNames: 'mate.mjs', chunkFileNames: '[name].mjs' };
  await build({
    configFile: false,
    root,
    logLevel: 'silent',
    ssr: { noExternal: true },
    build: { ssr: 'src/cli/mate.ts', outDir, target: 'node20', rolldownOptions: { output } },
  });
  copyFileSync(join(root, 'node_modules/manifold-3d/manifold.wasm'), join(outDir, 'manifold.wasm'));
  return { script: pathToFileURL(join(outDir, 'mate.mjs')), remove: () => rmSync(outDir, { recursive: true }) };
}

export interface Counted {
  readonly crew: Crew;
  readonly started: () => number;
  /** Have not ended, by whichever hand. */
  readonly running: () => number;
  /** Tasks that they did. */
  readonly done: () => number;
}

/** A crew that counts its threads and what they do. */
export function counted(crew: Crew): Counted {
  let started = 0;
  let done = 0;
  const running = new Set<Thread>();
  const start = (): Thread => {
    started++;
    const thread = crew.start();
    running.add(thread);
    return {
      post: (message) => thread.post(message),
      listen: (heard, ended) =>
        thread.listen(
          (message) => {
            if ((message as FromMate).type === 'done') done++;
            heard(message);
          },
          () => {
            running.delete(thread);
            ended();
          },
        ),
      end: async () => {
        await thread.end();
        running.delete(thread);
      },
    };
  };
  return { crew: { size: crew.size, start }, started: () => started, running: () => running.size, done: () => done };
}

/** What a stand-in may do: say something, break, or have the message served as a mate would. */
export interface Acts {
  readonly say: (message: FromMate) => void;
  readonly die: () => void;
  readonly serve: () => void;
}

/** Is called with each message, and the thread's number among those started. */
export type StandIn = (message: ToMate, acts: Acts, number: number) => void;

/** Stand-ins in place of threads: messages are copied and come later, as from a thread. */
export function standIns(size: number, standIn: StandIn): Crew {
  let started = 0;
  return { size, start: () => standInThread(standIn, started++) };
}

function standInThread(standIn: StandIn, number: number): Thread {
  let ended = false;
  let heard: (message: unknown) => void = () => {};
  let broke: () => void = () => {};
  let served: (message: ToMate) => void = () => {};
  const later = (work: () => void): void => {
    setTimeout(() => {
      if (!ended) work();
    }, 0);
  };
  const say = (message: FromMate): void => {
    const copy = structuredClone(message);
    later(() => heard(copy));
  };
  serve({
    post: say,
    listen: (f) => {
      served = f;
    },
  });
  const die = (): void =>
    later(() => {
      ended = true;
      broke();
    });
  return {
    post: (message) => {
      const copy = structuredClone(message) as ToMate;
      later(() => standIn(copy, { say, die, serve: () => served(copy) }, number));
    },
    listen: (f, g) => {
      heard = f;
      broke = g;
    },
    end: () => {
      ended = true;
      return undefined;
    },
  };
}
