import type { Stage } from '../model/case.ts';

/** What is being done, for people: the page and the command line say it alike. */
export const STAGE_WORDS: Record<Stage, string> = {
  scan: 'reading the scan',
  ear: 'surveying the ear',
  field: 'measuring the cast',
  trim: 'cutting the body',
  prove: 'looking for a proof',
  arrange: 'arranging the parts',
  verify: 'verifying the arrangement',
  explain: 'finding the reasons',
  remedy: 'trying what would help',
};
