import type { Bounds, Mesh } from '../geometry/mesh.ts';
import type { Plane, Point } from '../geometry/vec.ts';

export type Unit = 'mm' | 'cm' | 'm' | 'um' | 'inch';

export type ScanFormat = 'stl-binary' | 'stl-ascii' | 'ply' | 'obj' | '3mf' | 'glb' | 'gltf';

/** Something seen or changed on the way, with a place where there is one. Codes are stable; texts are for people. */
export interface Finding {
  readonly code: string;
  /** note: nothing to do. changed: the mesh differs from the file by this. warning: a person should look. */
  readonly level: 'note' | 'changed' | 'warning';
  readonly text: string;
  /** How many (triangles, holes ...) where that is a number. */
  readonly count?: number;
  readonly at?: Point<'scan'>;
}

/** An open edge loop of the surface as it was read (after welding), before anything was closed. */
export interface OpenLoop {
  readonly edges: number;
  readonly length: number; // mm
  readonly at: Point<'scan'>; // its centroid
  readonly role: 'base' | 'hole';
}

/** The open end of the impression, where the material left the ear. */
export interface Base {
  readonly plane: Plane<'scan'>; // fitted through the loop; the normal points out of the body (lateral)
  /** Of each triangle of the closed mesh: 1 where it is not scanned surface but the cap that closes the base. */
  readonly cap: Uint8Array;
}

/** What readScan gives: a closed, welded, outward-oriented mesh in mm, and everything that was done to get it. */
export interface Scan {
  readonly name: string;
  readonly sha256: string;
  readonly format: ScanFormat;
  readonly unit: Unit;
  readonly mesh: Mesh<'scan'>;
  /** Undefined when the file was closed already: then the base must be told from its shape. */
  readonly base?: Base;
  readonly read: {
    readonly triangles: number;
    readonly vertices: number; // after welding
    readonly pieces: number;
    readonly openLoops: readonly OpenLoop[];
  };
  readonly volume: number; // mm3, of the closed mesh
  readonly area: number; // mm2
  readonly bounds: Bounds<'scan'>;
  readonly findings: readonly Finding[];
}
