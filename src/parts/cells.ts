/**
 * IEC 60086-2 maxima of zinc-air cells, mm: the envelope that a drawer must hold. PR41, PR48 and PR44 read in Linden's
 * Handbook of Batteries, table 4.9a (rows R41, R48, R44); the PR70 row was not seen: from memory.
 */
export const IEC_CELLS: Readonly<Record<string, { readonly size: string; readonly diameter: number; readonly height: number }>> = {
  PR70: { size: '10', diameter: 5.8, height: 3.6 },
  PR41: { size: '312', diameter: 7.9, height: 3.6 },
  PR48: { size: '13', diameter: 7.9, height: 5.4 },
  PR44: { size: '675', diameter: 11.6, height: 5.4 },
};
