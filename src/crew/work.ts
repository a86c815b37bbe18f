/** What is handed out, one style at a time, and how it is done: the very same in the lead's thread and in a mate's. */
import { type Bench, judgeStyle } from '../ladder/index.ts';
import type { Stage } from '../model/case.ts';
import type { Rung } from '../model/fit.ts';
import type { Catalogue, Style } from '../model/parts.ts';
import { findRemedies, howMuchIsMissing } from '../remedy/index.ts';
import { howSteady } from '../steady/index.ts';

/** By what a case is judged, apart from its cast: plain data. */
export type Terms = Pick<Bench, 'deviation' | 'order' | 'rules' | 'seed' | 'effort'> & {
  /** The smallest first. */
  readonly styles: readonly Style[];
  readonly classes: Pick<Catalogue, 'receiverClasses' | 'vents'>;
  /** What is looked for once all are judged: where a style does not fit, and how steady each verdict is. */
  readonly help: { readonly remedies: boolean; readonly missing: boolean; readonly steady: boolean };
};

/** `style`: its number among the terms' styles. */
export type Task =
  | { readonly type: 'judge'; readonly style: number }
  /** `larger`: the rungs of all styles above it. */
  | { readonly type: 'remedy'; readonly style: number; readonly rung: Rung; readonly larger: readonly Rung[] };

/** Does a task. `before` is called with what comes next and awaited; what it throws ends the task. A remedy's rung comes back with what was found, if anything. */
export async function doTask(
  bench: Omit<Bench, 'before'>,
  { styles, classes, help }: Terms,
  task: Task,
  before: (stage: Stage) => Promise<void>,
): Promise<Rung> {
  const style = styles[task.style] as Style;
  if (task.type === 'judge') return judgeStyle({ ...bench, before: (_style, step) => before(step) }, style);
  const { rung, larger } = task;
  const tried = { ...bench, before: () => before('remedy') };
  const remedies = help.remedies ? await findRemedies(tried, style, rung, larger, classes) : [];
  const missing = help.missing ? await howMuchIsMissing(tried, style, rung) : undefined;
  const steady = help.steady ? await howSteady(tried, style, rung) : undefined;
  return { ...rung, ...(steady ? { steady } : {}), ...(remedies.length > 0 ? { remedies } : {}), ...(missing ? { missing } : {}) };
}
