/** The nodes of a glTF scene: which meshes stand where. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { missing } from './gltf-buffers.ts';
import type { GltfFile, GltfNode } from './gltf-json.ts';
import { type Affine, affineOf, composed, IDENTITY, isSingular } from './matrix.ts';

/** A mesh in its place. */
export interface Drawing {
  readonly mesh: number;
  readonly matrix: Affine;
  /** Of the node in the JSON. */
  readonly path: string;
}

/** Nodes are met this often at most, however often others repeat them. */
const MOST_VISITS = 200_000;
/** Nodes within nodes. */
const DEEPEST = 1000;
const AGAIN = 'Export the scan again, or as STL.';

/** A node to go to, or the leaving of one (its matrix is not needed then). */
interface Step {
  readonly node: number;
  readonly matrix: Affine;
  readonly depth: number;
  readonly asked: string;
  readonly leaves: boolean;
}

/** The meshes of the scene, in the order of the file. @throws Fault for loops, missing nodes, flattened bodies */
export const placedMeshes = (file: GltfFile, findings: Finding[]): Drawing[] => new Walk(file).run(findings);

/** Down all nodes with a pile of its own: the depth of a file must not be that of the program. */
class Walk {
  readonly #file: GltfFile;
  readonly #drawings: Drawing[] = [];
  readonly #open = new Set<number>();
  readonly #steps: Step[] = [];
  #planned = 0;
  readonly #told = { skins: 0, hidden: 0, copies: 0 };

  constructor(file: GltfFile) {
    this.#file = file;
  }

