/** The scene with what belongs to it: its caption, labels, named views and layers. */
import { pointToEar } from '../ear/frame.ts';
import { compose } from '../geometry/rotation.ts';
import type { Vec3 } from '../geometry/vec.ts';
import { styleNamed } from '../parts/index.ts';
import { VERDICT_WORDS, verdictSentence } from '../report/table.ts';
import { type Anchor, placeLabels } from '../viewer/labels.ts';
import type { Tones } from '../viewer/materials.ts';
import { makeSceneView, type SceneLayers, type ScenePart, type SceneView } from '../viewer/scene.ts';
import { shade } from '../viewer/shade.ts';
import { sliceAlong } from '../viewer/slice.ts';
import { meshOfPrimitive } from '../viewer/solids.ts';
import { depthNear } from '../viewer/station.ts';
import { VIEWS } from '../viewer/views.ts';
import { byId, capital, figure, h, sentence, svg } from './dom.ts';
import { markOf } from './ladder.ts';
import { makePick, type Pick } from './pick.ts';
import { type SlicePanel, sliceable } from './slice-panel.ts';
import { findingsOf, type JudgedRung, type Layer, type Mark, type State, type Store, selectedRung, type Visibility } from './store.ts';
import { mountWayIn } from './way-in.ts';

const CHOICES: Record<Layer, [word: string, options: [Visibility, string][]]> = {
  cast: [
    'Cast',
    [
      ['show', 'solid'],
      ['fade', 'glass'],
      ['hide', 'hidden'],
    ],
  ],
  body: [
    'Body',
    [
      ['show', 'solid'],
      ['fade', 'glass'],
      ['hide', 'hidden'],
    ],
  ],
  parts: [
    'Parts',
    [
      ['show', 'solid'],
      ['fade', 'glass'],
      ['hide', 'hidden'],
    ],
  ],
  labels: [
    'Labels',
    [
      ['show', 'shown'],
      ['hide', 'hidden'],
    ],
  ],
  section: [
    'Section',
    [
      ['show', 'across'],
      ['along', 'along'],
      ['fade', 'outlined'],
      ['hide', 'hidden'],
    ],
  ],
};

export interface ScenePanel {
  /** Marks a place and brings it into view. */
  showPlace(mark: Mark): void;
  readonly view: SceneView | undefined;
  /** Undefined where there is no picture to point at. */
  readonly pick: Pick | undefined;
}

export function mountScene(host: HTMLElement, store: Store, slice: SlicePanel): ScenePanel {
  const plate = h('div', { class: 'plate' });
  const stage = h('div', { class: 'stage' });
  const view = makeSceneView(stage, tonesNow());
  const invite = h(
    'div',
    { class: 'invite' },
    h('b', {}, 'Drop a scan of an ear impression here'),
    h('span', {}, 'STL, PLY, OBJ, 3MF or glTF. It is judged on this computer and goes nowhere else.'),
  );
  const wayIn = h('div', { class: 'way-in no-print', role: 'group', 'aria-label': 'The way in' });
  host.append(plate, stage, ...(view ? [wayIn] : []), h('div', { class: 'controls' }, ...(view ? [viewsOf(view), layersOf(store)] : [])));
  const showPlace = (mark: Mark): void => {
    store.send({ type: 'mark', mark });
    const at = markedIn(store.get())?.at;
    if (!at) return;
    view?.flyTo(at);
    const line = store.get().shown?.ear.centreline;
    if (line) store.send({ type: 'depth', depth: depthNear(line, at) });
    byId('scene', HTMLElement).scrollIntoView({ block: 'nearest' });
  };
  store.watch((now, before) => {
    const same =
      before && now.shown === before.shown && now.selected === before.selected && now.marked === before.marked && now.work === before.work;
    invite.hidden = now.shown !== undefined || now.work.state === 'running';
    document.body.dataset['case'] = now.shown ? 'open' : 'none';
    if (!same) plate.replaceChildren(...plateOf(now, showPlace, () => store.send({ type: 'mark' })));
  });
  stage.append(invite);
  if (view) {
    drive(view, stage, store, slice);
    mountWayIn(wayIn, store, view);
  } else
    stage.append(
      h(
        'div',
        { class: 'no-3d' },
        h('b', {}, '3D view not available'),
        h('span', {}, 'This browser offers no WebGL. Verdicts, section and clearances work without it.'),
      ),
    );
  return { showPlace, view, pick: view && makePick(view, stage) };
}

