/** The ladder: five rungs from the smallest style to the largest, each with its body in outline and its verdict. */

import { nameOf } from '../ladder/words.ts';
import { foundSpare } from '../model/figures.ts';
import type { Rung } from '../model/fit.ts';
import { STYLES, type StyleName } from '../model/parts.ts';
import { styleNamed } from '../parts/index.ts';
import { VERDICT_WORDS } from '../report/table.ts';
import { STAGE_WORDS } from '../report/words.ts';
import { pathOf } from '../viewer/silhouette.ts';
import { capital, h, percent, sentence, svg } from './dom.ts';
import type { Session } from './session.ts';
import { type JudgedRung, type OpenCase, recommendedStyle, type State, type Store, stylesOf } from './store.ts';
import { MARK_PATHS } from './words.ts';

/** The picture of a rung, px. */
const WIDE = 104;
const HIGH = 84;

export const markOf = (kind: keyof typeof MARK_PATHS): SVGSVGElement =>
  svg('svg', { class: 'mark', viewBox: '0 0 16 16', 'aria-hidden': 'true' }, svg('path', { d: MARK_PATHS[kind] }));

export function mountLadder(host: HTMLElement, store: Store, session: Session): void {
  const answer = h('div', { class: 'answer' });
  const rungs = STYLES.map((style) => makeRung(style, store));
  const group = h('div', { class: 'rungs', role: 'radiogroup', 'aria-label': 'Styles, the smallest first' }, ...rungs.map((r) => r.root));
  const scale = svg('svg', { 'aria-hidden': 'true', height: 8, width: 40 });
  host.append(answer, group, h('div', { class: 'scale' }, scale, h('span', {}, '10 mm. Dashed: aperture. ± mm: spare.')));
  group.addEventListener('keydown', (event) => moveWith(event, store, rungs));
  store.watch((now, before) => {
    if (answerChanged(now, before)) answer.replaceChildren(...answerOf(now, session));
    const frame = frameOf(now);
    if (frame && frame.scale !== Number(scale.dataset['scale'])) drawScale(scale, frame.scale);
    for (const rung of rungs) rung.show(now, before, frame);
  });
}

function moveWith(event: KeyboardEvent, store: Store, rungs: readonly RungView[]): void {
  const open = rungs.filter((r) => !r.root.hidden);
  const at = open.findIndex((r) => r.style === store.get().selected);
  const step = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[event.key];
  const to =
    event.key === 'Home' ? 0 : event.key === 'End' ? open.length - 1 : step === undefined ? -1 : (at + step + open.length) % open.length;
  const rung = open[to];
  if (!rung) return;
  event.preventDefault();
  store.send({ type: 'select', style: rung.style });
  rung.root.focus();
}

const answerChanged = (now: State, before: State | undefined): boolean =>
  !before || now.work !== before.work || now.shown?.summary !== before.shown?.summary || now.shown?.title !== before.shown?.title;

function answerOf(state: State, session: Session): Node[] {
  const { work, shown } = state;
  if (work.state === 'running' && !work.helping) {
    const what = work.opening ? `Opening ${work.opening}` : work.style ? `Judging ${styleNamed(work.style).title}` : 'Judging';
    const stage = work.cancelling ? 'stopping' : work.stage ? STAGE_WORDS[work.stage] : 'starting';
    const bar = h('i');
    bar.style.transform = `scaleX(${work.done})`;
    return [
      h('h2', { id: 'ladder-title', class: 'one-line', title: what }, what),
      h(
        'div',
        { class: 'work-line' },
        h('p', {}, `${capital(stage)}, ${percent(work.done)}`),
        h('button', { type: 'button', class: 'link cancel', onclick: () => session.cancel() }, 'Cancel'),
      ),
      h('div', { class: 'bar', 'aria-hidden': 'true' }, bar),
    ];
  }
  if (work.state === 'stopped') {
    return [
      h('h2', { id: 'ladder-title' }, 'Stopped before every style was judged'),
      h(
        'div',
        { class: 'work-line' },
        h('p', {}, 'What is judged already stands.'),
        h('button', { type: 'button', class: 'link resume', onclick: () => session.resume() }, 'Judge the rest'),
      ),
    ];
  }
  const best = shown?.summary?.recommended;
  if (!shown || !best)
    return [h('h2', { id: 'ladder-title' }, 'Which style fits?'), h('p', {}, 'Drop a scan of an ear impression anywhere on this page.')];
  const over = h('p', { class: 'over' }, best.style ? 'The smallest style that fits' : styleCount(shown));
  const title = best.style ? styleNamed(best.style).title : 'None fits as ordered';
  return [over, h('h2', { id: 'ladder-title' }, title), h('p', { title: sentence(best.why) }, sentence(best.why))];
}

