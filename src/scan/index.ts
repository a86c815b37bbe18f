export { describeScan, FORMAT_WORDS, readingTable, type ScanDescription } from './describe.ts';
export { believableUnits, UNIT_WORDS, UNITS } from './judge/unit.ts';
export { type ReadOptions, readScan } from './read.ts';
export { type Thinned, thinScan } from './thin/index.ts';
