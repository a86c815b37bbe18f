/** "did you mean ...?" */

/** Single-letter changes and swaps of neighbours that turn one word into the other. */
export function editDistance(a: string, b: string): number {
  const rows: number[][] = [Array.from({ length: b.length + 1 }, (_, j) => j)];
  for (let i = 1; i <= a.length; i++) {
    const before = rows[i - 1] as number[];
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let least = Math.min((before[j] as number) + 1, (row[j - 1] as number) + 1, (before[j - 1] as number) + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) least = Math.min(least, (rows[i - 2]?.[j - 2] as number) + 1);
      row.push(least);
    }
    rows.push(row);
  }
  return rows[a.length]?.[b.length] as number;
}

/** Longer words are no slip of the pen. */
const LONGEST = 60;

/** The one of `known` that was most likely meant: at most a third of its letters differ, capitals and blanks aside. */
export function nearest(said: string, known: readonly string[]): string | undefined {
  const plain = said.trim().toLowerCase();
  if (plain === '' || plain.length > LONGEST) return undefined;
  let best: string | undefined;
  let least = Infinity;
  for (const word of known) {
    const d = editDistance(plain, word.toLowerCase());
    if (d < least && d <= Math.max(1, Math.floor(word.length / 3))) {
      best = word;
      least = d;
    }
  }
  return best;
}