function styleCount({ source }: OpenCase): string {
  const many = stylesOf(source).length;
  return many === 1 ? 'The only style' : `Of ${many} styles`;
}

interface Frame {
  readonly scale: number; // px a mm
  readonly flip: 1 | -1;
  readonly x: number; // of the aperture in the picture, px
  readonly y: number;
  readonly ghost: string;
}

let lastFrame: { of: unknown; frame: Frame } | undefined;

/** One scale and one place for all five pictures: the whole cast fits. Seen from the front, a right ear's head is to the right. */
function frameOf(state: State): Frame | undefined {
  const { shown } = state;
  if (!shown) return undefined;
  if (lastFrame?.of === shown.picture) return lastFrame.frame;
  const flip = shown.side === 'right' ? -1 : 1;
  let [x0, x1, y0, y1] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const loop of shown.picture.front) {
    for (let i = 0; i < loop.length; i += 2) {
      const x = flip * (loop[i] as number);
      const y = -(loop[i + 1] as number);
      x0 = Math.min(x0, x);
      x1 = Math.max(x1, x);
      y0 = Math.min(y0, y);
      y1 = Math.max(y1, y);
    }
  }
  const scale = Math.min((WIDE - 4) / (x1 - x0), (HIGH - 4) / (y1 - y0));
  const frame: Frame = {
    scale,
    flip,
    x: WIDE / 2 - (scale * (x0 + x1)) / 2,
    y: HIGH / 2 - (scale * (y0 + y1)) / 2,
    ghost: pathOf(shown.picture.front, flip * scale, -scale),
  };
  lastFrame = { of: shown.picture, frame };
  return frame;
}

function drawScale(host: SVGSVGElement, scale: number): void {
  const w = 10 * scale;
  host.dataset['scale'] = String(scale);
  host.setAttribute('width', String(w + 2));
  host.replaceChildren(svg('path', { d: `M1 1v6M1 4h${w}M${w + 1} 1v6` }));
}

interface RungView {
  readonly style: StyleName;
  readonly root: HTMLElement;
  show(now: State, before: State | undefined, frame: Frame | undefined): void;
}

function makeRung(style: StyleName, store: Store): RungView {
  const picture = svg('svg', { class: 'rung-picture', viewBox: `0 0 ${WIDE} ${HIGH}`, 'aria-hidden': 'true' });
  const verdict = h('div', { class: 'rung-verdict' });
  const reason = h('p', { class: 'rung-reason' });
  const best = h('span', { class: 'best' }, 'Recommended');
  best.hidden = true;
  const name = h('div', { class: 'rung-name' }, h('b', {}, style), h('span', {}, styleNamed(style).title));
  const root = h(
    'div',
    { class: 'rung waiting', role: 'radio', 'data-style': style, onclick: () => store.send({ type: 'select', style }) },
    picture,
    h('div', { class: 'rung-text' }, name, verdict, reason),
    best,
  );
  return {
    style,
    root,
    show(now, before, frame) {
      const chosen = now.selected === style;
      root.hidden = now.shown !== undefined && !stylesOf(now.shown.source).includes(style);
      root.setAttribute('aria-checked', String(chosen));
      root.tabIndex = chosen ? 0 : -1;
      best.hidden = recommendedStyle(now) !== style;
      const judged = now.shown?.rungs[style];
      const changed = !before || judged !== before.shown?.rungs[style] || now.shown?.picture !== before.shown?.picture;
      if (changed) drawPicture(picture, judged, frame);
      if (changed || now.work !== before?.work) fillRung({ root, verdict, reason }, style, now, judged);
    },
  };
}

