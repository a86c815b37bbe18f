import type { Side } from './ear.ts';

export const RECEIVER_SIZES = ['small', 'medium', 'large', 'extra-large'] as const;
export type ReceiverSize = (typeof RECEIVER_SIZES)[number];

/** What the instrument must have. A wish that a style cannot carry rules the style out before any geometry. */
export interface Order {
  readonly side?: Side;
  readonly receiver: ReceiverSize;
  /** 2 asks for directional hearing; a style that always has two keeps two. */
  readonly microphones: 1 | 2;
  readonly pushButton: boolean;
  readonly volumeWheel: boolean;
  readonly telecoil: boolean;
  readonly radio: boolean;
}
