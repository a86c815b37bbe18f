/** Rows of the tables of files that lie beside the project. */
import type { Unit } from '../../../src/model/scan.ts';

/** A file that is read, and what must come of it. */
export interface Row {
  readonly name: string;
  readonly unit?: Unit;
  /** The unit that the file itself states. */
  readonly states?: Unit;
  readonly triangles: number; // in the file
  readonly vertices?: number; // after welding
  readonly volume: number; // of the closed mesh, mm3, within 0.01 unless `within` says otherwise
  readonly within?: number;
  readonly area?: number; // mm2, within 0.01
  readonly extent?: readonly [number, number, number]; // mm, within 0.01
  readonly openEdges?: number; // all loops together
  readonly pieces?: number;
  readonly loops?: readonly (readonly ['base' | 'hole', edges: number, length?: number])[];
  /** Codes with level "changed": what was done to the mesh. */
  readonly changes?: readonly string[];
  readonly warnings?: readonly string[];
  /** What the findings must tell. */
  readonly says?: readonly RegExp[];
}

/** A file that is refused: the code, and what the message must say. */
export type Refused = readonly [name: string, code: string, ...says: RegExp[]];
