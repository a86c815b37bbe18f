/** Fields of the catalogue: what was changed is marked and can be put back, what is refused is marked until it is right. */
import type { Desk } from './catalogue-desk.ts';
import { h, sentence } from './dom.ts';

/** A row of fields that belong together. */
export interface Row {
  readonly element: HTMLElement;
  /** Shows what the desk has. */
  fill(): void;
}

export interface Entry {
  readonly place: string;
  /** For who does not see the row: "Battery 10, cylinder, diameter". */
  readonly label: string;
  readonly placeholder?: string;
}

/** Lengths, or one name, in a row: Enter and leaving it judge, Escape leaves it as it was. */
export function textRow(desk: Desk, label: string, entries: readonly Entry[], unit = 'mm', note: () => string = () => ''): Row {
  const inputs = entries.map((entry) => ({ entry, input: textInput(desk, entry, unit) }));
  const state = stateOf(
    desk,
    label,
    entries.map((e) => e.place),
    unit,
  );
  const said = h('span', { class: 'note' });
  const between = inputs.flatMap(({ input }, k) => (k > 0 ? ['×', input] : [input]));
  return {
    element: h(
      'div',
      { class: 'row' },
      h('span', { class: 'label' }, label),
      h('span', { class: 'values' }, ...between, unit, said, ...state.elements),
    ),
    fill() {
      said.textContent = note();
      for (const { entry, input } of inputs) {
        input.defaultValue = desk.judged(entry.place);
        if (input.value !== desk.textOf(entry.place)) input.value = desk.textOf(entry.place);
        marked(desk, input, entry.place);
      }
      state.fill();
    },
  };
}

function textInput(desk: Desk, { place, label, placeholder }: Entry, unit: string): HTMLInputElement {
  const input = h('input', {
    type: 'text',
    autocomplete: 'off',
    'data-place': place,
    'aria-label': unit ? `${label}, ${unit}` : label,
    ...(unit ? { inputmode: 'decimal' } : { maxlength: 60 }),
    ...(placeholder === undefined ? {} : { placeholder }),
  });
  input.addEventListener('input', () => desk.type(place, input.value));
  input.addEventListener('blur', () => desk.commit());
  input.addEventListener('keydown', (event) => {
    if (event.key === 'Enter') desk.commit();
    if (event.key !== 'Escape' || input.value === desk.judged(place)) return;
    event.stopPropagation();
    desk.leave([place]);
  });
  return input;
}

/** One of several parts. */
export function choiceRow(
  desk: Desk,
  label: string,
  place: string,
  options: () => readonly HTMLElement[],
  named: (id: string) => string,
): Row {
  const select = h('select', { 'data-place': place, 'aria-label': label });
  const state = stateOf(desk, label, [place], '', named);
  select.addEventListener('change', () => {
    desk.type(place, select.value);
    desk.commit();
  });
  return {
    element: h('div', { class: 'row' }, h('span', { class: 'label' }, label), h('span', { class: 'values' }, select, ...state.elements)),
    fill() {
      select.replaceChildren(...options());
      select.value = desk.textOf(place);
      marked(desk, select, place);
      state.fill();
    },
  };
}

function marked(desk: Desk, input: HTMLElement, place: string): void {
  input.classList.toggle('edited', desk.isEdited(place));
  input.setAttribute('aria-invalid', String(desk.refusalsOf(place).length > 0));
}

/** What is wrong with what was typed, what stood there before, and the way back to it. */
function stateOf(
  desk: Desk,
  label: string,
  places: readonly string[],
  unit: string,
  named = (text: string): string => text || 'as the rule',
) {
  const was = h('span', { class: 'was' });
  const back = h('button', { type: 'button', class: 'link', onclick: () => desk.putBack(places) }, 'Put back');
  const wrong = h('span', { class: 'wrong' });
  return {
    elements: [was, back, wrong],
    fill() {
      wrong.textContent = [...new Set(places.flatMap((p) => desk.refusalsOf(p)))].map(sentence).join(' ');
      const edited = places.some((p) => desk.isEdited(p));
      const before = places.map((p) => named(desk.before(p))).join(' × ');
      was.textContent = edited ? `was ${before}` : '';
      back.hidden = !edited;
      back.setAttribute('aria-label', `${label}: put back ${before}${unit && ` ${unit}`}`);
    },
  };
}
