export { describeScan, readingTable, type ScanDescription } from './describe.ts';
export { believableUnits, UNITS } from './judge/unit.ts';
export { type ReadOptions, readScan } from './read.ts';
