/** How the parts go in, one after the other: worked out from the verified motions, and the player that shows it in the scene. */
import { moveAt } from '../assemble/play.ts';
import { distance, type Pose } from '../geometry/vec.ts';
import type { Body, Move, Rung } from '../model/fit.ts';
import type { SceneView } from '../viewer/scene.ts';
import { type Shaded, shade } from '../viewer/shade.ts';
import { thin } from '../viewer/thin.ts';
import { motionBetween, type OnTheWay, openingOf, openShell, plateOf, type Stand } from '../viewer/way.ts';
import { figure, h, percent, still, svg } from './dom.ts';
import { rulesOf, type State, type Store, selectedRung } from './store.ts';

/** How long one move takes, ms. */
const MOVE_TIME = 1200;
/** Longest time that one picture may stand for, ms: after a halt the motion goes on from where it was. */
const LONGEST = 100;

/** One move of the whole: what goes in, and where it ends. */
export interface Step {
  readonly move: Move;
  /** A word or two for the screen, and all that it carries. */
  readonly short: string;
  readonly full: string;
  readonly plate: boolean;
  /** In the order of `move.parts`. */
  readonly places: readonly Pose<'ear'>[];
}

/** The steps of a rung whose parts have a way in; none where there is nothing to show. */
export function stepsOf(rung: Rung | undefined): readonly Step[] {
  const { assembly, kit, arrangement } = rung ?? {};
  if (assembly?.kind !== 'way-in' || !kit || !arrangement) return [];
  return assembly.moves.map((move) => {
    const carried = move.parts.flatMap((id) => kit.parts.filter((p) => p.id === id));
    const plate = carried.some((p) => p.seat.at === 'faceplate');
    const names = carried.map((p) => p.name).join(', ');
    const places = move.parts.flatMap((id) => arrangement.poses[kit.parts.findIndex((p) => p.id === id)] ?? []);
    return { move, plate, places, short: plate ? 'Faceplate' : names, full: plate ? `Faceplate with ${names}` : names };
  });
}

/** Which step is under way at `at` (0 to the number of steps), and how far it has come, 0 to 1. */
export function stepAt(steps: readonly Step[], at: number): { readonly index: number; readonly share: number } {
  const index = Math.max(0, Math.min(steps.length - 1, Math.floor(at)));
  return { index, share: Math.max(0, Math.min(1, at - index)) };
}

/** Where everything is at `at` that is not in its place: parts by id, and the faceplate. */
export function standsAt(steps: readonly Step[], at: number): { parts: ReadonlyMap<string, Stand>; plate: Stand | undefined } {
  const parts = new Map<string, Stand>();
  const { index, share } = stepAt(steps, at);
  let plate: Stand | undefined;
  for (const [k, step] of steps.entries()) {
    if (k < index || (k === index && share === 1)) continue;
    const now = k === index ? moveAt(step.move, share) : undefined;
    for (const [i, id] of step.move.parts.entries()) {
      const [from, to] = [step.places[i], now?.[i]];
      const where = from && to ? motionBetween(from, to) : 'away';
      parts.set(id, where);
      // What the faceplate carries moves as one with it.
      if (step.plate) plate = where;
    }
  }
  return { parts, plate };
}

/** How far what is under way has yet to go, mm, as the crow flies. */
export function wayLeft(steps: readonly Step[], at: number): number {
  const { index, share } = stepAt(steps, at);
  const step = steps[index];
  if (!step) return 0;
  return Math.max(0, ...moveAt(step.move, share).map((now, i) => distance(now.position, step.places[i]?.position ?? now.position)));
}

/** What is to be seen at `at`, in words. */
export function wordsAt(steps: readonly Step[], at: number): { readonly name: string; readonly count: string; readonly spoken: string } {
  const { index, share } = stepAt(steps, at);
  const step = steps[index];
  const count = `${index + 1} of ${steps.length}`;
  if (!step || at >= steps.length) return { name: 'All in place', count, spoken: 'All parts in their place' };
  const spoken = `${step.full}, ${percent(share)} of the way in, ${figure(wayLeft(steps, at))} mm to go, ${count}`;
  return { name: `${step.short}, ${percent(share)}`, count, spoken };
}

