/** A fit that cannot be put together is none: an arrangement with its way in, or why none was found. */
import { arrangeKit } from '../arrange/index.ts';
import { assembleKit } from '../assemble/index.ts';
import type { Kernel } from '../geometry/kernel.ts';
import type { Ear } from '../model/ear.ts';
import { mm } from '../model/figures.ts';
import { type Assembly, type Body, type Effort, ENOUGH, type Reason } from '../model/fit.ts';
import type { Kit, Rules } from '../model/parts.ts';
import type { Room } from '../room/index.ts';
import { verifyArrangement } from '../verify/index.ts';
import type { Attempt } from './explain.ts';
import { reportable } from './verdict.ts';
import { capital, listed, nameOf } from './words.ts';

/** Other arrangements that are tried where the first has no way in. */
const MORE = 2;

interface Ground {
  readonly kernel: Kernel;
  readonly ear: Pick<Ear, 'centreline'>;
  readonly room: Room;
  readonly body: Body;
  readonly rules: Rules;
  /** How far the scan may lie from the cast that is judged, mm. */
  readonly deviation: number;
  readonly seed: number;
  readonly effort: Effort;
  readonly shouldStop: () => boolean;
}

/** An arrangement, what may be said of its spare (mm), and its way in; undefined when the search was stopped. */
export interface Brought extends Attempt {
  readonly found: number;
  readonly assembly: Assembly | undefined;
}

/**
 * The way in of an arrangement that fits or is tight. Where none is found, other arrangements of the kit are tried: the
 * first with a way in and no less spare, else the one with a way in and the most spare, else the first as it is, stuck.
 */
export function bringIn(ground: Ground, whole: Attempt, found: number): Brought {
  const first = wayOf(ground, whole, found);
  let best = first;
  for (let k = 1; k <= MORE && first.assembly?.kind === 'stuck' && !ground.shouldStop(); k++) {
    const other = another(ground, whole.kit, ground.seed + k);
    if (other?.assembly?.kind !== 'way-in') continue;
    if (best === first || other.found > best.found) best = other;
    if (best.found >= found) break;
  }
  return best;
}

function wayOf(ground: Ground, attempt: Attempt, found: number): Brought {
  const { room, ear, deviation, seed, effort, shouldStop } = ground;
  const options = { deviation, seed, effort, shouldStop };
  const assembly = assembleKit(room, attempt.kit, attempt.arrangement.poses, ear.centreline, options);
  return { ...attempt, found, assembly };
}

/** The arrangement that another seed leads to; undefined where it is not good enough. */
function another(ground: Ground, kit: Kit, seed: number): Brought | undefined {
  const { kernel, room, body, rules, deviation, effort, shouldStop } = ground;
  const { best } = arrangeKit(room, kit, { seed, effort, enough: ENOUGH + deviation, shouldStop });
  if (!best || best.spare < -rules.tolerance) return undefined;
  const evidence = verifyArrangement(kernel, body, rules, kit, best.poses);
  const found = reportable(evidence, rules.tolerance, deviation);
  return found < -rules.tolerance ? undefined : wayOf(ground, { kit, arrangement: best, evidence }, found);
}

/** Why an arrangement whose clearances hold is no fit: what sticks on its way in, and where. */
export function stuckReason(kit: Kit, rules: Rules, stuck: Extract<Assembly, { kind: 'stuck' }>): Reason {
  const seated = stuck.parts.some((id) => kit.parts.find((p) => p.id === id)?.seat.at === 'faceplate');
  const names = listed(stuck.parts.map((id) => nameOf(kit, id)));
  const what = seated ? `the faceplate with ${names}` : names;
  const where = stuck.depth >= 0 ? `${stuck.depth.toFixed(1)} mm inside the aperture` : 'in the concha';
  const why = stuck.lacks > 0 ? `, where it lacks ${mm(stuck.lacks)} to the wall` : '';
  return {
    code: 'assembly',
    text: capital(`no way in found for ${what}: it sticks ${where}${why}`),
    parts: stuck.parts,
    ...(stuck.lacks > 0 ? { needs: rules.wall, has: rules.wall - stuck.lacks } : {}),
    at: stuck.at,
  };
}
