/** The parts of a kit, drawn to one scale from two sides with their dimensions, and where their sizes come from. */
import type { Kit, Part } from '../model/parts.ts';
import { type PartView, type Shadow, shadowOf } from '../viewer/shadows.ts';
import { pathOf } from '../viewer/silhouette.ts';
import { figure, h, sentence, svg } from './dom.ts';

/** px a mm. */
const SCALE = 10;
/** Room for the dimensions, px. */
const EDGE = 30;
const VIEWS: readonly PartView[] = ['side', 'top'];
const VIEW_WORDS: Record<PartView, string> = { side: 'from the side, its seat above', top: 'from its seat' };

/** Draws kits, without what is grown into the shell: that has no shape of its own. Whether the drawings are open stays from one kit to the next. */
export function partDrawer(): (kit: Kit) => HTMLElement {
  let open = false;
  return (kit) => {
    const element = h(
      'details',
      { class: 'part-drawings', open },
      h('summary', {}, 'The parts, drawn to one scale'),
      h('p', { class: 'gap' }, 'Solid parts are filled; dashed is room that service takes. Lengths in mm, of the solid.'),
      ...kit.parts.filter((p) => p.seat.at !== 'shell').map(partFigure),
    );
    element.addEventListener('toggle', () => {
      open = element.open;
    });
    return element;
  };
}

function partFigure(part: Part): HTMLElement {
  const shadows = VIEWS.map((view) => ({ view, shadow: shadowOf(part, view) }));
  const margin = part.margin > 0 ? `${figure(part.margin)} mm free all round. ` : '';
  return h(
    'figure',
    {},
    h('div', {}, ...shadows.map(({ view, shadow }) => drawing(part, view, shadow))),
    h('figcaption', {}, h('b', {}, part.name), h('small', {}, margin, sentence(part.source))),
  );
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
