/**
 * What the page and the worker say to each other. Every message carries the number of the job that it belongs to; an
 * answer to an older job is dropped. Infinity and typed arrays survive structured cloning, so results travel as they are.
 */
import type { CaseResult, CheckRequest, Stage } from '../engine/types.ts';
import type { Ear, Side } from '../model/ear.ts';
import type { Rung } from '../model/fit.ts';
import type { StyleName } from '../model/parts.ts';
import type { Scan } from '../model/scan.ts';
import type { Shaded } from '../viewer/shade.ts';
import type { Loops } from '../viewer/silhouette.ts';

export type ToWorker =
  | { readonly type: 'judge'; readonly job: number; readonly request: CheckRequest }
  | { readonly type: 'cancel'; readonly job: number };

/** What is drawn of a solid, made in the worker so that the page never stops for it. The buffers are transferred. */
export interface Picture {
  readonly shaded: Shaded;
  /** Seen from the front: x lateral, y superior, mm. */
  readonly front: Loops;
}

/** A Fault in plain words, as it travels. */
export interface FaultWords {
  readonly code: string;
  readonly found: string;
  readonly where: string;
  readonly next: string;
  /** Words of which one would settle it (units of the file). */
  readonly choices?: readonly string[];
  /** What is wrong with a file, each with its path; `found` then says how many. */
  readonly flaws?: readonly string[];
}

/** A scan as it was read, without its mesh: the page draws the cast. */
export type ScanFacts = Omit<Scan, 'mesh' | 'base'>;

/** The case without its meshes, which were sent before. */
export type Summary = Pick<CaseResult, 'order' | 'needs' | 'rules' | 'seed' | 'effort' | 'recommended' | 'findings'> & {
  readonly rungs: readonly Rung[];
};

export type FromWorker =
  | { readonly type: 'working'; readonly job: number; readonly stage: Stage; readonly style?: StyleName; readonly done: number }
  | { readonly type: 'scan'; readonly job: number; readonly scan: ScanFacts }
  | { readonly type: 'ear'; readonly job: number; readonly side: Side; readonly ear: Ear; readonly picture: Picture }
  | { readonly type: 'rung'; readonly job: number; readonly rung: Rung; readonly picture?: Picture }
  | { readonly type: 'done'; readonly job: number; readonly summary: Summary }
  | { readonly type: 'cancelled'; readonly job: number }
  /** The input was refused. The worker is as good as new. */
  | { readonly type: 'fault'; readonly job: number; readonly fault: FaultWords }
  /** Something broke. The worker's state is undefined: it is thrown away and another started. */
  | { readonly type: 'bug'; readonly job: number; readonly message: string; readonly stack?: string };

/** The end of a wire: a Worker, the worker's own global scope, or one port of a MessageChannel. */
export interface Wire<Out, In> {
  postMessage(message: Out, transfer?: Transferable[]): void;
  addEventListener(type: 'message', listener: (event: MessageEvent<In>) => void): void;
}
