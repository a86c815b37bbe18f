import type { Side } from './ear.ts';

export const RECEIVER_SIZES = ['small', 'medium', 'large', 'extra-large'] as const;
export type ReceiverSize = (typeof RECEIVER_SIZES)[number];

/** What an order may wish for that takes a part of its own. */
export const WISHES = ['pushButton', 'volumeWheel', 'telecoil', 'radio'] as const;
export type Wish = (typeof WISHES)[number];

/** Audiogram frequencies that an order may give, Hz. */
export const FREQUENCIES = [125, 250, 500, 750, 1000, 1500, 2000, 3000, 4000, 6000, 8000] as const;
export type Frequency = (typeof FREQUENCIES)[number];

/** Hearing thresholds of one ear by frequency, dB HL. */
export type Thresholds = Readonly<Partial<Record<Frequency, number>>>;

/** An audiogram and how it was come by. */
export interface Audiogram {
  readonly air: Thresholds;
  readonly bone?: Thresholds;
  /** As the order says it: headphones, inserts, by the client's own test ... */
  readonly how?: string;
}

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
  /** A cell that is charged in place. */
  readonly rechargeable?: boolean;
  /** Parts asked for by their name in the catalogue, by kind ("cell": "cell-13"); a style's kit must list them. */
  readonly parts?: Readonly<Partial<Record<string, string>>>;
  readonly hearing?: Audiogram;
  readonly dexterity?: 'good' | 'poor';
  readonly wax?: 'little' | 'much';
}

/** An order as it was given: the receiver and the microphones may be left to follow from the hearing and the wishes. */
export type OrderRequest = Omit<Order, 'receiver' | 'microphones'> & {
  readonly receiver?: ReceiverSize;
  readonly microphones?: 1 | 2;
  /** Asks for two microphones. */
  readonly directional?: boolean;
};
