/**
 * The facade: from the bytes of a scan to a ladder of styles. Works in Node and in a browser's worker; no DOM, no files.
 *
 *   import { check } from 'cavum';
 *   const result = await check({ bytes, name: 'qb-101-right.stl', side: 'right' });
 *   result.rungs.forEach((r) => console.log(r.style, r.verdict, r.found));
 */
import { Lead } from '../crew/lead.ts';
import { doTask, type Task, type Terms } from '../crew/work.ts';
import { guessSide, judgeEar, sideContradicted, surveyWithSide } from '../ear/index.ts';
import { Arena, loadKernel } from '../geometry/kernel.ts';
import { type Bench, recommend } from '../ladder/index.ts';
import type { CaseResult, CheckHooks, CheckRequest, Stage } from '../model/case.ts';
import type { Ear, Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Rung } from '../model/fit.ts';
import type { Need, Order } from '../model/order.ts';
import type { Style } from '../model/parts.ts';
import type { Finding, Scan } from '../model/scan.ts';
import { needsOf } from '../order/index.ts';
import { adjustStyle } from '../parts/adjust.ts';
import { GENERIC } from '../parts/index.ts';
import { needsHelp } from '../remedy/index.ts';
import { type CastField, measureCast } from '../room/index.ts';
import { readScan, thinScan } from '../scan/index.ts';
import { solidCast } from '../trim/index.ts';
import { Course } from './course.ts';

export { readOrder } from '../order/index.ts';
export { verdictDocument } from '../report/index.ts';
export { readScan } from '../scan/index.ts';
export type * from './types.ts';
export { Fault };

export const CHECK_DEFAULTS = { seed: 1, effort: 'normal' } as const;

/**
 * Judges a scan against every style asked for.
 * @throws Fault when the scan cannot be read or surveyed, or the side is not known; the signal's reason when aborted.
 */
export async function check(request: CheckRequest, hooks: CheckHooks = {}): Promise<CaseResult> {
  const asked = askedOf(request);
  const lead = new Lead(hooks, asked.styles.length);
  try {
    return await checked(request, asked, hooks, lead);
  } finally {
    await lead.dismiss();
  }
}

/** The request with everything that it leaves open. */
type Asked = Pick<CaseResult, 'order' | 'rules' | 'seed' | 'effort' | 'cuts' | 'corrections'> &
  Pick<Terms, 'styles' | 'classes'> & { readonly needs: readonly Need[] };

function askedOf(request: CheckRequest): Asked {
  const catalogue = request.catalogue ?? GENERIC;
  const { receiverClasses, vents } = catalogue;
  const cuts = request.cuts ?? {};
  return {
    ...needsOf(request.order ?? {}, catalogue),
    rules: { ...catalogue.rules, ...request.rules },
    seed: request.seed ?? CHECK_DEFAULTS.seed,
    effort: request.effort ?? CHECK_DEFAULTS.effort,
    cuts,
    corrections: request.corrections ?? {},
    styles: catalogue.styles
      .filter((s) => !request.styles || request.styles.includes(s.name))
      .map((s) => adjustStyle(s, cuts[s.name] ?? {})),
    classes: { receiverClasses, vents },
  };
}

async function checked(request: CheckRequest, asked: Asked, hooks: CheckHooks, lead: Lead): Promise<CaseResult> {
  const { order, needs, rules, seed, effort, cuts, corrections, styles, classes } = asked;
  const tell = hooks.onEvent ?? (() => {});
  const course = new Course(tell);
  const step = async (stage: Stage, done: number): Promise<void> => {
    course.at(stage, done);
    await breathe(hooks);
  };
  if (lead.alone) await loadKernel(hooks.kernelUrl);
  await step('scan', 0);
  const scan = readScan(request.bytes, request.name, request.unit ? { unit: request.unit } : {});
  tell({ type: 'scan', scan });
  await step('ear', 0.04);
  const { mesh, deviation, findings: thinning } = thinScan(scan);
  // After reading: who sends the wrong file is told that, not asked for its side.
  const { side, finding } = sideOrHint(request, order, { ...scan, mesh });
  const { ear, guess } = surveyWithSide({ ...scan, mesh }, side, corrections);
  lead.take(ear);
  const seen = [...sideContradicted(ear, guess), ...judgeEar(ear)];
  tell({ type: 'ear', ear });
  await step('field', 0.1);
  const field = measureCast(ear.cast);
  const help = { remedies: request.remedies ?? false, missing: request.missing ?? false, steady: request.steady ?? false };
  const terms: Terms = { deviation, order, rules, seed, effort, styles, classes, help };
  lead.measured(field, terms);
  const rungs = await judged({ ear, field, terms }, course, hooks, lead);
  const findings: Finding[] = [...scan.findings, ...thinning, ...seen, ...(finding ? [finding] : [])];
  return { scan, side, ear, corrections, order, needs, rules, seed, effort, cuts, rungs, recommended: recommend(rungs, needs), findings };
}

