/**
 * Upper limits on the spare of any arrangement, proved: if one part alone (or two, or three) cannot be posed with more than
 * c mm to spare, no arrangement of the kit has more than c. Every limit is rigorous: parts are replaced by points and balls of theirs, the cast
 * by exact distances to its triangles, and cells of poses by what no pose in them can exceed.
 */
import type { Body, Ceiling, Measured } from '../model/fit.ts';
import type { Kit, Part, Rules } from '../model/parts.ts';
import { Prover, portsAmong } from './prover.ts';
import { keyOf, setsOf } from './sets.ts';

export { Prover } from './prover.ts';

export interface ProveOptions {
  /** Cells of poses for a part seated at the faceplate (3 degrees of freedom). */
  readonly seatedCells?: number;
  /** Cells of poses for any other part (6 degrees of freedom); without `steps`, eight times as many for all that is not seated alone. */
  readonly freeCells?: number;
  /** Cells of poses, and of poses of several parts at once, for everything but seated parts alone. */
  readonly steps?: number;
  /** How near a ceiling should come to the best pose, mm. */
  readonly close?: number;
  /** What will be added to the ceiling, mm (how far the scan may lie from the cast): a proof must reach that much farther down. */
  readonly raise?: number;
  /** What was measured of an arrangement that was found: sets of parts that have their place there need no proof. */
  readonly known?: readonly Measured[];
  readonly shouldStop?: () => boolean;
  /**
   * seated (default): parts at the faceplate, each alone: some hundredths of a second.
   * rest: every other part alone, then two and three together: up to some seconds, so ask for it only after a search
   * has found nothing good enough. all: both.
   */
  readonly depth?: 'seated' | 'rest' | 'all';
}

/**
 * What is known of a proved set with one part less: it has its place in an arrangement; the bounds met poses at which they
 * see nothing lacking, so that no proof can come of them; or neither (not settled, or not looked at).
 */
export interface Smaller {
  readonly parts: readonly string[];
  readonly known: 'placed' | 'possible' | 'open';
}

export interface Proof extends Ceiling {
  /** Of the proved set: what each set with one part less is known to do. No smaller set was proved impossible. */
  readonly smaller: readonly Smaller[];
}

/** Added to every ceiling: the sum of all rounding, mm. */
const SLACK = 1e-6;
/** How far below the tolerance a ceiling has to lie to decide a verdict, mm. */
const BELOW = 1e-4;
/** How often a proved ceiling is tried lower, how near to the best pose that goes, how far the first time, mm. */
const LOWER = { tries: 2, times: 2, close: 0.04, first: 0.1 } as const;
/** The most of what steps are left that one set may take. */
const SHARE = 0.6;
/** Steps for each of `freeCells`. */
const PER_CELL = 8;
/** No more steps than this: what is known of their cells is kept, up to half a gigabyte. */
const MOST = 600_000;
/** With less left than this no other set is begun. */
const FEWEST = 500;

const NOTHING: Proof = { ceiling: Infinity, parts: [], text: 'nothing is proved', smaller: [] };

/**
 * A rigorous upper bound on the spare of any arrangement of `kit` in `body` (ear frame, mm), from one, two and three parts;
 * ceiling +Infinity when none lies below -tolerance - raise. Stops at the first set that is proved. Deterministic: stops by counts.
 */
export function boundSpare(body: Body, rules: Rules, kit: Kit, options: ProveOptions = {}): Proof {
  const depth = options.depth ?? 'seated';
  const prover = new Prover(body, rules);
  const target = -rules.tolerance - (options.raise ?? 0);
  const seated = depth === 'rest' ? NOTHING : seatedAlone(prover, kit, target, options);
  return depth === 'seated' || seated.parts.length > 0 ? seated : new Rest(prover, kit, target - BELOW, options).proof();
}

function seatedAlone(prover: Prover, kit: Kit, target: number, options: ProveOptions): Proof {
  const { seatedCells: cells = 3000, close = 0.02, shouldStop } = options;
  for (const [part] of setsOf(kit, 1).filter(([p]) => p?.seat.at === 'faceplate')) {
    const bound = part && prover.single(part, { target, cells, close, ...(shouldStop ? { shouldStop } : {}) });
    if (bound && bound.ceiling + SLACK < target)
      return { ...ceilingOf([part], bound.ceiling + SLACK, prover.asked(part).wall), smaller: [] };
  }
  return NOTHING;
}

/** Everything dearer: sets of one to three parts, the cheapest first. */
class Rest {
  readonly #prover: Prover;
  readonly #kit: Kit;
  readonly #target: number;
  readonly #options: ProveOptions;
  readonly #known = new Map<string, Smaller['known']>();
  #left: number; // steps
  #used = 0;

  constructor(prover: Prover, kit: Kit, target: number, options: ProveOptions) {
    this.#prover = prover;
    this.#kit = kit;
    this.#target = target;
    this.#options = options;
    this.#left = Math.min(MOST, options.steps ?? PER_CELL * (options.freeCells ?? 20_000));
  }

