/**
 * Arrange: the poses of a kit's parts in a room that leave the greatest spare.
 */
import { type Arrangement, type Effort, ENOUGH } from '../model/fit.ts';
import type { Kit } from '../model/parts.ts';
import type { Room } from '../room/index.ts';
import { Exact } from './exact.ts';
import { type Model, modelOf } from './model.ts';
import { preferred } from './prefer.ts';
import { type Budget, Search } from './search.ts';
import { newWorld, placeAll, poseOf, type State } from './state.ts';
import { arrangeVented } from './vent/index.ts';

export interface ArrangeOptions {
  readonly seed: number;
  readonly effort: Effort;
  /** Stop once the exact spare reaches this, mm. */
  readonly enough?: number;
  /** Each better arrangement as it is found. */
  readonly onBest?: (best: Arrangement) => void;
  /** Asked often; true ends the search with what it has. */
  readonly shouldStop?: () => boolean;
}

export interface ArrangeResult {
  /** The kit, with the vent among its parts where one was asked for and has its place. */
  readonly kit: Kit;
  /** The best arrangement found, whatever its spare; undefined only where no part could be begun at all. */
  readonly best?: Arrangement | undefined;
  /** Where a vent was asked for: the best arrangement without it, of the kit as it was asked. */
  readonly ventless?: Arrangement;
  /** How often all clearances of an arrangement, or of one part, were evaluated. */
  readonly evaluations: number;
  /** Exact spare of each part alone, the best found, mm: no arrangement of the kit can be expected above the least of them. */
  readonly alone: readonly number[];
  /** True when shouldStop ended it. */
  readonly stopped: boolean;
}

/** mm; counts. Efforts differ in counts only, never in what counts as a fit. */
export const ARRANGE_DEFAULTS = {
  enough: ENOUGH,
  effort: {
    quick: { aloneDraws: 80, aloneClimbs: 5, draws: 50, pool: 40, rounds: 3, starts: 12, climbs: 4, redraws: 6, shakes: 3 },
    normal: { aloneDraws: 150, aloneClimbs: 10, draws: 120, pool: 90, rounds: 6, starts: 40, climbs: 10, redraws: 30, shakes: 12 },
    thorough: { aloneDraws: 500, aloneClimbs: 24, draws: 400, pool: 250, rounds: 8, starts: 120, climbs: 24, redraws: 120, shakes: 40 },
  } satisfies Record<Effort, Budget>,
} as const;

/**
 * Finds the arrangement of `kit` in `room` with the greatest spare (ear frame, mm), by exact distances; of a kit that asks
 * for a vent with the vent's course, which is then one of its parts. Same room, kit and options: same bytes. Any subset of a
 * kit may be asked for.
 */
export function arrangeKit(room: Room, kit: Kit, options: ArrangeOptions): ArrangeResult {
  if (!kit.vent || kit.parts.some((p) => p.seat.at === 'shell')) return arrangeFixed(room, kit, options);
  const { onBest: _, ...quiet } = options;
  const plain = arrangeFixed(room, kit, quiet);
  if (!plain.best || plain.stopped) return { ...plain, best: undefined };
  const { evaluations, alone } = plain;
  const shouldStop = options.shouldStop ?? (() => false);
  const { effort, enough = ARRANGE_DEFAULTS.enough } = options;
  let sum = evaluations;
  const vented = arrangeVented(room, kit, plain.best, { effort, enough, shouldStop }, (fixed, effort, enough) => {
    const { best, evaluations } = arrangeFixed(room, fixed, { ...quiet, effort, enough });
    sum += evaluations;
    return best;
  });
  if (vented) options.onBest?.(vented.best);
  return { kit: vented?.kit ?? kit, best: vented?.best, ventless: plain.best, evaluations: sum, alone, stopped: shouldStop() };
}

/** Every part that moves is arranged; what is grown into the shell stays where it is. */
function arrangeFixed(room: Room, kit: Kit, options: ArrangeOptions): ArrangeResult {
  const model = modelOf(room, kit);
  if (model.movable.length === 0 || room.reachable.length === 0) return { kit, evaluations: 0, alone: [], stopped: false };
  const search = new Search(model, options.seed, ARRANGE_DEFAULTS.effort[options.effort], {
    enough: options.enough ?? ARRANGE_DEFAULTS.enough,
    onBest: (state, spare) => options.onBest?.({ poses: posesOf(model, state), spare }),
    shouldStop: options.shouldStop ?? (() => false),
  });
  search.run();
  const alone = search.alone.map((a) => a.spare);
  const { evaluations, stopped } = search;
  if (!search.best) return { kit, evaluations, alone, stopped };
  const chosen = preferred(model, search.best, search.good);
  return { kit, best: { poses: posesOf(model, chosen.state), spare: exactly(model, chosen.state) }, evaluations, alone, stopped };
}

const posesOf = (m: Model, s: State): Arrangement['poses'] => m.parts.map((_, p) => poseOf(m, s, p));

/** The spare once more, from nothing but the poses. */
function exactly(m: Model, s: State): number {
  const w = newWorld(m);
  placeAll(m, s, w);
  return new Exact(m).spare(
    w,
    m.parts.map((_, p) => p),
  );
}
