/** The section panel: the cross-section at a depth, to scale on a mm grid, with its least distances. SVG, so that it prints. */
import type { Outline } from '../geometry/section.ts';
import type { Span } from '../viewer/flat.ts';
import { type InPlane, type Slice, type Sliceable, type Squeeze, sliceAt } from '../viewer/slice.ts';
import { mountDepth } from './depth.ts';
import { figure, h, svg } from './dom.ts';
import type { Session } from './session.ts';
import { rulesOf, type State, type Store, selectedRung } from './store.ts';
import { PART_WORDS } from './words.ts';

/** Half the height of what is shown, mm: the next that holds the outlines, so that turning the depth seldom changes the scale. */
const WINDOWS = [5, 6.5, 8, 10, 12.5, 15, 18, 22, 28, 36];

export interface SlicePanel {
  /** What is cut now, for the scene. */
  current(): Slice | undefined;
  onChange(listener: () => void): void;
}

export function mountSlice(host: HTMLElement, store: Store, session: Session): SlicePanel {
  const drawing = svg('svg', { role: 'img', 'aria-label': 'Cross-section' });
  const view = h('div', { class: 'slice-view' }, drawing);
  const figures = h('dl', { class: 'figures' });
  const head = h('div', { class: 'slice-head' }, h('h2', { id: 'slice-title' }, 'Section'));
  const depth = h('div', { class: 'depth' });
  const note = h('p', { class: 'slice-note' }, 'Seen from outside. Distances lie in this plane; the table below has the true ones.');
  host.append(head, view, depth, figures, note);
  mountDepth(head, depth, store, session);
  let slice: Slice | undefined;
  let due = false;
  const listeners: (() => void)[] = [];
  const draw = (): void => {
    due = false;
    const state = store.get();
    const thing = sliceable(state);
    slice = thing && sliceAt(thing, state.depth);
    const box = view.getBoundingClientRect();
    if (slice && box.width > 0) drawSlice(drawing, slice, state, box.width, box.height);
    figures.replaceChildren(...(slice ? figuresOf(slice) : []));
    note.hidden = !slice;
    for (const listener of listeners) listener();
  };
  const later = (): void => {
    if (!due) requestAnimationFrame(draw);
    due = true;
  };
  new ResizeObserver(later).observe(view);
  store.watch((now, before) => {
    const same = before && now.depth === before.depth && now.shown?.ear === before.shown?.ear && selectedRung(now) === selectedRung(before);
    if (!same) later();
  });
  return { current: () => slice, onChange: (listener) => listeners.push(listener) };
}

/** What can be cut: the case with the chosen rung's body and arrangement. */
export function sliceable(state: State): Sliceable | undefined {
  const { shown } = state;
  if (!shown) return undefined;
  const rung = selectedRung(state)?.rung;
  return {
    ear: shown.ear,
    body: rung?.body,
    kit: rung?.kit,
    arrangement: rung?.arrangement,
    rules: rulesOf(shown),
    reasons: rung?.reasons,
  };
}

interface Paper {
  readonly x: (u: number) => number;
  readonly y: (v: number) => number;
  readonly scale: number; // px a mm
}

function drawSlice(host: SVGSVGElement, slice: Slice, state: State, wide: number, high: number): void {
  const flip = state.shown?.side === 'left' ? -1 : 1;
  const [u0, u1, v0, v1] = boundsOf(slice);
  const need = Math.max((v1 - v0) / 2, ((u1 - u0) / 2) * (high / wide)) + 0.9;
  const half = WINDOWS.find((w) => w >= need) ?? need;
  const scale = high / (2 * half);
  const cu = Math.round((u0 + u1) / 2);
  const cv = Math.round((v0 + v1) / 2);
  const paper: Paper = { scale, x: (u) => wide / 2 + flip * scale * (u - cu), y: (v) => high / 2 - scale * (v - cv) };
  host.setAttribute('viewBox', `0 0 ${wide} ${high}`);
  host.setAttribute('aria-label', describe(slice));
  const fore = flip > 0 ? 'Anterior' : 'Posterior';
  const back = flip > 0 ? 'Posterior' : 'Anterior';
  host.replaceChildren(
    ...gridOf(paper, cu, cv, wide, high),
    ...slice.cast.map((o) => svg('path', { class: 'cast-line', d: trace([o], paper) })),
    ...bodyOf(slice, paper),
    ...slice.parts.flatMap((p) => [
      svg('path', { class: 'part', d: trace(p.solid, paper), style: undefined, fill: `var(--${p.part.kind})` }),
      ...(p.bore.length > 0 ? [svg('path', { class: 'bore', d: trace(p.bore, paper), stroke: `var(--${p.part.kind})` })] : []),
      ...(p.service.length > 0 ? [svg('path', { class: 'service', d: trace(p.service, paper), stroke: `var(--${p.part.kind})` })] : []),
    ]),
    ...hatchOf(slice, paper, wide, high),
    ...namesOf(slice, paper),
    ...(slice.wall && !slice.squeeze ? [measureOf(slice.wall, paper, wide)] : []),
    ...(slice.gap && !slice.squeeze ? [measureOf(slice.gap, paper, wide)] : []),
    ...(slice.squeeze ? squeezeOf(slice.squeeze, paper, wide) : []),
    svg('text', { class: 'side-word', x: 2, y: high - 6 }, back),
    svg('text', { class: 'side-word', x: wide - 2, y: high - 6, 'text-anchor': 'end' }, fore),
    svg('text', { class: 'side-word', x: wide / 2, y: 11, 'text-anchor': 'middle' }, 'Superior'),
    ...barOf(paper, wide, high),
  );
}

