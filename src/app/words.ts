/** What the screens call things. One table each, so that a new value does not compile until it has a word. */
import type { Side } from '../model/ear.ts';
import type { Verdict } from '../model/fit.ts';
import type { PartKind } from '../model/parts.ts';

export const SIDE_WORDS: Record<Side, string> = { left: 'Left ear', right: 'Right ear' };

export { FORMAT_WORDS, UNIT_WORDS } from '../scan/index.ts';

/** One or two words, for a label within a drawing. */
export const PART_WORDS: Record<PartKind, string> = {
  cell: 'Battery',
  receiver: 'Receiver',
  chip: 'Chip',
  microphone: 'Microphone',
  'push-button': 'Push button',
  'volume-wheel': 'Volume wheel',
  telecoil: 'Telecoil',
  radio: 'Radio',
  'removal-cord': 'Removal cord',
  vent: 'Vent',
};

/** The marks, drawn in a box of 16 by 16: each its own shape, so that colour is never the only cue. */
export const MARK_PATHS: Record<Verdict | 'running' | 'waiting', string> = {
  fits: 'M8 1a7 7 0 1 1 0 14A7 7 0 0 1 8 1ZM4.6 8.3l2.4 2.5 4.5-5.2',
  tight: 'M8 1.2 15 14.2H1ZM8 6v4M8 11.6v.9',
  'does-not-fit': 'M1.8 1.8h12.4v12.4H1.8ZM5 5l6 6M11 5l-6 6',
  unsettled: 'M8 .9 15.1 8 8 15.1.9 8ZM6.2 6.6a1.9 1.9 0 1 1 2.6 1.7c-.6.3-.8.6-.8 1.2M8 11v.8',
  'not-judged': 'M8 1.2a6.8 6.8 0 1 1 0 13.6A6.8 6.8 0 0 1 8 1.2ZM4.8 8h6.4',
  running: 'M8 1.2a6.8 6.8 0 0 1 6.8 6.8',
  waiting: 'M8 6.9a1.1 1.1 0 1 1 0 2.2 1.1 1.1 0 0 1 0-2.2Z',
};

export const CASE_CAUTIONS = [
  'Cavum checks geometry; it does not prescribe. A licensed practitioner decides.',
  'Deep in the canal more than geometry counts: how far a device may reach is for local codes and licensed practice to say.',
] as const;
