/** A certificate is believed only when every cell of it is closed: what is mutated, left out or forged is refused. */
import { describe, expect, it } from 'vitest';
import { Checker, certify } from '../../src/certify/check.ts';
import type { Entry, Row } from '../../src/certify/format.ts';
import { type Certificate, certificateDocument, readCertificate } from '../../src/certify/index.ts';
import { type Random, seeded } from '../../src/geometry/random.ts';
import { quatFromAxes } from '../../src/geometry/rotation.ts';
import { add, cross, heightOver, type Pose, pt, scale } from '../../src/geometry/vec.ts';
import type { Body } from '../../src/model/fit.ts';
import type { Part } from '../../src/model/parts.ts';
import { writeCertificate } from '../../src/prove/certificate.ts';
import { boundSpare } from '../../src/prove/index.ts';
import { Solid } from '../../src/verify/solid.ts';
import { Wall } from '../../src/verify/wall.ts';
import { ellipticTube, kitOf, part, primitive, RULES, torusTube } from '../support/bodies.ts';

const cell = (d: number, h: number): Part =>
  part('cell', [primitive('cylinder', [d, d, h], { position: [0, 0, -d / 2], quaternion: [0, Math.SQRT1_2, 0, Math.SQRT1_2] })], {
    at: 'faceplate',
  });
const lopsided = part('button', [primitive('box', [4, 5, 3], { position: [0, 0.4, -1.5] })], { at: 'faceplate' });
const round = part('wheel', [primitive('cylinder', [6, 6, 2.5], { position: [0, 0, -1.25] })], { at: 'faceplate' });

function proved(body: Body, p: Part): { readonly certificate: Certificate; readonly ceiling: number } {
  const { ceiling } = boundSpare(body, RULES, kitOf([p]));
  const certificate = writeCertificate(body, RULES, p, ceiling, { side: 'left' });
  if (!certificate) throw new Error('no certificate');
  return { certificate, ceiling };
}

const tube = ellipticTube(8.8, 6.6, 14, 72, 30);
const whole = proved(tube, cell(6.1, 3.9));

/** Where the entries stand that close a cell. */
const leaves = (c: Certificate): number[] => c.cells.flatMap((e, i) => (typeof e === 'number' ? [] : [i]));
const withEntry = (c: Certificate, i: number, entry: Entry): Certificate => ({ ...c, cells: c.cells.map((e, k) => (k === i ? entry : e)) });

describe('what is true', () => {
  it.each([
    ['a cell in a straight tube', tube, cell(6.1, 3.9)],
    ['a cell in a bent one', torusTube(11, 4, 0.9, 72, 40), cell(6.1, 3.9)],
    ['a part that must be looked at in every spin', ellipticTube(7.4, 7, 14, 60, 30), lopsided],
    ['a round one, in one', ellipticTube(7.2, 6.8, 14, 60, 30), round],
  ] as const)('%s: holds, after a way through its file too, and claims no less than was proved', (_, body, p) => {
    const { certificate, ceiling } = proved(body, p);
    expect(ceiling).toBeLessThan(-RULES.tolerance);
    expect(certificate.ceiling).toBeGreaterThanOrEqual(ceiling);
    expect(certificate.ceiling).toBeLessThan(ceiling + 0.003);
    const read = readCertificate(JSON.stringify(certificateDocument(certificate)), 'c.json');
    expect(read).toEqual(JSON.parse(JSON.stringify(certificate)));
    expect(certify(read, body)).toEqual({ holds: true, ceiling: certificate.ceiling, cells: leaves(certificate).length });
  });

  it('what was never proved has no certificate', () => {
    expect(writeCertificate(ellipticTube(11, 9, 14, 60, 30), RULES, cell(5.8, 3.6), -0.2, { side: 'left' })).toBeUndefined();
    expect(writeCertificate(tube, RULES, part('chip', [primitive('box', [9, 9, 9])]), -0.2, { side: 'left' })).toBeUndefined();
  });
});

