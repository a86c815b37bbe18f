import type { Order } from '../model/order.ts';

/** An order without wishes: the smallest receiver, one microphone where the style has the choice, no controls. */
export const DEFAULT_ORDER: Order = {
  receiver: 'small',
  microphones: 1,
  pushButton: false,
  volumeWheel: false,
  telecoil: false,
  radio: false,
};
