/** What would make the selected style fit: asked for with a button, tried by the worker, listed with what each gave. */
import type { Remedy, Rung } from '../model/fit.ts';
import { styleNamed } from '../parts/index.ts';
import { needsHelp } from '../remedy/index.ts';
import { capital, h, percent, sentence } from './dom.ts';
import type { Session } from './session.ts';
import { helping, type State, type Store, selectedRung } from './store.ts';

/** An element of its own, so that progress does not draw the tables beside it anew. */
export function mountHelp(store: Store, session: Session): HTMLElement {
  const host = h('section', { class: 'help', 'aria-live': 'polite' });
  store.watch((now, before) => {
    const same = before && now.shown === before.shown && now.selected === before.selected && now.work === before.work;
    if (same) return;
    const rung = selectedRung(now)?.rung;
    host.hidden = !rung || !needsHelp(rung);
    if (rung && !host.hidden) host.replaceChildren(h('h2', {}, 'What would make it fit'), ...bodyOf(now, rung, session));
  });
  return host;
}

function bodyOf(state: State, rung: Rung, session: Session): HTMLElement[] {
  const larger = nextStyle(state, rung);
  const last = larger ? [h('p', { class: 'wide' }, larger)] : [];
  if (helping(state) === rung.style && state.work.state === 'running') {
    return [
      h(
        'p',
        { class: 'work-line' },
        `Trying changes on this ear, ${percent(state.work.done)}`,
        h('button', { type: 'button', class: 'link', onclick: () => session.cancel() }, 'Cancel'),
      ),
      ...last,
    ];
  }
  if (rung.remedies) return [...listOf(rung.remedies), ...last, ...missingOf(rung)];
  const ask = h('button', { type: 'button', class: 'button', onclick: () => void session.help(rung.style) }, 'Try what would help');
  ask.disabled = state.work.state === 'running' || !state.shown?.summary;
  return [
    h(
      'p',
      { class: 'wide' },
      'The faceplate further out, a longer tip, a thinner wall, a smaller part or a wish less: each can be tried on this ear with the same check, and it is told how much is missing.',
    ),
    h('p', { class: 'no-print' }, ask),
    ...last,
  ];
}

function missingOf({ missing }: Rung): HTMLElement[] {
  if (!missing || missing.lines.length === 0) return [];
  return [
    h(
      'section',
      {},
      h('h2', {}, 'How much is missing'),
      h('ul', { class: 'wide' }, ...missing.lines.map((line) => h('li', {}, sentence(line)))),
    ),
  ];
}

function listOf(remedies: readonly Remedy[]): HTMLElement[] {
  if (remedies.length === 0) return [h('p', { class: 'wide' }, 'Nothing that was tried makes this style fit.')];
  return [h('ol', { class: 'wide' }, ...remedies.map((r) => h('li', {}, sentence(r.text))))];
}

function nextStyle({ shown }: State, rung: Rung): string {
  const best = shown?.summary?.recommended.style;
  if (!best || best === rung.style) return '';
  return `${capital(styleNamed(best).title)} fits as ordered.`;
}
