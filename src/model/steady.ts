/** How steady a verdict is: plain data, lengths in mm. */
import type { Verdict } from './fit.ts';
import type { Rules } from './parts.ts';

/** What one real run came to. */
export interface Outcome {
  readonly verdict: Verdict;
  /** As a rung's: verified, at most ENOUGH, which means "at least". Undefined where nothing was placed, or a proof left nothing to search for. */
  readonly found?: number;
  /** Arranged, but no way in was found. */
  readonly stuck?: true;
}

/** The same style judged with other seeds. */
export interface Repeatability {
  /** Every other seed with what it came to; empty where a proof already says no, which holds for every seed. */
  readonly runs: readonly (Outcome & { readonly seed: number })[];
  readonly proved: boolean;
  /** Every run has the verdict of the rung. */
  readonly same: boolean;
  /** Least and greatest spare, the rung's own among them; undefined where none was found. */
  readonly spares?: { readonly least: number; readonly most: number };
}

/**
 * What is nudged: the rule for the wall, for the gap between parts and wall, for the gap between parts; or the scan, which lies so
 * much further out all round than the ear, while the cuts stay where they are.
 */
export type Figure = Extract<keyof Rules, 'wall' | 'gap' | 'partGap'> | 'scan';

/** One figure a little more and a little less, all else as it was. */
export interface Nudge {
  readonly figure: Figure;
  readonly by: number;
  /** More of it leaves less room: a thicker wall, a scan larger than the ear. Undefined where it cannot be had, or was not come to. */
  readonly more?: Outcome;
  readonly less?: Outcome;
  /** By how much the spare grows for each mm of the figure, about; undefined where the spares are not measured ones (ENOUGH, none). */
  readonly slope?: number;
}

export interface Steadiness {
  readonly seeds: Repeatability;
  readonly nudges: readonly Nudge[];
  /** All of it in two sentences or so. */
  readonly text: string;
  /** How many runs it took. */
  readonly runs: number;
  /** True when the bench said to stop: what was not come to is left out. */
  readonly stopped: boolean;
}
