/** Everything that the drawings show, as text: clearances, reasons, the scan's findings, cautions. For screen readers and paper. */

import type { Recommendation } from '../model/case.ts';
import { signedSpare } from '../model/figures.ts';
import type { Assembly, Clearance, Measured, Rung } from '../model/fit.ts';
import { styleNamed } from '../parts/index.ts';
import { addsWords, placeWords, verdictSentence } from '../report/table.ts';
import { figure, h, sentence, setChildren } from './dom.ts';
import { publishedTable } from './published-panel.ts';
import { findingsOf, type Mark, type OpenCase, recommendedStyle, type State, type Store, selectedRung } from './store.ts';
import { stepsOf } from './way-in.ts';
import { CASE_CAUTIONS } from './words.ts';

/** Panels that are up to date by themselves. */
export interface Own {
  readonly help: HTMLElement;
  readonly survey: HTMLElement;
  readonly order: HTMLElement;
  readonly catalogue: HTMLElement;
}

export function mountDetails(host: HTMLElement, store: Store, show: (mark: Mark) => void, own: Own): void {
  const main = h('div', {});
  const beside = h('div', { class: 'beside' });
  store.watch((now, before) => {
    const same = before && now.shown === before.shown && now.selected === before.selected;
    if (same) return;
    // Panels of their own stay where they are: who types in one goes on typing.
    setChildren(host, now.shown ? [main, beside] : [empty()]);
    if (!now.shown) return;
    setChildren(main, mainOf(now, now.shown, show, own));
    setChildren(beside, [findings(now.shown, show), own.survey, own.order]);
  });
}

const empty = (): HTMLElement =>
  h(
    'section',
    {},
    h('h2', {}, 'Nothing judged yet'),
    h(
      'p',
      { class: 'wide' },
      'Drop a scan of an ear impression (STL, PLY, OBJ, 3MF or glTF) anywhere, or choose one from the sample scans. Clearances, reasons and findings are listed here.',
    ),
  );

function mainOf(state: State, shown: OpenCase, show: (mark: Mark) => void, own: Own): HTMLElement[] {
  const last = [own.catalogue, cautions(selectedRung(state)?.rung), publishedTable(shown.ear)];
  const rung = selectedRung(state)?.rung;
  if (!rung)
    return [h('section', {}, h('h2', {}, styleNamed(state.selected).title), h('p', {}, 'This style has not been judged yet.')), ...last];
  const best = recommendedStyle(state) === rung.style;
  const { larger = [], smaller = [] } = shown.summary?.recommended ?? {};
  return [
    clearances(rung, best),
    ...(best && smaller.length > 0 ? [smallerStyles(smaller)] : []),
    ...(best && larger.length > 0 ? [largerStyles(larger)] : []),
    ...(rung.assembly ? [assembly(rung, rung.assembly)] : []),
    ...(rung.reasons.length > 0 ? [reasons(rung, show)] : []),
    own.help,
    ...last,
  ];
}

function clearances(rung: Rung, best: boolean): HTMLElement {
  const title = `${styleNamed(rung.style).title} (${rung.style})${best ? ', recommended' : ''}`;
  const { kit, evidence } = rung;
  const said = h('p', { class: 'wide' }, sentence(verdictSentence(rung)));
  if (!kit || !evidence) return h('section', {}, h('h2', {}, title), said);
  const head = ['Part', 'To the wall', 'To other parts', 'To the faceplate', 'Least spare'];
  const rows = kit.parts.map((part, i) => {
    const c: Clearance | undefined = evidence.clearance[i];
    const spares = evidence.measured.filter((m) => m.part === part.id || m.other === part.id).map((m) => m.spare);
    const swatch = h('i');
    swatch.style.background = `var(--${part.kind})`;
    const cell = (x: number | undefined): HTMLElement => h('td', { class: 'number' }, x === undefined ? '–' : figure(x));
    const least = spares.length > 0 ? signedSpare(Math.min(...spares)) : '–';
    const faceplate = part.seat.at === 'faceplate' ? h('td', { class: 'number' }, 'seated') : cell(c?.faceplate);
    return h(
      'tr',
      {},
      h('th', { scope: 'row' }, swatch, part.name),
      cell(c?.wall),
      cell(c?.parts),
      faceplate,
      h('td', { class: 'number' }, least),
    );
  });
  const table = h(
    'table',
    {},
    h(
      'caption',
      {},
      'What there is, in mm, measured in three dimensions on the verified arrangement. Least spare: the least of what there is less what is asked.',
    ),
    h('thead', {}, h('tr', {}, ...head.map((t, i) => h('th', { scope: 'col', class: i > 0 ? 'number' : undefined }, t)))),
    h('tbody', {}, ...rows),
  );
  return h(
    'section',
    {},
    h('h2', {}, title),
    said,
    table,
    tightest(rung, evidence.tightest),
    ...placeWords(rung).map((words) => h('p', { class: 'wide' }, sentence(words))),
  );
}

