/** What goes in and comes out of `check`. The types live on the ground floor, so that reports need not import the engine. */
export type * from '../model/case.ts';