describe('what a cell allows', () => {
  /** The spare of a seated part by the verifier's distances, which share nothing with the checker's inequality. */
  function spareOf(wall: Wall, body: Body, p: Part, pose: Pose<'ear'>): number {
    const asked = RULES.wall + RULES.gap + p.margin;
    let spare = Infinity;
    for (const s of p.primitives.map((q) => new Solid(q, pose))) {
      spare = Math.min(spare, wall.clearance(s).has - asked);
      for (const c of body.cuts) if (c.name !== 'outer') spare = Math.min(spare, -heightOver(c.plane, s.support(c.plane.normal)) - asked);
    }
    return spare;
  }
  const rowsOf = (random: Random, c: Certificate): Row[] => {
    // Rows of cells anywhere, mixed: sound whatever they are, tight only by luck.
    const pick = (): readonly Row[] => c.cells[leaves(c)[random.below(leaves(c).length)] as number] as readonly Row[];
    return [...pick(), ...pick()].filter(() => random.below(3) > 0);
  };

  it.each([1, 2, 3])('is never less than any pose of it has, whatever rows are named, SEED=%i', (seed) => {
    const random = seeded(seed);
    const p = cell(6.1, 3.9);
    const wall = new Wall(tube);
    const checker = new Checker(whole.certificate, tube);
    const { origin, u, v } = whole.certificate.seat;
    const n = (tube.cuts[0] as Body['cuts'][number]).plane.normal;
    for (let k = 0; k < 400; k++) {
      const rows = rowsOf(random, whole.certificate);
      if (rows.length === 0) continue;
      const size = 10 ** random.between(-2.5, 0.2);
      const half = [size * random.next(), size * random.next(), 0.4 * size * random.next()] as const;
      const middle = [random.between(-2, 2), random.between(-2, 2), random.between(0, 6)] as const;
      const bound = checker.bound({ middle, half }, rows);
      for (let j = 0; j < 3; j++) {
        const [a, b, spin] = middle.map((m, i) => m + (half[i] as number) * (j === 0 ? Math.sign(random.normal()) : random.between(-1, 1)));
        const x = add(scale(pt<'ear'>(...u), Math.cos(spin as number)), scale(pt<'ear'>(...v), Math.sin(spin as number)));
        const position = add(add(pt<'ear'>(...origin), scale(pt<'ear'>(...u), a as number)), scale(pt<'ear'>(...v), b as number));
        expect(spareOf(wall, tube, p, { position, quaternion: quatFromAxes(x, cross(n, x), n) })).toBeLessThanOrEqual(bound + 1e-9);
      }
    }
  });
});