function drive(view: SceneView, stage: HTMLElement, store: Store, slice: SlicePanel): void {
  const overlay = makeOverlay(stage, view, store);
  view.canvas.tabIndex = 0;
  view.canvas.setAttribute('role', 'img');
  view.canvas.setAttribute(
    'aria-label',
    'The ear in three dimensions. Arrow keys turn it, plus and minus come nearer and go back, F fits it. The tables below say the same in text.',
  );
  view.canvas.addEventListener('keydown', (event) => keyed(event, view));
  new ResizeObserver(([entry]) => {
    const box = entry?.contentRect;
    if (!box || box.width === 0 || box.height === 0 || matchMedia('print').matches) return;
    // On paper the stage keeps its size in px, so that labels stay where they belong; a wide one is scaled down.
    stage.style.setProperty('--wide', `${box.width}px`);
    stage.style.setProperty('--high', `${box.height}px`);
    stage.style.setProperty('--zoom', String(Math.min(1, 390 / box.width)));
    view.margin = Math.min(170, box.width * 0.22);
    view.resize(box.width, box.height);
    view.flush();
  }).observe(stage);
  view.onDraw = overlay;
  const cut = (): void => {
    const state = store.get();
    const thing = sliceable(state);
    view.setSlice(thing && state.layers.section === 'along' ? sliceAlong(thing, state.depth) : slice.current());
  };
  slice.onChange(cut);
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => {
    view.setTones(tonesNow());
    partsMade = { of: undefined, parts: [] };
    view.setBody(bodyOf(store.get()), partsOf(selectedRung(store.get())));
  });
  store.watch((now, before) => {
    if (now.layers !== before?.layers) {
      view.setLayers(layersFor(now));
      if (before) cut();
    }
    if (now.shown && now.shown.picture !== before?.shown?.picture) view.setCase(now.shown.side, now.shown.picture.shaded);
    const judged = selectedRung(now);
    if (now.shown && (!before || judged !== selectedRung(before))) view.setBody(bodyOf(now), partsOf(judged));
    if (now.marked !== before?.marked) overlay();
  });
}

/** Which way the section runs is the slice's affair: to the scene it is open or not. */
function layersFor({ layers }: State): SceneLayers {
  const plain = (v: Visibility) => (v === 'along' ? 'show' : v);
  return { cast: plain(layers.cast), body: plain(layers.body), parts: plain(layers.parts), section: plain(layers.section) };
}

const bodyOf = (state: State) => selectedRung(state)?.picture?.shaded;

function keyed(event: KeyboardEvent, view: SceneView): void {
  const table: Record<string, () => void> = {
    ArrowLeft: () => view.turn(-10, 0),
    ArrowRight: () => view.turn(10, 0),
    ArrowUp: () => view.turn(0, 10),
    ArrowDown: () => view.turn(0, -10),
    '+': () => view.turn(0, 0, 1.2),
    '=': () => view.turn(0, 0, 1.2),
    '-': () => view.turn(0, 0, 1 / 1.2),
    f: () => view.fit(),
  };
  const act = event.ctrlKey || event.metaKey || event.altKey ? undefined : table[event.key];
  if (!act) return;
  event.preventDefault();
  act();
}

let partsMade: { of: JudgedRung | undefined; parts: ScenePart[] } = { of: undefined, parts: [] };

/** The parts of a rung as solids, made once for the scene and its labels. */
function partsOf(judged: JudgedRung | undefined): ScenePart[] {
  if (partsMade.of !== judged) partsMade = { of: judged, parts: makeParts(judged) };
  return partsMade.parts;
}

function makeParts(judged: JudgedRung | undefined): ScenePart[] {
  const { kit, arrangement } = judged?.rung ?? {};
  if (!kit || !arrangement) return [];
  const style = getComputedStyle(document.documentElement);
  return kit.parts.flatMap((part, i) => {
    const pose = arrangement.poses[i];
    if (!pose) return [];
    const made = (kind: 'solid' | 'service') =>
      part.primitives.filter((p) => p.kind === kind).map((p) => shade(meshOfPrimitive(p, pose, 'ear')));
    const first = part.primitives.find((p) => p.kind === 'solid') ?? part.primitives[0];
    const middle = first ? compose(pose, first).position : pose.position;
    return [{ part, tone: style.getPropertyValue(`--${part.kind}`).trim(), solid: made('solid'), service: made('service'), middle }];
  });
}

