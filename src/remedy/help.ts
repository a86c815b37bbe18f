import type { Rung } from '../model/fit.ts';

/** A style that a change could help: judged, with parts that can be placed at all, and short. */
export const needsHelp = ({ verdict }: Rung): boolean => verdict === 'does-not-fit' || verdict === 'unsettled' || verdict === 'tight';
