/** The survey for people. */
import { bandsFor, insideWall, type PublishedRow } from '../ear/index.ts';
import { degrees } from '../geometry/trig.ts';
import { type CanalSection, type Ear, nearestSection, type SetBy } from '../model/ear.ts';
import { wrap } from './wrap.ts';

/** How a mark came about. */
export const sureWords = (confidence: number, set: SetBy | undefined): string =>
  set === 'by hand' ? 'set by hand' : `${Math.round(100 * confidence)} % sure`;

/** The survey in a few lines. */
export function surveyTable(ear: Ear): string {
  const row = (name: string, depth: number | undefined, rest: string): string =>
    `  ${name.padEnd(13)}${depth === undefined ? '      not seen' : `${depth.toFixed(1).padStart(6)} mm  ${rest}`}`;
  const section = (depth: number): string => {
    const s = nearestSection(ear.sections, depth);
    return s ? `${s.major.toFixed(1)} × ${s.minor.toFixed(1)} mm, ${s.area.toFixed(0)} mm², ` : '';
  };
  const bend = (b: Ear['firstBend']): string =>
    b ? `${section(b.depth)}turns ${degrees(b.angle).toFixed(0)}°, ${sureWords(b.confidence, b.set)}` : '';
  const { aperture, firstBend, secondBend, isthmus, end, floor, rim, crus } = ear;
  return [
    row('aperture', 0, `${section(0)}${sureWords(aperture.confidence, aperture.set)}`),
    row('first bend', firstBend?.depth, bend(firstBend)),
    row('second bend', secondBend?.depth, bend(secondBend)),
    ...(isthmus ? [row('isthmus', isthmus.depth, `narrowest medial of the first bend, ${isthmus.area.toFixed(0)} mm²`)] : []),
    row('end', end.depth, `of the impression, ${sureWords(end.confidence, end.set)}`),
    ...(floor ? [row('cavum floor', floor.depth, `below the rim plane, which is ${sureWords(rim.confidence, rim.set)}`)] : []),
    `  ${'crus'.padEnd(13)}${crus ? `seen, ${sureWords(crus.confidence, crus.set)}` : '      not seen'}`,
  ].join('\n');
}

/** What is usual, as far as it was published: "49 to 145 mm²", "up to 25 mm". */
export function usualWords({ band, unit }: PublishedRow): string {
  if (!band) return '–';
  const { least, most } = band;
  if (least === undefined) return `up to ${most} ${unit}`;
  return most === undefined ? `from ${least} ${unit}` : `${least} to ${most} ${unit}`;
}

/** Of a hundred people: "12 of 100 have less". */
export function percentileWords({ percentile }: PublishedRow): string {
  if (percentile === undefined) return '';
  if (percentile < 1) return 'fewer than 1 of 100 have less';
  if (percentile > 99) return 'more than 99 of 100 have less';
  return `${percentile.toFixed(0)} of 100 have less`;
}

export const isUnusual = ({ value, band }: PublishedRow): boolean => value < (band?.least ?? -Infinity) || value > (band?.most ?? Infinity);

/** Sizes beside published ones: figure, what is usual, and below it which section or length is meant, how it was measured and by whom. */
export function publishedTable(ear: Ear): string {
  const lines = bandsFor(ear).map((r) => {
    const digits = r.unit === 'mm' ? 1 : 0;
    const mean = `${r.mean}${r.sd === undefined ? '' : ` ± ${r.sd}`} ${r.unit}`;
    const rank = percentileWords(r);
    return [
      `${isUnusual(r) ? '!' : ' '} ${r.what.padEnd(29)}${`${r.value.toFixed(digits)} ${r.unit}`.padStart(9)}   usual ${usualWords(r)}; published mean ${mean}${rank ? `; ${rank}` : ''}`,
      `      ${wrap(`${r.definition}; ${r.method}; ${r.source}`, 104, '      ')}`,
    ].join('\n');
  });
  return `Beside published sizes (methods differ by a factor of two: compare with the one that is named):\n${lines.join('\n')}`;
}

/** Sections a millimetre apart, of the canal and inside the wall (mm). */
export function sectionsTable(ear: Ear, wall: number): string {
  const head = `  ${'depth'.padStart(6)}${'area'.padStart(8)}${'widths'.padStart(14)}${'circle in'.padStart(11)}${'round'.padStart(8)}   inside a wall of ${wall.toFixed(2)} mm: area, widths, circle in`;
  const rows = ear.sections
    .filter((s) => Math.abs(s.depth - Math.round(s.depth)) < 0.01)
    .map((s) => {
      const inside = insideWall(s, wall);
      const widths = (x: Pick<CanalSection, 'major' | 'minor'>): string => `${x.major.toFixed(2)} × ${x.minor.toFixed(2)}`;
      const within = inside
        ? `${inside.area.toFixed(1).padStart(9)}${widths(inside).padStart(14)}${inside.inscribed.toFixed(2).padStart(8)}`
        : '  nothing is left';
      return `  ${s.depth.toFixed(1).padStart(6)}${s.area.toFixed(1).padStart(8)}${widths(s).padStart(14)}${(s.inscribed?.toFixed(2) ?? '–').padStart(11)}${(s.circumscribed?.toFixed(2) ?? '–').padStart(8)}${within}`;
    });
  return [`Sections square to the centreline (depth mm from the aperture, areas mm², lengths mm):`, head, ...rows].join('\n');
}