function tonesNow(): Tones {
  const style = getComputedStyle(document.documentElement);
  const tone = (name: string): string => style.getPropertyValue(name).trim();
  const dark = matchMedia('(prefers-color-scheme: dark)').matches;
  return {
    ink: tone('--ink'),
    cast: tone('--cast'),
    body: dark ? '#7fa898' : '#6f9484',
    wall: tone('--wall'),
    accent: tone('--accent'),
    dark,
  };
}

/** Labels with leaders, the mark of a reason, and the anatomical words at the edges; moved with every picture. */
function makeOverlay(stage: HTMLElement, view: SceneView, store: Store): () => void {
  const lines = svg('svg', { class: 'leaders', 'aria-hidden': 'true' });
  const tags = h('div', { class: 'tags', 'aria-hidden': 'true' });
  const place = h('div', { class: 'place' });
  const edges = (['top', 'bottom', 'left', 'right'] as const).map((side) => ({
    side,
    word: h('span', { class: `compass ${side}`, 'aria-hidden': 'true' }),
  }));
  stage.append(lines, ...edges.map((e) => e.word), tags, place);
  let made: { of: JudgedRung | undefined; tags: Tag[] } = { of: undefined, tags: [] };
  return () => {
    const state = store.get();
    const judged = selectedRung(state);
    if (made.of !== judged) {
      const parts = partsOf(judged);
      made = { of: judged, tags: parts.map((p) => ({ id: p.part.id, tag: tagOf(p), middle: p.middle, home: p.middle })) };
      tags.replaceChildren(...made.tags.map((t) => t.tag));
    }
    const shown = state.layers.labels === 'show' && state.layers.parts !== 'hide';
    tags.hidden = !shown;
    const seen = made.tags.flatMap(({ id, tag, home }) => {
      const middle = view.placeOf(id, home);
      tag.hidden = !middle || view.isCutAway(id, middle);
      return tag.hidden || !middle ? [] : [{ id, tag, middle, home }];
    });
    lines.replaceChildren(...(shown ? layLabels(seen, view, stage) : []));
    markPlace(place, state, view);
    const compass = view.compass();
    for (const { side, word } of edges) word.textContent = state.shown ? compass[side] : '';
    for (const button of document.querySelectorAll('.views [data-view]')) {
      button.setAttribute('aria-pressed', String(button.getAttribute('data-view') === compass.view));
    }
  };
}

interface Tag {
  readonly id: string;
  readonly tag: HTMLElement;
  /** Where it is pointed to. */
  readonly middle: Vec3;
  /** The same when the part is in its place. */
  readonly home: Vec3;
}

function tagOf({ part, tone }: ScenePart): HTMLElement {
  const swatch = h('i');
  swatch.style.background = tone;
  return h('span', { class: 'tag' }, swatch, h('span', {}, part.name));
}

function layLabels(tags: Tag[], view: SceneView, stage: HTMLElement): SVGElement[] {
  const [wide, high] = [stage.clientWidth, stage.clientHeight];
  const anchors = tags.map(({ tag, middle, home }) => ({
    ...view.project(middle),
    home: view.project(home).x,
    width: tag.offsetWidth,
    height: tag.offsetHeight,
  }));
  return placeLabels(anchors, wide, high, 26).flatMap(({ side, x, y }, i) => {
    const { tag } = tags[i] as (typeof tags)[number];
    const a = anchors[i] as (typeof anchors)[number];
    tag.classList.toggle('right', side === 'right');
    tag.style.transform = `translate(${Math.round(x)}px, ${Math.round(y)}px)`;
    return [svg('polyline', { points: leaderOf(side, x, y, a) }), svg('circle', { cx: a.x.toFixed(1), cy: a.y.toFixed(1), r: 2.6 })];
  });
}

