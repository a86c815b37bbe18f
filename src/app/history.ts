/** What was said about a case, step by step, so that each can be taken back. Pure, but for the two buttons. */
import type { CaseFile } from '../casefile/index.ts';
import { h, svg } from './dom.ts';
import type { Session } from './session.ts';
import type { OpenCase, Source, Store } from './store.ts';

export interface History {
  /** Each as it was judged; of one scan. */
  readonly steps: readonly Source[];
  /** The one that is shown. */
  readonly at: number;
  /** Where a step back or forth, under way, will end. */
  readonly to?: number;
}

export const NO_HISTORY: History = { steps: [], at: 0 };

/** More are forgotten, the oldest first: each is small, for all share the scan's bytes. */
const MOST = 200;

/** The source with the side that it was judged as. */
export const asShown = ({ source, side }: Pick<OpenCase, 'source' | 'side'>): Source => ({ ...source, side });

const SAID = {
  side: 'the side',
  unit: 'the unit',
  corrections: 'the survey',
  order: 'the order',
  catalogue: 'the catalogue',
  also: 'the case',
} as const satisfies Partial<Record<keyof Source | keyof CaseFile, string>>;

/** What two steps say differently, in words. */
export const changes = (a: Source, b: Source): string[] =>
  (Object.keys(SAID) as (keyof typeof SAID)[]).filter((key) => a[key] !== b[key]).map((key) => SAID[key]);

/** The history once a case is shown: a step more, a step taken, or another scan's beginning. */
export function noted(history: History, before: OpenCase | undefined, opened: Pick<OpenCase, 'source' | 'side'>): History {
  const { steps, at, to } = history;
  const now = asShown(opened);
  if (!before || before.source.bytes !== now.bytes) return { steps: [now], at: 0 };
  if (to !== undefined) return { steps, at: to };
  if (changes(asShown(before), now).length === 0) return { steps, at };
  const kept = [...steps.slice(0, at + 1), now].slice(-MOST);
  return { steps: kept, at: kept.length - 1 };
}

/** Nothing is under way any more. */
export const settled = ({ steps, at }: History): History => ({ steps, at });

/** The step before (-1) or after (+1) the one that is shown or will be; undefined at the end. */
export function stepFrom({ steps, at, to = at }: History, by: 1 | -1): { readonly to: number; readonly source: Source } | undefined {
  const source = steps[to + by];
  return source && { to: to + by, source };
}

const ARROWS: Record<1 | -1, string> = {
  [-1]: 'M6.5 2.5 3 6l3.5 3.5M3 6h6.5a3.5 3.5 0 0 1 0 7H6',
  1: 'M9.5 2.5 13 6l-3.5 3.5M13 6H6.5a3.5 3.5 0 0 0 0 7H10',
};

/** Two buttons, and the keys that every editor has. In a field whose text was changed they belong to the text. */
export function mountHistory(host: HTMLElement, store: Store, session: Session): void {
  const buttons = ([-1, 1] as const).map((by) => ({
    by,
    button: h(
      'button',
      { type: 'button', class: 'step', 'data-step': by < 0 ? 'undo' : 'redo', onclick: () => session.step(by) },
      svg('svg', { class: 'mark', viewBox: '0 0 16 16', 'aria-hidden': 'true' }, svg('path', { d: ARROWS[by] })),
    ),
  }));
  host.prepend(h('div', { class: 'steps-back', role: 'group', 'aria-label': 'Changes of this case' }, ...buttons.map((b) => b.button)));
  store.watch(({ history }, before) => {
    if (before && history === before.history) return;
    for (const { by, button } of buttons) {
      const next = stepFrom(history, by);
      const from = history.steps[history.to ?? history.at];
      const what = next && from ? `: ${changes(from, next.source).join(', ')}` : '';
      const words = `${by < 0 ? 'Undo' : 'Redo'}${what}`;
      button.disabled = !next;
      button.setAttribute('aria-label', words);
      button.title = `${words} (Ctrl+${by < 0 ? 'Z' : 'Shift+Z'})`;
    }
  });
  document.addEventListener('keydown', (event) => {
    const by = wanted(event);
    if (by === undefined || !stepFrom(store.get().history, by)) return;
    event.preventDefault();
    session.step(by);
  });
}

function wanted(event: KeyboardEvent): 1 | -1 | undefined {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return undefined;
  const { activeElement: at } = document;
  if (at instanceof HTMLInputElement && at.type === 'text' && at.value !== at.defaultValue) return undefined;
  const key = event.key.toLowerCase();
  if (key === 'z') return event.shiftKey ? 1 : -1;
  return key === 'y' ? 1 : undefined;
}
