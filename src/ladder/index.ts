/**
 * The ladder: every style from the smallest to the largest, judged.
 */
import { arrangeKit } from '../arrange/index.ts';
import type { Kernel } from '../geometry/kernel.ts';
import type { Ear } from '../model/ear.ts';
import { type Arrangement, type Body, type Ceiling, type Effort, ENOUGH, type Reason, type Rung } from '../model/fit.ts';
import type { Order } from '../model/order.ts';
import type { Kit, Rules } from '../model/parts.ts';
import { CELL_CAUTION } from '../order/index.ts';
import { kitFor, type Style } from '../parts/index.ts';
import { boundSpare } from '../prove/index.ts';
import { type CastField, carveRoom, type Room } from '../room/index.ts';
import { type CastSolid, type TrimResult, trimCast } from '../trim/index.ts';
import { verifyArrangement } from '../verify/index.ts';
import { type Attempt, reasonFrom, restricted, smallestMisfit, someOf, tightReason, ventReason } from './explain.ts';
import { reportable, verdictOf } from './verdict.ts';
import { bringIn, stuckReason } from './way-in.ts';

export { recommend } from './recommend.ts';

export type Step = 'trim' | 'arrange' | 'verify' | 'prove' | 'explain';

export interface Bench {
  readonly kernel: Kernel;
  readonly ear: Ear;
  readonly solid: CastSolid;
  readonly field: CastField;
  /** How far the scan may lie from the cast that is judged, mm: taken off every spare, added to every ceiling. */
  readonly deviation: number;
  readonly order: Order;
  readonly rules: Rules;
  readonly seed: number;
  readonly effort: Effort;
  readonly shouldStop: () => boolean;
  /** Only the verdict is wanted: no dearer proofs, no reasons, and no search where a proof already says no. */
  readonly brief?: boolean;
  /** In place of the trim, where the host keeps bodies. */
  readonly cut?: (style: Style) => TrimResult;
  /** Called before each step; awaited, so that the host can draw, report and cancel. */
  readonly before: (style: Style, step: Step) => Promise<void>;
}

/** How near a first ceiling should come to the best pose, mm: nearer costs more and changes no verdict. */
const CLOSE = 0.08;
/** The same where only the verdict is wanted. */
const FAR = 0.4;
/** An arrangement this near to a proved ceiling need not be bettered, mm. */
const NEAR_CEILING = 0.1;

/** Judges one style. Never throws for an ear that does not suit: that is an answer. */
export async function judgeStyle(bench: Bench, style: Style): Promise<Rung> {
  const kitResult = kitFor(style, bench.order, bench.rules);
  if (kitResult.kind === 'excluded') {
    return notJudged(style, { code: 'order/excludes', text: kitResult.text, parts: [] });
  }
  await bench.before(style, 'trim');
  const trimmed = bench.cut?.(style) ?? trimCast(bench.solid, bench.ear, style);
  if (trimmed.kind === 'short') return notJudged(style, trimmed.reason);
  const { body } = trimmed;
  const { kit } = kitResult;
  const cautions = [...trimmed.cautions, ...cautionsOf(kit, bench.order)];
  const room = carveRoom(bench.field, body, bench.rules);
  await bench.before(style, 'prove');
  const { deviation } = bench;
  const bound = raised(boundSpare(body, bench.rules, kit, { close: bench.brief ? FAR : CLOSE }), deviation);
  await bench.before(style, 'arrange');
  const { seed, effort, shouldStop, rules } = bench;
  // A proved no needs no long search: what is shown then is only how far the best arrangement is from fitting.
  const hopeless = bound.ceiling < -rules.tolerance;
  const enough = hopeless ? bound.ceiling - NEAR_CEILING : ENOUGH + deviation;
  if (hopeless && bench.brief) return noneFound(style, body, kit, bound, cautions);
  // Where the parts alone do not fit, a vent's course is not looked for.
  const asked = hopeless ? someOf(kit, idsOf(kit)) : kit;
  const result = arrangeKit(room, asked, { seed, effort: hopeless ? 'quick' : effort, enough, shouldStop });
  const { best, ventless } = result;
  if (!best) return noneFound(style, body, kit, bound, cautions);
  await bench.before(style, 'verify');
  const evidence = verifyArrangement(bench.kernel, body, rules, result.kit, best.poses);
  const found = reportable(evidence, rules.tolerance, deviation);
  const ceiling = found < -rules.tolerance && !hopeless && !bench.brief ? await proveRest(bench, style, body, kit) : bound;
  const first: Attempt = { kit: result.kit, arrangement: best, evidence };
  const ground = { ...bench, room, body };
  const { assembly, ...whole } = found >= -rules.tolerance ? bringIn(ground, first, found) : { ...first, found, assembly: undefined };
  const stuck = assembly?.kind === 'stuck' ? assembly : undefined;
  const verdict = stuck ? 'unsettled' : verdictOf(whole.found, ceiling.ceiling, rules.tolerance);
  if (verdict !== 'fits') await bench.before(style, 'explain');
  const short = !bench.brief && whole.found < rules.tolerance ? explain(bench, room, body, whole, ceiling, ventless) : [];
  const reasons = stuck ? [stuckReason(kit, rules, stuck), ...short] : short;
  return { style: style.name, verdict, ...whole, ...provedBy(ceiling), body, ...(assembly ? { assembly } : {}), reasons, cautions };
}

