/** The canal's marks under the depth slider: each can be dragged, or moved with the arrow keys, to where a person sees it. */
import { figure, svg } from './dom.ts';
import { LINE_MARKS, type LineMark, MARK_WORDS, moved, setBy, taken } from './marks.ts';
import type { Session } from './session.ts';
import type { OpenCase, Store } from './store.ts';

/** From depths to places across the strip, px, and from a way across to a way in depth. */
export interface Across {
  readonly width: number;
  readonly x: (depth: number) => number;
  readonly depths: (dx: number) => number;
}

export interface CanalTicks {
  ticksOf(shown: OpenCase, across: Across): SVGElement[];
  /** Is one being moved? */
  held(): boolean;
}

/** After the last arrow key the ear is judged anew, ms. */
const PATIENCE = 900;
/** Shorter ways are a click, px. */
const CLICK = 3;

/** Width of a letter of the words, px. */
const LETTER = 6.8;

const LABELS: Record<LineMark, string> = { aperture: 'Aperture', firstBend: 'First bend', secondBend: 'Second bend', end: 'End' };

/** What one mark is and where it is drawn. */
interface Tick {
  readonly shown: OpenCase;
  readonly mark: LineMark;
  readonly depth: number;
  readonly hand: boolean;
  readonly across: Across;
  readonly row: number;
  /** The word's middle, px. */
  readonly at: number;
}

/** What is being moved; `moving` is told, so that nobody draws the strip anew meanwhile. */
interface Hold {
  moving: 'pointer' | 'keys' | undefined;
  timer?: ReturnType<typeof setTimeout>;
}

/** `look` moves the section to a depth. */
export function canalTicks(store: Store, session: Session, look: (depth: number) => void): CanalTicks {
  const hold: Hold = { moving: undefined };
  const release = (): void => {
    clearTimeout(hold.timer);
    hold.moving = undefined;
  };
  const commit = ({ shown, mark }: Tick, depth: number): void => {
    release();
    if (store.get().shown?.ear === shown.ear) session.correct(moved(shown.ear, shown.source.corrections ?? {}, mark, depth));
  };
  const asFound = ({ shown, mark, hand }: Tick): void => {
    release();
    if (hand) session.correct(taken(shown.source.corrections ?? {}, mark));
  };

  function tickOf(tick: Tick): SVGElement {
    const group = drawTick(tick);
    let now = tick.depth;
    const to = (next: number): void => {
      now = within(tick.shown, next);
      group.setAttribute('transform', `translate(${tick.across.x(now) - tick.across.x(tick.depth)} 0)`);
      tellDepth(group, tick, now);
      look(now);
    };
    const back = (): void => {
      release();
      to(tick.depth);
    };
    const settle = (): void => (Math.abs(now - tick.depth) > 1e-9 ? commit(tick, now) : back());
    dragged(group, {
      begin: () => {
        release();
        hold.moving = 'pointer';
      },
      to: (dx) => to(tick.depth + tick.across.depths(dx)),
      end: (kept) => (kept ? settle() : back()),
    });
    group.addEventListener('keydown', (event) => {
      const way = ARROWS[event.key];
      if (event.key === 'Escape' && hold.moving) back();
      else if (event.key === 'Enter' && hold.moving) settle();
      else if (event.key === 'Delete' || event.key === 'Backspace') asFound(tick);
      else if (way !== undefined) {
        clearTimeout(hold.timer);
        hold.moving = 'keys';
        hold.timer = setTimeout(settle, PATIENCE);
        to(now + (event.shiftKey ? 10 * way : way));
      } else return;
      event.preventDefault();
      event.stopPropagation();
    });
    group.addEventListener('blur', () => {
      if (hold.moving === 'keys') settle();
    });
    return group;
  }

  return {
    held: () => hold.moving !== undefined,
    ticksOf: (shown, across) => laidOut(shown, across).map(tickOf),
  };
}

const ARROWS: Readonly<Record<string, number>> = {
  ArrowRight: 0.1,
  ArrowUp: 0.1,
  ArrowLeft: -0.1,
  ArrowDown: -0.1,
  PageUp: 1,
  PageDown: -1,
};

/** To a twentieth of a millimetre, on the centreline. */
function within({ ear }: OpenCase, depth: number): number {
  const { depths } = ear.centreline;
  return Math.round(20 * Math.max(Number(depths[0]), Math.min(Number(depths.at(-1)), depth))) / 20;
}

/** The marks of an ear and where their words go: in a second row where they would run into each other. */
function laidOut(shown: OpenCase, across: Across): Tick[] {
  const rows = [-Infinity, -Infinity];
  return LINE_MARKS.flatMap((mark) => {
    const depth = mark === 'aperture' ? 0 : shown.ear[mark]?.depth;
    if (depth === undefined) return [];
    const w = LETTER * LABELS[mark].length;
    const at = Math.max(w / 2, Math.min(across.width - w / 2, across.x(depth)));
    const row = at - w / 2 > (rows[0] as number) ? 0 : 1;
    rows[row] = at + w / 2 + 6;
    return [{ shown, mark, depth, hand: setBy(shown.ear, mark) === 'by hand', across, row, at }];
  });
}

function drawTick(tick: Tick): SVGElement {
  const { mark, depth, hand, row, at, across, shown } = tick;
  const [x, word] = [across.x(depth), LABELS[mark]];
  const wide = LETTER * word.length + 10;
  const hint = hand ? 'set by hand; Delete takes it back' : 'found by the survey; drag it to where you see it';
  const { depths } = shown.ear.centreline;
  const group = svg(
    'g',
    {
      class: hand ? 'canal-mark by-hand' : 'canal-mark',
      role: 'slider',
      tabindex: 0,
      'data-mark': mark,
      'aria-label': `${MARK_WORDS[mark]}, mm deep`,
      'aria-valuemin': String(depths[0]),
      'aria-valuemax': String(depths.at(-1)),
    },
    svg('rect', { class: 'grip', x: at - wide / 2, y: 10 + 13 * row, width: wide, height: 16, rx: 3 }),
    svg('rect', { class: 'reach', x: x - 6, y: 0, width: 12, height: 14 + 13 * row }),
    svg('line', { class: 'tick', x1: x, x2: x, y1: 0, y2: 12 + 12 * row }),
    svg('text', { class: 'tick-word', x: at, y: 22 + 13 * row, 'text-anchor': 'middle' }, word),
    svg('title', {}, `${MARK_WORDS[mark]}: ${hint}`),
  );
  tellDepth(group, tick, depth);
  return group;
}

function tellDepth(group: SVGElement, { hand }: Tick, depth: number): void {
  group.setAttribute('aria-valuenow', depth.toFixed(2));
  group.setAttribute('aria-valuetext', `${figure(depth)} mm, ${hand ? 'set by hand' : 'found by the survey'}`);
}

/** Pointer moves from a press on. `end(false)`: it was a click, or was broken off. */
function dragged(group: SVGElement, on: { begin(): void; to(dx: number): void; end(kept: boolean): void }): void {
  group.addEventListener('pointerdown', (down) => {
    if (down.button !== 0) return;
    down.preventDefault();
    group.focus();
    group.setPointerCapture(down.pointerId);
    on.begin();
    const ended = new AbortController();
    const { signal } = ended;
    group.addEventListener('pointermove', (event) => on.to(event.clientX - down.clientX), { signal });
    for (const type of ['pointerup', 'pointercancel'] as const) {
      group.addEventListener(
        type,
        (event) => {
          ended.abort();
          on.end(type === 'pointerup' && Math.abs(event.clientX - down.clientX) >= CLICK);
        },
        { signal },
      );
    }
  });
}
