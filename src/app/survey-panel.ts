/** The survey in words, and its correction by typed numbers; what was found and what a person set are told apart and can be taken back. */

import { pointToScan } from '../ear/frame.ts';
import type { Ear, EarOverrides } from '../model/ear.ts';
import { sureWords } from '../report/survey.ts';
import { figure, h, sentence, typed } from './dom.ts';
import { LINE_MARKS, type LineMark, MARK_WORDS, moved, rimMoved, setBy, taken, tilted, turnedUp } from './marks.ts';
import type { Pick } from './pick.ts';
import type { Session } from './session.ts';
import type { OpenCase, State, Store } from './store.ts';
import { SIDE_WORDS } from './words.ts';

/** One field: which mark it sets, what stands in it, and what a number in it means. */
interface Field {
  readonly mark: keyof EarOverrides;
  readonly label: string;
  readonly unit: 'mm' | '°';
  /** Undefined: nothing to show. Steps from what is shown (turns, shifts) begin at 0. */
  readonly shown: (ear: Ear, set: EarOverrides) => number | undefined;
  readonly apply: (ear: Ear, set: EarOverrides, x: number) => EarOverrides;
}

const onLine = (mark: LineMark): Field => ({
  mark,
  label: MARK_WORDS[mark],
  unit: 'mm',
  shown: (ear) => ear[mark]?.depth,
  apply: (ear, set, x) => moved(ear, set, mark, x),
});

const step = (mark: keyof EarOverrides, label: string, unit: Field['unit'], apply: Field['apply']): Field => ({
  mark,
  label,
  unit,
  shown: () => 0,
  apply,
});

const FIELDS: readonly Field[] = [
  ...LINE_MARKS.map(onLine),
  step('rim', 'Rim plane, further out by', 'mm', rimMoved),
  step('superior', 'Up, turned towards the face by', '°', turnedUp),
  step('lateral', 'Out, tilted forwards by', '°', (ear, set, x) => tilted(ear, set, x, 0)),
  step('lateral', 'Out, tilted upwards by', '°', (ear, set, x) => tilted(ear, set, 0, x)),
];
/** Marks that an ear may lack. */
const MAY_LACK = ['firstBend', 'secondBend', 'crus'] as const;

/** An element of its own, so that a field keeps its focus while the tables beside it are drawn anew. */
export function mountSurvey(store: Store, session: Session, pick: Pick | undefined): HTMLElement {
  const list = h('dl');
  const fault = h('p', { class: 'gap refused', role: 'alert' });
  const form = formOf(store, session);
  const crus = crusRow(store, session, pick);
  const all = h('button', { type: 'button', class: 'link', onclick: () => session.correct({}) }, 'Take all corrections back');
  const correct = h(
    'details',
    { class: 'correct no-print' },
    h('summary', {}, 'Correct the survey'),
    h(
      'p',
      { class: 'gap' },
      'Drag a mark under the section, or type here: depths in mm from the aperture that is shown. The styles are judged anew.',
    ),
    form.element,
    crus.element,
    fault,
    h('p', { class: 'gap' }, all),
  );
  const host = h('section', { class: 'survey' }, h('h2', {}, 'The canal'), list, correct);
  store.watch((now, before) => {
    if (before && now.shown === before.shown && now.fault === before.fault) return;
    host.hidden = !now.shown;
    if (!now.shown) return;
    list.replaceChildren(...rowsOf(now.shown).flatMap(([t, d]) => [h('dt', {}, t), h('dd', {}, d)]));
    form.fill(now.shown);
    const refused = now.fault?.fault.code === 'ear/override' ? now.fault.fault : undefined;
    fault.textContent = refused ? `${sentence(refused.found)} ${sentence(refused.next)}` : '';
    crus.fill(now.shown);
    all.hidden = Object.keys(now.shown.source.corrections ?? {}).length === 0;
    if (refused || (before?.shown?.ear !== now.shown.ear && !all.hidden)) correct.open = true;
  });
  return host;
}