interface Ground {
  readonly ear: Ear;
  readonly field: CastField;
  readonly terms: Terms;
}

/** Every style's rung, then, where they are wanted, the remedies of those that need help. */
async function judged({ ear, field, terms }: Ground, course: Course, hooks: CheckHooks, lead: Lead): Promise<Rung[]> {
  const { styles } = terms;
  const { steady } = terms.help;
  const help = terms.help.remedies || terms.help.missing || steady;
  const arena = new Arena();
  const shouldStop = (): boolean => hooks.signal?.aborted ?? false;
  let bench: Omit<Bench, 'before'> | undefined; // made only where something is done in this thread
  const working = ({ style }: Task, stage: Stage): void => course.style(style, stage, (styles[style] as Style).name);
  const own = async (task: Task): Promise<Rung> => {
    const kernel = await loadKernel(hooks.kernelUrl);
    bench ??= { ...terms, kernel, ear, solid: solidCast(kernel, ear, arena), field, shouldStop };
    return doTask(bench, terms, task, (stage) => {
      working(task, stage);
      return breathe(hooks);
    });
  };
  const done = ({ type, style }: Task, rung: Rung): void => {
    course.styleDone(style);
    if (type === 'judge' || rung.remedies || rung.missing || rung.steady) hooks.onEvent?.({ type: 'rung', rung });
  };
  const watch = { working, done, own };
  try {
    course.over(styles.length, 0.2, help ? 0.3 : 0.8);
    const rungs = await lead.all(
      styles.map((_, style) => ({ type: 'judge', style })),
      watch,
    );
    if (!help) return rungs;
    const helped = rungs.flatMap((rung, style): Task[] =>
      needsHelp(rung) || (steady && rung.body) ? [{ type: 'remedy', style, rung, larger: rungs.slice(style + 1) }] : [],
    );
    course.over(styles.length, 0.5, 0.5);
    for (const k of rungs.keys()) if (!helped.some((t) => t.style === k)) course.styleDone(k);
    const tried = await lead.all(helped, watch);
    return rungs.map((rung, k) => tried[helped.findIndex((t) => t.style === k)] ?? rung);
  } finally {
    arena.free();
  }
}

/** Between two steps: lets the host draw, take messages and cancel. */
async function breathe({ signal }: CheckHooks): Promise<void> {
  await pause();
  signal?.throwIfAborted();
}

const pause = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 0));

const WORD: Record<Side, RegExp> = { left: /(^|[^a-z])(left|l)([^a-z]|$)/i, right: /(^|[^a-z])(right|r)([^a-z]|$)/i };

/** As `sideOf`; where nobody says it, the refusal tells which ear the shape speaks for. A hint, never a decision. */
function sideOrHint(
  request: Pick<CheckRequest, 'side' | 'name'>,
  order: Order,
  scan: Pick<Scan, 'mesh' | 'base'>,
): ReturnType<typeof sideOf> {
  try {
    return sideOf(request, order);
  } catch (e) {
    if (!(e instanceof Fault)) throw e;
    const { side, confidence } = guessSide(scan);
    if (confidence === 0) throw e;
    const likely: Side[] = side === 'left' ? ['left', 'right'] : ['right', 'left'];
    throw new Fault(e.code, `${e.found}; the shape speaks for a ${side} one`, e.where, e.next, likely);
  }
}

/** Which ear it is: said, ordered, or named by the file. Never guessed in silence. */
export function sideOf(request: Pick<CheckRequest, 'side' | 'name'>, order: Pick<Order, 'side'>): { side: Side; finding?: Finding } {
  const said = request.side ?? order.side;
  if (said) return { side: said };
  const stem = request.name.replace(/^.*[\\/]/, '').replace(/\.[^.]*$/, '');
  const named = (['left', 'right'] as const).filter((s) => WORD[s].test(stem));
  if (named.length === 1) {
    const side = named[0] as Side;
    return { side, finding: { code: 'side/from-name', level: 'note', text: `taken as a ${side} ear from the file's name` } };
  }
  throw new Fault('side/unknown', 'whether this is a left or a right ear is not said', request.name, 'Say the side: left or right.');
}
