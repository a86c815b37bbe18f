export { CAUTION, earDocument, scanDocument, verdictDocument } from './document.ts';
export { ladderTable, spareText, surveyTable, VERDICT_WORDS, verdictSentence } from './table.ts';
export { STAGE_WORDS } from './words.ts';
