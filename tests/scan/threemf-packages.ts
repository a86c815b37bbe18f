/** 3MF packages for the tests, built piece by piece, with whatever oddity is asked for. */
import { deflateRawSync } from 'node:zlib';
import { crc32 } from '../../src/scan/files/zip-crc.ts';
import { box, type Solid } from '../support/solids.ts';
import { bytesOf, le } from './readers.ts';

export const CORE = 'http://schemas.microsoft.com/3dmanufacturing/core/2015/02';
export const PRODUCTION = 'http://schemas.microsoft.com/3dmanufacturing/production/2015/06';
export const relsTo = (target: string): string =>
  `<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" Id="r0" Target="${target}"/></Relationships>`;

export interface File {
  readonly name: string;
  readonly data: string | Uint8Array;
  /** What the directory says in place of the truth. */
  readonly lies?: { method?: number; flags?: number; sum?: number; size?: number; packed?: number; at?: number };
  readonly stored?: boolean;
  /** Sizes only after the data, as writers of streams do. */
  readonly after?: boolean;
  /** Sizes and place in 64 bits. */
  readonly wide?: boolean;
}

/** A zip archive, with whatever oddity is asked for. */
export function zip(files: readonly File[], comment = ''): Uint8Array {
  const out: number[] = [];
  const directory: number[] = [];
  for (const f of files) {
    const data = bytesOf(f.data);
    const name = [...bytesOf(f.name)];
    const body = f.stored ? data : new Uint8Array(deflateRawSync(data));
    const told = {
      method: f.stored ? 0 : 8,
      flags: f.after ? 8 : 0,
      sum: crc32(data),
      size: data.length,
      packed: body.length,
      at: out.length,
      ...f.lies,
    };
    const head = (sizes: boolean): number[] => [
      ...le(f.wide ? 45 : 20, 2),
      ...le(told.flags, 2),
      ...le(told.method, 2),
      ...le(0, 4),
      ...le(sizes ? told.sum : 0, 4),
      ...le(sizes ? (f.wide ? 0xffffffff : told.packed) : 0, 4),
      ...le(sizes ? (f.wide ? 0xffffffff : told.size) : 0, 4),
      ...le(name.length, 2),
    ];
    const extra = f.wide
      ? [...le(7, 2), ...le(2, 2), 0, 0, ...le(1, 2), ...le(24, 2), ...le(told.size, 8), ...le(told.packed, 8), ...le(told.at, 8)]
      : [];
    out.push(...le(0x04034b50, 4), ...head(!f.after), ...le(0, 2), ...name);
    for (const b of body) out.push(b);
    if (f.after) out.push(...le(0x08074b50, 4), ...le(told.sum, 4), ...le(told.packed, 4), ...le(told.size, 4));
    directory.push(
      ...le(0x02014b50, 4),
      ...le(20, 2),
      ...head(true),
      ...le(extra.length, 2),
      ...le(0, 10),
      ...le(f.wide ? 0xffffffff : told.at, 4),
      ...name,
      ...extra,
    );
  }
  const at = out.length;
  const wide = files.some((f) => f.wide);
  out.push(...directory);
  if (wide) {
    const end = out.length;
    out.push(
      ...le(0x06064b50, 4),
      ...le(44, 8),
      ...le(45, 2),
      ...le(45, 2),
      ...le(0, 8),
      ...le(files.length, 8),
      ...le(files.length, 8),
      ...le(directory.length, 8),
      ...le(at, 8),
    );
    out.push(...le(0x07064b50, 4), ...le(0, 4), ...le(end, 8), ...le(1, 4));
  }
  const [count, size, from] = wide ? [0xffff, 0xffffffff, 0xffffffff] : [files.length, directory.length, at];
  out.push(
    ...le(0x06054b50, 4),
    ...le(0, 4),
    ...le(count, 2),
    ...le(count, 2),
    ...le(size, 4),
    ...le(from, 4),
    ...le(comment.length, 2),
    ...bytesOf(comment),
  );
  return Uint8Array.from(out);
}

export const PART = '3D/3dmodel.model';
export const packed = (model: string | Uint8Array, more: readonly File[] = []): Uint8Array =>
  zip([{ name: '_rels/.rels', data: relsTo(`/${PART}`) }, { name: PART, data: model }, ...more]);

export const meshOf = (s: Solid): string =>
  `<mesh><vertices>${s.points.map(([x, y, z]) => `<vertex x="${x}" y="${y}" z="${z}"/>`).join('')}</vertices><triangles>${s.triangles
    .map(([a, b, c]) => `<triangle v1="${a}" v2="${b}" v3="${c}"/>`)
    .join('')}</triangles></mesh>`;
export const objectOf = (id: number, body: string, more = ''): string => `<object id="${id}" ${more}>${body}</object>`;
export const partsOf = (...uses: string[]): string => `<components>${uses.map((u) => `<component ${u}/>`).join('')}</components>`;
export const modelOf = (objects: string, build: string, more = 'unit="millimeter"'): string =>
  `<?xml version="1.0" encoding="UTF-8"?>\n<model xmlns="${CORE}" ${more}>\n<resources>${objects}</resources>\n<build>${build}</build>\n</model>`;

export const CUBE = box([0, 0, 0], [4, 4, 4]);
export const ONE = modelOf(objectOf(1, meshOf(CUBE)), '<item objectid="1"/>');
