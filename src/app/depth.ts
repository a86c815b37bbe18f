/** Choosing the depth of the section: a slider with the canal's landmarks, and a field that takes exact numbers. */
import { heightOver, pointAt } from '../geometry/vec.ts';
import type { Centreline } from '../model/ear.ts';
import type { Body } from '../model/fit.ts';
import { type Across, canalTicks } from './canal-ticks.ts';
import { figure, h, svg, typed } from './dom.ts';
import type { Session } from './session.ts';
import { type State, type Store, selectedRung } from './store.ts';

/** Half the slider's thumb, px: its travel is shorter than its track by this at each end. */
const THUMB = 8;

export function mountDepth(head: HTMLElement, host: HTMLElement, store: Store, session: Session): void {
  const ticks = svg('svg');
  const slider = h('input', { class: 'rail', type: 'range', step: 0.05, 'aria-label': 'Depth of the section, mm from the aperture' });
  const field = h('input', { type: 'text', inputmode: 'decimal', role: 'spinbutton', 'aria-label': 'Depth, mm', autocomplete: 'off' });
  head.append(h('label', {}, field, 'mm deep'));
  host.append(slider, ticks);
  const go = (depth: number): void => {
    const range = rangeOf(store.get());
    if (range && Number.isFinite(depth)) store.send({ type: 'depth', depth: Math.max(range[0], Math.min(range[1], depth)) });
  };
  slider.addEventListener('input', () => go(Number(slider.value)));
  // Arrow keys in the field step from the exact number, not to a grid.
  field.addEventListener('keydown', (event) => {
    const step = { ArrowUp: 0.1, ArrowDown: -0.1, PageUp: 1, PageDown: -1 }[event.key];
    if (event.key === 'Enter') go(typed(field.value));
    if (step === undefined) return;
    event.preventDefault();
    go(Math.round((store.get().depth + (event.shiftKey ? 10 * step : step)) * 1e6) / 1e6);
  });
  field.addEventListener('change', () => {
    go(typed(field.value));
    field.value = plain(store.get().depth);
  });
  let drawn: unknown[] = [];
  const marks = canalTicks(store, session, go);
  const drawTicks = (): void => {
    if (marks.held()) return; // what is being dragged stays under the pointer
    const state = store.get();
    const width = host.clientWidth;
    const key = [state.shown?.ear, selectedRung(state)?.rung.body, width];
    if (key.every((k, i) => k === drawn[i]) || !state.shown || width === 0) return;
    drawn = key;
    ticks.setAttribute('viewBox', `0 0 ${width} 40`);
    const across = acrossOf(state.shown.ear.centreline, width);
    const body = selectedRung(state)?.rung.body;
    ticks.replaceChildren(...(body ? extentTicks(state.shown.ear.centreline, body, across) : []), ...marks.ticksOf(state.shown, across));
  };
  new ResizeObserver(drawTicks).observe(host);
  store.watch((now, before) => {
    const range = rangeOf(now);
    slider.disabled = field.disabled = !range;
    if (range && now.shown?.ear !== before?.shown?.ear) {
      slider.min = String(range[0]);
      slider.max = String(range[1]);
      for (const [name, value] of [
        ['aria-valuemin', range[0]],
        ['aria-valuemax', range[1]],
      ] as const)
        field.setAttribute(name, String(value));
    }
    if (Number(slider.value) !== now.depth) slider.value = String(now.depth);
    slider.setAttribute('aria-valuetext', `${figure(now.depth)} mm`);
    field.setAttribute('aria-valuenow', String(now.depth));
    if (typed(field.value) !== now.depth) field.value = plain(now.depth);
    drawTicks();
  });
}

/** At least two decimals; more where the number has them. */
function plain(x: number): string {
  const exact = Math.round(x * 1e9) / 1e9;
  return (Number(exact.toFixed(2)) === exact ? exact.toFixed(2) : String(exact)).replace('-', '−');
}

/** From the centreline's lateral end to the end of the impression. */
function rangeOf({ shown }: State): [number, number] | undefined {
  if (!shown) return undefined;
  const { depths } = shown.ear.centreline;
  return [Math.ceil((depths[0] as number) * 20) / 20, Math.floor((depths[depths.length - 1] as number) * 20) / 20];
}

function acrossOf({ depths }: Centreline, width: number): Across {
  const [lo, hi] = [Number(depths[0]), Number(depths.at(-1))];
  const scale = (width - 2 * THUMB) / (hi - lo);
  return { width, x: (depth) => THUMB + scale * (depth - lo), depths: (dx) => dx / scale };
}

function extentTicks(line: Centreline, body: Body, { x }: Across): SVGElement[] {
  const reach = extentOf(line, body);
  if (!reach) return [];
  const wide = Math.max(1, x(reach[1]) - x(reach[0]));
  return [
    svg('rect', { class: 'extent', x: x(reach[0]), y: 2, width: wide, height: 5 }),
    ...reach.map((d) => svg('line', { class: 'cut', x1: x(d), x2: x(d), y1: 0, y2: 9 })),
  ];
}

/** Between which depths the centreline runs inside the body, to a fiftieth of a millimetre. */
export function extentOf(line: Centreline, body: Body): [number, number] | undefined {
  const n = line.depths.length;
  let [lo, hi] = [Infinity, -Infinity];
  const over = (i: number): number => Math.max(...body.cuts.map((c) => heightOver(c.plane, pointAt<'ear'>(line.points, i))));
  for (let i = 0; i + 1 < n; i++) {
    const [a, b] = [over(i), over(i + 1)];
    const [da, db] = [line.depths[i] as number, line.depths[i + 1] as number];
    if (a > 0 && b > 0) continue;
    const s = a === b ? 0 : a / (a - b);
    const cross = da + Math.max(0, Math.min(1, s)) * (db - da);
    lo = Math.min(lo, a <= 0 ? da : cross);
    hi = Math.max(hi, b <= 0 ? db : cross);
  }
  return lo < hi ? [lo, hi] : undefined;
}
