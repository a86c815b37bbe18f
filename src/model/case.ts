import type { Ear, EarOverrides, Side } from './ear.ts';
import type { Change, Effort, Rung } from './fit.ts';
import type { Need, Order, OrderRequest } from './order.ts';
import type { Catalogue, Rules, StyleName } from './parts.ts';
import type { Finding, Scan, Unit } from './scan.ts';

export interface CheckRequest {
  /** The file as it is. Not changed, not kept. */
  readonly bytes: Uint8Array;
  readonly name: string;
  /** Without it: from the order, else from the words left or right in the name, else a Fault asks for it. */
  readonly side?: Side;
  readonly unit?: Unit;
  /** Set by hand in place of what the survey finds. */
  readonly corrections?: EarOverrides;
  /** As it was given: what it leaves open follows from the hearing and the wishes. */
  readonly order?: OrderRequest;
  readonly rules?: Partial<Rules>;
  /** Parts, styles and rules; ours unless given. */
  readonly catalogue?: Catalogue;
  readonly styles?: readonly StyleName[]; // all, smallest first, unless said
  readonly seed?: number;
  readonly effort?: Effort;
  /** Where cuts go instead of where the styles' table puts them. */
  readonly cuts?: Change['cuts'];
  /** Looks for what would make a style fit that does not, once the ladder is whole. Takes several times as long. */
  readonly remedies?: boolean;
  /** Also how much is missing, for those. */
  readonly missing?: boolean;
  /** Also how steady each verdict is: other seeds, and wall, gaps and scan a little off. */
  readonly steady?: boolean;
}

export type Stage = 'scan' | 'ear' | 'field' | 'trim' | 'arrange' | 'verify' | 'prove' | 'explain' | 'remedy';

/**
 * What the engine tells while it works, in this order: scan, ear, then per style `working` ... `rung`; with remedies, the rungs that they
 * are of once more. A crew tells several styles at a time, and each rung when it is done.
 */
export type CheckEvent =
  | { readonly type: 'working'; readonly stage: Stage; readonly style?: StyleName; readonly done: number } // done: of the whole check, 0..1
  | { readonly type: 'scan'; readonly scan: Scan }
  | { readonly type: 'ear'; readonly ear: Ear }
  | { readonly type: 'rung'; readonly rung: Rung };

/** A thread of the host's in which src/crew/serve.ts runs. */
export interface Thread {
  /** Sends a copy of the message, but for what lies in shared memory. */
  post(message: unknown): void;
  /** `heard`: what it says. `ended`: it broke, ended by itself, or could not be started. Called once, before anything is posted. */
  listen(heard: (message: unknown) => void, ended: () => void): void;
  /** Ends it, whatever it is doing; resolves, where the host can tell, once it is no more. */
  end(): Promise<void> | undefined;
}

/** Threads that judge styles side by side: so many at most, started when a check begins and ended with it. */
export interface Crew {
  readonly size: number;
  readonly start: () => Thread;
}

export interface CheckHooks {
  /** Without it, or for one style, everything is done in the caller's thread. The result is the same. */
  readonly crew?: Crew;
  /** Where the geometry kernel lies (a browser needs it; Node finds it). */
  readonly kernelUrl?: string;
  readonly onEvent?: (event: CheckEvent) => void;
  /** Aborting makes `check` reject with the signal's reason at the next step (well under half a second). */
  readonly signal?: AbortSignal;
}

export interface Recommendation {
  readonly style?: StyleName; // undefined: none fits
  readonly why: string;
  /** Larger styles that fit too, and the parts that each would add. */
  readonly larger: readonly { readonly style: StyleName; readonly adds: readonly string[] }[];
  /** Where the least visible is wished for: what each smaller style that was judged would take, or what stands in its way. */
  readonly smaller?: readonly { readonly style: StyleName; readonly takes: string }[];
}

export interface CaseResult {
  readonly scan: Scan;
  readonly side: Side;
  readonly ear: Ear;
  readonly corrections: EarOverrides;
  readonly order: Order;
  /** What the order asks for and why. */
  readonly needs?: readonly Need[];
  readonly rules: Rules;
  readonly seed: number;
  readonly effort: Effort;
  readonly cuts: NonNullable<Change['cuts']>;
  readonly rungs: readonly Rung[];
  readonly recommended: Recommendation;
  readonly findings: readonly Finding[]; // of the scan and the survey
}