/** Poses looked at for a proof about a part with 6 degrees of freedom, by effort. */
const PROOF_CELLS: Record<Effort, number> = { quick: 5_000, normal: 20_000, thorough: 300_000 };

/** The dearer proofs, asked for only once a search has found nothing good enough. */
async function proveRest(bench: Bench, style: Style, body: Body, kit: Kit): Promise<Ceiling> {
  await bench.before(style, 'prove');
  return raised(boundSpare(body, bench.rules, kit, { depth: 'rest', freeCells: PROOF_CELLS[bench.effort] }), bench.deviation);
}

const idsOf = (kit: Kit): string[] => kit.parts.map((p) => p.id);

const provedBy = ({ ceiling, parts }: Ceiling) => (parts.length > 0 ? { ceiling, proved: parts } : { ceiling });

const raised = (bound: Ceiling, by: number): Ceiling => ({ ...bound, ceiling: bound.ceiling + by });

/** A cell that is taken out can be swallowed; one that is charged in place stays in. */
const cautionsOf = (kit: Kit, order: Order): string[] =>
  !order.rechargeable && kit.parts.some((p) => p.kind === 'cell') ? [`${CELL_CAUTION.text} (${CELL_CAUTION.source})`] : [];

const notJudged = (style: Style, reason: Reason): Rung => ({
  style: style.name,
  verdict: 'not-judged',
  ceiling: Infinity,
  reasons: [reason],
  cautions: [],
});

function noneFound(style: Style, body: Body, kit: Kit, bound: Ceiling, cautions: readonly string[]): Rung {
  const begun = kit.vent
    ? `no course for a vent of ${kit.vent.toFixed(1)} mm leads from the faceplate to the tip`
    : 'no arrangement could even be begun in this body';
  const text = bound.parts.length > 0 ? bound.text : begun;
  const reason: Reason = { code: bound.parts.length > 0 ? 'part-alone' : 'no-arrangement', text, parts: bound.parts };
  const verdict = bound.parts.length > 0 ? 'does-not-fit' : 'unsettled';
  return { style: style.name, verdict, ...provedBy(bound), body, kit, reasons: [reason], cautions };
}

/** The reasons, the most telling first. */
function explain(bench: Bench, room: Room, body: Body, whole: Attempt, bound: Ceiling, ventless: Arrangement | undefined): Reason[] {
  const ground = { ...bench, room, body };
  const { tolerance } = bench.rules;
  const vent = ventless ? ventReason(ground, whole, ventless) : [];
  if (whole.evidence.spare >= -tolerance) {
    const faults = whole.evidence.faults.map((text): Reason => ({ code: 'verification', text, parts: [] }));
    return [...faults, tightReason(ground, whole), ...vent];
  }
  const proved = bound.ceiling < -tolerance;
  // What a proof names need not be searched for: those parts lack the most where they stand.
  const small = proved ? restricted(ground, whole, bound.parts) : (smallestMisfit(ground, whole.kit) ?? whole);
  const reason = reasonFrom(ground, small);
  return [reason, ...vent, ...(proved ? [{ code: 'ceiling', text: bound.text, parts: bound.parts }] : [])];
}
