/** The order: what was said, what follows from it and why, and the rules; a form to change it. */
import { Fault } from '../model/fault.ts';
import { WISH_WORDS, WISHES } from '../model/order.ts';
import { readOrder } from '../order/index.ts';
import { capital, figure, h, sentence } from './dom.ts';
import { orderForm } from './order-form.ts';
import { catalogueFileName, hasEdits, type OwnCatalogue, rulingCatalogue } from './own-catalogue.ts';
import type { Session } from './session.ts';
import type { OpenCase, Store } from './store.ts';
import { FORMAT_WORDS, UNIT_WORDS } from './words.ts';

/** An element of its own, so that what is being typed stays while the tables beside it are drawn anew. */
export function mountOrder(store: Store, session: Session): HTMLElement {
  const asked = h('ul', { class: 'needs' });
  const list = h('dl');
  const fault = h('p', { class: 'gap refused', role: 'alert' });
  const form = orderForm(() => {
    try {
      const order = readOrder(JSON.stringify({ format: 'cavum-order', version: 1, ...form.read() }), 'the form');
      fault.textContent = '';
      session.order(order);
    } catch (e) {
      if (!(e instanceof Fault)) throw e;
      fault.textContent = sentence(e.found.replaceAll('/hearing/air/', '').replaceAll('; ', '. '));
    }
  });
  const none = h('button', { type: 'button', class: 'link', onclick: () => session.order({}) }, 'Take the order back');
  const save = h('button', { type: 'button', class: 'link', onclick: () => session.saveCase() }, 'Save as a case file');
  const change = h(
    'details',
    { class: 'correct no-print' },
    h('summary', {}, 'Change the order'),
    h('p', { class: 'gap' }, 'What is left open follows from the hearing. Cavum checks geometry; it does not prescribe.'),
    form.element,
    fault,
    h('p', { class: 'gap' }, none),
  );
  const beside = h('span', { class: 'level' });
  const host = h(
    'section',
    { class: 'order' },
    h('h2', {}, 'Order and rules'),
    asked,
    list,
    change,
    h('p', { class: 'gap no-print' }, save, beside),
  );
  store.watch((now, before) => {
    if (before && now.shown === before.shown) return;
    host.hidden = !now.shown;
    if (!now.shown) return;
    list.replaceChildren(...rowsOf(now.shown).flatMap(([t, d]) => [h('dt', {}, t), h('dd', {}, d)]));
    asked.replaceChildren(...needsOf(now.shown));
    asked.hidden = asked.childElementCount === 0;
    const { catalogue } = now.shown.source;
    beside.textContent = catalogue ? ` It names ${catalogueFileName(catalogue)}: ${keepWords(catalogue)}` : '';
    none.hidden = Object.keys(now.shown.source.order ?? {}).length === 0;
    if (!before || now.shown.source !== before.shown?.source) {
      form.fill(now.shown.source.order ?? {});
      fault.textContent = '';
    }
  });
  return host;
}

const keepWords = (own: OwnCatalogue): string =>
  hasEdits(own) || !own.from ? 'save the catalogue too, and keep both in one folder.' : 'keep it in the same folder.';

function needsOf({ summary }: OpenCase): HTMLElement[] {
  return (summary?.needs ?? []).map(({ level, text, source }) =>
    h(
      'li',
      {},
      level === 'warning' && h('b', {}, 'Look here: '),
      level === 'need' && h('b', {}, 'Needs: '),
      sentence(text),
      h('small', {}, sentence(source)),
    ),
  );
}

function rowsOf({ summary, scan, source }: OpenCase): [string, string][] {
  const rows: [string, string][] = [
    ['Scan file', `${scan.name}, ${FORMAT_WORDS[scan.format]}, read in ${UNIT_WORDS[scan.unit]}`],
    ['Catalogue', rulingCatalogue(source.catalogue).name],
  ];
  if (!summary) return rows;
  const { order, rules, seed, effort } = summary;
  const wishes = WISHES.filter((w) => order[w]).map((w) => WISH_WORDS[w]);
  if (order.rechargeable) wishes.push('rechargeable cell');
  rows.push(
    ['Receiver', capital(order.receiver)],
    ['Microphones asked', String(order.microphones)],
    ['Wishes', wishes.length > 0 ? wishes.join(', ') : 'none'],
    ['Wall, faceplate', `${figure(rules.wall)} mm, ${figure(rules.faceplate)} mm`],
    ['Gap to wall, between parts', `${figure(rules.gap)} mm, ${figure(rules.partGap)} mm`],
    ['Round a receiver', `${figure(rules.suspension)} mm`],
    ['Tolerance', `${figure(rules.tolerance)} mm`],
    ['Effort, seed', `${effort}, ${seed}`],
  );
  return rows;
}
