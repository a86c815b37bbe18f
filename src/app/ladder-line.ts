/** The ladder in one line, for panels from which the ladder itself is out of sight. */
import { foundSpare } from '../model/figures.ts';
import { VERDICT_WORDS } from '../report/table.ts';
import { h, percent } from './dom.ts';
import { markOf } from './ladder.ts';
import { type JudgedRung, type State, type Store, stylesOf } from './store.ts';

/** An element that is up to date by itself. Screen readers hear verdicts as they come, elsewhere. */
export function mountLadderLine(store: Store): HTMLElement {
  const host = h('p', { class: 'ladder-line no-print' });
  store.watch((now, before) => {
    if (before && now.shown === before.shown && now.work === before.work && now.selected === before.selected) return;
    host.replaceChildren(
      ...(now.shown
        ? [h('span', { class: 'level' }, 'Spare, mm'), ...stylesOf(now.shown.source).map((s) => entry(now, s)), working(now)]
        : []),
    );
  });
  return host;
}

function entry({ shown, selected }: State, style: keyof NonNullable<State['shown']>['rungs']): HTMLElement {
  const judged: JudgedRung | undefined = shown?.rungs[style];
  const name = h(style === selected ? 'b' : 'span', {}, style);
  if (!judged) return h('span', { class: 'waiting' }, markOf('waiting'), name);
  const { verdict, found } = judged.rung;
  const spare = found === undefined ? '' : ` ${foundSpare(found)}`;
  return h(
    'span',
    { class: `verdict-${verdict}`, title: VERDICT_WORDS[verdict] },
    markOf(verdict),
    name,
    h('span', { class: 'visually-hidden' }, ` ${VERDICT_WORDS[verdict]}`),
    spare,
  );
}

const working = ({ work }: State): HTMLElement =>
  h('span', { class: 'level' }, work.state === 'running' ? `Judging, ${percent(work.done)}` : '');