function boundsOf(slice: Slice): [number, number, number, number] {
  let [u0, u1, v0, v1] = [Infinity, -Infinity, Infinity, -Infinity];
  const seen = slice.body.length > 0 ? [...slice.body, ...slice.cast.slice(0, 1)] : slice.cast.slice(0, 1);
  for (const { points } of seen) {
    for (let i = 0; i < points.length; i += 2) {
      u0 = Math.min(u0, points[i] as number);
      u1 = Math.max(u1, points[i] as number);
      v0 = Math.min(v0, points[i + 1] as number);
      v1 = Math.max(v1, points[i + 1] as number);
    }
  }
  return u0 <= u1 ? [u0, u1, v0, v1] : [-3, 3, -3, 3];
}

const trace = (outlines: readonly Outline[], { x, y }: Paper): string =>
  outlines
    .map(({ points }) => {
      const at: string[] = [];
      for (let i = 0; i < points.length; i += 2) at.push(`${x(points[i] as number).toFixed(2)} ${y(points[i + 1] as number).toFixed(2)}`);
      return `M${at.join('L')}Z`;
    })
    .join('');

function gridOf({ x, y, scale }: Paper, cu: number, cv: number, wide: number, high: number): SVGElement[] {
  const lines: SVGElement[] = [];
  const step = scale >= 7 ? 1 : 5;
  const nu = Math.ceil(wide / scale / 2) + 5;
  const nv = Math.ceil(high / scale / 2) + 5;
  const strong = (k: number): string => (k % 5 === 0 ? 'grid strong' : 'grid');
  for (let k = Math.ceil((cu - nu) / step) * step; k <= cu + nu; k += step) {
    const at = x(k).toFixed(1);
    if (Number(at) >= 0 && Number(at) <= wide) lines.push(svg('line', { class: strong(k), x1: at, x2: at, y1: 0, y2: high }));
  }
  for (let k = Math.ceil((cv - nv) / step) * step; k <= cv + nv; k += step) {
    const at = y(k).toFixed(1);
    if (Number(at) >= 0 && Number(at) <= high) lines.push(svg('line', { class: strong(k), y1: at, y2: at, x1: 0, x2: wide }));
  }
  return lines;
}

function bodyOf(slice: Slice, paper: Paper): SVGElement[] {
  if (slice.body.length === 0) return [];
  const outside = trace(slice.body, paper);
  return [
    svg('path', { class: 'wall-band', d: outside }),
    ...slice.room.map((o) => svg('path', { class: 'room', d: trace([o], paper) })),
    svg('path', { class: 'body-line', d: outside }),
  ];
}

/** Hatched: where a part reaches into the wall or beyond. */
function hatchOf(slice: Slice, paper: Paper, wide: number, high: number): SVGElement[] {
  if (slice.body.length === 0 || slice.parts.length === 0) return [];
  const lines = svg(
    'pattern',
    { id: 'hatch', width: 5, height: 5, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
    svg('line', { class: 'hatch', x1: 0, y1: 0, x2: 0, y2: 5 }),
  );
  const beyond = svg(
    'mask',
    { id: 'beyond', maskUnits: 'userSpaceOnUse', x: 0, y: 0, width: wide, height: high },
    svg('rect', { width: wide, height: high, fill: '#fff' }),
    svg('path', { d: trace(slice.room, paper), fill: '#000', 'fill-rule': 'evenodd' }),
  );
  // A vent's wall may lie in the shell's: its bore may not.
  const solids = slice.parts.map((p) => trace(p.part.seat.at === 'shell' ? p.bore : p.solid, paper)).join('');
  return [svg('defs', {}, lines, beyond), svg('path', { d: solids, fill: 'url(#hatch)', mask: 'url(#beyond)' })];
}

/** Every part cut through has its name: within it, or moved off a name that is there already. */
function namesOf(slice: Slice, { x, y }: Paper): SVGElement[] {
  const taken: { x: number; y: number; w: number }[] = [];
  return slice.parts.map(({ part, solid, service }) => {
    const [u, v] = middleOf(solid.length > 0 ? solid : service);
    const at = { x: x(u), y: y(v) + 4, w: 6.4 * PART_WORDS[part.kind].length };
    while (taken.some((t) => Math.abs(t.y - at.y) < 14 && Math.abs(t.x - at.x) < (t.w + at.w) / 2)) at.y += 14;
    taken.push(at);
    return svg('text', { class: 'halo', x: at.x.toFixed(1), y: at.y.toFixed(1), 'text-anchor': 'middle' }, PART_WORDS[part.kind]);
  });
}

function middleOf(outlines: readonly Outline[]): [number, number] {
  let [u0, u1, v0, v1] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const { points } of outlines) {
    for (let i = 0; i < points.length; i += 2) {
      u0 = Math.min(u0, points[i] as number);
      u1 = Math.max(u1, points[i] as number);
      v0 = Math.min(v0, points[i + 1] as number);
      v1 = Math.max(v1, points[i + 1] as number);
    }
  }
  return [(u0 + u1) / 2, (v0 + v1) / 2];
}

