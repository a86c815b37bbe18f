/** The catalogue: which one rules, its parts drawn and changed, its rules, what each style takes. Another is opened here, and one saved. */
import { WISH_WORDS } from '../model/order.ts';
import type { Kit, ListedPart, Rules, Slot, Style } from '../model/parts.ts';
import { needsOf } from '../order/index.ts';
import { kitFor, RULE_RANGES } from '../parts/index.ts';
import type { PartFile, SlotFile } from '../parts/schema.ts';
import { Desk } from './catalogue-desk.ts';
import { kitIn, partIn, partsIn } from './catalogue-edits.ts';
import { choiceRow, type Row, textRow } from './catalogue-fields.ts';
import { capital, figure, filePicker, h, sentence, setChildren } from './dom.ts';
import { mountLadderLine } from './ladder-line.ts';
import { catalogueFileName, hasEdits, rulingCatalogue } from './own-catalogue.ts';
import { type PartFigure, partFigure } from './part-drawings.ts';
import type { Session } from './session.ts';
import { type OpenCase, rulesOf, type State, type Store } from './store.ts';
import { PART_WORDS } from './words.ts';

const RULE_WORDS: Record<keyof Rules, string> = {
  wall: 'Wall',
  faceplate: 'Faceplate',
  gap: 'Gap to wall and faceplate',
  partGap: 'Gap between parts',
  suspension: 'Round a receiver',
  tolerance: 'Tolerance of a verdict',
};

/** An element of its own, so that what is being typed stays while the tables beside it are drawn anew. */
export function mountCatalogue(store: Store, session: Session): HTMLElement {
  const desk = new Desk(store, session);
  const status = statusOf(desk, session);
  const parts = partsPanel(desk, store);
  const rules = rulesPanel(desk, store);
  const choices = choicesPanel(desk, store);
  const refused = h('div', { class: 'refused', role: 'alert' });
  const host = h(
    'section',
    { class: 'catalogue', id: 'catalogue', tabindex: -1 },
    h('h2', {}, 'Catalogue'),
    ...status.elements,
    refused,
    parts.element,
    choices.element,
    rules.element,
    mountLadderLine(store),
  );
  const fill = (): void => {
    if (!store.get().shown) return;
    for (const panel of [status, parts, rules, choices]) panel.fill();
    const words = desk.refusals.map(sentence);
    const list =
      words.length > 0 ? [h('p', {}, 'Not judged yet; the ladder is as it was.'), h('ul', {}, ...words.map((w) => h('li', {}, w)))] : [];
    // The same words again are no news to a screen reader.
    if (refused.textContent !== list.map((e) => e.textContent).join('')) refused.replaceChildren(...list);
  };
  store.watch((now, before) => {
    if (
      !before ||
      now.selected !== before.selected ||
      now.shown?.source !== before.shown?.source ||
      now.shown?.summary !== before.shown?.summary
    )
      fill();
  });
  desk.watch(fill);
  return host;
}

function statusOf(desk: Desk, session: Session) {
  const said = h('p', { class: 'wide' });
  const picker = filePicker('Catalogue file', '.json', false, (files) => void session.openCatalogue(files));
  const link = (words: string, does: () => void): HTMLButtonElement => h('button', { type: 'button', class: 'link', onclick: does }, words);
  const save = link('Save catalogue', () => session.saveCatalogue());
  const back = link('Put all changes back', () => desk.putBack(Object.keys(desk.edits)));
  const ours = link('Back to the generic catalogue', () => session.catalogue(undefined));
  const name = textRow(desk, 'Name', [{ place: 'name', label: 'Name of the catalogue' }], '');
  return {
    elements: [
      said,
      h(
        'p',
        { class: 'actions no-print' },
        link('Open a catalogue…', () => picker.click()),
        save,
        back,
        ours,
      ),
      name.element,
    ],
    fill(): void {
      const { own } = desk;
      said.textContent = capital(statusWords(desk));
      save.title = `As ${catalogueFileName(own)}, for the command line and for cases`;
      back.hidden = !own?.from || !hasEdits(own);
      ours.hidden = !own;
      name.element.hidden = !own;
      name.fill();
    },
  };
}

