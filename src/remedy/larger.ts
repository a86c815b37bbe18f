/**
 * The least larger ear that would take a style's kit.
 *
 * Larger by a factor k means: the same shape, everything of it k times as far apart, and cut in proportion. No such ear needs to be
 * built: an arrangement in the ear k times as large is, seen k times smaller, one of k times
 * smaller parts under k times smaller rules in the ear as it is, and every clearance of it is k times smaller. So the kit
 * and the rules are shrunk and judged in the same body, exactly, by the very same check.
 *
 * Where k takes the kit, every larger one does too: about a point within each part, the part stays where its k times
 * larger self would be, which holds it, so that no clearance shrinks (reach of a spout and largest port spacing aside).
 *
 * (The other way to read it, a cast whose surface lies so much further out all round, is in limits.ts, `allRound`.)
 */
import { heightOver } from '../geometry/vec.ts';
import type { Ear } from '../model/ear.ts';
import { type Body, ENOUGH, type Missing } from '../model/fit.ts';
import type { ListedPart, Primitive, Rules, Slot } from '../model/parts.ts';
import { firstOf, lessOf } from './least.ts';
import { Steps, type Trial, type Trials } from './trials.ts';

/** No ear is looked for that is larger than this, per cent. */
export const MOST_PERCENT = 50;
/** Half of a canal's width where nothing is known of it, mm. */
const USUAL_HALF = 3.5;

/**
 * The least whole per cent by which the ear would have to be larger, as far as runs are left; undefined where none was seen
 * to be enough. `lack`: how much the style is short of fitting, mm, as a first guess.
 */
export async function leastLarger(trials: Trials, now: Trial, body: Body, ear: Ear, lack: number): Promise<Missing['larger']> {
  const narrowest = narrowestWidth(body, ear);
  const guess = Math.min(MOST_PERCENT, Math.ceil((100 * lack) / (narrowest === undefined ? USUAL_HALF : narrowest / 2)));
  const steps = new Steps(trials, (percent) => shrunk(now, factorOf(percent)));
  const first = await firstOf([guess, Math.min(MOST_PERCENT, 2 * guess), MOST_PERCENT], 0, steps.passes);
  const { enough } = await lessOf(first, guess >> 2, steps.passes);
  const sure = enough === undefined ? undefined : await steps.sure(enough, MOST_PERCENT);
  if (!sure) return undefined;
  const factor = factorOf(sure.n);
  const width = narrowest === undefined ? {} : { width: { has: narrowest, needs: narrowest * factor } };
  return { percent: sure.n, found: Math.min(ENOUGH, sure.found * factor), ...width };
}

const factorOf = (percent: number): number => 1 + percent / 100;

/** The least width of the canal's sections between a body's cuts, mm; undefined where there are none. */
function narrowestWidth({ cuts }: Body, { sections }: Ear): number | undefined {
  const within = sections.filter(({ at }) => cuts.every(({ plane }) => heightOver(plane, at) <= 0));
  return within.length === 0 ? undefined : Math.min(...within.map((s) => s.minor));
}

/** Everything that is not the ear's, so many times smaller; the cuts are the ear's. */
export function shrunk({ style, order, rules }: Trial, factor: number): Trial {
  const s = 1 / factor;
  const { least, most, tilt } = style.ports;
  const parts = {
    slots: style.slots.map((slot) => slotBy(slot, s)),
    ports: { least: least * s, most: most * s, tilt },
    apart: style.apart.map((rule) => ({ ...rule, least: rule.least * s })),
  };
  return {
    style: { ...style, ...parts },
    order: order.vent === undefined ? order : { ...order, vent: order.vent * s },
    rules: rulesBy(rules, s),
  };
}

const rulesBy = (r: Rules, s: number): Rules => ({
  wall: r.wall * s,
  faceplate: r.faceplate * s,
  gap: r.gap * s,
  partGap: r.partGap * s,
  suspension: r.suspension * s,
  tolerance: r.tolerance * s,
});

function slotBy(slot: Slot, s: number): Slot {
  const listed = (p: ListedPart): ListedPart => partBy(p, s);
  if (slot.takes === 'receiver') {
    const sizes = Object.entries(slot.sizes).map(([size, part]) => [size, listed(part)] as const);
    return { ...slot, sizes: Object.fromEntries(sizes) };
  }
  if (slot.takes === 'microphones') return { ...slot, part: listed(slot.part) };
  const whole = { ...slot, part: listed(slot.part), alternatives: slot.alternatives.map(listed) };
  return whole.takes === 'cell' && whole.rechargeable ? { ...whole, rechargeable: listed(whole.rechargeable) } : whole;
}

function partBy(part: ListedPart, s: number): ListedPart {
  const { seat, margin } = part;
  return {
    ...part,
    primitives: part.primitives.map((p): Primitive => ({ ...p, size: by(p.size, s), position: by(p.position, s) })),
    seat: seat.at === 'tip' ? { ...seat, spout: by(seat.spout, s), reach: seat.reach * s } : seat,
    margin: margin === 'suspension' ? margin : margin * s,
  };
}

const by = ([x, y, z]: Primitive['size'], s: number): Primitive['size'] => [x * s, y * s, z * s];
