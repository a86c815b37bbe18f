export { describeScan, readingTable, type ScanDescription } from './describe.ts';
export { type ReadOptions, readScan } from './read.ts';
export { believableUnits, UNITS } from './unit.ts';
