/** A true document is upheld, and each lie that is put into it is refuted for what it is. */
import { beforeAll, describe, expect, test } from 'vitest';
import { check, verdictDocument } from '../../src/engine/index.ts';
import { addScaled, distance, dot, normalize, scale, sub, type Vec3 } from '../../src/geometry/vec.ts';
import { GENERIC_FILE } from '../../src/parts/generic.ts';
import { drawEar, encodeStl, makeEar } from '../../src/synth/index.ts';
import { referee } from '../support/referee.ts';
import type { PartDocument, PoseFile, StyleDocument, VerdictDocument } from '../support/referee-document.ts';
import { stlTriangles } from '../support/referee-scan.ts';

let bytes: Uint8Array;
let truth: VerdictDocument;
/** The referee's own spare of the true document, mm. */
let spare = 0;

beforeAll(async () => {
  // A half shell: three cuts, two ports, something at every kind of seat.
  const ear = makeEar(drawEar(3, { resolution: 0.6 }), 3);
  bytes = encodeStl(ear.mesh);
  const result = await check({ bytes, name: 'synthetic.stl', side: ear.truth.side, styles: ['HS'], effort: 'quick' });
  truth = JSON.parse(JSON.stringify(verdictDocument(result)));
});

const style = (d: VerdictDocument): StyleDocument => d.styles[0] as StyleDocument;
const part = (d: VerdictDocument, id: string): PartDocument => style(d).parts.find((p) => p.id === id) as PartDocument;
const movesOf = (d: VerdictDocument, id: string): PoseFile[] =>
  (style(d).assembly?.moves ?? []).flatMap((m) => m.parts.flatMap((p) => (p.id === id ? [p.poses] : [])))[0] as PoseFile[];
const outer = (d: VerdictDocument): Vec3 => style(d).cuts.find((c) => c.name === 'outer')?.normal as Vec3;

/** Moves a part where it stands, and with it the whole of its way in or only the end of it. */
function shift(d: VerdictDocument, id: string, by: Vec3, way: 'whole' | 'end' | 'none'): void {
  for (const p of part(d, id).primitives) p.position = addScaled(p.position, by, 1);
  const poses = movesOf(d, id);
  for (const p of way === 'whole' ? poses : way === 'end' ? poses.slice(-1) : []) p.position = addScaled(p.position, by, 1);
}

const end = (d: VerdictDocument, id: string): Vec3 => (movesOf(d, id).at(-1) as PoseFile).position;

/** What is refuted of the document after a lie. */
function refutedBy(lie: (d: VerdictDocument) => void): string {
  const d = structuredClone(truth);
  lie(d);
  return referee(bytes, d, GENERIC_FILE)
    .flatMap((j) => j.refuted)
    .join('\n');
}

test('the truth is upheld, to within the error that is stated', () => {
  const [judged] = referee(bytes, truth, GENERIC_FILE);
  expect(judged?.verdict).toBe('fits');
  expect(judged?.refuted).toEqual([]);
  expect(judged?.doubts).toEqual([]);
  expect(judged?.error).toBeLessThan(2e-4);
  spare = judged?.spare as number;
  expect(spare).toBeGreaterThanOrEqual(style(truth).found as number);
  expect(judged?.poses).toBeGreaterThan(200);
});