function drawPicture(host: SVGSVGElement, judged: JudgedRung | undefined, frame: Frame | undefined): void {
  if (!frame) return;
  const { x, y, scale, flip, ghost } = frame;
  const at = `translate(${x.toFixed(2)} ${y.toFixed(2)})`;
  host.replaceChildren(
    svg('path', { class: 'ghost', d: ghost, transform: at, 'fill-rule': 'evenodd' }),
    svg('path', { class: 'mouth', d: `M${x.toFixed(2)} 0V${HIGH}` }),
  );
  if (!judged?.picture) return;
  const d = pathOf(judged.picture.front, flip * scale, -scale);
  host.append(svg('path', { class: `outline verdict-${judged.rung.verdict}`, d, transform: at, 'fill-rule': 'evenodd' }));
}

function fillRung(
  at: { root: HTMLElement; verdict: HTMLElement; reason: HTMLElement },
  style: StyleName,
  now: State,
  judged: JudgedRung | undefined,
): void {
  const { work } = now;
  const running = work.state === 'running' && !work.opening && !work.helping && work.style === style;
  at.root.classList.toggle('waiting', !judged && !running);
  at.root.classList.toggle('running', running);
  at.root.classList.toggle('stale', judged !== undefined && now.shown?.summary === undefined && work.state === 'running' && running);
  if (running) {
    at.verdict.replaceChildren(markOf('running'), h('span', { class: 'word' }, capital(STAGE_WORDS[work.stage ?? 'trim'])));
    at.verdict.className = 'rung-verdict';
    at.reason.textContent = '';
    return;
  }
  if (!judged) {
    const word = work.state === 'running' && !work.opening ? 'Waiting' : 'Not judged yet';
    at.verdict.className = 'rung-verdict';
    at.verdict.replaceChildren(...(now.shown ? [markOf('waiting'), h('span', { class: 'word' }, word)] : []));
    at.reason.textContent = '';
    return;
  }
  const { rung } = judged;
  at.verdict.className = `rung-verdict verdict-${rung.verdict}`;
  at.verdict.replaceChildren(markOf(rung.verdict), h('span', { class: 'word' }, capital(VERDICT_WORDS[rung.verdict])), ...spareOf(rung));
  at.reason.textContent = firstReason(rung);
  at.root.title = firstReason(rung);
}

/** The spare as found; for a proved no without an arrangement, what is lacking at least. */
function spareOf(rung: Rung): Node[] {
  if (rung.found === undefined) return [];
  return [
    h(
      'span',
      { class: 'spare' },
      foundSpare(rung.found),
      h('span', { class: 'unit' }, ' mm'),
      h('span', { class: 'visually-hidden' }, ' spare'),
    ),
  ];
}

/** The first reason in one line; for a style that fits, where it is tightest. */
export function firstReason(rung: Rung): string {
  const [first] = rung.reasons;
  if (first) return sentence(first.text);
  const tight = rung.evidence?.tightest;
  if (!tight) return '';
  const name = (id: string | undefined): string => (rung.kit && id ? nameOf(rung.kit, id) : '');
  const other = {
    wall: 'the wall',
    faceplate: 'the faceplate',
    tip: 'the tip',
    upper: 'the upper cut',
    parts: name(tight.other),
    service: name(tight.other) || 'the wall',
  };
  return `Tightest between the ${name(tight.part)} and ${tight.kind === 'parts' || tight.kind === 'service' ? 'the ' : ''}${other[tight.kind].replace(/^the the/, 'the')}.`;
}
