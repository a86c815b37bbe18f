import type { CaseResult } from '../model/case.ts';
import { foundSpare, mm, spareWords } from '../model/figures.ts';
import type { Rung, Verdict } from '../model/fit.ts';
import { styleNamed } from '../parts/index.ts';
import { coilOf, coilWords } from './coil.ts';
import { CAUTION } from './document.ts';
import { portsOf, portWords } from './ports.ts';
import { surveyTable } from './survey.ts';
import { ventOf, ventWords } from './vent.ts';
import { wrap } from './wrap.ts';

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

/** What the places of its microphones, vent and telecoil give. */
export function placeWords(rung: Rung): string[] {
  const [ports, vent, coil] = [portsOf(rung), ventOf(rung), coilOf(rung)];
  return [...(ports ? [portWords(ports)] : []), ...(vent ? [ventWords(vent)] : []), ...(coil ? [coilWords(coil)] : [])];
}

/** What a larger style would add, as far as parts tell. */
export const addsWords = ({ adds }: CaseResult['recommended']['larger'][number]): string =>
  adds.length > 0 ? `adds ${adds.map((a) => a.charAt(0).toLowerCase() + a.slice(1)).join(', ')}` : 'adds no part';

const largerLine = (l: CaseResult['recommended']['larger'][number]): string =>
  `  ${styleNamed(l.style).title} fits too: it ${addsWords(l)}.`;

/** The ladder for people. */
export function ladderTable(result: CaseResult): string {
  const rungs = result.rungs.flatMap((r) => {
    const mark = r.style === result.recommended.style ? '▸' : ' ';
    const head = `${mark} ${styleNamed(r.style).title.padEnd(20)} ${VERDICT_WORDS[r.verdict].padEnd(11)} ${spareText(r).padStart(7)}`;
    const reason = r.reasons[0]?.text ?? verdictSentence(r);
    const help = (r.remedies ?? []).map((m) => `${' '.repeat(44)}→ ${wrap(m.text, 64, ' '.repeat(46))}`);
    const missing = (r.missing?.lines ?? []).map((line) => `${' '.repeat(44)}· ${wrap(line, 64, ' '.repeat(46))}`);
    const steady = r.steady?.text ? [`${' '.repeat(44)}· ${wrap(r.steady.text, 64, ' '.repeat(46))}`] : [];
    return [`${head}   ${wrap(reason, 66, ' '.repeat(44))}`, ...steady, ...missing, ...help];
  });
  const titled = (r: Rung, words: string): string => `${styleNamed(r.style).title}: ${wrap(words, 96, '  ')}.`;
  const places = result.rungs.flatMap((r) => placeWords(r).map((words) => titled(r, words)));
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
    ...(result.recommended.smaller ?? []).map((s) => `  ${styleNamed(s.style).title} would take: ${wrap(s.takes, 80, '    ')}.`),
    ...result.recommended.larger.map((l) => largerLine(l)),
    ...places,
    ...cautions.map((c) => `Caution: ${wrap(c, 96, '  ')}`),
    CAUTION,
  ].join('\n');
}