/** Each move starts and ends gently: from its share of the time to its share of the way, and back. */
const eased = (s: number): number => s * s * (3 - 2 * s);
const timeOf = (share: number): number => 0.5 - Math.sin(Math.asin(1 - 2 * share) / 3);

/** Where the player is after so many ms more. */
export function playedOn(at: number, ms: number): number {
  const index = Math.floor(at);
  const time = timeOf(at - index) + ms / MOVE_TIME;
  return index + Math.floor(time) + eased(time - Math.floor(time));
}

/** What the scene draws of a body while parts go in. */
function shapesOf(body: Body, thick: number): Pick<OnTheWay, 'shell' | 'rim'> & { readonly plate: Shaded | undefined } {
  const plate = plateOf(body, thick);
  return { shell: shade(thin(openShell(body))), rim: openingOf(body), plate: plate && shade(plate) };
}

/** What makes a sequence another one. The ladder's end brings the same rungs again: that is no reason to start anew. */
function sameWay(now: State, before: State | undefined, next: readonly Step[], steps: readonly Step[]): boolean {
  return before?.shown?.picture === now.shown?.picture && before?.selected === now.selected && next.length === steps.length;
}

const ICONS = { play: 'M4 2.500v11l9.500-5.500Z', pause: 'M3.500 2.500h3v11h-3ZM9.500 2.500h3v11h-3Z' };

/** The player's controls. */
function makeControls(host: HTMLElement) {
  const icon = svg('path', { d: ICONS.play });
  const label = h('span', {}, 'Way in');
  const button = h('button', { type: 'button' }, svg('svg', { viewBox: '0 0 16 16', 'aria-hidden': 'true' }, icon), label);
  const slider = h('input', {
    class: 'rail',
    type: 'range',
    min: 0,
    max: 100,
    step: 'any',
    'aria-label': 'How far the parts have come in',
  });
  const name = h('span', { class: 'name' });
  const count = h('span', { class: 'count' });
  host.append(button, slider, name, count);
  return {
    button,
    slider,
    show(steps: readonly Step[], at: number, playing: boolean): void {
      host.classList.toggle('none', steps.length === 0);
      if (steps.length === 0) return;
      host.style.setProperty('--moves', String(steps.length));
      icon.setAttribute('d', playing ? ICONS.pause : ICONS.play);
      button.setAttribute('aria-label', playing ? 'Way in: pause' : 'Way in: play');
      const words = wordsAt(steps, at);
      slider.value = String((100 * at) / steps.length);
      slider.setAttribute('aria-valuetext', words.spoken);
      name.textContent = words.name;
      name.title = words.spoken;
      count.textContent = words.count;
    },
  };
}

/** Steps of the slider by key, as shares of the whole. */
const KEYS: Readonly<Record<string, number>> = { ArrowRight: 0.01, ArrowUp: 0.01, ArrowLeft: -0.01, ArrowDown: -0.01 };

/** Where a key takes the player: an arrow by a hundredth of all `n` steps, a page to the next step's start or the one before. */
export function keyedTo(key: string, at: number, n: number): number | undefined {
  if (key === 'PageUp') return Math.min(n, Math.floor(at) + 1);
  if (key === 'PageDown') return Math.max(0, Math.ceil(at) - 1);
  const share = KEYS[key];
  // Rounded, so that a hundred hundredths make the whole.
  return share === undefined ? undefined : Math.max(0, Math.min(n, Math.round(1e9 * (at + share * n)) / 1e9));
}