/** What a reason says: the width that there is and, beside it, the one that is needed. */
function squeezeOf({ from, along, has, needs }: Squeeze, paper: Paper, wide: number): SVGElement[] {
  const at = (t: number): [number, number] => [from[0] + t * along[0], from[1] + t * along[1]];
  const off = 14 / paper.scale;
  const beside = ([u, v]: [number, number]): [number, number] => [u - off * along[1], v + off * along[0]];
  const [short, long] = [(has - needs) / 2, (has + needs) / 2];
  // Each has its figure on the side away from the other.
  const [u, v] = beside(at(0));
  const away: [number, number] = [paper.x(u) - paper.x(from[0]), paper.y(v) - paper.y(from[1])];
  const there = measureOf({ from: at(0), to: at(has), distance: has }, paper, wide, { word: 'there', away: [-away[0], -away[1]] });
  const needed = measureOf({ from: beside(at(short)), to: beside(at(long)), distance: needs }, paper, wide, { word: 'needs', away });
  needed.classList.add('needed');
  return [there, needed];
}

/** A dimension: the line between both points with a tick at each end, its figure beside the middle and within the picture. */
function measureOf(
  m: Span,
  { x, y }: Paper,
  wide: number,
  said?: { readonly word: string; readonly away: readonly [number, number] },
): SVGElement {
  const [ax, ay, bx, by] = [x(m.from[0]), y(m.from[1]), x(m.to[0]), y(m.to[1])];
  const l = Math.hypot(bx - ax, by - ay) || 1;
  const [nx, ny] = [(-(by - ay) / l) * 5, ((bx - ax) / l) * 5];
  const tick = (px: number, py: number): SVGElement => svg('line', { x1: px - nx, y1: py - ny, x2: px + nx, y2: py + ny });
  const side = said && nx * said.away[0] + ny * said.away[1] < 0 ? -1 : 1;
  const edge = said ? 34 : 18;
  const at = Math.max(edge, Math.min(wide - edge, (ax + bx) / 2 + side * nx * (said ? 8 : 4)));
  const text = svg(
    'text',
    { class: 'halo', x: at, y: (ay + by) / 2 + side * ny * 3 + 4, 'text-anchor': 'middle' },
    [said?.word, figure(m.distance)].filter(Boolean).join(' '),
  );
  return svg('g', { class: 'measure' }, svg('line', { x1: ax, y1: ay, x2: bx, y2: by }), tick(ax, ay), tick(bx, by), text);
}

function barOf({ scale }: Paper, wide: number, high: number): SVGElement[] {
  const mm = scale >= 12 ? 2 : 5;
  const x = wide / 2 - (mm * scale) / 2;
  const y = high - 9;
  return [
    svg('path', { class: 'scale-bar', d: `M${x} ${y - 4}v8M${x} ${y}h${mm * scale}M${x + mm * scale} ${y - 4}v8` }),
    svg('text', { class: 'side-word', x: wide / 2, y: y - 6, 'text-anchor': 'middle' }, `${mm} mm`),
  ];
}

const short = (m: InPlane): string =>
  m.other ? `${PART_WORDS[m.part.kind]} to ${PART_WORDS[m.other.kind].toLowerCase()}` : PART_WORDS[m.part.kind];

function figuresOf(slice: Slice): HTMLElement[] {
  const row = (term: string, value: string, unit: string): HTMLElement =>
    h('div', {}, h('dt', {}, term), h('dd', {}, value, h('span', { class: 'unit' }, unit)));
  const rows: HTMLElement[] = [];
  if (slice.width) {
    rows.push(row('Cast, widest by narrowest', `${figure(slice.width.major)} × ${figure(slice.width.minor)}`, ' mm'));
    rows.push(row('Area', figure(slice.width.area, 1), ' mm²'));
  }
  if (slice.squeeze) {
    rows.push(row('There is, inside the wall', figure(slice.squeeze.has), ' mm'));
    rows.push(row('Needed there', figure(slice.squeeze.needs), ' mm'));
  }
  if (slice.wall) rows.push(row(`${short(slice.wall)} to the outside`, figure(slice.wall.distance), ' mm'));
  if (slice.gap) rows.push(row(short(slice.gap), figure(slice.gap.distance), ' mm'));
  return rows;
}

function describe(slice: Slice): string {
  const names = slice.parts.map((p) => p.part.name);
  const through =
    names.length > 0
      ? `through ${names.join(', ')}`
      : slice.body.length > 0
        ? 'through the body, no part'
        : 'through the cast, outside the body';
  return `Cross-section ${figure(slice.depth)} mm deep, ${through}.`;
}
