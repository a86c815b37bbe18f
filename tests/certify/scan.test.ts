/** From a scan to a certificate and back: written of one reading of the file, checked on another. */
import { Command } from 'commander';
import { expect, it } from 'vitest';
import { certificateDocument, certifyScan, readCertificate } from '../../src/certify/index.ts';
import { addCertify } from '../../src/cli/commands/certify.ts';
import type { Io } from '../../src/cli/io.ts';
import { check } from '../../src/engine/index.ts';
import { writeCertificate } from '../../src/prove/certificate.ts';
import { sampleBytes } from '../support/samples.ts';

it('the narrow sample: its proof holds for it, and for no other ear', async () => {
  const name = 'qb-103-right-narrow.stl';
  const { rungs, rules } = await check({ bytes: sampleBytes(name), name, styles: ['IIC'] });
  const [rung] = rungs;
  const part = rung?.kit?.parts.find((p) => p.id === 'cell');
  if (!rung?.body || !part) throw new Error('not cut');
  expect(rung.verdict).toBe('does-not-fit');
  const certificate = writeCertificate(rung.body, rules, part, rung.ceiling, { side: 'right' });
  if (!certificate) throw new Error('not proved');
  const text = JSON.stringify(certificateDocument(certificate));
  const read = readCertificate(text, 'certificate.json');
  expect(await certifyScan(read, { bytes: sampleBytes(name), name })).toMatchObject({ holds: true });
  const said = await certifyByCommand(text, name);
  expect(said.code).toBe(0);
  expect(said.text).toMatch(
    /^Holds: in IIC, Battery 10 alone has at most -0\.\d{3} mm to spare, wherever it is seated \(\d+ cells, all closed\)\.\n$/,
  );
  const lower = await certifyByCommand(JSON.stringify({ ...certificateDocument(certificate), ceiling: certificate.ceiling - 0.05 }), name);
  expect(lower.code).toBe(1);
  expect(lower.text).toMatch(/^Does not hold for this scan: cell \d+ is not closed/);
  const wide = 'qb-101-right-wide-straight.stl';
  expect(await certifyScan(read, { bytes: sampleBytes(wide), name: wide })).toMatchObject({ holds: false });
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