describe('what is not whole', () => {
  const { certificate } = whole;
  const refused = (c: Certificate, body = tube): string => {
    const answer = certify(c, body);
    return answer.holds ? 'holds' : answer.why;
  };
  const some = seeded(9);
  const picked = Array.from({ length: 40 }, () => leaves(certificate)[some.below(leaves(certificate).length)] as number);

  it('one cell left out, or put in twice, wherever it is', () => {
    for (const i of picked) {
      expect(refused({ ...certificate, cells: certificate.cells.filter((_, k) => k !== i) })).not.toBe('holds');
      expect(refused({ ...certificate, cells: certificate.cells.flatMap((e, k) => (k === i ? [e, e] : [e])) })).not.toBe('holds');
    }
    expect(refused({ ...certificate, cells: certificate.cells.slice(0, -1) })).toMatch(/in no cell/);
    expect(refused({ ...certificate, cells: [...certificate.cells, certificate.cells.at(-1) as Entry] })).toMatch(/more cells/);
  });

  it('one cell held against a witness in the open, or a cut far off', () => {
    for (const i of picked) {
      const rows = certificate.cells[i] as readonly Row[];
      const open = rows.map(([p, w]): Row => [p, w, tube.seed[0], tube.seed[1], tube.seed[2]]);
      expect(refused(withEntry(certificate, i, open))).toMatch(/not closed/);
      expect(refused(withEntry(certificate, i, [[0, 1, 0]]))).toMatch(/not closed/);
    }
  });

  it('one halving done along another variable, nearly always (by luck its halves may be closed by the same rows)', () => {
    const splits = certificate.cells.flatMap((e, i) => (typeof e === 'number' && e < 2 ? [i] : []));
    let refusals = 0;
    for (const i of splits) if (refused(withEntry(certificate, i, 1 - (certificate.cells[i] as number))) !== 'holds') refusals++;
    expect(refusals).toBeGreaterThan(0.9 * splits.length);
  });

  it('a lower ceiling, a smaller range, a point off the part, a tilted seat, another body', () => {
    const [first, second] = certificate.slide;
    expect(refused({ ...certificate, ceiling: certificate.ceiling - 0.1 })).toMatch(/not closed/);
    expect(refused({ ...certificate, ceiling: -5 })).toMatch(/lower than any/);
    expect(refused({ ...certificate, slide: [[first[0] + 4, first[1]], second] })).toMatch(/leaves out slides/);
    expect(refused({ ...certificate, slide: [first, [second[0], second[1] - 4]] })).toMatch(/leaves out slides/);
    expect(refused({ ...certificate, points: certificate.points.map((p, i) => (i === 3 ? [p[0], p[1], p[2] - 0.01] : p)) })).toMatch(
      /not of the part/,
    );
    expect(refused({ ...certificate, rules: { ...certificate.rules, faceplate: 0.9 } })).toMatch(/inner face/);
    expect(refused({ ...certificate, seat: { ...certificate.seat, u: [0.6, 0, 0.8] } })).toMatch(/square/);
    expect(refused({ ...certificate, seat: { ...certificate.seat, u: certificate.seat.v, v: certificate.seat.u } })).toMatch(/wrong way/);
    expect(refused({ ...certificate, rules: { ...certificate.rules, wall: 0.3 } })).not.toBe('holds');
    expect(refused({ ...certificate, style: 'CIC' })).toMatch(/about CIC/);
    expect(refused(certificate, ellipticTube(9.2, 7, 14, 72, 30))).toMatch(/not closed/);
    expect(refused(certificate, { ...tube, cuts: tube.cuts.slice(1) })).toMatch(/no outer cut/);
  });

  it('half of the spins of a part that half a turn changes', () => {
    const { certificate: c } = proved(ellipticTube(7.4, 7, 14, 60, 30), lopsided);
    expect(c.spin.range).toBe('whole');
    expect(refused({ ...c, spin: { range: 'half', parts: c.spin.parts } }, ellipticTube(7.4, 7, 14, 60, 30))).toMatch(/half of the spins/);
    expect(refused({ ...certificate, spin: { range: 'none', parts: 1 } })).toMatch(/one spin/);
  });

  it('weights that are negative, points and cuts that there are not, witnesses beyond a cut', () => {
    const i = picked[0] as number;
    const [row] = certificate.cells[i] as readonly Row[];
    const [point, weight, ...rest] = row as Row;
    const change = (p: number, w: number, tail: readonly number[] = rest): string =>
      refused(withEntry(certificate, i, [[p, w, ...tail] as unknown as Row]));
    expect(change(point, -weight)).toMatch(/negative/);
    expect(change(9999, weight)).toMatch(/no point/);
    expect(change(point, weight, [7])).toMatch(/no cut/);
    expect(change(point, weight, [0, 0, 3])).toMatch(/beyond a cut/);
  });
});

describe('a file', () => {
  it('that is none, or has a wrong row, is refused with its place', () => {
    const text = JSON.stringify(certificateDocument(whole.certificate));
    expect(() => readCertificate('{}', 'c.json')).toThrow(/format/);
    expect(() => readCertificate(text.replace('"version":1', '"version":2'), 'c.json')).toThrow(/version/);
    const bad = certificateDocument(withEntry(whole.certificate, 5, 3));
    expect(() => readCertificate(JSON.stringify(bad), 'c.json')).toThrow(/cells\/5/);
    expect(() => readCertificate(text.replace(/"ceiling":-?[\d.]+/, '"ceiling":1e999'), 'c.json')).toThrow(/ceiling|number/);
  });
});