function statusWords({ own, edits }: Desk): string {
  if (!own) return 'The generic catalogue rules. Change a value here, or open or drop a file of your own: the styles are judged anew.';
  const many = Object.keys(edits).length;
  const changed = many === 0 ? '' : `, with ${many} ${many === 1 ? 'value' : 'values'} changed here`;
  const what = own.from ? `${own.catalogue.name}, from ${own.from}` : `${own.catalogue.name}: the generic catalogue`;
  return `${what}${changed}. It rules for scans that are opened next, too.`;
}

interface Panel {
  readonly element: HTMLElement;
  fill(): void;
}

/** The parts of the selected style: those of this order's kit, and behind a fold the others that it may take. */
function partsPanel(desk: Desk, store: Store): Panel {
  const kit = h('div');
  const others = h('div');
  const more = h('details', {}, h('summary', {}, 'Other parts that this style may take'), others);
  const element = h(
    'details',
    { class: 'part-drawings' },
    h('summary', {}, 'The parts, drawn to one scale'),
    h('p', { class: 'gap' }, 'Solid parts are filled; dashed is room that service takes. Lengths in mm, of the solid.'),
    kit,
    more,
  );
  const figures = figuresOf(desk, store);
  const fill = (): void => {
    const { shown, selected } = store.get();
    if (!shown || !element.open) return;
    const ids = idsOf(shown, selected);
    const show = (host: HTMLElement, list: readonly string[]): void => {
      const drawn = list.flatMap((id) => figures(id) ?? []);
      setChildren(
        host,
        drawn.map((f) => f.element),
      );
      for (const f of drawn) f.fill();
    };
    show(kit, ids.kit);
    more.hidden = ids.others.length === 0;
    if (more.open) show(others, ids.others);
  };
  element.addEventListener('toggle', fill);
  more.addEventListener('toggle', fill);
  return { element, fill };
}

/** One figure a part, made when it is first shown and again when its base is another. */
function figuresOf(desk: Desk, store: Store): (id: string) => PartFigure | undefined {
  const made = new Map<string, { readonly base: PartFile; readonly figure: PartFigure }>();
  const rules = (): Rules => {
    const { shown } = store.get();
    return shown ? rulesOf(shown) : rulingCatalogue(undefined).rules;
  };
  return (id) => {
    const base = partIn(desk.base, id);
    const before = made.get(id);
    if (!base || before?.base === base) return before?.figure;
    const figure = partFigure(desk, base, rules);
    made.set(id, { base, figure });
    return figure;
  };
}

/** Which parts of the catalogue a style's kit for this order has, and which others the style may take. */
function idsOf({ source }: OpenCase, selected: State['selected']): { readonly kit: string[]; readonly others: string[] } {
  const catalogue = rulingCatalogue(source.catalogue);
  const style = catalogue.styles.find((s) => s.name === selected);
  if (!style) return { kit: [], others: [] };
  const listed = style.slots.flatMap(listedIn);
  const made = kitFor(style, needsOf(source.order ?? {}, catalogue).order, catalogue.rules);
  const kit = made.kind === 'kit' ? namesIn(made.kit, listed) : [];
  const others = listed.map((p) => p.id).filter((id) => !kit.includes(id));
  return { kit, others: [...new Set(others)] };
}

/** A kit's parts have names of their own; their primitives are the list's. */
const namesIn = ({ parts }: Kit, listed: readonly ListedPart[]): string[] => [
  ...new Set(parts.flatMap((p) => listed.find((l) => l.primitives === p.primitives)?.id ?? [])),
];

