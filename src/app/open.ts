/** Opening a scan: by drop anywhere, by picker, from the sample list; the side where it is not known; refusals beside it. */
import type { Side } from '../model/ear.ts';
import { UNITS } from '../scan/index.ts';
import { byId, filePicker, h, sentence } from './dom.ts';
import { hasEdits, type OwnCatalogue } from './own-catalogue.ts';
import type { Session } from './session.ts';
import type { Sample, Source, State, Store } from './store.ts';
import { SIDE_WORDS, UNIT_WORDS } from './words.ts';

export function mountOpen(host: HTMLElement, store: Store, session: Session): void {
  const picker = filePicker('Scan file', '.stl,.ply,.obj,.3mf,.glb,.gltf,.gz,.json', true, (files) => void session.openFiles(files));
  const list = h('ul');
  const choose = h('button', { type: 'button', class: 'link', popovertarget: 'samples' }, 'Sample scans');
  const samples = h('div', { id: 'samples', class: 'samples', popover: 'auto', 'aria-label': 'Sample scans' }, list);
  const fault = h('div', { class: 'fault-place' });
  host.append(
    choose,
    h('button', { type: 'button', class: 'button primary', onclick: () => picker.click() }, 'Open a scan…'),
    picker,
    samples,
    fault,
  );
  store.watch((now, before) => {
    choose.hidden = now.samples.length === 0;
    if (now.samples !== before?.samples || now.shown?.source !== before?.shown?.source)
      list.replaceChildren(...sampleItems(now, samples, session));
    if (now.fault !== before?.fault) fault.replaceChildren(...faultOf(now, store, session));
  });
  document.addEventListener('keydown', (event) => {
    if (event.key === 'Escape' && store.get().fault) store.send({ type: 'dismiss' });
  });
}

function sampleItems(state: State, popover: HTMLElement, session: Session): HTMLElement[] {
  const open = (sample: Sample): void => {
    popover.hidePopover();
    void session.openSample(sample);
  };
  return state.samples.map((sample) =>
    h(
      'li',
      {},
      h(
        'button',
        {
          type: 'button',
          'data-side': sample.side,
          'aria-current': String(state.shown?.source.name === sample.file),
          onclick: () => open(sample),
        },
        h('b', {}, sample.title),
        h('small', {}, `${SIDE_WORDS[sample.side]}. ${sentence(sample.teaches)}`),
      ),
    ),
  );
}

function faultOf(state: State, store: Store, session: Session): HTMLElement[] {
  // A correction's refusal stands beside the correction.
  if (!state.fault || state.fault.fault.code === 'ear/override') return [];
  const { name, fault, source } = state.fault;
  const units = source && fault.code === 'scan/unit' ? UNITS.filter((u) => fault.choices?.includes(u)) : [];
  const row = (term: string, text: string): HTMLElement[] => (text ? [h('dt', {}, term), h('dd', {}, sentence(text))] : []);
  return [
    h(
      'div',
      { class: 'fault', role: 'alert', 'data-code': fault.code },
      h('h2', {}, `${name} could not be ${fault.flaws ? 'taken' : 'judged'}`),
      h('dl', {}, ...row('What', fault.found), ...(fault.flaws ? [] : row('Where', fault.where)), ...row('Next', fault.next)),
      fault.flaws && flawList(fault.flaws),
      source &&
        units.length > 0 &&
        h(
          'p',
          { class: 'choices' },
          ...units.map((unit) =>
            h(
              'button',
              { type: 'button', class: 'button', 'data-unit': unit, onclick: () => void session.open({ ...source, unit }) },
              `Read it in ${UNIT_WORDS[unit]}`,
            ),
          ),
        ),
      state.shown && h('p', {}, 'The case before is as it was.'),
      h('button', { type: 'button', class: 'link', onclick: () => store.send({ type: 'dismiss' }) }, 'Close'),
    ),
  ];
}

/** All of them, in a box that scrolls: a long list is reached by the keyboard too. */
const flawList = (flaws: readonly string[]): HTMLElement =>
  h('ul', { class: 'flaws', tabindex: 0, 'aria-label': 'Faults of the file' }, ...flaws.map((f) => h('li', {}, sentence(f))));