function rowsOf({ ear, side, source }: OpenCase): [string, string][] {
  const bend = (mark: 'firstBend' | 'secondBend'): string => {
    const b = ear[mark];
    if (b) return `${figure(b.depth)} mm deep, ${sureWords(b.confidence, b.set)}`;
    return source.corrections?.[mark] === 'none' ? 'none, set by hand' : 'the impression ends before it';
  };
  const { aperture, isthmus, end, rim, floor, crus, directions } = ear;
  const rows: [string, string][] = [
    ['Side', SIDE_WORDS[side]],
    ['Aperture', `depth 0, ${sureWords(aperture.confidence, aperture.set)}`],
    ['First bend', bend('firstBend')],
    ['Second bend', bend('secondBend')],
    ['End of the impression', `${figure(end.depth)} mm deep, ${sureWords(end.confidence, end.set)}`],
    ['Rim plane', sureWords(rim.confidence, rim.set)],
    ['Crus', crus ? sureWords(crus.confidence, crus.set) : 'not seen'],
  ];
  if (isthmus) rows.splice(4, 0, ['Isthmus', `${figure(isthmus.depth)} mm deep, ${isthmus.area.toFixed(0)} mm²`]);
  if (floor) rows.push(['Cavum floor', `${figure(floor.depth)} mm below the rim`]);
  for (const d of ['lateral', 'superior'] as const) if (directions?.[d] === 'by hand') rows.push([MARK_WORDS[d], 'set by hand']);
  return rows;
}

function formOf(store: Store, session: Session) {
  const rows = FIELDS.map((field) => fieldRow(field, store, session));
  const lacks = MAY_LACK.map((mark) => lackRow(mark, session, store));
  return {
    element: h('div', { class: 'fields' }, ...rows.map((r) => r.element), ...lacks.map((r) => r.element)),
    fill(shown: OpenCase): void {
      for (const r of [...rows, ...lacks]) r.fill(shown);
    },
  };
}

function fieldRow(field: Field, store: Store, session: Session) {
  const input = h('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-mark': field.mark });
  const back = backButton(field.mark, store, session);
  const valueOfShown = ({ shown }: State): number | undefined => shown && field.shown(shown.ear, shown.source.corrections ?? {});
  const text = (x: number | undefined): string => (x === undefined ? '' : figure(x));
  const commit = (): void => {
    const { shown } = store.get();
    const before = valueOfShown(store.get());
    const x = typed(input.value);
    if (!shown || !Number.isFinite(x)) input.value = text(before);
    else if (input.value !== text(before)) session.correct(field.apply(shown.ear, shown.source.corrections ?? {}, x));
  };
  input.addEventListener('change', commit);
  return {
    element: h('p', { class: 'gap' }, h('label', {}, h('span', { class: 'label' }, field.label), input, field.unit), back),
    fill({ ear, source }: OpenCase): void {
      input.value = text(field.shown(ear, source.corrections ?? {}));
      back.hidden = setBy(ear, field.mark) === 'auto';
    },
  };
}

/** "There is none": for marks that the survey may take for what they are not. */
function lackRow(mark: (typeof MAY_LACK)[number], session: Session, store: Store) {
  const box = h('input', { type: 'checkbox', 'data-none': mark });
  box.addEventListener('change', () => {
    const corrections = store.get().shown?.source.corrections ?? {};
    session.correct(box.checked ? { ...corrections, [mark]: 'none' } : taken(corrections, mark));
  });
  return {
    element: h('p', { class: 'gap' }, h('label', { class: 'tick' }, box, `There is no ${MARK_WORDS[mark].toLowerCase()}`)),
    fill({ source }: OpenCase): void {
      box.checked = source.corrections?.[mark] === 'none';
    },
  };
}

/** The crus lies off the centreline: it is pointed out on the cast. */
function crusRow(store: Store, session: Session, pick: Pick | undefined) {
  const ask = (): void =>
    pick?.("the middle of the crus's groove", (at) => {
      const { shown } = store.get();
      if (shown) session.correct({ ...shown.source.corrections, crus: pointToScan(shown.ear.frame, at) });
    });
  const button = h('button', { type: 'button', class: 'link', onclick: ask }, 'Point out the crus on the cast');
  const back = backButton('crus', store, session);
  button.hidden = pick === undefined;
  return {
    element: h('p', { class: 'gap' }, button, back),
    fill({ ear }: OpenCase): void {
      back.hidden = setBy(ear, 'crus') === 'auto';
    },
  };
}

function backButton(mark: keyof EarOverrides, store: Store, session: Session): HTMLButtonElement {
  const take = (): void => session.correct(taken(store.get().shown?.source.corrections ?? {}, mark));
  return h('button', { type: 'button', class: 'link', onclick: take, 'aria-label': `${MARK_WORDS[mark]}: as found` }, 'As found');
}
