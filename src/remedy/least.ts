/** The least whole number that passes a costly question, by few questions. An answer of undefined ends the asking. */
export type Passes = (n: number) => Promise<boolean | undefined>;

export interface Bracket {
  /** Seen to pass; undefined: none was. */
  readonly enough?: number;
  /** The greatest below `enough` that was seen, or is known, not to. */
  readonly short: number;
}

/** Asks for one number after the other until one passes. Those up to `known` need not be asked for. */
export async function firstOf(numbers: readonly number[], known: number, passes: Passes): Promise<Bracket> {
  let short = known;
  for (const n of new Set(numbers)) {
    if (n <= known) continue;
    const answer = await passes(n);
    if (answer === undefined) break;
    // More need not be better: what failed above this says nothing of what lies below.
    if (answer) return { enough: n, short: short < n ? short : known };
    short = Math.max(short, n);
  }
  return { short };
}

/**
 * Less than what is enough: downwards in strides that double until one does not pass, then by halves. Asks at most about
 * 2 log2(enough - short) times.
 */
export async function lessOf({ enough, short }: Bracket, first: number, passes: Passes): Promise<Bracket> {
  if (enough === undefined) return { short };
  let [least, most] = [short, enough];
  let stride = Math.max(1, first);
  while (most - least > 1) {
    const n = least === short ? Math.max(least + 1, most - stride) : (least + most) >> 1;
    const answer = await passes(n);
    if (answer === undefined) break;
    if (answer) most = n;
    else least = n;
    stride *= 2;
  }
  return { enough: most, short: least };
}