describe('a part', () => {
  test('0.2 mm in the wall', () => {
    const chip = part(truth, 'chip');
    const at = chip.primitives[0]?.position as Vec3;
    const near = stlTriangles(bytes).reduce((best, [p]) => (distance(p, at) < distance(best, at) ? p : best), [1e9, 0, 0] as Vec3);
    const off = (chip.clearance?.wall as number) - (truth.rules.wall - 0.2);
    const said = refutedBy((d) => shift(d, 'chip', scale(normalize(sub(near, at)), off), 'end'));
    expect(said).toMatch(/^chip's box to the (surface|outer cut|upper cut|tip cut): has/m);
  });

  test('in another', () => {
    const said = refutedBy((d) => shift(d, 'chip', sub(part(d, 'receiver').primitives[0]?.position as Vec3, end(d, 'chip')), 'end'));
    expect(said).toMatch(/^receiver's box to chip's box: has 0\.0000 mm/m);
  });

  test.each([0.1, -0.1, 0.001])('off its seat by %f', (by) => {
    const said = refutedBy((d) => shift(d, 'rear-microphone', scale(outer(d), by), 'whole'));
    expect(said).toMatch(/^rear-microphone: its seat lies -?0\.(1000|0010) mm off/m);
  });

  test('tilted on its seat by one degree', () => {
    const turned = ([x, y, z, w]: PoseFile['quaternion']): PoseFile['quaternion'] => {
      const [s, c] = [Math.sin(Math.PI / 360), Math.cos(Math.PI / 360)]; // about its own x, after the pose
      return [x * c + w * s, y * c + z * s, z * c - y * s, w * c - x * s];
    };
    const said = refutedBy((d) => {
      for (const p of movesOf(d, 'front-microphone')) p.quaternion = turned(p.quaternion);
    });
    expect(said).toMatch(/^front-microphone: turned 1\.0\d* degrees off the faceplate/m);
  });

  test('drawn elsewhere than its way ends', () => {
    expect(refutedBy((d) => shift(d, 'chip', [0.01, 0, 0], 'none'))).toMatch(/^chip: its box is not where its last pose puts it/m);
  });

  test('exchanged with another', () => {
    const ports = refutedBy((d) => {
      const [a, b] = [part(d, 'front-microphone'), part(d, 'rear-microphone')];
      [a.id, b.id] = [b.id, a.id];
      for (const m of style(d).assembly?.moves ?? []) {
        for (const p of m.parts) if (/microphone/.test(p.id)) p.id = p.id === 'front-microphone' ? 'rear-microphone' : 'front-microphone';
      }
    });
    expect(ports).toMatch(/^the front port lies behind the rear one/m);
    const places = refutedBy((d) => {
      const off = sub(end(d, 'receiver'), end(d, 'chip'));
      shift(d, 'chip', off, 'whole');
      shift(d, 'receiver', scale(off, -1), 'whole');
    });
    expect(places).toMatch(/^receiver: its spout ends/m);
  });

  test('smaller than the catalogue has it, without its margin, or left out', () => {
    const smaller = refutedBy((d) => {
      const box = part(d, 'chip').primitives[0];
      if (box) box.size = [3.5, 2.8, 1.4];
    });
    expect(smaller).toMatch(/^chip: its box is not .* or not the catalogue's/m);
    const bare = refutedBy((d) => {
      part(d, 'receiver').margin = 0;
    });
    expect(bare).toMatch(/^receiver: margin 0, the catalogue has 0\.25/m);
    const without = refutedBy((d) => {
      style(d).parts = style(d).parts.filter((p) => p.id !== 'chip');
    });
    expect(without).toMatch(/^holds .*; the order needs .*chip/m);
  });

  test('nearer to one of another kind than the catalogue keeps those apart', () => {
    const catalogue = { ...GENERIC_FILE, apart: [{ between: ['chip' as const, 'receiver' as const], least: 20, source: 'invented' }] };
    const [judged] = referee(bytes, truth, catalogue);
    const matter = judged?.refuted.filter((r) => r.includes(', asked 20.00, '));
    expect(matter).toContainEqual(expect.stringMatching(/^receiver's box to chip's box: has/));
    expect(judged?.refuted).toEqual(matter); // and nobody else is asked for more
  });

  test('outside the cast', () => {
    expect(refutedBy((d) => shift(d, 'chip', [0, 0, 60], 'end'))).toMatch(/^chip's box: its middle is not inside the scan/m);
  });
});

describe('a figure', () => {
  test('a spare 0.1 mm too high, and one 0.001 mm too high', () => {
    for (const by of [0.1, 0.001]) {
      const said = refutedBy((d) => {
        style(d).found = spare + by;
      });
      expect(said).toMatch(/claimed .* beyond that$/m);
    }
  });

  test.each(['wall', 'parts', 'faceplate'] as const)('a clearance to the %s too high', (key) => {
    const said = refutedBy((d) => {
      const clearance = part(d, 'chip').clearance;
      if (clearance) clearance[key] = (clearance[key] as number) + 0.01;
    });
    expect(said).toMatch(/^chip's clearance to (the|other) .*: said to be/m);
  });

  test('a ceiling below what was found; no number at all', () => {
    const low = refutedBy((d) => {
      style(d).ceiling = 0.05;
    });
    expect(low).toMatch(/above its own ceiling/);
    const none = refutedBy((d) => {
      style(d).found = null;
    });
    expect(none).toBe('found is no number');
  });

  test('a cut elsewhere', () => {
    for (const c of [0, 1, 2]) {
      const said = refutedBy((d) => {
        const cut = style(d).cuts[c];
        if (cut) cut.point = addScaled(cut.point, cut.normal, 0.1);
      });
      expect(said).toMatch(/^the (outer|tip|upper) cut lies 0\.\d+ mm/m);
    }
  });

  test('a document of another scan', () => {
    const other = bytes.slice();
    other[200] = (other[200] as number) ^ 1;
    expect(() => referee(other, truth, GENERIC_FILE)).toThrow(/of another file/);
  });
});

describe('a way in', () => {
  /** The move that goes in second, and the part that is in by then. */
  const second = (d: VerdictDocument): { poses: PoseFile[]; id: string; first: string } => {
    const [first, then] = (style(d).assembly?.moves ?? []).map((m) => m.parts[0]);
    if (!first || !then) throw new Error('nothing goes in second');
    return { poses: then.poses, id: then.id, first: first.id };
  };

  test('through a part that is in', () => {
    const said = refutedBy((d) => {
      const { poses, first } = second(d);
      const [a, b] = poses.slice(-2) as [PoseFile, PoseFile];
      poses.splice(-1, 0, { ...a, position: end(d, first) }, { ...b });
    });
    expect(said).toMatch(new RegExp(`^${second(truth).id}: ${second(truth).id} to (the shell|${second(truth).first}) on leg`, 'm'));
  });

  test('through the wall, between two good poses', () => {
    const said = refutedBy((d) => {
      const { poses } = second(d);
      const { id } = second(d);
      const from = poses[0] as PoseFile;
      const plate = style(d).cuts.find((c) => c.name === 'outer')?.point as Vec3;
      // From far to the side, hardly outside the faceplate's plane, straight to its place.
      const out = addScaled(end(d, id), outer(d), dot(outer(d), sub(plate, end(d, id))) + 6);
      poses.splice(0, poses.length - 1, { ...from, position: addScaled(out, d.ear.superior, 60) });
    });
    expect(said).toMatch(/to the shell('s end)? on leg 1 of 1/);
  });

  test('that begins inside, that is not there, that comes in the wrong order', () => {
    const inside = refutedBy((d) => {
      const { poses } = second(d);
      poses.splice(0, poses.length - 2);
    });
    expect(inside).toMatch(/begins \d+\.\d+ mm inside the outer cut/);
    const none = refutedBy((d) => {
      style(d).assembly?.moves?.splice(1, 1);
    });
    expect(none).toMatch(/^\S+: no move brings it in/m);
    const order = refutedBy((d) => {
      style(d).assembly?.moves?.reverse();
    });
    expect(order).toMatch(/is seated at the faceplate, but does not go in with it, last/);
  });

  test('on which two parts of one thing part', () => {
    const said = refutedBy((d) => {
      const poses = movesOf(d, 'rear-microphone');
      const first = poses[0] as PoseFile;
      first.position = addScaled(first.position, outer(d), 0.01);
    });
    expect(said).toMatch(/leaves its place beside cell on leg 1/);
  });

  test('that claims more room than there is', () => {
    const said = refutedBy((d) => {
      const assembly = style(d).assembly;
      if (assembly) assembly.least = 0.4;
    });
    expect(said).toMatch(/^the way in claims 0\.4 mm all along/m);
  });
});
