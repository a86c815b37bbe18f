import type { Side } from './ear.ts';

export const RECEIVER_SIZES = ['small', 'medium', 'large', 'extra-large'] as const;
export type ReceiverSize = (typeof RECEIVER_SIZES)[number];

/** What an order may wish for that takes a part of its own. */
export const WISHES = ['pushButton', 'volumeWheel', 'telecoil', 'radio'] as const;
export type Wish = (typeof WISHES)[number];
/** As words, to go after "a". */
export const WISH_WORDS: Readonly<Record<Wish, string>> = {
  pushButton: 'push button',
  volumeWheel: 'volume wheel',
  telecoil: 'telecoil',
  radio: 'radio antenna',
};

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
  /** Diameter of a vent's bore from the faceplate to the tip, mm; 0.8 to 3, or 0 for none (the same as leaving it out). */
  readonly vent?: number;
  /** A cell that is charged in place. */
  readonly rechargeable?: boolean;
  /** Parts asked for by their name in the catalogue, by kind ("cell": "cell-13"); a style's kit must list them. */
  readonly parts?: Readonly<Partial<Record<string, string>>>;
  readonly hearing?: Audiogram;
  readonly dexterity?: 'good' | 'poor';
  readonly wax?: 'little' | 'much';
  /** The least visible style is wished for: what each smaller one than that which fits would take is told. */
  readonly leastVisible?: boolean;
}

/** An order as it was given: what it leaves out follows from the hearing and the wishes, else from the defaults. */
export type OrderRequest = Partial<Order> & {
  /** Asks for two microphones. */
  readonly directional?: boolean;
};

/** What an order asks of the instrument or says to whoever fits it, and why. */
export interface Need {
  /** Stable, for programs: "order/receiver", "order/vent" ... */
  readonly code: string;
  /** need: the instrument must have it. note: information. warning: a person should look. */
  readonly level: 'need' | 'note' | 'warning';
  readonly text: string;
  readonly source: string;
}
