/** Parts drawn to one scale from two sides with their dimensions, where their sizes come from, and fields to change them. */
import type { Part, Rules } from '../model/parts.ts';
import type { PartFile, PrimitiveFile } from '../parts/schema.ts';
import { listedOf } from '../parts/settle.ts';
import { type PartView, type Shadow, shadowOf } from '../viewer/shadows.ts';
import { pathOf } from '../viewer/silhouette.ts';
import type { Desk } from './catalogue-desk.ts';
import { alike, editsOf, partIn } from './catalogue-edits.ts';
import { type Row, textRow } from './catalogue-fields.ts';
import { capital, figure, h, sentence, svg } from './dom.ts';
import { draftOf } from './own-catalogue.ts';

/** px a mm. */
const SCALE = 10;
/** Room for the dimensions, px. */
const EDGE = 30;
const VIEWS: readonly PartView[] = ['side', 'top'];
const VIEW_WORDS: Record<PartView, string> = { side: 'from the side, its seat above', top: 'from its seat' };

/** One part of the catalogue. */
export interface PartFigure {
  readonly element: HTMLElement;
  /** Shows what the desk has; the drawing follows what is typed as long as it is lengths. */
  fill(): void;
}

/** `rules`: those of the case, for a margin that follows one. */
export function partFigure(desk: Desk, part: PartFile, rules: () => Rules): PartFigure {
  const { id } = part;
  const drawings = h('div');
  const from = h('small');
  const rows = rowsOf(desk, part, rules);
  const name = textRow(desk, 'Name', [{ place: `parts/${id}/name`, label: `Name of ${part.name}` }], '');
  name.element.classList.add('part-name');
  const element = h('figure', { 'data-part': id }, drawings, h('figcaption', {}, name.element, ...rows.map((r) => r.element), from));
  let drawn = '';
  return {
    element,
    fill() {
      for (const row of [name, ...rows]) row.fill();
      const file = draftOf(desk.base, editsOf(desk.draft, `parts/${id}`));
      const now = file && partIn(file, id);
      const key = JSON.stringify(now);
      if (!now || key === drawn) return;
      drawn = key;
      const shape: Part = { ...listedOf(now), margin: 0 };
      drawings.replaceChildren(...VIEWS.map((view) => drawing(shape, view, shadowOf(shape, view))));
      from.textContent = sentence(now.source);
    },
  };
}

function rowsOf(desk: Desk, { id, name, primitives }: PartFile, rules: () => Rules): Row[] {
  const sizes = primitives.flatMap((p, k): Row[] => {
    const twins = alike(primitives, k);
    if (twins[0] !== k) return []; // its twin's row is for both
    const what = `${titleOf(primitives, k)}${twins.length > 1 ? ', two alike' : ''}`;
    const lengths = lengthsOf(p);
    const entries = lengths.map(([i, word]) => ({
      place: `parts/${id}/primitives/${k}/size/${i}`,
      label: `${name}, ${what.toLowerCase()}, ${word}`,
    }));
    return [textRow(desk, `${what}: ${lengths.map(([, word]) => word).join(' × ')}`, entries)];
  });
  const place = `parts/${id}/margin`;
  const follows = desk.followsRule(place);
  const entry = { place, label: `${name}, free all round`, ...(follows ? { placeholder: 'rule' } : {}) };
  const note = (): string => (follows && desk.textOf(place) === '' ? `${figure(rules().suspension)} by the rule` : '');
  return [...sizes, textRow(desk, 'Margin, free all round', [entry], 'mm', note)];
}

/** "Box", or "Second box" where there are several; what only service takes says so. */
function titleOf(primitives: readonly PrimitiveFile[], k: number): string {
  const word = ({ kind, shape }: PrimitiveFile): string => (kind === 'service' ? `service room, ${shape}` : shape);
  const own = word(primitives[k] as PrimitiveFile);
  const same = primitives.flatMap((p, j) => (word(p) === own && alike(primitives, j)[0] === j ? [j] : []));
  return capital(same.length > 1 ? `${own} ${same.indexOf(k) + 1}` : own);
}

/** Which of the part's axes a box's own three lie along. */
const AXES = { x: [2, 1, 0], y: [0, 2, 1], z: [0, 1, 2] } as const;
const AXIS_WORDS = ['across', 'deep', 'tall'] as const;

/** Which of its size's figures a primitive shows, in the order in which the drawing has them, and what they are. */
function lengthsOf({ shape, along = 'z' }: PrimitiveFile): (readonly [index: number, word: string])[] {
  if (shape !== 'box')
    return [
      [0, 'diameter'],
      [2, 'length'],
    ];
  return AXIS_WORDS.map((word, axis) => [AXES[along].indexOf(axis as 0 | 1 | 2), word]);
}

function drawing(part: Part, view: PartView, { solid, service, bounds, size }: Shadow): SVGElement {
  const [left, right, bottom, top] = bounds;
  const [wide, high] = [SCALE * (right - left) + 2 * EDGE, SCALE * (top - bottom) + 2 * EDGE];
  const [across, up] = size.map((s) => figure(s));
  const place = svg(
    'g',
    { transform: `translate(${EDGE - SCALE * left} ${EDGE + SCALE * top})` },
    svg('path', { class: 'service', d: pathOf(service, SCALE, -SCALE) }),
    // The edge below, the filling above it: together the outline of the union.
    svg('path', { class: 'edge', d: pathOf(solid, SCALE, -SCALE) }),
    svg('path', { class: 'solid', d: pathOf(solid, SCALE, -SCALE) }),
  );
  place.style.setProperty('--tone', `var(--${part.kind})`);
  return svg(
    'svg',
    {
      width: wide,
      height: high,
      viewBox: `0 0 ${wide} ${high}`,
      role: 'img',
      'aria-label': `${part.name} ${VIEW_WORDS[view]}: ${across} by ${up} mm`,
    },
    place,
    svg('text', { x: wide / 2, y: high - 10, 'text-anchor': 'middle' }, across ?? ''),
    svg('text', { x: 12, y: high / 2, 'text-anchor': 'middle', transform: `rotate(-90 12 ${high / 2})` }, up ?? ''),
  );
}
