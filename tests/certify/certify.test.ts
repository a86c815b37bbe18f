/** A certificate is believed only when every cell of it is closed: what is mutated, left out or forged is refused. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { certify } from '../../src/certify/check.ts';
import { BASES, type Entry, type FreePoses, type PartCells, type Row, type SeatedPoses } from '../../src/certify/format.ts';
import { type Certificate, certificateDocument, readCertificate } from '../../src/certify/index.ts';
import { isCutThere } from '../../src/certify/text.ts';
import { seeded } from '../../src/geometry/random.ts';
import type { Body } from '../../src/model/fit.ts';
import { writeCertificate } from '../../src/prove/certificate.ts';
import { boundSpare } from '../../src/prove/index.ts';
import { ellipticTube, kitOf, RULES } from '../support/bodies.ts';
import { cell, KINDS, type Kind, kindNamed, seatedBox, written } from './kinds.ts';

const certificates = new Map<string, Certificate>();
/** Written once. */
function certificateOf(kind: Kind): Certificate {
  const known = certificates.get(kind.name) ?? written(kind);
  certificates.set(kind.name, known);
  return known;
}

const isClosing = (e: Entry): boolean => typeof e !== 'number' && e !== 'open' && (typeof e === 'string' || !isCutThere(e));
/** Where the entries stand that close a cell. */
const closings = (entries: readonly Entry[]): number[] => entries.flatMap((e, i) => (isClosing(e) ? [i] : []));
const replaced = <T>(list: readonly T[], i: number, item: T): T[] => list.map((x, k) => (k === i ? item : x));
const withPart = (c: Certificate, i: number, change: Partial<PartCells>): Certificate => ({
  ...c,
  parts: replaced(c.parts, i, { ...(c.parts[i] as PartCells), ...change }),
});
const withEntry = (c: Certificate, i: number, entry: Entry): Certificate =>
  withPart(c, 0, { cells: replaced((c.parts[0] as PartCells).cells, i, entry) });
const refusal = (c: Certificate, body: Body): string => {
  const answer = certify(c, body);
  return answer.holds ? 'holds' : answer.why;
};

describe('what is true', () => {
  it.each(KINDS.map((k) => [k.name, k] as const))('%s: holds, after a way through its file too', (_, kind) => {
    const certificate = certificateOf(kind);
    const read = readCertificate(JSON.stringify(certificateDocument(certificate)), 'c.json');
    expect(read).toEqual(JSON.parse(JSON.stringify(certificate)));
    expect(certify(read, kind.body)).toMatchObject({ holds: true, ceiling: kind.ceiling });
  });

  it('each kind of closing was needed for one of them', () => {
    const entries = KINDS.flatMap((k) => certificateOf(k).parts.flatMap((p) => [...p.cells, ...p.finer]));
    for (const word of ['reach', 'cone', 'open']) expect(entries).toContain(word);
    expect(entries.some((e) => typeof e === 'object' && isCutThere(e))).toBe(true);
    const joint = KINDS.flatMap((k) => [...certificateOf(k).joint]);
    const rows = joint.flatMap((e) => (typeof e === 'object' ? e : []));
    expect(joint).toContain('ports');
    expect(rows.some((r) => 'of' in r)).toBe(true);
    expect(rows.some((r) => 'first' in r)).toBe(true);
  });

  it('claims just what was proved', () => {
    const { body, kit } = KINDS[0] as Kind;
    const { ceiling, parts } = boundSpare(body, RULES, kit);
    expect(ceiling).toBeLessThan(-0.3);
    const result = writeCertificate(body, RULES, { kit, parts, ceiling }, { side: 'left' });
    expect(result).toMatchObject({ kind: 'written', certificate: { ceiling } });
  });

  it('what was never proved has no certificate, and what is too large says how large that is', () => {
    const wide = ellipticTube(11, 9, 14, 60, 30);
    const kit = kitOf([cell(5.8, 3.6)]);
    const none = writeCertificate(wide, RULES, { kit, parts: ['cell'], ceiling: -0.2 }, { side: 'left' }, 3000);
    expect(none).toEqual({
      kind: 'not-written',
      why: 'the proof for cell does not come to an end within 3 000 cells, the most that a certificate holds',
    });
    expect(writeCertificate(wide, RULES, { kit, parts: ['chip'], ceiling: -0.2 }, { side: 'left' }).kind).toBe('not-written');
    for (const kind of [kindNamed('a free part'), kindNamed('three at the faceplate')]) {
      const ids = kind.kit.parts.map((p) => p.id);
      const small = writeCertificate(kind.body, RULES, { kit: kind.kit, parts: ids, ceiling: kind.ceiling }, { side: 'left' }, 500);
      expect(small.kind === 'not-written' && small.why).toMatch(/within 500 cells/);
    }
  });

  it('a deviation is taken off what is shown', () => {
    const kind = KINDS[0] as Kind;
    expect(certify(certificateOf(kind), kind.body, 0.02)).toMatchObject({ holds: false });
    const result = writeCertificate(
      kind.body,
      RULES,
      { kit: kind.kit, parts: ['cell'], ceiling: -0.25, deviation: 0.05 },
      { side: 'left' },
    );
    expect(result.kind === 'written' && certify(result.certificate, kind.body, 0.05)).toMatchObject({ holds: true, ceiling: -0.25 });
  });
});

