import { describe, expect, it } from 'vitest';
import { Arena, loadKernel, withArena } from '../../src/geometry/kernel.ts';
import { type Mesh, volumeOf } from '../../src/geometry/mesh.ts';

/** A box from corner lo to corner hi, outward. */
function box(lo: number[], hi: number[]): Mesh<'ear'> {
  const positions = new Float64Array(24);
  for (let i = 0; i < 8; i++) for (let k = 0; k < 3; k++) positions[3 * i + k] = ((i >> k) & 1 ? hi[k] : lo[k]) as number;
  // biome-ignore format: one face a line
  const indices = new Uint32Array([
    0, 2, 3, 0, 3, 1,
    4, 5, 7, 4, 7, 6,
    0, 1, 5, 0, 5, 4,
    2, 6, 7, 2, 7, 3,
    0, 4, 6, 0, 6, 2,
    1, 3, 7, 1, 7, 5,
  ]);
  return { frame: 'ear', positions, indices };
}

describe('the boolean kernel', () => {
  it('is loaded once', async () => {
    expect(await loadKernel()).toBe(await loadKernel());
  });

  it('cuts by a plane, keeps volumes and tells the cut face from the rest', async () => {
    const kernel = await loadKernel();
    const own = kernel.reserveId();
    withArena((arena) => {
      const solid = kernel.toManifold(box([-10, -8, 0], [10, 8, 24]), arena, own);
      expect(solid.volume()).toBeCloseTo(7680, 3); // 20 x 16 x 24
      const cut = arena.keep(solid.trimByPlane([0, 0, -1], -15)); // keeps z <= 15
      const { mesh, origin } = kernel.fromManifold(cut, 'ear');
      expect(volumeOf(mesh)).toBeCloseTo(20 * 16 * 15, 3);
      const face = [...origin].map((o, t) => ({ o, z: mesh.positions[3 * (mesh.indices[3 * t] as number) + 2] as number }));
      const strange = face.filter((f) => f.o !== own);
      expect(strange.length).toBeGreaterThan(0);
      for (const f of strange) expect(f.z).toBeCloseTo(15, 5);
    });
  });

  it('frees on throw, in reverse order', () => {
    const gone: number[] = [];
    expect(() =>
      withArena((a) => {
        for (const n of [1, 2]) a.keep({ delete: () => gone.push(n) });
        throw new Error('stop');
      }),
    ).toThrow('stop');
    expect(gone).toEqual([2, 1]);
    const arena = new Arena();
    arena.keep({ delete: () => gone.push(3) });
    arena[Symbol.dispose]();
    expect(gone).toEqual([2, 1, 3]);
  });

  it('says where a mesh is open, not finite or inside out', async () => {
    const kernel = await loadKernel();
    const whole = box([0, 0, 0], [1, 2, 3]);
    const open: Mesh<'ear'> = { ...whole, indices: whole.indices.slice(0, -3) };
    const flipped: Mesh<'ear'> = { ...whole, indices: whole.indices.slice().reverse() };
    const positions = whole.positions.slice();
    positions[7] = Number.NaN;
    withArena((arena) => {
      expect(() => kernel.toManifold(open, arena)).toThrow(/3 unpaired edges \(the first at/);
      expect(() => kernel.toManifold(flipped, arena)).toThrow(/inside out/);
      expect(() => kernel.toManifold({ ...whole, positions }, arena)).toThrow(/vertex 2/);
    });
  });
});
