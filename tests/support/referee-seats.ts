/** The referee on what is a yes or no: where the planes go, how parts are seated, how two ports lie. */
import { add, addScaled, cross, distance, dot, length, lerp, normalize, scale, sub, type Vec3 } from '../../src/geometry/vec.ts';
import type { CatalogueFile, StyleFile } from '../../src/parts/schema.ts';
import type { CutDocument, StyleDocument, VerdictDocument } from './referee-document.ts';
import type { Expected } from './referee-kit.ts';
import { goesRound, middleOfRing, ringsOf, type Triangle } from './referee-scan.ts';
import { type Cut, outOf, over, type Stand } from './referee-solids.ts';

const degrees = (x: number): number => (x * 180) / Math.PI;
/** By the cross product too: a cosine near 1 says nothing of small angles. */
const angle = (a: Vec3, b: Vec3): number => degrees(Math.atan2(length(cross(a, b)), dot(a, b)));

/** What the document's seven decimal places may turn a plane by, degrees, and move a place by, mm. */
const TURN = 1e-4;
const PLACE = 1e-5;

/** Seats of all parts and the ports. `stands` by part id. */
export function seatFlaws(
  closed: readonly Triangle[],
  style: StyleDocument,
  document: VerdictDocument,
  catalogue: CatalogueFile,
  kit: readonly Expected[],
  stands: ReadonlyMap<string, Stand>,
): string[] {
  const flaws: string[] = [];
  const cut = (name: CutDocument['name']): Cut => style.cuts.find((c) => c.name === name) as Cut;
  for (const { id, part } of kit) {
    const stand = stands.get(id);
    if (!stand || part.seat.at === 'free') continue;
    if (part.seat.at === 'faceplate') {
      const height = over(cut('outer'), stand.at) + document.rules.faceplate;
      const turn = angle(stand.axes[2], cut('outer').normal);
      if (Math.abs(height) > PLACE) flaws.push(`${id}: its seat lies ${height.toFixed(4)} mm off the faceplate's inner face`);
      if (turn > TURN) flaws.push(`${id}: turned ${turn.toFixed(4)} degrees off the faceplate`);
      continue;
    }
    const { spout, reach, cone } = part.seat;
    const tip = cut('tip');
    const opening = openingOf(closed, tip);
    if (!opening) return [...flaws, 'the tip cut does not meet the scan round its own point'];
    const away = distance(add(stand.at, outOf(stand.axes, spout)), opening);
    const turn = angle(stand.axes[2], tip.normal);
    if (away > reach + 1e-3) flaws.push(`${id}: its spout ends ${away.toFixed(4)} mm from the tip opening's middle, ${reach} at most`);
    if (turn > cone + TURN) flaws.push(`${id}: aims ${turn.toFixed(3)} degrees off the canal, ${cone} at most`);
  }
  return [...flaws, ...portFlaws(document, catalogue, stands)];
}

/** The middle of the area in which the tip's plane cuts the canal. */
export function openingOf(closed: readonly Triangle[], tip: Cut): Vec3 | undefined {
  const ring = ringsOf(closed, tip).find((r) => goesRound(r, tip.point, tip.normal));
  return ring && middleOfRing(ring, tip).at;
}

function portFlaws({ ear }: VerdictDocument, { ports }: CatalogueFile, stands: ReadonlyMap<string, Stand>): string[] {
  const front = stands.get('front-microphone');
  const rear = stands.get('rear-microphone');
  if (!front || !rear || !ports) return [];
  const line = sub(front.at, rear.at);
  const apart = length(line);
  const tilt = degrees(Math.asin(Math.min(1, Math.abs(dot(line, ear.superior)) / apart)));
  const flaws: string[] = [];
  if (apart < ports.least - PLACE || apart > ports.most + PLACE) flaws.push(`ports ${apart.toFixed(4)} mm apart`);
  if (tilt > ports.tilt + TURN) flaws.push(`ports tilted by ${tilt.toFixed(3)} degrees`);
  if (dot(line, ear.anterior) <= 0) flaws.push('the front port lies behind the rear one');
  return flaws;
}

/** Where the survey has the canal's centreline at a depth; straight on beyond its ends. */
function centreline({ ear: { sections } }: VerdictDocument, depth: number): { at: Vec3; tangent: Vec3 } {
  const k = Math.max(
    1,
    Math.min(
      sections.length - 1,
      sections.findIndex((s) => s.depth >= depth),
    ),
  );
  const [a, b] = [sections[k - 1], sections[k]] as [(typeof sections)[number], (typeof sections)[number]];
  const t = (depth - a.depth) / (b.depth - a.depth);
  return { at: lerp(a.at, b.at, t), tangent: normalize(lerp(a.tangent, b.tangent, Math.max(0, Math.min(1, t)))) };
}

/** Sections stand every quarter of a millimetre, and a line between two of them leaves the centreline by so much, mm and degrees. */
const BETWEEN = { place: 0.02, turn: 1 };

/** Whether the cuts lie where the survey in the document and the catalogue put them. */
export function cutFlaws(style: StyleDocument, document: VerdictDocument, row: StyleFile): string[] {
  const flaws: string[] = [];
  const { ear } = document;
  const asked = document.cuts[style.style] ?? {};
  const cut = (name: CutDocument['name']): Cut | undefined => style.cuts.find((c) => c.name === name);
  const outer = cut('outer');
  const tip = cut('tip');
  if (!outer || !tip || !row.outer || !row.tip) return ['the outer or the tip cut is missing'];
  const plane = (what: string, is: Cut, at: Vec3, normal: Vec3, slack = BETWEEN): void => {
    const off = Math.abs(over({ point: at, normal }, is.point));
    const turn = angle(is.normal, normal);
    if (off > slack.place || turn > slack.turn)
      flaws.push(`the ${what} cut lies ${off.toFixed(3)} mm and ${turn.toFixed(2)} degrees off its place`);
  };
  const exact = { place: 1e-4, turn: 1e-3 };
  if (row.outer.from === 'rim') plane('outer', outer, addScaled(ear.rim.point, ear.rim.normal, -row.outer.medial), ear.rim.normal, exact);
  else {
    const lateral = asked.outer ?? row.outer.lateral;
    const out = addScaled(ear.aperture.at, ear.lateral, lateral);
    if (row.outer.facing === 'axis') {
      const { at, tangent } = centreline(document, -lateral);
      plane('outer', outer, at, scale(tangent, -1));
    } else if (row.outer.facing === 'half-way') plane('outer', outer, out, normalize(add(ear.lateral, ear.rim.normal)), exact);
    // Along the rim, but never nearer to it than 1 mm, as a full shell's.
    else if (over(ear.rim, out) <= -dot(ear.rim.normal, ear.lateral)) plane('outer', outer, out, ear.rim.normal, exact);
    else plane('outer', outer, addScaled(ear.rim.point, ear.lateral, -1), ear.rim.normal, exact);
  }
  const bend = row.tip.bend === 'first' ? ear.firstBend : ear.secondBend;
  if (!bend) return [...flaws, `no ${row.tip.bend} bend is seen, on which the tip goes by`];
  const { at, tangent } = centreline(document, Math.min(bend.depth + (asked.tip ?? row.tip.beyond), ear.end.depth - row.tip.leave));
  plane('tip', tip, at, tangent);
  const upper = cut('upper');
  if (!row.upper !== !upper) return [...flaws, 'an upper cut where there is none to be, or none where there is'];
  if (row.upper && upper && ear.crus)
    plane('upper', upper, addScaled(ear.crus.at, ear.superior, -row.upper.belowCrus), ear.superior, exact);
  return flaws;
}
