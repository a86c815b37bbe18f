/** The state of the page: one value, changed only by actions, each with its own name. No effects in here. */
import type { CaseFile } from '../casefile/index.ts';
import type { Stage } from '../engine/types.ts';
import type { Ear, EarOverrides, Side } from '../model/ear.ts';
import type { Missing, Remedy, Rung } from '../model/fit.ts';
import type { OrderRequest } from '../model/order.ts';
import { type Rules, STYLES, type StyleName } from '../model/parts.ts';
import type { Finding, Unit } from '../model/scan.ts';
import { depthNear } from '../viewer/station.ts';
import type { FaultWords, Picture, ScanFacts, Summary } from '../worker/protocol.ts';
import { asShown, changes, type History, NO_HISTORY, noted, settled } from './history.ts';
import { type OwnCatalogue, rulingCatalogue } from './own-catalogue.ts';

/** A scan as the user gave it. */
export interface Source {
  readonly name: string;
  readonly bytes: Uint8Array;
  readonly side?: Side;
  /** Which ear the shape speaks for, where nobody says it. */
  readonly looksLike?: Side;
  /** The file's unit, where the user was asked for it. */
  readonly unit?: Unit;
  /** Set by hand in place of what the survey finds. */
  readonly corrections?: EarOverrides;
  readonly order?: OrderRequest;
  /** In place of ours. */
  readonly catalogue?: OwnCatalogue;
  /** What else its case file says. */
  readonly also?: Pick<CaseFile, 'rules' | 'cuts' | 'styles' | 'seed' | 'effort'>;
}

/** What a sample teaches, from the list that comes with the page. */
export interface Sample {
  readonly file: string;
  readonly side: Side;
  readonly title: string;
  readonly teaches: string;
}

export interface JudgedRung {
  readonly rung: Rung;
  readonly picture?: Picture;
}

export interface OpenCase {
  readonly source: Source;
  readonly title: string;
  readonly side: Side;
  readonly scan: ScanFacts;
  readonly ear: Ear;
  readonly picture: Picture;
  readonly rungs: Partial<Record<StyleName, JudgedRung>>;
  readonly summary?: Omit<Summary, 'rungs'>;
}

/** What the worker is doing for this page. `opening` names a scan that is not shown yet. */
export type Work =
  | { readonly state: 'idle' }
  | { readonly state: 'stopped' }
  | {
      readonly state: 'running';
      readonly opening?: string;
      readonly stage?: Stage;
      readonly style?: StyleName;
      readonly done: number;
      readonly cancelling?: boolean;
      /** Not judging: trying what would make this style fit. The ladder stands meanwhile. */
      readonly helping?: StyleName;
    };

export type Layer = 'cast' | 'body' | 'parts' | 'labels' | 'section';
/** `along` is for the section alone: cut open along the canal. */
export type Visibility = 'show' | 'fade' | 'hide' | 'along';

/** A place that is marked in the scene: of a reason of the selected rung, or of a finding of the scan. */
export interface Mark {
  readonly of: 'reason' | 'finding';
  readonly index: number;
}

/** What was refused, in words; `source` where choosing one of the fault's choices would open it. */
export interface Refusal {
  readonly name: string;
  readonly fault: FaultWords;
  readonly source?: Source;
}

export interface State {
  readonly samples: readonly Sample[];
  readonly shown?: OpenCase;
  readonly history: History;
  readonly work: Work;
  readonly fault?: Refusal;
  /** A scan whose side must be asked for. */
  readonly ask?: Source;
  readonly selected: StyleName;
  /** The user chose the rung: a later recommendation does not move it. */
  readonly chosen: boolean;
  readonly depth: number;
  /** The user moved the section: choosing a rung does not. */
  readonly placed: boolean;
  readonly layers: Record<Layer, Visibility>;
  readonly marked?: Mark;
}

export const START: State = {
  samples: [],
  history: NO_HISTORY,
  work: { state: 'idle' },
  selected: 'IIC',
  chosen: false,
  depth: 4,
  placed: false,
  layers: { cast: 'fade', body: 'fade', parts: 'show', labels: 'show', section: 'fade' },
};

/** What was looked for and found for a style that does not fit. */
export interface Help {
  readonly remedies: readonly Remedy[];
  readonly missing?: Missing;
}

