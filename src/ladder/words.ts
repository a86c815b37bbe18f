import type { Kit } from '../model/parts.ts';

export const capital = (s: string): string => s.charAt(0).toUpperCase() + s.slice(1);

/** "Battery 10" as it stands in a sentence. */
export const nameOf = (kit: Kit, id: string): string => {
  const name = kit.parts.find((p) => p.id === id)?.name ?? id;
  return name.charAt(0).toLowerCase() + name.slice(1);
};

/** "a, b and c" */
export const listed = (names: readonly string[]): string =>
  names.length <= 1 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