  run(findings: Finding[]): Drawing[] {
    const [roots, from] = rootsOf(this.#file, findings);
    this.#plan(roots, IDENTITY, 1, from);
    for (let step = this.#steps.pop(); step !== undefined; step = this.#steps.pop()) {
      if (step.leaves) this.#open.delete(step.node);
      else this.#visit(step);
    }
    tell(this.#told, this.#drawings.length, findings);
    return this.#drawings;
  }

  /** Puts nodes on the pile so that the first comes off first. */
  #plan(nodes: readonly number[], matrix: Affine, depth: number, asked: string): void {
    this.#planned += nodes.length;
    if (this.#planned > MOST_VISITS) {
      throw new Fault(
        'scan/too-large',
        `this glTF comes to more than ${grouped(MOST_VISITS)} nodes, repeated ones counted`,
        asked,
        'Export the scan as STL.',
      );
    }
    for (let i = nodes.length - 1; i >= 0; i--) this.#steps.push({ node: nodes[i] as number, matrix, depth, asked, leaves: false });
  }

  #visit(step: Step): void {
    const node = this.#file.nodes[step.node];
    if (node === undefined) throw missing('node', step.node, this.#file.nodes.length, step.asked);
    const path = `/nodes/${step.node}`;
    if (this.#open.has(step.node)) throw new Fault('scan/syntax', `node ${step.node} contains itself`, path, AGAIN);
    if (step.depth > DEEPEST) throw new Fault('scan/unsafe', `nodes nested more than ${DEEPEST} deep`, path, AGAIN);
    const own = matrixOf(node, path);
    if (own === undefined) {
      this.#told.hidden++;
      return;
    }
    const matrix = composed(own, step.matrix);
    if (node.mesh !== undefined) this.#drawing(node, node.mesh, matrix, path);
    this.#open.add(step.node);
    this.#steps.push({ ...step, leaves: true });
    this.#plan(node.children, matrix, step.depth + 1, `${path}/children`);
  }

  #drawing(node: GltfNode, mesh: number, matrix: Affine, path: string): void {
    if (isSingular(matrix)) {
      throw new Fault('scan/syntax', 'the matrices down to this node are singular: they flatten its mesh to nothing', path, AGAIN);
    }
    this.#drawings.push({ mesh, matrix, path });
    if (node.skin !== undefined) this.#told.skins++;
    if (node.extensions !== undefined && Object.hasOwn(node.extensions, 'EXT_mesh_gpu_instancing')) this.#told.copies++;
  }
}

/** The nodes that the scene begins with, and where the JSON lists them. */
function rootsOf(file: GltfFile, findings: Finding[]): [nodes: readonly number[], path: string] {
  if (file.scenes.length === 0) {
    if (file.nodes.length > 0)
      findings.push({ code: 'scan/scene', level: 'note', text: 'The file holds no scene: all its nodes are read.' });
    const inner = new Set(file.nodes.flatMap((n) => n.children));
    return [[...file.nodes.keys()].filter((i) => !inner.has(i)), '/nodes'];
  }
  const which = file.scene ?? 0;
  const scene = file.scenes[which];
  if (scene === undefined) throw missing('scene', which, file.scenes.length, '/scene');
  if (file.scenes.length > 1) {
    findings.push({
      code: 'scan/scene',
      level: 'note',
      text: `The file holds ${file.scenes.length} scenes: ${file.scene === undefined ? 'the first' : 'the one that it shows'} is read.`,
    });
  }
  return [scene.nodes, `/scenes/${which}/nodes`];
}

function tell(told: { skins: number; hidden: number; copies: number }, meshes: number, findings: Finding[]): void {
  if (told.skins > 0) {
    findings.push({
      code: 'scan/base-shape',
      level: 'warning',
      text: `${counted(told.skins, 'mesh', 'meshes')} moved by a skeleton: read as stored.`,
      count: told.skins,
    });
  }
  if (told.copies > 0) {
    findings.push({
      code: 'scan/extension',
      level: 'warning',
      text: `${counted(told.copies, 'node')} repeated by EXT_mesh_gpu_instancing: read once, at its own place.`,
      count: told.copies,
    });
  }
  if (told.hidden > 0)
    findings.push({
      code: 'scan/left-out',
      level: 'note',
      text: `Left out: ${counted(told.hidden, 'node')} scaled to nothing.`,
      count: told.hidden,
    });
  if (meshes > 1)
    findings.push({ code: 'scan/solids', level: 'note', text: `The scene places ${meshes} meshes; all are read.`, count: meshes });
}

/** A node's own matrix; undefined where it is scaled to nothing, which is how programs hide a node. */
function matrixOf(node: GltfNode, path: string): Affine | undefined {
  const { matrix, translation, rotation, scale } = node;
  if ((matrix ?? translation ?? rotation ?? scale) === undefined) return IDENTITY;
  if (matrix !== undefined && (translation ?? rotation ?? scale) !== undefined) {
    throw new Fault('scan/syntax', 'a node with a matrix has a translation, rotation or scale as well', path, AGAIN);
  }
  const own = matrix === undefined ? fromParts(translation ?? [0, 0, 0], rotation, scale ?? [1, 1, 1], path) : fromSixteen(matrix, path);
  if (own.slice(0, 9).every((x) => x === 0)) return undefined;
  return own;
}

/** Column by column, the fourth row of which must be 0 0 0 1 (but for rounding). */
function fromSixteen(m: readonly number[], path: string): Affine {
  const last = m.filter((_x, k) => k % 4 === 3);
  if (last.some((x, k) => Math.abs(x - (k === 3 ? 1 : 0)) > 1e-6)) {
    throw new Fault('scan/syntax', `the last row of a matrix is ${last.join(' ')}, not 0 0 0 1`, `${path}/matrix`, AGAIN);
  }
  return affineOf(m.filter((_x, k) => k % 4 !== 3));
}

/** Scaled, turned by a quaternion (x y z w), moved. */
function fromParts(t: readonly number[], rotation: readonly number[] | undefined, s: readonly number[], path: string): Affine {
  const rows = rotation === undefined ? IDENTITY.slice(0, 9) : turned(rotation, path);
  return affineOf([...rows.map((x, k) => x * (s[Math.floor(k / 3)] as number)), ...t]);
}

/** Rows are the images of the axes. The quaternion is brought to length 1: in 32 bits it never quite is. */
function turned(rotation: readonly number[], path: string): number[] {
  const length = Math.sqrt(rotation.reduce((sum, x) => sum + x * x, 0));
  if (!(length > 1e-6) || !Number.isFinite(length)) throw new Fault('scan/syntax', 'a rotation without length', `${path}/rotation`, AGAIN);
  const [x, y, z, w] = rotation.map((c) => c / length) as [number, number, number, number];
  return [
    1 - 2 * (y * y + z * z),
    2 * (x * y + z * w),
    2 * (x * z - y * w),
    2 * (x * y - z * w),
    1 - 2 * (x * x + z * z),
    2 * (y * z + x * w),
    2 * (x * z + y * w),
    2 * (y * z - x * w),
    1 - 2 * (x * x + y * y),
  ];
}
