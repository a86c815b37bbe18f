/**
 * The facade: from the bytes of a scan to a ladder of styles. Works in Node and in a browser's worker; no DOM, no files.
 *
 *   import { check } from 'cavum';
 *   const result = await check({ bytes, name: 'qb-101-right.stl', side: 'right' });
 *   result.rungs.forEach((r) => console.log(r.style, r.verdict, r.found));
 */
import { guessSide, judgeEar, sideContradicted, surveyWithSide } from '../ear/index.ts';
import { Arena, loadKernel } from '../geometry/kernel.ts';
import { judgeStyle, recommend } from '../ladder/index.ts';
import type { CaseResult, CheckHooks, CheckRequest, Stage } from '../model/case.ts';
import type { Side } from '../model/ear.ts';
import { Fault } from '../model/fault.ts';
import type { Rung } from '../model/fit.ts';
import type { Order } from '../model/order.ts';
import type { Rules } from '../model/parts.ts';
import type { Finding, Scan } from '../model/scan.ts';
import { needsOf } from '../order/index.ts';
import { adjustStyle } from '../parts/adjust.ts';
import { GENERIC } from '../parts/index.ts';
import { findRemedies } from '../remedy/index.ts';
import { measureCast } from '../room/index.ts';
import { readScan, thinScan } from '../scan/index.ts';
import { solidCast } from '../trim/index.ts';

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
  const tell = hooks.onEvent ?? (() => {});
  const catalogue = request.catalogue ?? GENERIC;
  const { order, needs } = needsOf(request.order ?? {}, catalogue);
  const rules: Rules = { ...catalogue.rules, ...request.rules };
  const seed = request.seed ?? CHECK_DEFAULTS.seed;
  const effort = request.effort ?? CHECK_DEFAULTS.effort;
  const cuts = request.cuts ?? {};
  const corrections = request.corrections ?? {};
  const styles = catalogue.styles
    .filter((s) => !request.styles || request.styles.includes(s.name))
    .map((s) => adjustStyle(s, cuts[s.name] ?? {}));
  let reached = 0; // a style may need a second proof: what is told never goes back
  const step = async (stage: Stage, done: number, style?: (typeof styles)[number]): Promise<void> => {
    reached = Math.max(reached, done);
    tell({ type: 'working', stage, done: reached, ...(style ? { style: style.name } : {}) });
    await pause();
    hooks.signal?.throwIfAborted();
  };
  const kernel = await loadKernel(hooks.kernelUrl);
  await step('scan', 0);
  const scan = readScan(request.bytes, request.name, request.unit ? { unit: request.unit } : {});
  tell({ type: 'scan', scan });
  await step('ear', 0.04);
  const { mesh, deviation, findings: thinning } = thinScan(scan);
  // After reading: who sends the wrong file is told that, not asked for its side.
  const { side, finding } = sideOrHint(request, order, { ...scan, mesh });
  const { ear, guess } = surveyWithSide({ ...scan, mesh }, side, corrections);
  const seen = [...sideContradicted(ear, guess), ...judgeEar(ear)];
  tell({ type: 'ear', ear });
  await step('field', 0.1);
  const field = measureCast(ear.cast);
  const arena = new Arena();
  try {
    const solid = solidCast(kernel, ear, arena);
    const rungs: Rung[] = [];
    const shouldStop = (): boolean => hooks.signal?.aborted ?? false;
    const bench = { kernel, ear, solid, field, deviation, order, rules, seed, effort, shouldStop };
    for (const [k, style] of styles.entries()) {
      const share = (request.remedies ? 0.3 : 0.8) / styles.length;
      const before = (_s: unknown, stage: Stage): Promise<void> => step(stage, 0.2 + share * (k + PART_DONE[stage]), style);
      const rung = await judgeStyle({ ...bench, before }, style);
      hooks.signal?.throwIfAborted();
      rungs.push(rung);
      tell({ type: 'rung', rung });
    }
    for (const [k, style] of request.remedies ? styles.entries() : []) {
      const rung = rungs[k] as Rung;
      const before = (): Promise<void> => step('remedy', 0.5 + (0.5 * k) / styles.length, style);
      const remedies = await findRemedies({ ...bench, before }, style, rung, rungs.slice(k + 1));
      hooks.signal?.throwIfAborted();
      if (remedies.length === 0) continue;
      rungs[k] = { ...rung, remedies };
      tell({ type: 'rung', rung: rungs[k] });
    }
    const findings: Finding[] = [...scan.findings, ...thinning, ...seen, ...(finding ? [finding] : [])];
    return { scan, side, ear, corrections, order, needs, rules, seed, effort, cuts, rungs, recommended: recommend(rungs, needs), findings };
  } finally {
    arena.free();
  }
}

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

/** Lets the host draw, take messages and cancel between two steps. */
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