/** Puts the player into `host`; hidden where the chosen style has no way in to show. Printed, everything is in its place. */
export function mountWayIn(host: HTMLElement, store: Store, view: SceneView): void {
  const player = new Player(makeControls(host), store, view);
  addEventListener('beforeprint', () => {
    player.pause();
    view.setWay(undefined);
    view.flush();
  });
  addEventListener('afterprint', () => player.draw());
  store.watch((now, before) => {
    if (before && now.shown?.picture === before.shown?.picture && selectedRung(now) === selectedRung(before)) return;
    player.take(stepsOf(selectedRung(now)?.rung), now, before);
  });
}

/** Where the sequence stands, and what moves it on. */
class Player {
  readonly #controls: ReturnType<typeof makeControls>;
  readonly #store: Store;
  readonly #view: SceneView;
  #steps: readonly Step[] = [];
  #at = 0;
  #shapes: { readonly of: Body; readonly made: ReturnType<typeof shapesOf> } | undefined;
  #stop: (() => void) | undefined;

  constructor(controls: ReturnType<typeof makeControls>, store: Store, view: SceneView) {
    this.#controls = controls;
    this.#store = store;
    this.#view = view;
    const { button, slider } = controls;
    button.addEventListener('click', () => this.#toggle());
    slider.addEventListener('input', () => this.#go((Number(slider.value) / 100) * this.#steps.length));
    slider.addEventListener('keydown', (event) => {
      const to = keyedTo(event.key, this.#at, this.#steps.length);
      if (event.key === ' ') this.#toggle();
      else if (to !== undefined) this.#go(to);
      else return;
      event.preventDefault();
    });
  }

  /** Another sequence starts with everything in its place; the same one stays where it is. */
  take(next: readonly Step[], now: State, before: State | undefined): void {
    const same = sameWay(now, before, next, this.#steps);
    this.#steps = next;
    if (!same) {
      this.pause();
      this.#at = next.length;
      this.draw();
    } else if (this.#at < next.length) this.draw(); // the rung is the same; its arrays may be new
  }

  pause(): void {
    this.#stop?.();
    this.#stop = undefined;
  }

  draw(): void {
    this.#view.setWay(this.#scene());
    this.#controls.show(this.#steps, this.#at, this.#stop !== undefined);
  }

  #scene(): OnTheWay | undefined {
    const state = this.#store.get();
    const body = selectedRung(state)?.rung.body;
    if (!body || !state.shown || this.#at >= this.#steps.length) return undefined;
    // Made when first asked for.
    if (this.#shapes?.of !== body) this.#shapes = { of: body, made: shapesOf(body, rulesOf(state.shown).faceplate) };
    const { parts, plate } = standsAt(this.#steps, this.#at);
    const { shell, rim, plate: shape } = this.#shapes.made;
    return { shell, rim, parts, plate: shape && plate && { shape, stand: plate } };
  }

  #move(to: number): void {
    this.#at = Math.max(0, Math.min(this.#steps.length, to));
    if (this.#at >= this.#steps.length) this.pause();
    this.draw();
  }

  /** By hand: what plays stops. */
  #go(to: number): void {
    this.pause();
    this.#move(to);
  }

  #toggle(): void {
    if (this.#stop) this.pause();
    else {
      if (this.#at >= this.#steps.length) this.#at = 0;
      this.#stop = still() ? beat(() => this.#move(Math.floor(this.#at) + 1)) : glide((ms) => this.#move(playedOn(this.#at, ms)));
    }
    this.draw();
  }
}

/** Calls with the ms since the last picture until it is stopped. */
function glide(step: (ms: number) => void): () => void {
  let last = performance.now();
  let asked = 0;
  const next = (now: number): void => {
    asked = requestAnimationFrame(next);
    const ms = Math.max(0, Math.min(LONGEST, now - last));
    last = now;
    step(ms);
  };
  asked = requestAnimationFrame(next);
  return () => cancelAnimationFrame(asked);
}

/** Calls once a move's time until it is stopped. */
function beat(step: () => void): () => void {
  const timer = setInterval(step, MOVE_TIME);
  return () => clearInterval(timer);
}
