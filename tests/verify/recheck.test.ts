/** The independent re-checker against a document made by hand: a block with known distances. */
import { describe, expect, it } from 'vitest';
import { blockMesh } from '../support/bodies.ts';
import { insideCast, readTriangles, recheck, type VerdictJson } from '../support/recheck.ts';

/** Block 20 x 16 x 24 from (-10, -8, 0), as a binary STL. */
function blockStl(): Uint8Array {
  const { positions: p, indices: t } = blockMesh([-10, -8, 0], [10, 8, 24], 4);
  const bytes = new Uint8Array(84 + (50 * t.length) / 3);
  const view = new DataView(bytes.buffer);
  view.setUint32(80, t.length / 3, true);
  for (let i = 0; i < t.length; i++) {
    for (let k = 0; k < 3; k++)
      view.setFloat32(84 + 50 * Math.floor(i / 3) + 12 + 12 * (i % 3) + 4 * k, p[3 * (t[i] as number) + k] as number, true);
  }
  return bytes;
}

interface Places {
  readonly chip: number;
  readonly cell: number;
  readonly found: number;
  readonly chipWidth: number;
  readonly service: number;
}

/** A chip 4 x 2 x 2 and a cell on edge 6 x 4, cuts z = 20 (outer) and z = 4 (tip). */
function verdictDocument(change: Partial<Places> = {}): VerdictJson {
  const at: Places = { chip: 9, cell: 16.2, found: 0.2, chipWidth: 4, service: 8, ...change };
  return {
    rules: { wall: 0.6, faceplate: 0.8, gap: 0.1, partGap: 0.1 },
    styles: [
      {
        style: 'ITC',
        verdict: 'fits',
        found: at.found,
        cuts: [
          { name: 'outer', point: [0, 0, 20], normal: [0, 0, 1] },
          { name: 'tip', point: [0, 0, 4], normal: [0, 0, -1] },
        ],
        parts: [
          {
            id: 'cell',
            seat: 'faceplate',
            margin: 0,
            primitives: [
              {
                shape: 'cylinder',
                size: [6, 6, 4],
                position: [0, 0, at.cell],
                quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2],
                kind: 'solid',
              },
            ],
          },
          {
            id: 'chip',
            seat: 'free',
            margin: 0,
            primitives: [
              { shape: 'box', size: [at.chipWidth, 2, 2], position: [0, 0, at.chip], quaternion: [0, 0, 0, 1], kind: 'solid' },
              { shape: 'capsule', size: [1, 1, 3], position: [-at.service, 0, at.chip], quaternion: [0, 0, 0, 1], kind: 'service' },
            ],
          },
        ],
      },
    ],
  };
}

describe('the independent re-check', () => {
  const stl = blockStl();
  const refuted = (change?: Partial<Places>): readonly string[] => recheck(stl, verdictDocument(change))[0]?.refuted ?? ['nothing'];

  it('measures the block: nothing refuted, the spare is what the hand calculation gives', () => {
    // Cell bottom 16.2 - 3 = 13.2, chip top 10: 3.2 apart, 0.1 asked. Chip bottom 8: 4 to the tip cut, 0.7 asked: 3.3.
    // Service capsule 8.5 from the middle: 1.5 from the block's side at 10, nothing asked: the least.
    const [r] = recheck(stl, verdictDocument());
    expect(r?.refuted).toEqual([]);
    expect(r?.spare).toBeCloseTo(1.5, 6);
  });

  it('knows inside from outside', () => {
    const cast = readTriangles(stl);
    expect(insideCast(cast, [9.9, 7.9, 0.1])).toBe(true);
    expect(insideCast(cast, [10.1, 7.9, 0.1])).toBe(false);
  });

  it.each<[string, Partial<Places>, RegExp]>([
    ['a spare larger than there is', { found: 1.6 }, /reports 1.6 mm to spare/],
    ['parts that overlap', { chip: 12.5 }, /chip/],
    ['a part within another', { chip: 16.2 }, /chip/],
    ['a part through the tip cut', { chip: 4.5 }, /tip cut/],
    ['a part through the wall', { chipWidth: 20.4 }, /outside the cast/],
    ['a part too near to the wall', { chipWidth: 19.5 }, /to the cast/],
    ['service room through the wall', { service: 9.8 }, /outside the cast/],
  ])('refutes %s', (_name, change, what) => {
    expect(refuted(change).join('\n')).toMatch(what);
  });
});
