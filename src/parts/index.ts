import type { Order } from '../model/order.ts';
import type { Kit, Part, PortRule, Rules, StyleName } from '../model/parts.ts';
import {
  CHIP,
  cellPart,
  microphonePart,
  PORTS,
  PUSH_BUTTON,
  RADIO,
  REMOVAL_CORD,
  receiverPart,
  STYLE_TABLE,
  type Style,
  TELECOIL,
  VOLUME_WHEEL,
} from './catalogue.ts';

export { CELLS, DEEP, RULES, STYLE_TABLE, type Style } from './catalogue.ts';

export const styleNamed = (name: StyleName): Style => STYLE_TABLE.find((s) => s.name === name) as Style;

/** What a style cannot carry of an order, in words; the first is enough to rule it out. */
const CONTROL_NAMES = { pushButton: 'a push button', volumeWheel: 'a volume wheel', telecoil: 'a telecoil', radio: 'a radio' } as const;
const CONTROLS = { pushButton: PUSH_BUTTON, volumeWheel: VOLUME_WHEEL, telecoil: TELECOIL, radio: RADIO } as const;
const WISHES = ['pushButton', 'volumeWheel', 'telecoil', 'radio'] as const;

export type KitResult = { readonly kind: 'kit'; readonly kit: Kit } | { readonly kind: 'excluded'; readonly text: string };

/**
 * The parts that one style needs for one order, or why the style cannot carry the order whatever the ear.
 * Parts come largest first within their seats, the order in which they are easiest to explain.
 */
export function kitFor(style: Style, order: Order, rules: Rules): KitResult {
  const excluded = whyExcluded(style, order);
  if (excluded) return { kind: 'excluded', text: excluded };
  const two = Math.max(order.microphones, style.microphones[0]) === 2;
  const microphones: Part[] = two
    ? [
        microphonePart('front-microphone', 'Front microphone', style.microphone),
        microphonePart('rear-microphone', 'Rear microphone', style.microphone),
      ]
    : [microphonePart('microphone', 'Microphone', style.microphone)];
  const pairRules: PortRule[] = two ? [{ rule: 'ports', front: 'front-microphone', rear: 'rear-microphone', ...PORTS }] : [];
  const parts: Part[] = [
    cellPart(style.cell),
    receiverPart(order.receiver, rules.suspension),
    CHIP,
    ...microphones,
    ...WISHES.filter((w) => order[w]).map((w) => CONTROLS[w]),
    ...(style.removalCord ? [REMOVAL_CORD] : []),
  ];
  return { kind: 'kit', kit: { style: style.name, parts, pairRules } };
}

function whyExcluded(style: Style, order: Order): string | undefined {
  const control = WISHES.find((w) => order[w] && !style.controls.includes(w));
  if (control)
    return `the order asks for ${CONTROL_NAMES[control]}; this style carries ${style.controls.length === 0 ? 'no controls' : 'none'}`;
  if (order.microphones > style.microphones[1]) return 'the order asks for two microphones; this style carries one';
  if (!style.receivers.includes(order.receiver)) {
    return `the order asks for a receiver of size ${order.receiver}; this style carries ${style.receivers.join(', ')}`;
  }
  return undefined;
}