describe('a file of the first version', () => {
  const text = readFileSync(new URL('./earlier.json', import.meta.url), 'utf8');
  const tube = ellipticTube(8.8, 6.6, 14, 72, 30);

  it('is read and holds, and does so no longer when one cell of it is left out, or its claim is lower', () => {
    expect(certify(readCertificate(text, 'c.json'), tube)).toMatchObject({ holds: true });
    const document = JSON.parse(text) as { cells: unknown[]; ceiling: number };
    for (const i of [40, 90, 200, 300]) {
      const cells = document.cells.filter((_, k) => k !== i);
      expect(certify(readCertificate(JSON.stringify({ ...document, cells }), 'c.json'), tube)).toMatchObject({ holds: false });
    }
    const lower = { ...document, ceiling: document.ceiling - 0.05 };
    expect(certify(readCertificate(JSON.stringify(lower), 'c.json'), tube)).toMatchObject({ holds: false });
    expect(refusal(readCertificate(text, 'c.json'), ellipticTube(9.2, 7, 14, 72, 30))).toMatch(/not closed/);
  });
});

describe('what is not whole', () => {
  const some = seeded(9);
  const picked = (list: readonly number[], n: number): number[] => Array.from({ length: n }, () => list[some.below(list.length)] as number);

  it.each(KINDS.map((k) => [k.name, k] as const))(
    '%s: one cell left out, or put in twice, wherever it is; a lower claim; a larger body',
    (_, kind) => {
      const c = certificateOf(kind);
      for (const [p, part] of c.parts.entries()) {
        for (const list of ['cells', 'finer'] as const) {
          const ends = closings(part[list]);
          for (const i of ends.length > 0 ? picked(ends, 3) : []) {
            expect(refusal(withPart(c, p, { [list]: part[list].filter((_e, k) => k !== i) }), kind.body)).not.toBe('holds');
            expect(refusal(withPart(c, p, { [list]: part[list].flatMap((e, k) => (k === i ? [e, e] : [e])) }), kind.body)).not.toBe(
              'holds',
            );
          }
        }
      }
      // Not an opening: where one cell alone is open below, its rows may well close the cell above too.
      const together = c.joint.flatMap((e, i) => (typeof e === 'number' ? [] : [i]));
      for (const i of together.length > 0 ? picked(together, 4) : []) {
        expect(refusal({ ...c, joint: c.joint.filter((_e, k) => k !== i) }, kind.body)).not.toBe('holds');
        expect(refusal({ ...c, joint: c.joint.flatMap((e, k) => (k === i ? [e, e] : [e])) }, kind.body)).not.toBe('holds');
      }
      const lower = refusal({ ...c, ceiling: c.ceiling - 0.1 }, kind.body);
      // A ports rule is a yes or no: what nothing but it rules out has no spare at all.
      expect(lower).toMatch(/not closed/);
      const { positions } = kind.body.mesh;
      const larger = { ...kind.body, mesh: { ...kind.body.mesh, positions: positions.map((x, i) => (i % 3 === 2 ? x : 1.03 * x)) } };
      expect(refusal(c, larger)).toMatch(/not closed|leaves out/);
    },
  );

  const kind = KINDS[0] as Kind;
  const tube = kind.body;
  const certificate = certificateOf(kind);
  const [only] = certificate.parts as [PartCells];
  const seats = only.poses as SeatedPoses;

  it('one cell held against a witness in the open, or a cut far off', () => {
    const witnesses = [...certificate.witnesses, [tube.seed[0], tube.seed[1], tube.seed[2]] as const];
    for (const i of picked(closings(only.cells), 20)) {
      const rows = only.cells[i] as readonly Row[];
      const open = rows.map(([p, w]): Row => [p, w, witnesses.length - 1]);
      expect(refusal({ ...withEntry(certificate, i, open), witnesses }, tube)).toMatch(/not closed/);
      expect(refusal(withEntry(certificate, i, [[0, 1, 'tip']]), tube)).toMatch(/not closed/);
    }
  });

  it('a smaller range, a point off the part, a tilted seat, another body, a larger part', () => {
    const [first, second] = seats.slide;
    const posed = (poses: Partial<SeatedPoses>): Certificate => withPart(certificate, 0, { poses: { ...seats, ...poses } });
    expect(refusal({ ...certificate, ceiling: -5 }, tube)).toMatch(/lower than any/);
    expect(refusal(posed({ slide: [[first[0] + 7, first[1]], second] }), tube)).toMatch(/leaves out slides/);
    expect(refusal(posed({ slide: [first, [second[0], second[1] - 7]] }), tube)).toMatch(/leaves out slides/);
    expect(refusal(posed({ u: [0.6, 0, 0.8] }), tube)).toMatch(/square/);
    expect(refusal(posed({ u: seats.v, v: seats.u }), tube)).toMatch(/wrong way/);
    expect(refusal(posed({ spin: { range: 'none', parts: 1 } }), tube)).toMatch(/one spin/);
    const points = replaced(only.points, 3, [9, 0, -1] as const);
    expect(refusal(withPart(certificate, 0, { points }), tube)).toMatch(/not of cell/);
    expect(refusal({ ...certificate, rules: { ...certificate.rules, faceplate: 0.9 } }, tube)).toMatch(/inner face/);
    expect(refusal({ ...certificate, rules: { ...certificate.rules, wall: 0.3 } }, tube)).not.toBe('holds');
    expect(refusal(withPart(certificate, 0, { margin: 0 }), tube)).toBe('holds');
    const smaller = only.primitives.map((s) => ({ ...s, size: [5.8, 5.8, 3.6] as const }));
    expect(refusal(withPart(certificate, 0, { primitives: smaller }), tube)).toMatch(/not of cell/);
    expect(refusal({ ...certificate, style: 'CIC' }, tube)).toMatch(/about CIC/);
    expect(refusal(certificate, { ...tube, cuts: tube.cuts.slice(1) })).toMatch(/no outer cut/);
    expect(refusal({ ...certificate, parts: [only, only] }, tube)).toMatch(/twice/);
  });

  it('half of the spins of a part that half a turn changes, a seat of another kind', () => {
    const lopsided = kindNamed('a part to be looked at in every spin');
    const c = certificateOf(lopsided);
    const poses = (c.parts[0] as PartCells).poses as SeatedPoses;
    expect(poses.spin.range).toBe('whole');
    const half = withPart(c, 0, { poses: { ...poses, spin: { range: 'half', parts: poses.spin.parts } } });
    expect(refusal(half, lopsided.body)).toMatch(/half of the spins/);
    expect(refusal(withPart(c, 0, { seat: { at: 'free' } }), lopsided.body)).toMatch(/not those of its seat/);
  });

  it('half turns left out that do not stand for the rest, a smaller box, a longer reach, a wider cone', () => {
    const tip = kindNamed('one whose spout is off its axis');
    const c = certificateOf(tip);
    const [p] = c.parts as [PartCells];
    const poses = p.poses as FreePoses;
    expect(poses.bases).toEqual(BASES);
    expect(refusal(withPart(c, 0, { poses: { ...poses, bases: ['1', 'i'] } }), tip.body)).toMatch(/leaves out turns/);
    const [x, ...rest] = poses.box;
    const box = [[x[0] + 0.2, x[1]] as const, ...rest] as FreePoses['box'];
    expect(refusal(withPart(c, 0, { poses: { ...poses, box } }), tip.body)).toMatch(/leaves out places/);
    if (p.seat.at !== 'tip') throw new Error('not at the tip');
    expect(refusal(withPart(c, 0, { seat: { ...p.seat, reach: 4.5 } }), tip.body)).toMatch(/leaves out places/);
    expect(refusal(withPart(c, 0, { seat: { ...p.seat, cone: 0.9 } }), tip.body)).toMatch(/may point as it should/);
    // Its spout within reach: the cells that only the reach closed are then closed by nothing.
    expect(refusal(withPart(c, 0, { seat: { ...p.seat, spout: [0, 0, 3] } }), tip.body)).not.toBe('holds');
  });

  it('weights that are negative, points, balls, cuts and witnesses that there are not', () => {
    const i = closings(only.cells)[20] as number;
    const change = (row: Row): string => refusal(withEntry(certificate, i, [row]), tube);
    expect(change([0, -1, 0])).toMatch(/negative/);
    expect(change([9999, 1, 0])).toMatch(/no point/);
    expect(change([0, 1, 'upper'])).toMatch(/no cut/);
    expect(change([0, 1, 'outer'])).toMatch(/no cut/);
    expect(change([0, 1, 999_999])).toMatch(/no witness/);
    const two = kindNamed('two at the faceplate');
    const c = certificateOf(two);
    const at = c.joint.findIndex((e) => typeof e === 'object');
    const joint = (row: { first: number; second: number; weight: number; a: number; b: number }): string =>
      refusal({ ...c, joint: replaced(c.joint, at, [row]) }, two.body);
    expect(joint({ first: 0, second: 1, weight: 1, a: 9999, b: 0 })).toMatch(/no ball/);
    expect(joint({ first: 0, second: 5, weight: 1, a: 0, b: 0 })).toMatch(/no part 5/);
    expect(joint({ first: 1, second: 1, weight: 1, a: 0, b: 0 })).toMatch(/against itself/);
    const ball = withPart(c, 1, { balls: (c.parts[1] as PartCells).balls.map(([x, y, z, r]) => [x, y, z, r + 0.5] as const) });
    expect(refusal(ball, two.body)).toMatch(/not within mic/);
    expect(refusal({ ...c, joint: replaced(c.joint, at, 'ports') }, two.body)).toMatch(/no ports rule/);
    expect(refusal({ ...c, rules: { ...c.rules, partGap: 0 } }, two.body)).not.toBe('holds');
  });

  it('a ports rule that lets them nearer', () => {
    const near = kindNamed('two ports too near to each other');
    const c = certificateOf(near);
    if (!c.ports) throw new Error('no rule');
    expect(refusal({ ...c, ports: { ...c.ports, least: 1 } }, near.body)).toMatch(/may keep to their rule/);
    expect(refusal({ ...c, ports: { ...c.ports, rear: 'chip' } }, near.body)).toMatch(/none of its parts/);
  });

  it('cells cut one within the other without end', () => {
    const deep: Entry[] = Array.from({ length: 3000 }, () => 0);
    expect(refusal(withPart(certificate, 0, { cells: deep }), tube)).toMatch(/cut too often|cannot be cut/);
  });
});

