import { degrees } from '../geometry/trig.ts';
import type { CaseResult } from '../model/case.ts';
import type { Ear } from '../model/ear.ts';
import { foundSpare, mm, spareWords } from '../model/figures.ts';
import type { Rung, Verdict } from '../model/fit.ts';
import { styleNamed } from '../parts/index.ts';
import { CAUTION } from './document.ts';

/** A verdict as the user reads it. */
export const VERDICT_WORDS: Record<Verdict, string> = {
  fits: 'fits',
  tight: 'tight',
  'does-not-fit': 'cannot fit',
  unsettled: 'unsettled',
  'not-judged': 'not judged',
};

/** The spare as a signed figure, or an en dash. */
export const spareText = (rung: Rung): string => (rung.found === undefined ? '–' : foundSpare(rung.found));

/** What the verdict means in a sentence (design section 2). */
export function verdictSentence(rung: Rung): string {
  const found = rung.found;
  const figure = found === undefined ? '' : spareWords(found);
  switch (rung.verdict) {
    case 'fits':
      return `fits, with ${figure} to spare`;
    case 'tight':
      return 'tight: a modeller must decide';
    case 'does-not-fit':
      return `cannot fit: even the best arrangement lacks at least ${mm(-rung.ceiling)}`;
    case 'unsettled':
      if (rung.assembly?.kind === 'stuck') return 'arranged, but no way in found for the parts, not proved; more effort may settle it';
      return found === undefined
        ? 'no arrangement found, not proved'
        : `no arrangement found (the best lacks ${figure}), not proved; more effort may settle it`;
    case 'not-judged':
      return 'not judged';
  }
}

const wrap = (text: string, width: number, indent: string): string => {
  const lines: string[] = [''];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1] as string;
    if (last && last.length + word.length + 1 > width) lines.push(word);
    else lines[lines.length - 1] = last ? `${last} ${word}` : word;
  }
  return lines.join(`\n${indent}`);
};

/** The survey in a few lines. */
export function surveyTable(ear: Ear): string {
  const row = (name: string, depth: number | undefined, rest: string): string =>
    `  ${name.padEnd(13)}${depth === undefined ? '      not seen' : `${depth.toFixed(1).padStart(6)} mm  ${rest}`}`;
  const at = (depth: number) => ear.sections.reduce((a, b) => (Math.abs(b.depth - depth) < Math.abs(a.depth - depth) ? b : a));
  const section = (depth: number): string => {
    if (ear.sections.length === 0) return '';
    const s = at(depth);
    return `${s.major.toFixed(1)} × ${s.minor.toFixed(1)} mm, ${s.area.toFixed(0)} mm²`;
  };
  const sure = (c: number): string => `${Math.round(100 * c)} % sure`;
  const bend = (b: Ear['firstBend']): string =>
    b ? `${section(b.depth)}, turns ${degrees(b.angle).toFixed(0)}°, ${sure(b.confidence)}` : '';
  return [
    row('aperture', 0, `${section(0)}, ${sure(ear.aperture.confidence)}`),
    row('first bend', ear.firstBend?.depth, bend(ear.firstBend)),
    row('second bend', ear.secondBend?.depth, bend(ear.secondBend)),
    row('end', ear.end.depth, `of the impression, ${sure(ear.end.confidence)}`),
  ].join('\n');
}

/** The ladder for people. */
export function ladderTable(result: CaseResult): string {
  const rungs = result.rungs.flatMap((r) => {
    const mark = r.style === result.recommended.style ? '▸' : ' ';
    const head = `${mark} ${styleNamed(r.style).title.padEnd(20)} ${VERDICT_WORDS[r.verdict].padEnd(11)} ${spareText(r).padStart(7)}`;
    const reason = r.reasons[0]?.text ?? verdictSentence(r);
    const help = (r.remedies ?? []).map((m) => `${' '.repeat(44)}→ ${wrap(m.text, 64, ' '.repeat(46))}`);
    return [`${head}   ${wrap(reason, 66, ' '.repeat(44))}`, ...help];
  });
  const cautions = [...new Set(result.rungs.flatMap((r) => r.cautions))];
  const notes = result.findings
    .filter((f) => f.level !== 'note')
    .map((f) => `  ${f.level === 'warning' ? '!' : '·'} ${wrap(f.text, 96, '    ')}`);
  return [
    `${result.scan.name}: ${result.side} ear, ${result.scan.read.triangles} triangles, canal surveyed:`,
    surveyTable(result.ear),
    ...(notes.length > 0 ? ['', 'What was seen or changed in the scan:', ...notes] : []),
    '',
    `  ${'style'.padEnd(20)} ${'verdict'.padEnd(11)} ${'spare'.padStart(7)}   reason (lengths in mm)`,
    ...rungs,
    '',
    `Recommended: ${result.recommended.style ? `${styleNamed(result.recommended.style).title}, ` : ''}${result.recommended.why}.`,
    ...cautions.map((c) => `Caution: ${wrap(c, 96, '  ')}`),
    CAUTION,
  ].join('\n');
}
