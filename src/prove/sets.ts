/** The sets of parts that proofs are tried for, in the order in which that pays. */
import type { Kit, Part } from '../model/parts.ts';

/** More degrees of freedom together than this are not tried: three parts of which one is free, or two free ones. */
const MOST = 12;

const freedom = (p: Part): number => (p.seat.at === 'faceplate' ? 3 : 6);
const volume = (p: Part): number => p.primitives.reduce((v, s) => v + (s.kind === 'solid' ? s.size[0] * s.size[1] * s.size[2] : 0), 0);
const total = (set: readonly Part[], of: (p: Part) => number): number => set.reduce((sum, p) => sum + of(p), 0);

/** All sets of so many parts: fewer degrees of freedom first, then the larger parts first: what decides most often and costs least. */
export function setsOf(kit: Kit, size: number): Part[][] {
  // What is grown into the shell has no poses; without it there is only more room.
  const posed = kit.parts.filter((p) => p.seat.at !== 'shell');
  return subsets(posed, size)
    .filter((set) => total(set, freedom) <= MOST)
    .sort((a, b) => total(a, freedom) - total(b, freedom) || total(b, volume) - total(a, volume));
}

function subsets(parts: readonly Part[], size: number): Part[][] {
  if (size === 0) return [[]];
  return parts.flatMap((p, i) => subsets(parts.slice(i + 1), size - 1).map((rest) => [p, ...rest]));
}

export const keyOf = (set: readonly Part[]): string =>
  set
    .map((p) => p.id)
    .sort()
    .join(' ');
