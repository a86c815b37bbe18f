/** The order as a form: what is left open follows from the hearing and the wishes. */
import { type Frequency, type OrderRequest, RECEIVER_SIZES, type ReceiverSize, WISH_WORDS, WISHES, type Wish } from '../model/order.ts';
import { capital, h } from './dom.ts';

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
  const receiver = choice('Receiver', [['', 'as the hearing asks'], ...RECEIVER_SIZES.map((s): [string, string] => [s, capital(s)])]);
  const dexterity = choice('Hands', [
    ['', 'not said'],
    ['good', 'find small things easily'],
    ['poor', 'find small things hard'],
  ]);
  const wax = choice('Wax', [
    ['', 'not said'],
    ['little', 'little'],
    ['much', 'much'],
  ]);
  const directional = tick('Directional hearing (two microphones)');
  const rechargeable = tick('Rechargeable cell');
  const wishes = WISHES.map((wish) => ({ wish, ...tick(capital(WISH_WORDS[wish])) }));
  const ears = ASKED.map((frequency) => threshold(frequency));
  const how = h('input', { type: 'text', autocomplete: 'off', maxlength: 60, placeholder: 'inserts, headphones …' });
  const element = h(
    'form',
    { class: 'order-form' },
    h(
      'fieldset',
      {},
      h('legend', {}, 'Hearing thresholds of this ear, dB HL by Hz'),
      h('div', { class: 'thresholds' }, ...ears.map((e) => e.element)),
      h('label', { class: 'gap' }, h('span', { class: 'label' }, 'Measured with'), how),
    ),
    h('div', { class: 'gap ticks' }, directional.element, ...wishes.map((w) => w.element), rechargeable.element),
    ...[receiver, dexterity, wax].map((c) => c.element),
    h('p', { class: 'gap' }, h('button', { type: 'submit', class: 'button' }, 'Judge with this order')),
  );
  element.addEventListener('submit', (event) => {
    event.preventDefault();
    judge();
  });
  return {
    element,
    fill(order) {
      before = order;
      receiver.input.value = order.receiver ?? '';
      dexterity.input.value = order.dexterity ?? '';
      wax.input.value = order.wax ?? '';
      directional.input.checked = order.directional === true || order.microphones === 2;
      rechargeable.input.checked = order.rechargeable === true;
      for (const { wish, input } of wishes) input.checked = order[wish] === true;
      for (const { frequency, input } of ears) input.value = plain(order.hearing?.air[frequency]);
      how.value = order.hearing?.how ?? '';
    },
    read() {
      const { parts, side, hearing } = before;
      const rest = Object.entries(hearing?.air ?? {}).filter(([f]) => !ASKED.includes(Number(f) as Frequency));
      const typed = ears.filter((e) => e.input.value.trim() !== '').map((e) => [e.frequency, numberOf(e.input.value)] as const);
      const air = Object.fromEntries([...rest, ...typed]);
      const { bone } = hearing ?? {};
      return {
        ...(side ? { side } : {}),
        ...(parts ? { parts } : {}),
        ...(receiver.input.value ? { receiver: receiver.input.value as ReceiverSize } : {}),
        ...(directional.input.checked ? { directional: true } : {}),
        ...Object.fromEntries(wishes.filter((w) => w.input.checked).map((w): [Wish, true] => [w.wish, true])),
        ...(rechargeable.input.checked ? { rechargeable: true } : {}),
        ...(dexterity.input.value ? { dexterity: dexterity.input.value } : {}),
        ...(wax.input.value ? { wax: wax.input.value } : {}),
        ...(typed.length > 0
          ? { hearing: { air, ...(bone ? { bone } : {}), ...(how.value.trim() ? { how: how.value.trim() } : {}) } }
          : {}),
      };
    },
  };
}

const plain = (x: number | undefined): string => (x === undefined ? '' : String(x).replace('-', '−'));

/** A number as it was typed, or the text itself, for the refusal to show. */
function numberOf(text: string): number | string {
  const x = Number(text.trim().replace(',', '.').replace('−', '-'));
  return Number.isFinite(x) ? x : text.trim();
}

function choice(label: string, options: readonly (readonly [value: string, word: string])[]) {
  const input = h('select', {}, ...options.map(([value, word]) => h('option', { value }, word)));
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
