/** An ear's sizes beside published ones, each with its definition, method and source. */
import { bandsFor, type PublishedRow } from '../ear/index.ts';
import type { Ear } from '../model/ear.ts';
import { isUnusual, percentileWords, usualWords } from '../report/survey.ts';
import { capital, figure, h, sentence } from './dom.ts';

export function publishedTable(ear: Ear): HTMLElement {
  const head = ['Size', 'This ear', 'Usual', 'Among people'];
  return h(
    'section',
    { class: 'published' },
    h('h2', {}, 'Beside published sizes'),
    h(
      'table',
      {},
      h(
        'caption',
        {},
        'Methods differ by a factor of two, so each row names its own. Figures that are not usual are marked; they change no verdict.',
      ),
      h('thead', {}, h('tr', {}, ...head.map((t, i) => h('th', { scope: 'col', class: i > 0 ? 'number' : undefined }, t)))),
      h('tbody', {}, ...bandsFor(ear).map(row)),
    ),
  );
}

function row(r: PublishedRow): HTMLElement {
  const unusual = isUnusual(r);
  return h(
    'tr',
    { class: unusual ? 'unusual' : undefined },
    h('th', { scope: 'row' }, capital(r.what), h('small', {}, sentence(r.definition), ' ', sentence(r.method), ' ', sentence(r.source))),
    h(
      'td',
      { class: 'number' },
      unusual && h('b', {}, r.value < r.mean ? 'small: ' : 'large: '),
      `${figure(r.value, r.unit === 'mm' ? 1 : 0)} ${r.unit}`,
    ),
    h('td', { class: 'number' }, usualWords(r), h('small', {}, `mean ${r.mean}${r.sd === undefined ? '' : ` ± ${r.sd}`}`)),
    h('td', { class: 'number' }, percentileWords(r) || '–'),
  );
}
