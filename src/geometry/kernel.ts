/**
 * The boolean kernel (manifold-3d, WebAssembly) behind a small typed door.
 *
 * One instance a process or worker. Its objects live in memory that no garbage collector sees: every one of them must
 * be kept by an Arena, which frees all of them together. Coordinates cross the border in 32 bits, so a mesh must be
 * near its origin (the ear frame is: 40 mm give steps below 4e-6 mm); whoever needs a rigorous figure measures on the
 * doubles, not on what comes back from here.
 */
import type { Manifold, ManifoldToplevel, Mesh as WasmMesh } from 'manifold-3d';
import { Fault } from '../model/fault.ts';
import type { Mesh } from './mesh.ts';
import type { Frame } from './vec.ts';

export type Solid = Manifold;

/** Anything of the kernel's that must be given back. */
interface Owned {
  delete(): void;
}

/** Owns kernel objects; frees them in reverse order. Use `withArena`, or `using` where the host has it. */
export class Arena implements Disposable {
  readonly #owned: Owned[] = [];

  /** Takes charge of `o` and hands it back. */
  keep<T extends Owned>(o: T): T {
    this.#owned.push(o);
    return o;
  }

  free(): void {
    for (let o = this.#owned.pop(); o; o = this.#owned.pop()) o.delete();
  }

  [Symbol.dispose](): void {
    this.free();
  }
}

/** Runs `work` with an arena of its own and frees it on return and on throw. Nothing kept in it may leave `work`. */
export function withArena<T>(work: (arena: Arena) => T): T {
  const arena = new Arena();
  try {
    return work(arena);
  } finally {
    arena.free();
  }
}

/** A mesh that came out of the kernel. */
export interface KernelMesh<F extends Frame> {
  readonly mesh: Mesh<F>;
  /** Of each triangle: the id of the solid that its surface came from (see `toManifold`); a plane's cut face has an id of its own. */
  readonly origin: Uint32Array;
}

export interface Kernel {
  /** The kernel's own classes, for what this door does not offer. Keep what they make. */
  readonly wasm: ManifoldToplevel;
  /**
   * A closed mesh, mm, as a solid kept by `arena`. Winding must be outward: an inverted mesh is refused.
   * Triangles that come from it through any number of operations can be told by `id` (from `reserveId`; else a new one).
   * Throws Fault kernel/not-closed | kernel/not-finite | kernel/inside-out | kernel/refused.
   */
  toManifold(mesh: Mesh<Frame>, arena: Arena, id?: number): Solid;
  /** A number that no solid has had yet. */
  reserveId(): number;
  /** The solid's triangles as doubles, vertices merged. The solid stays the caller's. */
  fromManifold<F extends Frame>(solid: Solid, frame: F): KernelMesh<F>;
}

let loading: { readonly url: string | undefined; readonly kernel: Promise<Kernel> } | undefined;

/**
 * The kernel, loaded once a process or worker.
 * In Node no address is needed: the wasm is looked up beside the module or the bundle's chunk. In a browser the caller
 * passes the address its bundler gave it (`import url from 'manifold-3d/manifold.wasm?url'`).
 * Throws Fault kernel/not-loaded; the next call then tries again.
 */
export function loadKernel(wasmUrl?: string): Promise<Kernel> {
  if (loading && (wasmUrl === undefined || loading.url === wasmUrl)) return loading.kernel;
  const kernel = start(wasmUrl).catch((e: unknown) => {
    loading = undefined;
    throw new Fault(
      'kernel/not-loaded',
      `the geometry kernel did not start: ${e instanceof Error ? e.message : String(e)}`,
      wasmUrl ?? 'manifold.wasm beside the program',
      'Check that the file manifold.wasm was installed with the program and that WebAssembly is allowed',
    );
  });
  loading = { url: wasmUrl, kernel };
  return kernel;
}

async function start(wasmUrl: string | undefined): Promise<Kernel> {
  const { default: Module } = await import('manifold-3d');
  const wasm = wasmUrl === undefined ? await Module() : await Module({ locateFile: () => wasmUrl });
  wasm.setup();
  return {
    wasm,
    toManifold: (mesh, arena, id) => toManifold(wasm, mesh, arena, id ?? wasm.Manifold.reserveIDs(1)),
    reserveId: () => wasm.Manifold.reserveIDs(1),
    fromManifold: (solid, frame) => fromManifold(solid, frame),
  };
}

function toManifold(wasm: ManifoldToplevel, mesh: Mesh<Frame>, arena: Arena, id: number): Solid {
  const bad = mesh.positions.findIndex((c) => !Number.isFinite(c));
  if (bad >= 0) {
    const vertex = Math.floor(bad / 3);
    throw new Fault(
      'kernel/not-finite',
      `vertex ${vertex} has a coordinate that is no number`,
      `vertex ${vertex}`,
      'Repair the mesh first',
    );
  }
  const input = new wasm.Mesh({
    numProp: 3,
    vertProperties: Float32Array.from(mesh.positions),
    triVerts: Uint32Array.from(mesh.indices),
    runIndex: Uint32Array.of(0, mesh.indices.length),
    runOriginalID: Uint32Array.of(id),
  });
  let solid: Solid;
  try {
    solid = arena.keep(wasm.Manifold.ofMesh(input));
  } catch (e) {
    throw refusal(e, mesh);
  }
  if (solid.volume() < 0) {
    throw new Fault(
      'kernel/inside-out',
      `the mesh is inside out (volume ${solid.volume().toFixed(3)} mm3)`,
      'the whole mesh',
      'Flip it first',
    );
  }
  return solid;
}

/** The kernel says only "not manifold": find how many edges are unpaired and where the first one is. */
function refusal(e: unknown, mesh: Mesh<Frame>): Fault {
  const said = e instanceof Error ? e.message : String(e);
  const { positions: p, indices: t } = mesh;
  const balance = new Map<number, number>();
  const many = p.length / 3;
  for (let i = 0; i < t.length; i++) {
    const a = t[i] as number;
    const b = t[i % 3 === 2 ? i - 2 : i + 1] as number;
    const key = a < b ? a * many + b : b * many + a;
    balance.set(key, (balance.get(key) ?? 0) + (a < b ? 1 : -1));
  }
  const open = [...balance].filter(([, n]) => n !== 0).map(([key]) => key);
  if (open.length === 0) {
    return new Fault(
      'kernel/refused',
      `the geometry kernel refused the mesh: ${said}`,
      `${t.length / 3} triangles`,
      'Repair the mesh first',
    );
  }
  const v = Math.floor((open[0] as number) / many);
  const at = [0, 1, 2].map((k) => (p[3 * v + k] as number).toFixed(2)).join(', ');
  return new Fault('kernel/not-closed', `the mesh is not closed: ${open.length} unpaired edges`, `the first at ${at} mm`, 'Close it first');
}

function fromManifold<F extends Frame>(solid: Solid, frame: F): KernelMesh<F> {
  const m: WasmMesh = solid.getMesh();
  const stride = m.numProp;
  const count = m.vertProperties.length / stride;
  const target = new Uint32Array(count);
  for (let i = 0; i < count; i++) target[i] = i;
  const merges = m.mergeFromVert?.length ?? 0;
  for (let i = 0; i < merges; i++) target[m.mergeFromVert[i] as number] = m.mergeToVert[i] as number;
  const kept = new Int32Array(count).fill(-1);
  let n = 0;
  for (let i = 0; i < count; i++) if (target[i] === i) kept[i] = n++;
  const positions = new Float64Array(3 * n);
  for (let i = 0; i < count; i++) {
    const k = kept[i] as number;
    if (k >= 0) for (let c = 0; c < 3; c++) positions[3 * k + c] = m.vertProperties[stride * i + c] as number;
  }
  const indices = new Uint32Array(m.triVerts.length);
  for (let i = 0; i < indices.length; i++) indices[i] = kept[target[m.triVerts[i] as number] as number] as number;
  const origin = new Uint32Array(indices.length / 3);
  for (let r = 0; r < m.runOriginalID.length; r++) {
    const end = m.runIndex[r + 1] ?? indices.length;
    origin.fill(m.runOriginalID[r] as number, (m.runIndex[r] as number) / 3, end / 3);
  }
  return { mesh: { frame, positions, indices }, origin };
}