  proof(): Proof {
    for (const size of [1, 2, 3]) {
      for (const set of setsOf(this.#kit, size)) {
        if (this.#left < FEWEST || this.#options.shouldStop?.()) return NOTHING;
        const known = this.#tried(set);
        if (known === 'proved') return this.#lowered(set);
        this.#known.set(keyOf(set), known);
      }
    }
    return NOTHING;
  }

  #tried(set: readonly Part[]): Smaller['known'] | 'proved' {
    if (this.#placed(set)) return 'placed';
    const [first] = set;
    if (set.length === 1 && first) {
      if (this.#prover.climbed(first, this.#target) >= this.#target) return 'possible';
      // Each alone was looked at to the end before.
      if (first.seat.at === 'faceplate') return 'open';
    }
    return this.#group(set, this.#target, SHARE * this.#left).answer;
  }

  #group(set: readonly Part[], target: number, steps: number) {
    const { shouldStop } = this.#options;
    const bound = this.#prover.group(set, target, { steps, pairRules: this.#kit.pairRules, ...(shouldStop ? { shouldStop } : {}) });
    this.#used += bound.steps;
    this.#left -= bound.steps;
    return bound;
  }

  /** Do these parts lack nothing to speak of in the known arrangement? */
  #placed(set: readonly Part[]): boolean {
    const own = this.#own(set);
    return own !== undefined && own >= this.#target;
  }

  /** What these parts have in the known arrangement, without the others. */
  #own(set: readonly Part[]): number | undefined {
    const ids = set.map((p) => p.id);
    const of = this.#options.known?.filter((m) => ids.includes(m.part) && (m.other === undefined || ids.includes(m.other)));
    return of && of.length > 0 ? Math.min(...of.map((m) => m.spare)) : undefined;
  }

  /** A proved set's ceiling, tried lower, half-way to the best that is known at most; each try may take twice as long as all did until then. */
  #lowered(set: readonly Part[]): Proof {
    let ceiling = this.#target;
    let best = this.#own(set) ?? -Infinity;
    const steps = this.#used;
    for (let turn = 1; turn <= LOWER.tries && ceiling - best > LOWER.close && this.#left > FEWEST; turn++) {
      const target = Math.max((ceiling + best) / 2, ceiling - LOWER.first * turn);
      const bound = this.#group(set, target, Math.min(LOWER.times * steps, this.#left));
      if (bound.answer === 'proved') ceiling = target;
      else best = Math.max(best, target);
    }
    const smaller = set.length === 1 ? [] : set.map((p) => this.#smaller(set.filter((q) => q !== p)));
    const ported = portsAmong(set, this.#kit.pairRules) !== undefined;
    const proved = ceilingOf(set, ceiling + SLACK, this.#prover.asked(set[0] as Part).wall, ported);
    return { ...proved, text: `${proved.text}${fewerWords(smaller)}`, smaller };
  }

  #smaller(set: readonly Part[]): Smaller {
    return { parts: set.map((p) => p.id), known: this.#known.get(keyOf(set)) ?? 'open' };
  }
}

/** Whether fewer of them are to blame, as far as that is known. */
function fewerWords(smaller: readonly Smaller[]): string {
  if (smaller.length === 0 || smaller.some((s) => s.known === 'open')) return '';
  return smaller.every((s) => s.known === 'placed')
    ? '; any fewer of them have their place'
    : '; no fewer of them can be shown to be impossible';
}

const ALONE = {
  faceplate: 'wherever it slides under the faceplate and however it is turned there',
  tip: 'wherever it points out of the tip within its reach and cone',
  free: 'wherever it lies and however it is turned',
  shell: 'where it is grown',
} as const;

function ceilingOf(set: readonly Part[], ceiling: number, asked: number, ported = false): Ceiling {
  const [first] = set;
  const lack = (-ceiling).toFixed(2);
  const parts = set.map((p) => p.id);
  if (set.length === 1 && first) {
    const text = `${first.name} alone cannot be placed: ${ALONE[first.seat.at]}, some point of it is at least ${lack} mm short of the ${asked.toFixed(2)} mm asked to the outside of the shell`;
    return { ceiling, parts, text };
  }
  const names = set.map((p) => p.name);
  const all = `${names.slice(0, -1).join(', ')} and ${names.at(-1)} cannot ${set.length === 2 ? 'both' : 'all'}`;
  const seated = set.every((p) => p.seat.at === 'faceplate');
  const how = seated
    ? 'be seated at the faceplate: wherever they slide and turn'
    : 'be placed: wherever they lie within their seats and however they are turned';
  const rule = ported ? ' with their ports as the style asks' : '';
  return { ceiling, parts, text: `${all} ${how}${rule}, they lack at least ${lack} mm between each other or to the outside of the shell` };
}
