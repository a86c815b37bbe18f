/** What the referee reads of a verdict document. Types of plain JSON; `soundNumbers` says whether the numbers are ones. */
import type { Vec3 } from '../../src/geometry/vec.ts';
import type { FourNumbers, Solid } from './referee-solids.ts';

export interface PoseFile {
  position: Vec3;
  quaternion: FourNumbers;
}
export interface PrimitiveDocument extends PoseFile {
  shape: Solid['shape'];
  size: Vec3;
  kind: Solid['kind'];
}
export interface PartDocument {
  id: string;
  seat: 'faceplate' | 'tip' | 'free' | 'shell';
  margin: number;
  primitives: PrimitiveDocument[];
  clearance: { wall: number; parts: number | null; faceplate: number } | null;
}
export interface CutDocument {
  name: 'outer' | 'tip' | 'upper';
  point: Vec3;
  normal: Vec3;
}
/** A vent's bore: diameter and length, mm, and the corners of its middle line from outside in. */
export interface VentDocument {
  diameter: number;
  length: number;
  line: Vec3[];
}
export interface MoveDocument {
  parts: { id: string; poses: PoseFile[] }[];
}
export interface StyleDocument {
  style: string;
  verdict: string;
  found: number | null;
  ceiling: number | null;
  cuts: CutDocument[];
  parts: PartDocument[];
  sound: boolean | null;
  vent?: VentDocument | null;
  assembly: { order?: string[][]; least?: number; moves?: MoveDocument[] } | null;
}
interface Place {
  at: Vec3;
  depth: number;
}
export interface VerdictDocument {
  format: string;
  scan: { sha256: string; triangles: number; unit: string };
  ear: {
    side: string;
    lateral: Vec3;
    superior: Vec3;
    anterior: Vec3;
    aperture: Place;
    firstBend: Place | null;
    secondBend: Place | null;
    end: Place;
    rim: { point: Vec3; normal: Vec3 };
    crus: { at: Vec3 } | null;
    sections: { depth: number; at: Vec3; tangent: Vec3 }[];
  };
  order: {
    receiver: string;
    microphones: number;
    vent?: number;
    rechargeable?: boolean;
    parts?: Partial<Record<string, string>>;
  } & Record<string, unknown>;
  rules: Record<'wall' | 'faceplate' | 'gap' | 'partGap' | 'suspension' | 'tolerance', number>;
  cuts: Partial<Record<string, { outer?: number; tip?: number }>>;
  styles: StyleDocument[];
  recommended: { style: string | null };
}

/** The first thing in a document's value that should be a number, or of length 1, and is not. Undefined when all is sound. */
export function unsoundNumber(style: StyleDocument): string | undefined {
  const finite = (x: readonly unknown[], n: number): boolean => Array.isArray(x) && x.length === n && x.every((c) => Number.isFinite(c));
  const unit = (x: readonly number[]): boolean => Math.abs(Math.sqrt(x.reduce((s, c) => s + c * c, 0)) - 1) < 1e-6;
  const pose = (p: PoseFile): boolean => finite(p.position, 3) && finite(p.quaternion, 4) && unit(p.quaternion);
  if (!Number.isFinite(style.found)) return 'found is no number';
  for (const c of style.cuts) if (!finite(c.point, 3) || !finite(c.normal, 3) || !unit(c.normal)) return `the ${c.name} cut is no plane`;
  for (const part of style.parts) {
    if (!Number.isFinite(part.margin)) return `${part.id} has no margin`;
    const sound = part.primitives.every((p) => finite(p.size, 3) && p.size.every((s) => s > 0) && pose(p));
    if (!sound || part.primitives.length === 0) return `${part.id} is not placed`;
  }
  for (const move of style.assembly?.moves ?? [])
    for (const part of move.parts) if (!part.poses.every(pose)) return `${part.id} moves through a pose that is none`;
  const { vent } = style;
  if (vent && !(finite([vent.diameter, vent.length], 2) && vent.line.length >= 2 && vent.line.every((p) => finite(p, 3))))
    return 'the vent has no course';
  return undefined;
}