/** A file dropped anywhere on the page is opened; anything else that is dropped gets an answer. */
export function mountDrop(session: Session): void {
  const veil = byId('drop', HTMLDivElement);
  let depth = 0;
  const holdsFiles = (event: DragEvent): boolean => event.dataTransfer?.types.includes('Files') ?? false;
  const lift = (): void => {
    depth = 0;
    veil.hidden = true;
  };
  addEventListener('dragenter', (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    depth++;
    veil.hidden = false;
  });
  addEventListener('dragover', (event) => event.preventDefault());
  addEventListener('dragleave', () => {
    if (--depth <= 0) lift();
  });
  addEventListener('drop', (event) => {
    event.preventDefault();
    lift();
    void session.openFiles([...(event.dataTransfer?.files ?? [])]);
  });
}

/** Asks for the side when neither the user nor the name says it. Closing the question leaves the page as it was. */
export function mountAsk(store: Store, session: Session): void {
  const dialog = byId('ask', HTMLDialogElement);
  const answer = (source: Source, side: Side): void => {
    store.send({ type: 'answered' });
    void session.open({ ...source, side });
  };
  dialog.addEventListener('close', () => {
    if (store.get().ask) store.send({ type: 'answered' });
  });
  store.watch((now, before) => {
    if (now.ask === before?.ask) return;
    if (!now.ask) {
      dialog.close();
      return;
    }
    const { ask } = now;
    dialog.replaceChildren(
      h('h2', { id: 'ask-title' }, 'Which ear is this?'),
      h('p', {}, `The name ${ask.name} does not say. ${hintOf(ask)}`),
      h(
        'div',
        {},
        h('button', { type: 'button', class: 'button', onclick: () => answer(ask, 'left') }, SIDE_WORDS.left),
        h('button', { type: 'button', class: 'button', onclick: () => answer(ask, 'right') }, SIDE_WORDS.right),
        h('button', { type: 'button', class: 'link', onclick: () => dialog.close() }, 'Do not open it'),
      ),
    );
    dialog.showModal();
  });
}

const hintOf = ({ looksLike }: Source): string =>
  looksLike
    ? `Its shape speaks for the ${looksLike} ear, but a scan can be mirrored: only who took the impression knows.`
    : 'Its shape does not tell either, so it has to be told.';

/** The header: which case, which ear. Choosing the other ear judges the same scan anew. */
export function mountHeader(store: Store, session: Session): void {
  const title = byId('case-title', HTMLElement);
  const line = byId('case-line', HTMLElement);
  const facts = h('span', { class: 'facts' });
  const catalogue = h('a', { href: '#catalogue', class: 'link' });
  line.append(facts, catalogue);
  const sides = (['left', 'right'] as const).map((side) =>
    h(
      'button',
      { type: 'button', role: 'radio', 'data-side': side, 'aria-checked': 'false', tabindex: -1, onclick: () => session.setSide(side) },
      SIDE_WORDS[side],
    ),
  );
  const group = byId('side', HTMLDivElement);
  group.append(...sides);
  group.addEventListener('keydown', (event) => {
    if (!['ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown'].includes(event.key)) return;
    event.preventDefault();
    const other = sides.find((b) => b.getAttribute('aria-checked') === 'false');
    other?.focus();
    other?.click();
  });
  store.watch((now, before) => {
    if (before && now.shown === before.shown && now.work === before.work) return;
    const { shown, work } = now;
    title.textContent = shown?.title ?? (work.state === 'running' ? 'Opening…' : 'No case open');
    facts.textContent = shown ? caseLine(shown) : '';
    facts.title = facts.textContent;
    catalogue.textContent = shown ? catalogueWords(shown.source.catalogue) : '';
    document.title = shown ? `${shown.title} · Cavum` : 'Cavum';
    for (const button of sides) {
      const on = shown?.side === button.dataset['side'];
      button.setAttribute('aria-checked', String(on));
      button.tabIndex = on || (!shown && button === sides[0]) ? 0 : -1;
      button.disabled = !shown;
    }
  });
}

function caseLine({ source, title, scan }: NonNullable<State['shown']>): string {
  const [x, y, z] = [0, 1, 2].map((k) => (scan.bounds.max[k] as number) - (scan.bounds.min[k] as number)) as [number, number, number];
  const size = [x, y, z].map((c) => c.toFixed(1)).join(' × ');
  const file = source.name === title ? '' : `${source.name}, `;
  return `${file}${scan.read.triangles.toLocaleString('en')} triangles, ${size} mm`;
}

/** Which catalogue rules, in a few words. */
const catalogueWords = (own: OwnCatalogue | undefined): string =>
  own ? `Catalogue: ${own.catalogue.name}${own.from && hasEdits(own) ? ', changed' : ''}` : 'Generic catalogue';