export type Action =
  | { readonly type: 'samples'; readonly samples: readonly Sample[] }
  /** `again`: the page goes on with the case that it shows, whatever was refused meanwhile. `to`: a step of its history is taken. */
  | { readonly type: 'opening'; readonly name: string; readonly again?: boolean; readonly to?: number }
  | { readonly type: 'working'; readonly stage: Stage; readonly style?: StyleName; readonly done: number }
  | { readonly type: 'shown'; readonly opened: Omit<OpenCase, 'rungs'> }
  | { readonly type: 'judged'; readonly judged: JudgedRung }
  | { readonly type: 'finished'; readonly summary: Summary }
  | { readonly type: 'helping'; readonly style: StyleName }
  | ({ readonly type: 'helped'; readonly style: StyleName } & Help)
  | { readonly type: 'cancelling' }
  | { readonly type: 'stopped' }
  | { readonly type: 'idle' }
  | ({ readonly type: 'fault' } & Refusal)
  | { readonly type: 'dismiss' }
  | { readonly type: 'ask'; readonly source: Source }
  | { readonly type: 'answered' }
  | { readonly type: 'select'; readonly style: StyleName }
  | { readonly type: 'depth'; readonly depth: number }
  | { readonly type: 'layer'; readonly layer: Layer; readonly visibility: Visibility }
  | { readonly type: 'mark'; readonly mark?: Mark };

function without<K extends keyof State>(state: State, ...keys: K[]): State {
  const copy = { ...state };
  for (const key of keys) delete copy[key];
  return copy;
}

/** The state after an action. Pure. */
export function reduce(state: State, action: Action): State {
  switch (action.type) {
    case 'samples':
      return { ...state, samples: action.samples };
    case 'opening':
      return opening(state, action);
    case 'working': {
      if (state.work.state !== 'running') return state;
      const { stage, style, done } = action;
      const { opening, cancelling, helping } = state.work;
      return {
        ...state,
        work: {
          state: 'running',
          stage,
          done,
          ...(style ? { style } : {}),
          ...(opening ? { opening } : {}),
          ...(cancelling ? { cancelling } : {}),
          ...(helping ? { helping } : {}),
        },
      };
    }
    case 'shown':
      return shown(state, action.opened);
    case 'judged':
      return judged(state, action.judged);
    case 'finished':
      return finished(state, action.summary);
    case 'helping':
      return { ...state, work: { state: 'running', done: 0, helping: action.style } };
    case 'helped':
      return helped(state, action.style, { remedies: action.remedies, ...(action.missing ? { missing: action.missing } : {}) });
    case 'cancelling':
      return state.work.state === 'running' ? { ...state, work: { ...state.work, cancelling: true } } : state;
    case 'stopped':
      return {
        ...state,
        history: settled(state.history),
        work: state.shown && !state.shown.summary ? { state: 'stopped' } : { state: 'idle' },
      };
    case 'idle':
      return { ...state, work: { state: 'idle' } };
    case 'fault':
      return { ...state, fault: { name: action.name, fault: action.fault, ...(action.source ? { source: action.source } : {}) } };
    case 'dismiss':
      return without(state, 'fault');
    case 'ask':
      return { ...without(state, 'fault'), ask: action.source };
    case 'answered':
      return without(state, 'ask');
    case 'select':
      return follow({ ...without(state, 'marked'), selected: action.style, chosen: true });
    case 'depth':
      return state.depth === action.depth ? state : { ...state, depth: action.depth, placed: true };
    case 'layer':
      return { ...state, layers: { ...state.layers, [action.layer]: action.visibility } };
    case 'mark':
      return action.mark === undefined ? without(state, 'marked') : { ...state, marked: action.mark };
  }
}

function opening(state: State, { name, again, to }: Extract<Action, { type: 'opening' }>): State {
  const history: History = { ...settled(state.history), ...(to === undefined ? {} : { to }) };
  if (again) return { ...state, history, work: { state: 'running', done: 0 } };
  return { ...without(state, 'fault', 'ask'), history, work: { state: 'running', opening: name, done: 0 } };
}

/** A new case takes the page; the same scan judged again keeps its rungs until new ones arrive, unless something else is said about it. */
function shown(state: State, opened: Omit<OpenCase, 'rungs'>): State {
  const again = state.shown && state.shown.source.bytes === opened.source.bytes && state.shown.side === opened.side;
  const work: Work = state.work.state === 'running' ? { state: 'running', done: state.work.done } : state.work;
  const history = noted(state.history, state.shown, opened);
  if (again && state.shown) {
    const same = changes(asShown(state.shown), asShown(opened)).length === 0;
    const next = within({ ...state, history, work, shown: { ...opened, rungs: same ? state.shown.rungs : {} } });
    return same ? next : without(next, 'marked', 'fault');
  }
  const depth = Math.min(4, opened.ear.end.depth / 2);
  return {
    ...without(state, 'marked', 'fault'),
    history,
    work,
    shown: { ...opened, rungs: {} },
    chosen: false,
    selected: stylesOf(opened.source)[0] ?? 'IIC',
    depth,
    placed: false,
  };
}