/** From the label's inner end by a knee to the anchor; straight from its nearest edge where the anchor lies under the column. */
function leaderOf(side: 'left' | 'right', x: number, y: number, a: Anchor): string {
  const to = `${a.x.toFixed(1)},${a.y.toFixed(1)}`;
  const from = side === 'left' ? x + a.width + 2 : x - 2;
  const knee = side === 'left' ? from + 12 : from - 12;
  const middle = y + a.height / 2;
  if (side === 'left' ? a.x > knee : a.x < knee) return `${from},${middle} ${knee},${middle} ${to}`;
  const inside = a.x >= x && a.x <= x + a.width && a.y >= y && a.y <= y + a.height;
  if (inside) return to;
  return `${Math.max(x, Math.min(x + a.width, a.x)).toFixed(1)},${Math.max(y, Math.min(y + a.height, a.y)).toFixed(1)} ${to}`;
}

function markPlace(place: HTMLElement, state: State, view: SceneView): void {
  const marked = markedIn(state);
  place.hidden = !marked;
  if (!marked) return;
  const { x, y } = view.project(marked.at);
  place.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
  if (place.textContent !== marked.words) place.replaceChildren(h('span', {}, marked.words));
}

/** The marked place, in the ear frame, and what is written beside it. */
function markedIn(state: State): { at: Vec3; words: string } | undefined {
  const { marked, shown } = state;
  if (!marked || !shown) return undefined;
  if (marked.of === 'finding') {
    const at = findingsOf(shown)[marked.index]?.at;
    return at && { at: pointToEar(shown.ear.frame, at), words: 'Here' };
  }
  const reason = selectedRung(state)?.rung.reasons[marked.index];
  if (!reason?.at) return undefined;
  const { needs, has } = reason;
  const words = needs !== undefined && has !== undefined ? `Needs ${figure(needs)} mm, has ${figure(has)} mm` : 'Here';
  return { at: reason.at, words };
}

function plateOf(state: State, showPlace: (mark: Mark) => void, unmark: () => void): HTMLElement[] {
  const title = styleNamed(state.selected).title;
  const rung = selectedRung(state)?.rung;
  if (!rung) {
    const said = state.shown ? (state.work.state === 'running' ? 'Being judged; the cast is shown meanwhile.' : 'Not judged yet.') : '';
    return [h('h2', { id: 'scene-title' }, state.shown ? title : 'Arrangement'), h('p', { class: 'said' }, said)];
  }
  const word = h('span', { class: `word verdict-${rung.verdict}` }, markOf(rung.verdict), capital(VERDICT_WORDS[rung.verdict]));
  const first = rung.reasons[0];
  const marked = state.marked?.of === 'reason' && state.marked.index === 0;
  const act =
    first?.at &&
    h(
      'button',
      { type: 'button', class: 'link', onclick: () => (marked ? unmark() : showPlace({ of: 'reason', index: 0 })) },
      marked ? 'Hide the mark' : 'Show the place',
    );
  const text = first ? sentence(first.text) : 'Every clearance that the rules ask for is met; the arrangement is verified.';
  return [
    h('div', { class: 'plate-head' }, h('h2', { id: 'scene-title' }, title), word, act),
    h('p', { class: 'said' }, sentence(verdictSentence(rung))),
    h('p', { class: 'reason', title: text }, text),
  ];
}

const viewsOf = (view: SceneView): HTMLElement =>
  h(
    'div',
    { class: 'views', role: 'group', 'aria-label': 'Views' },
    ...VIEWS.map((name) => h('button', { type: 'button', 'data-view': name, onclick: () => view.view(name) }, name)),
    h('button', { type: 'button', class: 'fit', onclick: () => view.fit() }, 'Fit'),
  );

function layersOf(store: Store): HTMLElement {
  const selects = (Object.keys(CHOICES) as Layer[]).map((layer) => {
    const [word, options] = CHOICES[layer];
    const select = h('select', { 'data-layer': layer }, ...options.map(([value, text]) => h('option', { value }, text)));
    select.value = store.get().layers[layer];
    select.addEventListener('change', () => store.send({ type: 'layer', layer, visibility: select.value as Visibility }));
    return h('label', {}, word, select);
  });
  return h('div', { class: 'layers', role: 'group', 'aria-label': 'What is shown' }, ...selects);
}