function listedIn(slot: Slot): readonly ListedPart[] {
  if (slot.takes === 'receiver') return Object.values(slot.sizes);
  if (slot.takes === 'microphones') return [slot.part];
  return [slot.part, ...(slot.takes === 'cell' && slot.rechargeable ? [slot.rechargeable] : []), ...slot.alternatives];
}

function rulesPanel(desk: Desk, store: Store): Panel {
  const said = (rule: keyof Rules): string => {
    const own = store.get().shown?.source.also?.rules?.[rule];
    const [least, most] = RULE_RANGES[rule];
    return own === undefined ? `${least} to ${most}` : `the case has its own, ${figure(own)}`;
  };
  const rows = (Object.keys(RULE_WORDS) as (keyof Rules)[]).map((rule) =>
    textRow(desk, RULE_WORDS[rule], [{ place: `rules/${rule}`, label: RULE_WORDS[rule] }], 'mm', () => said(rule)),
  );
  const element = h(
    'details',
    { class: 'no-print' },
    h('summary', {}, 'The rules'),
    h('div', { class: 'rows' }, ...rows.map((r) => r.element)),
  );
  return {
    element,
    fill() {
      for (const row of rows) row.fill();
    },
  };
}

/** What the selected style takes, where there is a choice. */
function choicesPanel(desk: Desk, store: Store): Panel {
  const host = h('div', { class: 'rows' });
  const element = h('details', { class: 'no-print' }, h('summary', {}, 'Which parts this style takes'), host);
  let rows: readonly Row[] = [];
  let of: unknown[] = [];
  return {
    element,
    fill() {
      const { selected } = store.get();
      const now = [desk.base, selected];
      if (now.some((x, k) => x !== of[k])) {
        of = now;
        rows = kitIn(desk.base, selected).flatMap((slot, k) => slotRows(desk, selected, slot, k));
        host.replaceChildren(...rows.map((r) => r.element));
      }
      element.hidden = rows.length === 0;
      for (const row of rows) row.fill();
    },
  };
}

function slotRows(desk: Desk, style: Style['name'], slot: SlotFile, k: number): Row[] {
  const at = `styles/${style}/kit/${k}`;
  if (slot.takes === 'receiver') {
    return Object.entries(slot.sizes).flatMap(([size, id]) => (id ? choiceOf(desk, `Receiver, ${size}`, `${at}/sizes/${size}`, id) : []));
  }
  const words = { cell: 'Battery', microphones: 'Microphone', part: '', wish: '' }[slot.takes];
  const kind = partIn(desk.base, slot.part)?.kind ?? 'chip';
  return choiceOf(desk, slot.takes === 'wish' ? capital(WISH_WORDS[slot.wish]) : words || PART_WORDS[kind], `${at}/part`, slot.part, slot);
}

/** Of all parts of the kind: first those that the style offers. None where there is but one. */
function choiceOf(desk: Desk, label: string, place: string, id: string, slot?: SlotFile): Row[] {
  const kind = partIn(desk.base, id)?.kind;
  const listed = (): PartFile[] => partsIn(desk.file).filter((p) => p.kind === kind);
  if (listed().length < 2) return [];
  const offered = [id, ...(slot && 'alternatives' in slot ? (slot.alternatives ?? []) : [])];
  const option = ({ id: value, name }: PartFile): HTMLElement => h('option', { value }, name);
  const group = (words: string, some: readonly PartFile[]): HTMLElement[] =>
    some.length > 0 ? [h('optgroup', { label: words }, ...some.map(option))] : [];
  const options = (): HTMLElement[] => {
    const all = listed();
    const [own, rest] = [all.filter((p) => offered.includes(p.id)), all.filter((p) => !offered.includes(p.id))];
    return [...group('Offered by this style', own), ...group('Others of the catalogue', rest)];
  };
  return [choiceRow(desk, label, place, options, (of) => partIn(desk.base, of)?.name ?? of)];
}
