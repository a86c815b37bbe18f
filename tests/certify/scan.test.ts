/** From a scan to a certificate and back: written of one reading of the file, checked on another. */
import { Command } from 'commander';
import { expect, it } from 'vitest';
import type { PartCells } from '../../src/certify/format.ts';
import { certificateDocument, certifyScan, readCertificate } from '../../src/certify/index.ts';
import { certificateFor } from '../../src/cli/certificate.ts';
import { addCertify } from '../../src/cli/commands/certify.ts';
import type { Io } from '../../src/cli/io.ts';
import { surveyWithSide } from '../../src/ear/index.ts';
import { check } from '../../src/engine/index.ts';
import { loadKernel, withArena } from '../../src/geometry/kernel.ts';
import { DEFAULT_ORDER } from '../../src/order/index.ts';
import { GENERIC, kitFor, styleNamed } from '../../src/parts/index.ts';
import { writeCertificate } from '../../src/prove/certificate.ts';
import { readScan } from '../../src/scan/index.ts';
import { solidCast, trimCast } from '../../src/trim/index.ts';
import { sampleBytes } from '../support/samples.ts';

const narrow = 'qb-103-right-narrow.stl';

it('the narrow sample: its proof holds for it, and for no other ear, claim, kit or part', async () => {
  const result = await check({ bytes: sampleBytes(narrow), name: narrow, styles: ['IIC'] });
  const [rung] = result.rungs;
  expect(rung?.verdict).toBe('does-not-fit');
  const written = certificateFor(result);
  if (!('document' in written)) throw new Error(written.why);
  const { document } = written;
  expect(document.ceiling).toBe(rung?.ceiling);
  const text = JSON.stringify(document);
  const read = readCertificate(text, 'certificate.json');
  const scan = { bytes: sampleBytes(narrow), name: narrow };
  expect(await certifyScan(read, scan)).toMatchObject({ holds: true });
  const said = await certifyByCommand(text, narrow);
  expect(said.code).toBe(0);
  expect(said.text).toMatch(
    /^Holds: in IIC, Battery 10 alone has at most -0\.\d{3} mm to spare, wherever it is seated \(\d+ cells, all closed\)\.\n$/,
  );
  const lower = await certifyByCommand(JSON.stringify({ ...document, ceiling: document.ceiling - 0.05 }), narrow);
  expect(lower.code).toBe(1);
  expect(lower.text).toMatch(/^Does not hold for this scan: cell \d+ of Battery 10 is not closed/);
  const wide = 'qb-101-right-wide-straight.stl';
  expect(await certifyScan(read, { bytes: sampleBytes(wide), name: wide })).toMatchObject({ holds: false });
  // True of a larger cell or with more asked, but not of the part that goes by its name.
  const [part] = read.parts as [PartCells];
  const larger = part.primitives.map((s) => ({ ...s, size: [s.size[0] + 0.2, s.size[1] + 0.2, s.size[2]] as const }));
  const others: Partial<PartCells>[] = [
    { primitives: larger },
    { margin: 0.3 },
    { name: 'Battery 13' },
    { id: 'chip' },
    { seat: { at: 'free' } },
  ];
  for (const other of others) {
    const answer = await certifyScan({ ...read, parts: [{ ...part, ...other }] }, scan);
    expect(answer.holds ? 'holds' : answer.why).toMatch(/is no part of the kit of/);
  }
  const asked = await certifyScan({ ...read, order: { ...read.order, telecoil: true } }, scan);
  expect(asked.holds ? 'holds' : asked.why).toMatch(/asks for a telecoil/);
});

it('two parts of a kit together', async () => {
  const name = 'qb-102-left-average.stl';
  const scan = { bytes: sampleBytes(name), name };
  const kernel = await loadKernel();
  const certificate = withArena((arena) => {
    const { ear } = surveyWithSide(readScan(scan.bytes, name), 'left');
    const style = styleNamed('IIC');
    const trimmed = trimCast(solidCast(kernel, ear, arena), ear, style);
    // With far more asked between parts than anybody would: two that have their place have none together.
    const rules = { ...GENERIC.rules, partGap: 3 };
    const built = kitFor(style, DEFAULT_ORDER, rules);
    if (trimmed.kind === 'short' || built.kind === 'excluded') throw new Error('not cut');
    const proved = { kit: built.kit, parts: ['cell', 'microphone'], ceiling: -0.1 };
    const written = writeCertificate(trimmed.body, rules, proved, { side: 'left', order: { receiver: 'small' } });
    if (written.kind !== 'written') throw new Error(written.why);
    return written.certificate;
  });
  expect(certificate.joint.length).toBeGreaterThan(0);
  const answer = await certifyScan(readCertificate(JSON.stringify(certificateDocument(certificate)), 'c.json'), scan);
  expect(answer).toMatchObject({ holds: true });
  expect(answer.holds && answer.text).toMatch(/^in IIC, Battery 10 and Microphone together have at most -0\.100 mm to spare/);
  const usual = { ...certificate, rules: { ...certificate.rules, partGap: 0.1 } };
  expect(await certifyScan(usual, scan)).toMatchObject({ holds: false });
});

async function certifyByCommand(certificate: string, scan: string): Promise<{ readonly code: number; readonly text: string }> {
  let text = '';
  let code = -1;
  const io: Io = {
    out: (t) => {
      text += t;
    },
    talk: () => undefined,
    read: (path) => (path === 'certificate.json' ? new TextEncoder().encode(certificate) : sampleBytes(path)),
    write: () => undefined,
    live: false,
  };
  const program = new Command().exitOverride();
  addCertify(program, io, (c) => {
    code = c;
  });
  await program.parseAsync(['certify', 'certificate.json', scan], { from: 'user' });
  return { code, text };
}