describe('a file', () => {
  const text = JSON.stringify(certificateDocument(certificateOf(KINDS[0] as Kind)));

  it('that is none, or has a wrong row, is refused with its place', () => {
    expect(() => readCertificate('{}', 'c.json')).toThrow(/format/);
    expect(() => readCertificate(text.replace('"version":2', '"version":3'), 'c.json')).toThrow(/version/);
    expect(() => readCertificate(text.replace(/"ceiling":-?[\d.]+/, '"ceiling":1e999'), 'c.json')).toThrow(/ceiling|number/);
    const document = JSON.parse(text) as { parts: { cells: string[] }[] };
    for (const wrong of [
      '',
      '-1',
      '1.5',
      '0@',
      '0@1@2',
      '1 2',
      '1 2 3 4',
      '1 2 rim',
      '1 0x2 3',
      '1 1e999 3',
      'opened',
      '1 2 3,4 5 6',
      '9'.repeat(2000),
    ]) {
      (document.parts[0] as { cells: string[] }).cells[5] = wrong;
      expect(() => readCertificate(JSON.stringify(document), 'c.json'), wrong).toThrow(/parts\/0\/cells\/5/);
    }
  });

  it('larger than any other of ours is read too, and its flaws are told as those of a small one', () => {
    const large = text.replace('"witnesses":[', `"witnesses":[${Array.from({ length: 120_000 }, (_, i) => `"${i % 7} 0.5 1"`).join()},`);
    expect(large.length).toBeGreaterThan(1_000_000);
    expect(readCertificate(large, 'c.json').witnesses.length).toBeGreaterThan(120_000);
    expect(readCertificate(new TextEncoder().encode(large), 'c.json').style).toBe('IIC');
    expect(() => readCertificate(large.replace('"3 0.5 1"', '"3 0.5"'), 'c.json')).toThrow(/witnesses\/3/);
    expect(() => readCertificate(`${large}]`, 'c.json')).toThrow(/line 1/);
  });
});

it('boxes that miss each other by nothing at all still count as one part', () => {
  // A seated box as wide as the tube is long: closed by one row almost everywhere.
  const kind: Kind = { name: 'wide', body: ellipticTube(6, 6, 9, 40, 16), kit: kitOf([seatedBox('button', 8, 8, 3)]), ceiling: -0.5 };
  expect(certify(written(kind), kind.body)).toMatchObject({ holds: true });
});