/** A catalogue may have fewer styles than the one before: what is selected is one of them. */
function within(state: State & { readonly shown: OpenCase }): State {
  const styles = stylesOf(state.shown.source);
  const [first] = styles;
  return !first || styles.includes(state.selected) ? state : { ...state, selected: first, chosen: false };
}

function judged(state: State, judgedRung: JudgedRung): State {
  if (!state.shown) return state;
  const rungs = { ...state.shown.rungs, [judgedRung.rung.style]: judgedRung };
  const next = { ...state, shown: { ...state.shown, rungs } };
  return follow(state.chosen ? next : { ...next, selected: bestOf(rungs) ?? judgedRung.rung.style });
}

/** The smallest style that fits so far; else the last one judged that shows an arrangement. */
function bestOf(rungs: OpenCase['rungs']): StyleName | undefined {
  const known = STYLES.map((s) => rungs[s]?.rung).filter((r) => r !== undefined);
  const fits = known.find((r) => r.verdict === 'fits') ?? known.find((r) => r.verdict === 'tight');
  return (fits ?? known.findLast((r) => r.body !== undefined) ?? known.at(-1))?.style;
}

function finished(state: State, { rungs: final, ...summary }: Summary): State {
  if (!state.shown) return state;
  const rungs = { ...state.shown.rungs };
  for (const rung of final) {
    const before = rungs[rung.style];
    const body = before?.rung.body;
    rungs[rung.style] = { ...before, rung: body ? { ...rung, body } : rung };
  }
  const selected = !state.chosen && summary.recommended.style ? summary.recommended.style : state.selected;
  return follow({ ...state, selected, work: { state: 'idle' }, shown: { ...state.shown, rungs, summary } });
}

function helped(state: State, style: StyleName, help: Help): State {
  const judged = state.shown?.rungs[style];
  if (!state.shown || !judged) return state;
  const rungs = { ...state.shown.rungs, [style]: { ...judged, rung: { ...judged.rung, ...help } } };
  return { ...state, shown: { ...state.shown, rungs } };
}

/** Until the user moves it, the section lies where the selected rung's first reason is, else where it is tightest. */
function follow(state: State): State {
  const rung = selectedRung(state)?.rung;
  const at = rung?.reasons.find((r) => r.at)?.at ?? rung?.evidence?.tightest.at;
  if (state.placed || !at || !state.shown) return state;
  return { ...state, depth: depthNear(state.shown.ear.centreline, at) };
}

export interface Store {
  get(): State;
  send(action: Action): void;
  /** Called after every change, with the state before; once at once. */
  watch(listener: (now: State, before: State | undefined) => void): void;
}

export function makeStore(start: State = START): Store {
  let state = start;
  const listeners: ((now: State, before: State | undefined) => void)[] = [];
  return {
    get: () => state,
    send(action) {
      const before = state;
      state = reduce(before, action);
      if (state === before) return;
      for (const listener of listeners) listener(state, before);
    },
    watch(listener) {
      listeners.push(listener);
      listener(state, undefined);
    },
  };
}

/** The rung that is looked at, if it has been judged. */
export const selectedRung = (state: State): JudgedRung | undefined => state.shown?.rungs[state.selected];

/** The style for which changes are being tried. */
export const helping = ({ work }: State): StyleName | undefined => (work.state === 'running' ? work.helping : undefined);

/** The scan's findings, of its reading and its survey. */
export const findingsOf = ({ summary, scan }: OpenCase): readonly Finding[] => summary?.findings ?? scan.findings;

/** The recommended style, or undefined before the ladder is whole. */
export const recommendedStyle = (state: State): StyleName | undefined => state.shown?.summary?.recommended.style;

/** The styles that are judged: of the catalogue that rules, those that the case asks for; the smallest first. */
export function stylesOf({ catalogue, also }: Pick<Source, 'catalogue' | 'also'>): StyleName[] {
  const names = rulingCatalogue(catalogue).styles.map((s) => s.name);
  return names.filter((s) => !also?.styles || also.styles.includes(s));
}

/** The rules of a case, judged or not yet: the case's own over the catalogue's. */
export const rulesOf = ({ summary, source }: Pick<OpenCase, 'summary' | 'source'>): Rules =>
  summary?.rules ?? { ...rulingCatalogue(source.catalogue).rules, ...source.also?.rules };
