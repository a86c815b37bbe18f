export { CAUTION, scanDocument, verdictDocument } from './document.ts';
export { earDocument } from './ear.ts';
export { portsOf, portWords } from './ports.ts';
export { isUnusual, percentileWords, publishedTable, sectionsTable, sureWords, surveyTable, usualWords } from './survey.ts';
export { ladderTable, placeWords, spareText, VERDICT_WORDS, verdictSentence } from './table.ts';
export { STAGE_WORDS } from './words.ts';
