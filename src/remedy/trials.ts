/**
 * Trial runs of the check with something changed. The runs are quick ones first: a fit is a fit whatever the effort. One that
 * fits by a hair is run again with the bench's own effort, whose search goes another way and may come out a hair lower: what
 * is told must hold when the change is made.
 */
import { type Bench, judgeStyle } from '../ladder/index.ts';
import type { Rung } from '../model/fit.ts';
import type { Order } from '../model/order.ts';
import type { Rules, Style } from '../model/parts.ts';
import { type TrimResult, trimCast } from '../trim/index.ts';

/** What a style is judged by. */
export interface Trial {
  readonly style: Style;
  readonly order: Order;
  readonly rules: Rules;
}

/** Above the tolerance by less than this is a hair, mm: so far have two searches of one room come out apart. */
const HAIR = 0.05;

export class Trials {
  readonly #bench: Bench;
  readonly #most: number;
  /** Runs so far. */
  runs = 0;

  /** `most`: runs after which no other is begun but to make sure of one that fits. */
  constructor(bench: Bench, most = Infinity) {
    this.#bench = { ...bench, cut: remembering(bench) };
    this.#most = most;
  }

  /** No other trial is to be begun. */
  get over(): boolean {
    return this.stopped || this.runs >= this.#most;
  }

  /** What is said of a trial from here on counts only where it fits: its search may have been cut short. */
  get stopped(): boolean {
    return this.#bench.shouldStop();
  }

  async judge(trial: Trial): Promise<Rung> {
    return this.sure(trial, await this.quick(trial));
  }

  quick(trial: Trial): Promise<Rung> {
    return this.#run(trial, 'quick');
  }

  /** `seen`, or where it fits by a hair only, what the bench's own effort makes of the trial. */
  async sure(trial: Trial, seen: Rung): Promise<Rung> {
    const { effort } = this.#bench;
    const clear = seen.verdict !== 'fits' || (seen.found ?? 0) >= trial.rules.tolerance + HAIR;
    return clear || effort === 'quick' || this.stopped ? seen : this.#run(trial, effort);
  }

  #run({ style, order, rules }: Trial, effort: Bench['effort']): Promise<Rung> {
    this.runs++;
    return judgeStyle({ ...this.#bench, order, rules, effort, brief: true }, style);
  }
}

/** Trials of one figure in steps: what each came to, and which is the least that holds. */
export class Steps {
  readonly #trials: Trials;
  readonly #trialOf: (n: number) => Trial;
  readonly #fits = new Map<number, Rung>();
  asked = 0;

  constructor(trials: Trials, trialOf: (n: number) => Trial) {
    this.#trials = trials;
    this.#trialOf = trialOf;
  }

  /** Does it fit at step n? Undefined where that cannot be asked any more. */
  readonly passes = async (n: number): Promise<boolean | undefined> => {
    if (this.#trials.over) return undefined;
    this.asked++;
    const rung = await this.#trials.quick(this.#trialOf(n));
    if (rung.verdict !== 'fits') return this.#trials.stopped ? undefined : false;
    this.#fits.set(n, rung);
    return true;
  };

  /** The least step from n on that was seen to fit and is sure, with its spare, mm. Steps beyond `n + 1` only where they were seen. */
  async sure(n: number, most: number): Promise<{ readonly n: number; readonly found: number } | undefined> {
    const seen = [...this.#fits.keys()].filter((k) => k > n + 1).sort((a, b) => a - b);
    for (const k of [n, ...(n < most ? [n + 1] : []), ...seen]) {
      const trial = this.#trialOf(k);
      const rung = await this.#trials.sure(trial, this.#fits.get(k) ?? (await this.#trials.quick(trial)));
      if (rung.verdict === 'fits') return { n: k, found: rung.found ?? 0 };
      if (this.#trials.stopped) break;
    }
    return undefined;
  }
}

/** Changes that move no cut are tried on the same body: it is cut once. */
function remembering({ solid, ear }: Bench): (style: Style) => TrimResult {
  const known = new Map<string, TrimResult>();
  return (style) => {
    const key = JSON.stringify([style.outer, style.tip]);
    const trimmed = known.get(key) ?? trimCast(solid, ear, style);
    known.set(key, trimmed);
    return trimmed;
  };
}
