/** What was read, for programs and for people. */
import type { Finding, OpenLoop, Scan } from '../model/scan.ts';
import { counted, fixed, grouped, place } from './wording.ts';

/** Lengths mm, areas mm2, volumes mm3, points in the scan's own coordinates. Field names are stable. */
export interface ScanDescription {
  readonly format: 'cavum-reading';
  readonly version: 1;
  readonly file: string;
  readonly sha256: string;
  readonly fileFormat: Scan['format'];
  readonly unit: Scan['unit'];
  /** As read: triangles in the file, vertices after welding, pieces, open loops of the piece in use. */
  readonly read: {
    readonly triangles: number;
    readonly vertices: number;
    readonly pieces: number;
    readonly openLoops: readonly {
      readonly role: OpenLoop['role'];
      readonly edges: number;
      readonly length: number;
      readonly at: readonly number[];
    }[];
  };
  /** As used: closed and outward. */
  readonly mesh: { readonly triangles: number; readonly vertices: number };
  readonly volume: number;
  readonly area: number;
  readonly bounds: { readonly min: readonly number[]; readonly max: readonly number[] };
  readonly base: { readonly point: readonly number[]; readonly normal: readonly number[]; readonly capTriangles: number } | null;
  readonly findings: readonly {
    readonly code: string;
    readonly level: Finding['level'];
    readonly text: string;
    readonly count?: number;
    readonly at?: readonly number[];
  }[];
}

/** The whole reading but the mesh itself, as plain data. */
export function describeScan(scan: Scan): ScanDescription {
  const { base } = scan;
  return {
    format: 'cavum-reading',
    version: 1,
    file: scan.name,
    sha256: scan.sha256,
    fileFormat: scan.format,
    unit: scan.unit,
    read: {
      triangles: scan.read.triangles,
      vertices: scan.read.vertices,
      pieces: scan.read.pieces,
      openLoops: scan.read.openLoops.map((l) => ({ role: l.role, edges: l.edges, length: l.length, at: [...l.at] })),
    },
    mesh: { triangles: scan.mesh.indices.length / 3, vertices: scan.mesh.positions.length / 3 },
    volume: scan.volume,
    area: scan.area,
    bounds: { min: [...scan.bounds.min], max: [...scan.bounds.max] },
    base: base ? { point: [...base.plane.point], normal: [...base.plane.normal], capTriangles: base.cap.reduce((n, c) => n + c, 0) } : null,
    findings: scan.findings.map((f) => ({
      code: f.code,
      level: f.level,
      text: f.text,
      ...(f.count === undefined ? {} : { count: f.count }),
      ...(f.at === undefined ? {} : { at: [...f.at] }),
    })),
  };
}

/** Formats as people read them. */
export const FORMAT_WORDS: Record<Scan['format'], string> = {
  'stl-binary': 'STL, binary',
  'stl-ascii': 'STL, text',
  ply: 'PLY',
  obj: 'OBJ',
  '3mf': '3MF',
  glb: 'glTF, binary (GLB)',
  gltf: 'glTF',
};
const MARK: Record<Finding['level'], string> = { note: 'note   ', changed: 'changed', warning: 'WARNING' };

/** The same for people: a line a fact, ends with a line feed. */
export function readingTable(scan: Scan): string {
  const { min, max } = scan.bounds;
  const rows: [string, string][] = [
    ['File', scan.name],
    ['Format', FORMAT_WORDS[scan.format]],
    ['Unit', scan.unit],
    [
      'Read',
      `${counted(scan.read.triangles, 'triangle')}, ${counted(scan.read.vertices, 'vertex', 'vertices')}, ${counted(scan.read.pieces, 'piece')}`,
    ],
    ['Used', `${counted(scan.mesh.indices.length / 3, 'triangle')}, ${counted(scan.mesh.positions.length / 3, 'vertex', 'vertices')}`],
    ['Extent', `${[0, 1, 2].map((k) => fixed((max[k] as number) - (min[k] as number), 2)).join(' x ')} mm`],
    ['From, to', `${place(min)} to ${place(max)}`],
    ['Volume', `${fixed(scan.volume, 3)} mm³`],
    ['Area', `${fixed(scan.area, 3)} mm²`],
    ['Open loops', scan.read.openLoops.length === 0 ? 'none' : grouped(scan.read.openLoops.length)],
  ];
  for (const l of scan.read.openLoops.slice(0, 12)) {
    rows.push([`  ${l.role}`, `${counted(l.edges, 'edge')}, ${fixed(l.length, 3)} mm round, at ${place(l.at)}`]);
  }
  if (scan.read.openLoops.length > 12) rows.push(['', `and ${grouped(scan.read.openLoops.length - 12)} more`]);
  rows.push(['SHA-256', scan.sha256]);
  const width = Math.max(...rows.map(([k]) => k.length)) + 2;
  const facts = rows.map(([k, v]) => `${k.padEnd(width)}${v}`);
  const told =
    scan.findings.length === 0
      ? ['Findings    none: the file is used as it is']
      : ['Findings', ...scan.findings.map((f) => `  ${MARK[f.level]}  ${f.text}`)];
  return `${[...facts, ...told].join('\n')}\n`;
}
