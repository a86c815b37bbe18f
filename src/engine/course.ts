import type { CheckEvent, Stage } from '../model/case.ts';
import type { StyleName } from '../model/parts.ts';

/** How far through one style each step begins. */
const PART_DONE: Record<Stage, number> = {
  scan: 0,
  ear: 0,
  field: 0,
  trim: 0,
  prove: 0.1,
  arrange: 0.2,
  verify: 0.6,
  explain: 0.7,
  remedy: 0,
};

/** How far a check is, told as it goes: never less than before, though a style may need a second proof. */
export class Course {
  readonly #tell: (event: CheckEvent) => void;
  #reached = 0;
  #from = 0;
  #share = 0;
  /** Of each style, how far it is, 0..1. */
  #parts = new Float64Array(0);

  constructor(tell: (event: CheckEvent) => void) {
    this.#tell = tell;
  }

  at(stage: Stage, done: number, style?: StyleName): void {
    this.#reached = Math.max(this.#reached, done);
    this.#tell({ type: 'working', stage, done: this.#reached, ...(style ? { style } : {}) });
  }

  /** From here on `share` of the whole is done style by style, in any order. */
  over(styles: number, from: number, share: number): void {
    this.#from = from;
    this.#share = share / styles;
    this.#parts = new Float64Array(styles);
  }

  style(k: number, stage: Stage, name: StyleName): void {
    this.#parts[k] = PART_DONE[stage];
    this.at(stage, this.#from + this.#share * this.#parts.reduce((sum, part) => sum + part, 0), name);
  }

  styleDone(k: number): void {
    this.#parts[k] = 1;
  }
}
