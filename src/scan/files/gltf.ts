/**
 * glTF 2.0, as text or as GLB: the triangles of all meshes where the scene's nodes place them. Its unit is the metre;
 * many programs write millimetres all the same, which the judge of units meets.
 *
 * Everything is counted before it is placed: a node may be reached many times, and a few lines can ask for billions.
 */
import { Fault } from '../../model/fault.ts';
import type { Finding, ScanFormat } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { Corners } from './corners.ts';
import { splitGlb } from './glb.ts';
import { Buffers, compressed, missing, type Numbers } from './gltf-buffers.ts';
import { type GltfFile, type GltfPrimitive, readJson } from './gltf-json.ts';
import { type Drawing, placedMeshes } from './gltf-scene.ts';
import { apply, determinant, mirrored } from './matrix.ts';
import { findNotFinite, MOST_TRIANGLES, refuseEmpty, refuseTooMany, type Soup, settleNotFinite } from './soup.ts';

/** Packed geometry: without the extension there is nothing to read. */
const PACKED = /^(KHR_draco_mesh_compression|(EXT|KHR)_meshopt_compression)$/;
/** Read, or without a say in shape: looks, lights, other sorts of picture, names. */
const HARMLESS =
  /^(KHR_mesh_quantization|KHR_(materials|texture|lights|xmp|animation).*|EXT_texture.*|MSFT_texture.*|KHR_techniques_webgl)$/;

export function readGlb(bytes: Uint8Array): Soup {
  const findings: Finding[] = [];
  const { json, bin } = splitGlb(bytes, findings);
  return new Gltf(json, bin, 'glb', findings).read();
}

export function readGltf(bytes: Uint8Array): Soup {
  return new Gltf(bytes, undefined, 'gltf', []).read();
}

/** Whole primitives are gone through this often at most, however often nodes repeat them. */
const MOST_PRIMITIVES = 1_000_000;

class Gltf {
  readonly #file: GltfFile;
  readonly #buffers: Buffers;
  readonly #format: ScanFormat;
  readonly #findings: Finding[];
  /** Primitives of points or lines, corners that were left over, meshes that change shape. */
  readonly #told = { lines: 0, left: 0, morphs: 0 };
  readonly #mirrored = { meshes: 0, triangles: 0 };
  #corners = new Corners(1);

  constructor(json: Uint8Array, bin: Uint8Array | undefined, format: ScanFormat, findings: Finding[]) {
    this.#file = readJson(json);
    this.#buffers = new Buffers(this.#file, bin);
    this.#format = format;
    this.#findings = findings;
  }

  read(): Soup {
    this.#settleExtensions();
    const drawings = placedMeshes(this.#file, this.#findings);
    const total = this.#count(drawings);
    if (total === 0) this.#refuseNothing(drawings);
    this.#corners = new Corners(total);
    for (const drawing of drawings) this.#draw(drawing);
    this.#tell();
    const read = this.#corners.take();
    const corners = settleNotFinite(read, findNotFinite(read), this.#findings);
    return { format: this.#format, unit: 'm', corners, triangles: total, single: true, findings: this.#findings };
  }

  #settleExtensions(): void {
    for (const [i, name] of this.#file.extensionsRequired.entries()) {
      if (PACKED.test(name)) throw compressed(name, `/extensionsRequired/${i}`);
      if (HARMLESS.test(name)) continue;
      this.#findings.push({
        code: 'scan/extension',
        level: 'warning',
        text: `The file requires the extension '${name.slice(0, 60)}', which is not read: the shape may differ from what was meant.`,
      });
    }
  }

