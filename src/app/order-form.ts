/** The order as a form: what is left open follows from the hearing and the wishes. */

import { type Frequency, type OrderRequest, RECEIVER_SIZES, WISH_WORDS, WISHES } from '../model/order.ts';
import { VENT } from '../order/index.ts';
import { capital, h, typed } from './dom.ts';

/** Frequencies that the form asks for, Hz. Others of an order that was read are kept. */
const ASKED: readonly Frequency[] = [250, 500, 1000, 2000, 3000, 4000, 6000, 8000];

export interface OrderForm {
  readonly element: HTMLFormElement;
  fill(order: OrderRequest): void;
  /** As the form stands; thresholds as they were typed, so that a refusal can name them. */
  read(): Readonly<Record<string, unknown>>;
}

export function orderForm(judge: () => void): OrderForm {
  let before: OrderRequest = {};
  const fields = fieldsOf();
  const element = h('form', { class: 'order-form' }, ...laidOut(fields));
  element.addEventListener('submit', (event) => {
    event.preventDefault();
    judge();
  });
  return {
    element,
    fill(order) {
      before = order;
      write(fields, order);
    },
    read: () => read(fields, before),
  };
}

const fieldsOf = () => ({
  ears: ASKED.map((frequency) => threshold(frequency)),
  how: h('input', { type: 'text', autocomplete: 'off', maxlength: 60, placeholder: 'inserts, headphones …' }),
  directional: tick('Directional hearing (two microphones)'),
  wishes: WISHES.map((wish) => ({ wish, ...tick(capital(WISH_WORDS[wish])) })),
  rechargeable: tick('Rechargeable cell'),
  leastVisible: tick('Least visible'),
  receiver: choice('Receiver', [['', 'as the hearing asks'], ...RECEIVER_SIZES.map((s): [string, string] => [s, capital(s)])]),
  vent: written('Vent, mm', `none, or ${VENT.least} to ${VENT.most}`),
  dexterity: choice('Hands', [
    ['', 'not said'],
    ['good', 'find small things easily'],
    ['poor', 'find small things hard'],
  ]),
  wax: choice('Wax', [
    ['', 'not said'],
    ['little', 'little'],
    ['much', 'much'],
  ]),
});
type Fields = ReturnType<typeof fieldsOf>;

const laidOut = ({ ears, how, directional, wishes, rechargeable, leastVisible, receiver, vent, dexterity, wax }: Fields): HTMLElement[] => [
  h(
    'fieldset',
    {},
    h('legend', {}, 'Hearing thresholds of this ear, dB HL by Hz'),
    h('div', { class: 'thresholds' }, ...ears.map((e) => e.element)),
    h('label', { class: 'gap' }, h('span', { class: 'label' }, 'Measured with'), how),
  ),
  h('div', { class: 'gap ticks' }, ...[directional, ...wishes, rechargeable, leastVisible].map((t) => t.element)),
  ...[receiver, vent, dexterity, wax].map((c) => c.element),
  h('p', { class: 'gap' }, h('button', { type: 'submit', class: 'button' }, 'Judge with this order')),
];

function write(
  { ears, how, directional, wishes, rechargeable, leastVisible, receiver, vent, dexterity, wax }: Fields,
  order: OrderRequest,
): void {
  receiver.input.value = order.receiver ?? '';
  vent.input.value = plain(order.vent);
  dexterity.input.value = order.dexterity ?? '';
  wax.input.value = order.wax ?? '';
  directional.input.checked = order.directional === true || order.microphones === 2;
  rechargeable.input.checked = order.rechargeable === true;
  leastVisible.input.checked = order.leastVisible === true;
  for (const { wish, input } of wishes) input.checked = order[wish] === true;
  for (const { frequency, input } of ears) input.value = plain(order.hearing?.air[frequency]);
  how.value = order.hearing?.how ?? '';
}

/** `before`: what the form does not ask for is kept of it. */
function read(
  { ears, how, directional, wishes, rechargeable, leastVisible, receiver, vent, dexterity, wax }: Fields,
  before: OrderRequest,
) {
  const { parts, side, hearing } = before;
  const filled = ears.filter((e) => e.input.value.trim() !== '').map((e) => [e.frequency, numberOf(e.input.value)] as const);
  const rest = Object.entries(hearing?.air ?? {}).filter(([f]) => !ears.some((e) => String(e.frequency) === f));
  const said = {
    side,
    parts,
    receiver: receiver.input.value,
    vent: vent.input.value.trim() === '' ? undefined : numberOf(vent.input.value),
    directional: directional.input.checked,
    ...Object.fromEntries(wishes.map((w) => [w.wish, w.input.checked])),
    rechargeable: rechargeable.input.checked,
    leastVisible: leastVisible.input.checked,
    dexterity: dexterity.input.value,
    wax: wax.input.value,
    hearing: filled.length > 0 && given({ air: Object.fromEntries([...rest, ...filled]), bone: hearing?.bone, how: how.value.trim() }),
  };
  return given(said);
}

/** Without what is empty, not ticked or not said. */
const given = (said: Readonly<Record<string, unknown>>): Readonly<Record<string, unknown>> =>
  Object.fromEntries(Object.entries(said).filter(([, x]) => x !== undefined && x !== '' && x !== false));

const plain = (x: number | undefined): string => (x === undefined ? '' : String(x).replace('-', '−'));

/** A number as it was typed, or the text itself, for the refusal to show. */
function numberOf(text: string): number | string {
  const x = typed(text);
  return Number.isFinite(x) ? x : text.trim();
}

function choice(label: string, options: readonly (readonly [value: string, word: string])[]) {
  const input = h('select', {}, ...options.map(([value, word]) => h('option', { value }, word)));
  return { input, element: h('label', { class: 'gap' }, h('span', { class: 'label' }, label), input) };
}

function written(label: string, placeholder: string) {
  const input = h('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', placeholder });
  return { input, element: h('label', { class: 'gap' }, h('span', { class: 'label' }, label), input) };
}

function tick(label: string) {
  const input = h('input', { type: 'checkbox' });
  return { input, element: h('label', { class: 'tick' }, input, label) };
}

function threshold(frequency: Frequency) {
  const input = h('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-hz': frequency });
  return { frequency, input, element: h('label', {}, h('span', {}, String(frequency)), input) };
}
