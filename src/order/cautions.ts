/** What calls for a professional before or beside any fitting. Information with its source; local codes and licensed practice decide. */

export interface Caution {
  readonly code: string;
  readonly text: string;
  readonly source: string;
}

export const REFERRAL_SOURCE = '21 CFR 801.420(c)(3), text of 2008; the section was replaced in 2022';

/** Signs that call for a physician first. Only the air-bone gap can be told from an order. */
export const REFERRAL_SIGNS: readonly Caution[] = [
  ['deformity', 'visible deformity of the ear, from birth or by injury'],
  ['drainage', 'active drainage from the ear within the last 90 days'],
  ['sudden', 'sudden or rapidly growing loss within the last 90 days'],
  ['dizziness', 'dizziness, acute or chronic'],
  ['one-sided', 'one-sided loss of sudden or recent onset within the last 90 days'],
  ['air-bone-gap', 'an air-bone gap of 15 dB or more at 500, 1000 and 2000 Hz'],
  ['wax', 'marked wax or a foreign body in the canal'],
  ['pain', 'pain or discomfort in the ear'],
].map(([code, text]) => ({ code: `referral/${code}`, text: text as string, source: REFERRAL_SOURCE }));

/** The gap that counts as a sign, dB. */
export const GAP = 15;

/** Of every instrument with a cell that can be taken out. */
export const CELL_CAUTION: Caution = {
  code: 'cell/swallowed',
  text: 'A cell that is swallowed, or put in the nose or the ear, is an emergency: seek care at once. Keep cells from children and apart from pills; a child under four needs a battery door that it cannot open.',
  source: 'Litovitz, Whitaker & Clark 2010, Pediatrics 125: hearing-instrument cells in 36.3 % of 8648 cases, 15.5 % taken for pills',
};