  /** Triangles of all drawings. Each primitive's accessors are checked on the way. */
  #count(drawings: readonly Drawing[]): number {
    const known = new Map<number, { triangles: number; primitives: number }>();
    let total = 0;
    let primitives = 0;
    for (const { mesh, path } of drawings) {
      const counts = known.get(mesh) ?? this.#countMesh(mesh, path);
      known.set(mesh, counts);
      total += counts.triangles;
      primitives += counts.primitives;
      if (primitives > MOST_PRIMITIVES) {
        throw new Fault(
          'scan/too-large',
          `the nodes of this glTF repeat more than ${grouped(MOST_PRIMITIVES)} primitives`,
          path,
          'Export the scan as STL.',
        );
      }
    }
    refuseTooMany(total);
    return total;
  }

  #countMesh(mesh: number, path: string): { triangles: number; primitives: number } {
    const of = this.#file.meshes[mesh];
    if (of === undefined) throw missing('mesh', mesh, this.#file.meshes.length, `${path}/mesh`);
    let triangles = 0;
    for (const [p, primitive] of of.primitives.entries()) {
      const at = `/meshes/${mesh}/primitives/${p}`;
      if (primitive.mode < 4) {
        this.#told.lines++;
        continue;
      }
      const corners = this.#cornersOf(primitive, at);
      if (primitive.mode === 4) this.#told.left += corners % 3;
      if (primitive.targets !== undefined && primitive.targets.length > 0) this.#told.morphs++;
      triangles += trianglesOf(primitive.mode, corners);
      if (triangles > MOST_TRIANGLES) refuseTooMany(triangles);
    }
    return { triangles, primitives: of.primitives.length };
  }

  #cornersOf(primitive: GltfPrimitive, path: string): number {
    const { points, indices } = this.#listsOf(primitive, path);
    return points === undefined ? 0 : (indices ?? points).count;
  }

  #listsOf(primitive: GltfPrimitive, path: string): { points: Numbers | undefined; indices: Numbers | undefined } {
    const { POSITION } = primitive.attributes;
    const packed = Object.keys(primitive.extensions ?? {}).find((name) => PACKED.test(name));
    if (packed !== undefined && (POSITION === undefined || this.#buffers.isBare(POSITION))) throw compressed(packed, path);
    if (POSITION === undefined) return { points: undefined, indices: undefined };
    const points = this.#buffers.points(POSITION, `${path}/attributes/POSITION`);
    const indices = primitive.indices === undefined ? undefined : this.#buffers.indices(primitive.indices, `${path}/indices`);
    return { points, indices };
  }

  #draw({ mesh, matrix }: Drawing): void {
    const before = this.#corners.triangles;
    const turn = determinant(matrix) < 0;
    for (const [p, primitive] of (this.#file.meshes[mesh]?.primitives ?? []).entries()) {
      if (primitive.mode < 4) continue;
      const path = `/meshes/${mesh}/primitives/${p}`;
      const { points, indices } = this.#listsOf(primitive, path);
      if (points === undefined) continue;
      const place = new Float64Array(9);
      const triangles = trianglesOf(primitive.mode, (indices ?? points).count);
      for (let t = 0; t < triangles; t++) {
        for (let c = 0; c < 3; c++) {
          const n = cornerOf(primitive.mode, t, turn && c > 0 ? 3 - c : c);
          const vertex = indices === undefined ? n : indices.at(n, 0);
          if (vertex >= points.count) throw outOfRange(t, vertex, points.count, path);
          apply(matrix, points.at(vertex, 0), points.at(vertex, 1), points.at(vertex, 2), place, 3 * c);
        }
        for (let k = 0; k < 9; k++) this.#corners.push(place[k] as number);
      }
    }
    if (!turn) return;
    this.#mirrored.meshes++;
    this.#mirrored.triangles += this.#corners.triangles - before;
  }

  #refuseNothing(drawings: readonly Drawing[]): never {
    const { lines } = this.#told;
    if (lines > 0) throw nothing(`no triangles in file: it holds points or lines only (${counted(lines, 'primitive')})`, '/meshes');
    if (drawings.length > 0) refuseEmpty();
    const has = this.#file.meshes.length;
    throw nothing(
      `no triangles in file: ${has === 0 ? 'it holds no mesh' : `none of its ${counted(has, 'mesh', 'meshes')} stands in the scene`}`,
      has === 0 ? '' : '/scenes',
    );
  }

  #tell(): void {
    const { lines, left, morphs } = this.#told;
    const say = (code: string, level: Finding['level'], text: string, count: number): void => {
      if (count > 0) this.#findings.push({ code, level, text, count });
    };
    say('scan/left-out', 'note', `Left out: ${counted(lines, 'primitive')} of points or lines.`, lines);
    say('scan/left-over', 'warning', `${counted(left, 'corner')} left over behind the last whole triangle ignored.`, left);
    say('scan/base-shape', 'warning', `${counted(morphs, 'mesh part')} can change shape (morph targets): read as at rest.`, morphs);
    const { meshes, triangles } = this.#mirrored;
    if (triangles > 0) this.#findings.push(mirrored(meshes === 1 ? 'A mesh is' : `${meshes} meshes are`, triangles));
  }
}

const nothing = (found: string, where: string): Fault =>
  new Fault('scan/no-triangles', found, where, 'Export the scan again as a mesh of triangles.');

const outOfRange = (t: number, vertex: number, has: number, path: string): Fault =>
  new Fault(
    'scan/syntax',
    `triangle ${grouped(t + 1)} uses vertex ${grouped(vertex)}, there are ${grouped(has)} (0 to ${grouped(has - 1)})`,
    path,
    'Export the scan again, or as STL.',
  );

const FAN = 6;
const STRIP = 5;

/** Of so many corners in a row: lists (4), strips (5), fans (6). */
const trianglesOf = (mode: number, corners: number): number => (mode === 4 ? Math.floor(corners / 3) : Math.max(0, corners - 2));

/** Which corner of the row is corner c of triangle t (glTF 2.0, section 3.7.2.1): every second triangle of a strip is wound the other way. */
function cornerOf(mode: number, t: number, c: number): number {
  if (mode === STRIP) return c === 0 ? t : c === 1 ? t + 1 + (t % 2) : t + 2 - (t % 2);
  if (mode === FAN) return c === 2 ? 0 : t + 1 + c;
  return 3 * t + c;
}
