/** Is what a certificate calls a part of the kit one? Else it would show something true of a part that nobody ordered. */
import type { Catalogue, Kit, Part, Style } from '../model/parts.ts';
import { needsOf } from '../order/index.ts';
import { kitFor } from '../parts/index.ts';
import type { Certificate } from './format.ts';

/** Why its parts are not of the kit that style and order give; undefined where they are, or where it says nothing of an order. */
export function kitFlaw(certificate: Certificate, style: Style, catalogue: Catalogue): string | undefined {
  const { order, rules, parts, ports } = certificate;
  if (!order) return undefined;
  const result = kitFor(style, needsOf(order, catalogue).order, { ...rules, tolerance: catalogue.rules.tolerance });
  if (result.kind === 'excluded') return result.text;
  const other = parts.find((p) => !isListed(p, result.kit));
  if (other) return `${other.name} as it has it is no part of the kit of ${style.title} for its order`;
  if (ports && !result.kit.pairRules.some((r) => same(sorted(r), sorted(ports)))) return 'its ports rule is not that of the style';
  return undefined;
}

function isListed(claimed: Certificate['parts'][number], kit: Kit): boolean {
  const part = kit.parts.find((p) => p.id === claimed.id);
  return part !== undefined && same(outlineOf({ ...part, primitives: solidsOf(part) }), outlineOf(claimed));
}

/** The matter of a part: what a certificate says of it. */
export const solidsOf = (part: Part): Omit<Part['primitives'][number], 'kind'>[] =>
  part.primitives.filter((p) => p.kind === 'solid').map(({ shape, size, position, quaternion }) => ({ shape, size, position, quaternion }));

type Outline = Pick<Part, 'name' | 'margin' | 'seat'> & { readonly primitives: Certificate['parts'][number]['primitives'] };
const outlineOf = ({ name, margin, seat, primitives }: Outline) => [
  name,
  margin,
  seat.at,
  ...(seat.at === 'tip' ? [seat.spout, seat.reach, seat.cone] : []),
  primitives.map(({ shape, size, position, quaternion }) => [shape, size, position, quaternion]),
];

const sorted = (o: object): unknown => Object.entries(o).sort(([a], [b]) => (a < b ? -1 : 1));
const same = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);