function largerStyles(larger: Recommendation['larger']): HTMLElement {
  const items = larger.map((l) => h('li', {}, h('b', {}, styleNamed(l.style).title), ` ${addsWords(l)}.`));
  return h('section', {}, h('h2', {}, 'Larger styles fit too'), h('ul', { class: 'wide' }, ...items));
}

function smallerStyles(smaller: NonNullable<Recommendation['smaller']>): HTMLElement {
  const items = smaller.map((s) => h('li', {}, h('b', {}, styleNamed(s.style).title), `: ${sentence(s.takes)}`));
  return h('section', {}, h('h2', {}, 'What a smaller style would take'), h('ul', { class: 'wide' }, ...items));
}

function tightest(rung: Rung, m: Measured): HTMLElement {
  const name = (id: string): string => rung.kit?.parts.find((p) => p.id === id)?.name ?? id;
  const to: Record<Measured['kind'], string> = {
    wall: 'the wall',
    faceplate: 'the faceplate',
    tip: 'the tip',
    upper: 'the upper cut',
    parts: name(m.other ?? ''),
    service: m.other ? name(m.other) : 'the wall',
  };
  return h(
    'p',
    { class: 'wide' },
    `Tightest: ${name(m.part)} to ${to[m.kind]}, ${figure(m.has)} mm where ${figure(m.asked)} mm are asked.`,
  );
}

/** The order in which the parts go in, or what sticks. */
function assembly(rung: Rung, way: Assembly): HTMLElement {
  const title = h('h2', {}, 'Putting it together');
  if (way.kind === 'stuck') {
    const names = way.parts.map((id) => rung.kit?.parts.find((p) => p.id === id)?.name ?? id).join(', ');
    return h('section', {}, title, h('p', { class: 'wide' }, `No way in was found for ${names}.`));
  }
  const steps = stepsOf(rung).map((step) => h('li', {}, step.full));
  return h(
    'section',
    {},
    title,
    h('p', { class: 'wide' }, 'Through the open outer cut, one after the other; each motion is verified like the arrangement itself.'),
    h('ol', { class: 'steps wide' }, ...steps),
  );
}

function reasons(rung: Rung, show: (mark: Mark) => void): HTMLElement {
  const items = rung.reasons.map((reason, i) =>
    h(
      'li',
      {},
      sentence(reason.text),
      reason.needs !== undefined &&
        reason.has !== undefined &&
        !reason.text.includes(figure(reason.needs)) &&
        h('span', { class: 'level' }, ` Needs ${figure(reason.needs)} mm, has ${figure(reason.has)} mm.`),
      reason.at && h('button', { type: 'button', class: 'link', onclick: () => show({ of: 'reason', index: i }) }, 'Show the place'),
    ),
  );
  return h('section', {}, h('h2', {}, 'What stands in the way'), h('ol', { class: 'wide' }, ...items));
}

function cautions(rung: Rung | undefined): HTMLElement {
  const texts = [...(rung?.cautions ?? []), ...CASE_CAUTIONS];
  return h('section', {}, h('h2', {}, 'Cautions'), h('ul', { class: 'cautions wide' }, ...texts.map((t) => h('li', {}, sentence(t)))));
}

function findings(shown: OpenCase, show: (mark: Mark) => void): HTMLElement {
  const items = findingsOf(shown).map((f, index) =>
    h(
      'li',
      {},
      f.level !== 'note' && h('b', {}, f.level === 'warning' ? 'Look here: ' : 'Changed: '),
      sentence(f.text),
      f.at && h('button', { type: 'button', class: 'link', onclick: () => show({ of: 'finding', index }) }, 'Show the place'),
    ),
  );
  return h(
    'section',
    {},
    h('h2', {}, 'The scan'),
    items.length > 0 ? h('ul', {}, ...items) : h('p', {}, 'Read without a remark; nothing was changed.'),
  );
}
